"""Closed intervals that remember which inputs made them wide.

Every quantity the advisor works with is an interval [low, high] in the canonical unit of its kind
(g, L, degC, min, fraction ...). `because` holds the plan paths ("bath.water") of the inputs that are
unknown or given as a range; it is what turns a wide answer into the right question.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

SIGNIFICANT_DIGITS = 9


def rounded(value: float) -> float:
    """Round to 9 significant digits, so that a change of unit never moves a value off a limit."""
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval with low <= high, both finite; `because` names the inputs that widened it."""

    low: float
    high: float
    because: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not (-1e300 < self.low <= self.high < 1e300):  # also false for NaN
            raise ValueError(f"not an interval: [{self.low}, {self.high}]")
        if self.low == self.high and self.because:
            object.__setattr__(self, "because", frozenset())

    @classmethod
    def point(cls, value: float) -> Interval:
        """An exactly known value."""
        return cls(value, value)

    @property
    def exact(self) -> bool:
        """True when low equals high."""
        return self.low == self.high

    @property
    def middle(self) -> float:
        """The midpoint."""
        return self.low + (self.high - self.low) / 2

    def __add__(self, other: Interval | float) -> Interval:
        o = as_interval(other)
        return Interval(self.low + o.low, self.high + o.high, self.because | o.because)

    __radd__ = __add__

    def __neg__(self) -> Interval:
        return Interval(-self.high, -self.low, self.because)

    def __sub__(self, other: Interval | float) -> Interval:
        return self + (-as_interval(other))

    def __rsub__(self, other: float) -> Interval:
        return as_interval(other) + (-self)

    def __mul__(self, other: Interval | float) -> Interval:
        o = as_interval(other)
        ends = (self.low * o.low, self.low * o.high, self.high * o.low, self.high * o.high)
        return Interval(min(ends), max(ends), self.because | o.because)

    __rmul__ = __mul__

    def __truediv__(self, other: Interval | float) -> Interval:
        o = as_interval(other)
        if o.low <= 0 <= o.high:
            raise ZeroDivisionError(f"divisor [{o.low}, {o.high}] contains zero")
        return self * Interval(1 / o.high, 1 / o.low, o.because)

    def __rtruediv__(self, other: float) -> Interval:
        return as_interval(other) / self

    def clip(self, low: float, high: float) -> Interval:
        """The interval with both ends moved inside [low, high]."""
        return Interval(min(max(self.low, low), high), min(max(self.high, low), high), self.because)

    def at_least(self, low: float) -> Interval:
        """The interval with both ends moved up to at least `low`."""
        return Interval(max(self.low, low), max(self.high, low), self.because)

    def hull(self, other: Interval) -> Interval:
        """The smallest interval that holds both."""
        return Interval(min(self.low, other.low), max(self.high, other.high), self.because | other.because)

    def rounded(self) -> Interval:
        """Both ends at 9 significant digits."""
        if self.low == self.high:
            return Interval.point(rounded(self.low))
        return Interval(rounded(self.low), rounded(self.high), self.because)

    def tagged(self, *paths: str) -> Interval:
        """The same interval, blamed on these inputs as well when it is wide."""
        return Interval(self.low, self.high, self.because | frozenset(paths))


def as_interval(value: Interval | float) -> Interval:
    """An interval as it is, a number as an exact one."""
    return value if isinstance(value, Interval) else Interval.point(float(value))


def corners(function: Callable[..., float], *arguments: Interval) -> Interval:
    """Range of a function that is monotone in each argument alone, from its values at all corners."""
    ends = [(a.low,) if a.exact else (a.low, a.high) for a in arguments]
    values = [function(*corner) for corner in itertools.product(*ends)]
    because = frozenset[str]().union(*(a.because for a in arguments))
    return Interval(min(values), max(values), because)
