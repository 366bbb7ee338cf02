"""Broken plans for the tests of remedies: a base plan with several faults of the rules' own cases, or a random plan.

`broken_plan(random.Random(seed))` gives plain data; the same seed gives the same plan.
"""

from __future__ import annotations

import random
from functools import lru_cache
from typing import Any

from plans_random import random_plan

from advisor.cases import CaseError, base_plan, changed
from advisor.remedies.changes import applied
from advisor.rulebook import Case, rulebook

MOST_FAULTS = 6
SHARE_AT_RANDOM = 0.25  # of the plans that are random through and through, and often past help


@lru_cache(maxsize=1)
def faults() -> dict[str, list[Case]]:
    """Base plan -> what makes a rule of effect stop or change fire on it."""
    found: dict[str, list[Case]] = {}
    for rule in rulebook().findings_rules:
        if rule.effect != "caution":
            for case in rule.cases.fires:
                if not case.plan.startswith("sessions/"):
                    found.setdefault(case.plan, []).append(case)
    return found


def broken_plan(chance: random.Random) -> dict[str, Any]:
    """Plan data that something is wrong with; now and then it reads to a plan that is well made after all."""
    if chance.random() < SHARE_AT_RANDOM:
        return random_plan(chance)
    name = chance.choice(sorted(faults()))
    data = base_plan(name)
    for case in chance.sample(faults()[name], min(chance.randint(1, MOST_FAULTS), len(faults()[name]))):
        try:
            data = changed(data, case.change)
        except CaseError:  # another fault has taken away what this one changes
            continue
    return applied(data, {})[0]
