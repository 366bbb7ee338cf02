"""One measure: a number worked out, with how and from where."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.interval import Interval


@dataclass(frozen=True)
class Measure:
    """Something worked out: an interval in a unit, how in words with the numbers in, and from where."""

    key: str
    interval: Interval
    unit: str
    how: str
    source: str
    known: bool = True  # False when an input was missing, so that there is no value to show
