"""What the ways out look at, and what they yield.

A way out may guess: what it yields is tried by checking the changed plan, and only what is proved is told.
Paths are in the numbering of the plan it looks at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from advisor.fact import Fact
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.plan import Plan
from advisor.remedies.amounts import Towards, restated
from advisor.remedies.changes import value_at
from advisor.remedies.proof import Target, Trial
from advisor.rows import DyeClass
from advisor.rulebook import Ref


@dataclass(frozen=True)
class Candidate:
    """A change that may lift a finding, and the id of the way out it is."""

    way: str
    changes: Mapping[str, Any]


@dataclass(frozen=True)
class Bench:
    """What the functions look at: the plan as it now stands, and the finding to be lifted."""

    trial: Trial
    target: Target
    k: Knowledge

    @property
    def data(self) -> dict[str, Any]:
        """The plain data of the plan."""
        return self.trial.data

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.trial.plan

    @property
    def work(self) -> Workings:
        """What was worked out from it."""
        return self.trial.work

    def fact(self, fact_type: str) -> Fact | None:
        """The first fact of this type behind the finding."""
        return next((fact for fact in self.target.facts.values() if fact.type == fact_type), None)

    def fields(self, fact_type: str) -> frozenset[str]:
        """The fields of this type that the rule looks at."""
        aliases = {alias for alias, fact in self.target.facts.items() if fact.type == fact_type}
        return frozenset(c.field for c in self.target.rule.conditions if c.alias in aliases)

    def bounds(self, name: str, *ops: str) -> Iterator[float]:
        """What a field is compared with by these operators, in the target's rule: the low ends."""
        for condition in self.target.rule.conditions:
            if condition.field == name and condition.op in ops:
                if isinstance(condition.operand, Ref):
                    value = self.target.facts[condition.operand.alias].values[condition.operand.field]
                    assert isinstance(value, Interval)
                    yield value.low if ">" in condition.op else value.high
                elif isinstance(condition.operand, float):
                    yield condition.operand

    def limit(self, name: str) -> float:
        """A named limit."""
        return self.k.limits[name].figure.low

    def anew(self, path: str, kind: str, value: float, towards: Towards, step: float = 0.0) -> str:
        """A value for a path, in the unit that stands there."""
        return restated(value_at(self.data, path), kind, value, towards, step=step, place=self.plan.place)


Maker = Callable[[Bench], Iterator[Mapping[str, Any]]]


def number_in(subject: str) -> int | None:
    """The number in a subject such as "dyes.0.amount"."""
    return next((int(part) for part in subject.split(".") if part.isdigit()), None)


def classes_of_bath(b: Bench) -> list[DyeClass]:
    """The dye classes the dyes of the bath are of, or may be of."""
    return [member for dye in b.plan.dyes for member in b.k.members(dye.dye_class)]
