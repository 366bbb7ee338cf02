"""Trying a change out: a copy of the plan is changed and checked again.

A change is proved when the finding is gone (not merely open) and nothing as grave or graver is new.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from advisor.evaluator import CONCLUDED
from advisor.fact import Fact, Firing
from advisor.findings import Verdict
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.plan import InputError, Plan, read_plan
from advisor.remedies.changes import Changes, Numbering, applied
from advisor.rulebook import EFFECTS, SIGNALS, Rule

if TYPE_CHECKING:
    from advisor.checking import Checker

OPEN, CERTAIN = 1, 2  # how far a finding holds
Key = tuple[str, str]  # rule and subject, the subject in the numbering of the plan as written
Gravity = tuple[int, int]  # effect and signal; less is graver
MOST_TRIALS = 240  # in one check; beyond that the search takes what it has


def gravity(rule: Rule) -> Gravity:
    """How grave a finding of this rule is: effect first, then signal word."""
    return EFFECTS.index(rule.effect), SIGNALS.index(rule.signal)


@dataclass(frozen=True)
class Target:
    """A finding to be lifted, with the facts that fired it by alias."""

    key: Key
    rule: Rule
    facts: Mapping[str, Fact]


class Trial:
    """A changed plan and what the rules make of it."""

    def __init__(
        self, changes: Changes, data: dict[str, Any], numbering: Numbering, plan: Plan, rules: Mapping[str, Rule],
        found: tuple[Workings, list[Fact], list[Firing]],
    ) -> None:  # fmt: skip
        self.changes, self.data, self.numbering, self.plan, self._rules = changes, data, numbering, plan, rules
        self.work, self.facts, self.firings = found

    @property
    def facts_of_plan(self) -> list[Fact]:
        """The facts without the concluded hazards."""
        return [fact for fact in self.facts if fact.type != CONCLUDED]

    @cached_property
    def holds(self) -> dict[Key, int]:
        """How far each finding holds: OPEN or CERTAIN."""
        holds: dict[Key, int] = {}
        for firing in self.firings:
            if self._rules[firing.rule].concludes is None:
                key = self._key(firing)
                holds[key] = max(holds.get(key, 0), CERTAIN if firing.certain else OPEN)
        return holds

    @cached_property
    def targets(self) -> list[Target]:
        """The certain findings, gravest first."""
        first: dict[Key, Target] = {}
        for firing in self.firings:
            rule = self._rules[firing.rule]
            if firing.certain and rule.concludes is None:
                facts = {alias: self.facts[i] for alias, i in zip(rule.aliases, firing.facts, strict=True)}
                first.setdefault(self._key(firing), Target(self._key(firing), rule, facts))
        return sorted(first.values(), key=lambda target: (gravity(target.rule), target.key))

    @cached_property
    def topics(self) -> dict[str, Gravity]:
        """The gravest certain finding of each topic."""
        worst: dict[str, Gravity] = {}
        for target in self.targets:
            worst.setdefault(target.rule.topic, gravity(target.rule))
        return worst

    def _key(self, firing: Firing) -> Key:
        return firing.rule, self.numbering.old(self.facts[firing.facts[0]].subject)


class Prover:
    """Tries changes to one plan, each only once."""

    def __init__(self, checker: Checker, data: Mapping[str, Any], k: Knowledge, most: int = MOST_TRIALS) -> None:
        self._checker, self.data, self.k, self._most = checker, data, k, most
        self.rules = checker.rulebook.by_id
        self._tried: dict[str, Trial | None] = {}

    @property
    def spent(self) -> bool:
        """Whether the trials are used up."""
        return len(self._tried) >= self._most

    def trial(self, changes: Changes) -> Trial | None:
        """What comes of these changes; None when the changed plan cannot be read."""
        seal = json.dumps(changes, sort_keys=True, default=str)
        if seal not in self._tried:
            self._tried[seal] = self._try(changes)
        return self._tried[seal]

    def _try(self, changes: Changes) -> Trial | None:
        data, numbering = applied(self.data, changes)
        try:
            plan = read_plan(data)
        except InputError:
            return None
        return Trial(changes, data, numbering, plan, self.rules, self._checker.try_out(plan))

    def proved(self, before: Trial, after: Trial, target: Target) -> bool:
        """Whether the target is gone and nothing as grave or graver is new, or surer than it was."""
        if target.key in after.holds:
            return False
        grave = gravity(target.rule)
        return not any(
            holds > before.holds.get(key, 0) and gravity(self.rules[key[0]]) <= grave
            for key, holds in after.holds.items()
        )

    def verdict(self, trial: Trial) -> Verdict:
        """The verdict on a changed plan."""
        return self._checker.verdict_on(trial.facts, trial.firings)

    def confirm(self, after: Trial) -> None:
        """Let both evaluations look at the changed plan. Raises CheckFailure when they differ."""
        self._checker.fire(after.facts_of_plan)
