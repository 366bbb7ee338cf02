"""The whole way of one plan: measures, facts, rules twice over, findings, report."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator, Sequence
from functools import lru_cache

from advisor.compiler import CompileError, Program, compile_rules
from advisor.encoding import EngineFault
from advisor.engine import Engine
from advisor.errors import AdvisorError
from advisor.evaluator import Evaluator
from advisor.fact import Fact, Firing
from advisor.facts import FactError, build_facts, checked
from advisor.findings import Reader, Report, Verdict, verdict
from advisor.knowledge import Knowledge, TableError, knowledge
from advisor.measures import Workings, work_out
from advisor.plan import Plan
from advisor.reminders import cautions, pointers
from advisor.rulebook import Rulebook, RuleError, rulebook
from advisor.store import kept

FAILURES = (TableError, RuleError, CompileError, EngineFault, FactError)


class CheckFailure(AdvisorError):
    """The program could not check the plan; there is no verdict."""


@contextlib.contextmanager
def failing_closed() -> Iterator[None]:
    """Whatever goes wrong inside is a CheckFailure, so that no verdict comes of it."""
    try:
        yield
    except CheckFailure:
        raise
    except Exception as error:
        raise CheckFailure(f"the check failed, so there is no verdict: {type(error).__name__}: {error}") from error


class Checker:
    """A rulebook made ready: compiled for the engine and read by the evaluator. One engine a thread."""

    def __init__(self, rules: Rulebook, k: Knowledge, program: Program | None = None) -> None:
        self.rulebook, self._knowledge = rules, k
        self._program = program or compile_rules(rules.rules)
        self._evaluator = Evaluator(rules.rules)
        self._local = threading.local()

    def check(self, plan: Plan, *, remedies: bool = False) -> Report:
        """Check one plan; `remedies` looks for ways out when something must change first.

        Raises CheckFailure when anything is not as it must be.
        """
        return self.check_with_firings(plan, remedies=remedies)[0]

    def check_with_firings(
        self, plan: Plan, *, remedies: bool = False
    ) -> tuple[Report, tuple[Fact, ...], tuple[Firing, ...]]:
        """As `check`, and what is behind the report: the facts, concluded ones included, and which rules fired on them.

        Raises CheckFailure when anything is not as it must be.
        """
        with failing_closed():
            work = work_out(plan, self._knowledge)
            facts, firings = self.fire(build_facts(work, self._knowledge))
            reader = Reader(self.rulebook, self._knowledge, facts)
            findings, questions = reader.findings(firings), reader.questions(firings)
            report = Report(
                title=plan.title,
                verdict=verdict(findings, questions),
                findings=findings,
                questions=questions,
                measures=work.measures,
                cautions=cautions(plan, self._knowledge),
                pointers=pointers(plan, self._knowledge),
                rulebook_version=self.rulebook.version,
                rulebook_rules=len(self.rulebook.rules),
                rulebook_digest=self.rulebook.digest,
                from_shelf=plan.from_shelf,
            )
            if remedies and report.exit_status == 1:
                from advisor.remedies import with_ways_out  # a plan that is ready does not pay for loading it

                report = with_ways_out(self, plan, report)
            return report, tuple(facts), tuple(firings)

    def fire(self, facts: Sequence[Fact]) -> tuple[list[Fact], list[Firing]]:
        """All facts, concluded ones included, and the firings both evaluations agree on.

        Raises CheckFailure when they differ.
        """
        concluded: list[Fact] = []
        first: set[Firing] | None = None

        def conclude(firings: list[Firing]) -> list[Fact]:
            nonlocal first
            if first != set(firings):
                first = set(firings)
                reader = Reader(self.rulebook, self._knowledge, facts)
                concluded[:] = [checked(fact) for fact in reader.conclude(firings)]
            return concluded

        by_engine = self._engine().run(facts, conclude)
        by_engine_facts = list(concluded)
        by_evaluator = self._evaluator.run(facts, conclude)
        if by_engine_facts != concluded or set(by_engine) != set(by_evaluator) or len(by_engine) != len(by_evaluator):
            odd = sorted({f.rule for f in set(by_engine) ^ set(by_evaluator)})
            raise CheckFailure(
                f"the two evaluations of the rules differ ({', '.join(odd[:3]) or 'concluded hazards'}); there is no verdict"
            )
        return [*facts, *concluded], by_evaluator

    def try_out(self, plan: Plan) -> tuple[Workings, list[Fact], list[Firing]]:
        """What plain Python alone makes of a plan: quick, for trying changes out, and never for a verdict."""
        work = work_out(plan, self._knowledge)
        facts = build_facts(work, self._knowledge)
        concluded: list[Fact] = []

        def conclude(firings: list[Firing]) -> list[Fact]:
            reader = Reader(self.rulebook, self._knowledge, facts)
            concluded[:] = [checked(fact) for fact in reader.conclude(firings)]
            return concluded

        firings = self._evaluator.run(facts, conclude)
        return work, [*facts, *concluded], firings

    def verdict_on(self, facts: Sequence[Fact], firings: Sequence[Firing]) -> Verdict:
        """The verdict that firings over facts make."""
        reader = Reader(self.rulebook, self._knowledge, facts)
        return verdict(reader.findings(firings), reader.questions(firings))

    def _engine(self) -> Engine:
        owner = getattr(self._local, "owner", None)
        if owner != os.getpid():
            self._local.engine = Engine(self._program)
            self._local.owner = os.getpid()
        engine: Engine = self._local.engine
        return engine


def _shipped_program() -> Program:
    program = compile_rules(rulebook().rules)
    assert program.text  # made now, so that it is kept with the rest
    return program


def make_checker(rules: Rulebook | None = None) -> Checker:
    """A checker for a rulebook, or for the shipped one. Raises CheckFailure."""
    try:
        if rules is not None:
            return Checker(rules, knowledge())
        return Checker(rulebook(), knowledge(), kept("program", _shipped_program))
    except FAILURES as error:
        raise CheckFailure(str(error)) from error


@lru_cache(maxsize=1)
def checker() -> Checker:
    """The checker of the shipped rulebook, made once."""
    return make_checker()
