"""One measure: a number worked out, with how and from where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.interval import Interval

# measures that a report shows only when they differ from another one, or not at all: they answer what few people ask
_SAME_AS = {
    "dye.share_owf_dyeable": "dye.share_owf",
    "dye.share_of_maximum_dyeable": "dye.share_of_maximum",
    "goods.dyeable_mass": "goods.dry_mass",
    "waste.ph": "bath.ph",
}
_SELDOM = frozenset({"assist.acid", "dye.ceiling", "heat.boiling_point"})


@dataclass(frozen=True)
class Measure:
    """Something worked out: an interval in a unit, how in words with the numbers in, and from where."""

    key: str
    interval: Interval
    unit: str
    how: str
    source: str
    known: bool = True  # False when an input was missing, so that there is no value to show


def telling(measure: Measure, measures: Mapping[str, Measure]) -> bool:
    """Whether a report shows this measure of all `measures`: it repeats no other, and people ask about it."""
    if measure.key in _SAME_AS:
        return measure.interval != measures[_SAME_AS[measure.key]].interval
    return measure.key not in _SELDOM
