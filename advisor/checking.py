"""The whole way of one plan: measures, facts, rules twice over, findings, report."""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from functools import lru_cache

from advisor.compiler import CompileError, compile_rules
from advisor.engine import Engine, EngineFault
from advisor.evaluator import Evaluator
from advisor.fact import Fact, Firing
from advisor.facts import FactError, build_facts, checked
from advisor.findings import Reader, Report, verdict
from advisor.knowledge import Knowledge, TableError, knowledge
from advisor.measures import work_out
from advisor.plan import Plan
from advisor.reminders import cautions, pointers
from advisor.rulebook import RuleError, Rulebook, rulebook

FAILURES = (TableError, RuleError, CompileError, EngineFault, FactError)


class CheckFailure(Exception):
    """The program could not check the plan; there is no verdict."""


class Checker:
    """A rulebook made ready: compiled for the engine and read by the evaluator. One engine a thread."""

    def __init__(self, rules: Rulebook, k: Knowledge) -> None:
        self.rulebook, self._knowledge = rules, k
        self._program = compile_rules(rules.rules)
        self._evaluator = Evaluator(rules.rules)
        self._local = threading.local()

    def check(self, plan: Plan) -> Report:
        """Check one plan. Raises CheckFailure when anything is not as it must be."""
        try:
            work = work_out(plan, self._knowledge)
            facts, firings = self.fire(build_facts(work, self._knowledge))
            reader = Reader(self.rulebook, self._knowledge, facts)
            findings, questions = reader.findings(firings), reader.questions(firings)
            return Report(
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
            )
        except CheckFailure:
            raise
        except Exception as error:
            raise CheckFailure(f"the check failed, so there is no verdict: {type(error).__name__}: {error}") from error

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

    def _engine(self) -> Engine:
        owner = getattr(self._local, "owner", None)
        if owner != os.getpid():
            self._local.engine = Engine(self._program)
            self._local.owner = os.getpid()
        engine: Engine = self._local.engine
        return engine


def make_checker(rules: Rulebook | None = None) -> Checker:
    """A checker for a rulebook, or for the shipped one. Raises CheckFailure."""
    try:
        return Checker(rules or rulebook(), knowledge())
    except FAILURES as error:
        raise CheckFailure(str(error)) from error


@lru_cache(maxsize=1)
def checker() -> Checker:
    """The checker of the shipped rulebook, made once."""
    return make_checker()
