"""The rules' own cases: a base plan with changes, for which a rule must fire, stay silent or ask."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from advisor.checking import Checker
from advisor.errors import AdvisorError
from advisor.fact import Fact
from advisor.facts import build_facts
from advisor.facts.session import session_facts
from advisor.findings import Finding, Reader
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.paths import rules_root
from advisor.plan import read_plan
from advisor.rulebook import Case, Rule
from advisor.session import plan_for, read_session

Expected = Literal["fires", "silent", "asks"]


class CaseError(AdvisorError):
    """A case names a base plan or a path that does not exist."""


@dataclass(frozen=True)
class Outcome:
    """What a case expected and what the rule did."""

    rule: str
    case: Case
    expected: Expected
    got: Expected

    @property
    def holds(self) -> bool:
        """Whether the rule did what the case says."""
        return self.expected == self.got


@cache
def _base_text(name: str) -> str:
    path = rules_root() / (f"{name}.toml" if _of_session(name) else f"plans/{name}.toml")
    try:
        return path.read_text(encoding="utf-8")
    except OSError:
        raise CaseError(f"no base plan {name!r} in {'rules' if _of_session(name) else 'rules/plans'}") from None


def _of_session(name: str) -> bool:
    """Whether a base is a session: "sessions/evening-class" is rules/sessions/evening-class.toml."""
    return name.startswith("sessions/")


def base_plan(name: str) -> dict[str, Any]:
    """A fresh copy of a base plan or session, as plain data. Raises CaseError.

    The plans of a base session are names of base plans; they are put in their place, for changes to reach them.
    """
    data = tomllib.loads(_base_text(name))
    for station in data.get("stations", ()) if _of_session(name) else ():
        station["plan"] = base_plan(station["plan"])
    return data


def changed(data: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    """Plan data with dotted paths set: {"dyes.0.amount": "2 g"}. One past the end of a list appends.

    Raises CaseError when a path leads nowhere.
    """
    result: dict[str, Any] = copy.deepcopy(dict(data))
    for path, value in change.items():
        *steps, last = path.split(".")
        node: Any = result
        for step in steps:
            if isinstance(node, list) and step.isdigit() and int(step) < len(node):
                node = node[int(step)]
            elif isinstance(node, dict):
                node = node.setdefault(step, {})
            else:
                raise CaseError(f"{path!r} leads nowhere in the plan")
        if isinstance(node, list) and last.isdigit() and int(last) == len(node):
            node.append(copy.deepcopy(value))
        elif isinstance(node, list) and last.isdigit() and int(last) < len(node):
            node[int(last)] = copy.deepcopy(value)
        elif isinstance(node, dict):
            node[last] = copy.deepcopy(value)
        else:
            raise CaseError(f"{path!r} leads nowhere in the plan")
    return result


def cases_of(rule: Rule) -> Iterator[tuple[Expected, Case]]:
    """All cases of a rule with what they expect."""
    yield from (("fires", case) for case in rule.cases.fires)
    yield from (("silent", case) for case in rule.cases.silent)
    yield from (("asks", case) for case in rule.cases.asks)


def case_facts(case: Case, *, file: str = "case") -> list[Fact]:
    """The facts of a case, of a bath or of a class. Raises CaseError or InputError for a bad case."""
    data = changed(base_plan(case.plan), case.change)
    if not _of_session(case.plan):
        return build_facts(work_out(read_plan(data, file=file), knowledge()), knowledge())
    session = read_session(data, file=file)
    plans = tuple(plan_for(session, station) for station in session.stations)
    return session_facts(session, plans, knowledge())


def case_findings(checker: Checker, case: Case) -> tuple[Finding, ...]:
    """What the rules find in a case. Raises CaseError or InputError for a bad case."""
    facts, firings = checker.fire(case_facts(case))
    return Reader(checker.rulebook, knowledge(), facts).findings(firings)


def run_case(checker: Checker, rule: Rule, expected: Expected, case: Case) -> Outcome:
    """Check the case's plan and see what the rule does. Raises CaseError or InputError for a bad case."""
    _, firings = checker.fire(case_facts(case, file=f"{rule.file}: rule {rule.id!r}: case on {case.plan!r}"))
    mine = [firing for firing in firings if firing.rule == rule.id]
    got: Expected = "fires" if any(f.certain for f in mine) else "asks" if mine else "silent"
    return Outcome(rule.id, case, expected, got)
