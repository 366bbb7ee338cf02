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
    """Round to 9 significant digits, in any unit, so that a change of unit never moves a value off a limit.

    140 degF is 60 degC by definition; floats may give a little more:

    >>> rounded(60.00000000000006)
    60.0
    """
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval with low <= high, both finite, in any unit; `because` names the inputs that widened it.

    Sums and products have the widest ends that the parts allow; both must be in fitting units. Raises ValueError for
    ends that are out of order or not finite, ZeroDivisionError for a divisor that holds 0. By hand:

    >>> a, b = Interval(1, 2), Interval(-3, 4)
    >>> [(c.low, c.high) for c in (a + b, a - b, a * b, b / Interval(2, 4))]
    [(-2, 6), (-3, 5), (-6, 8), (-1.5, 2.0)]
    """

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
        """An exactly known value, in any unit. Raises ValueError when it is not finite."""
        return cls(value, value)

    @property
    def exact(self) -> bool:
        """True when low equals high."""
        return self.low == self.high

    @property
    def middle(self) -> float:
        """The midpoint, in the same unit. By hand:

        >>> Interval(2, 6).middle
        4.0
        """
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
        """The interval with both ends moved inside [low, high], all in the same unit. By hand:

        >>> Interval(-5, 130).clip(0, 100) == Interval(0, 100)
        True
        """
        return Interval(min(max(self.low, low), high), min(max(self.high, low), high), self.because)

    def at_least(self, low: float) -> Interval:
        """The interval with both ends moved up to at least `low`, in the same unit. By hand:

        >>> Interval(-5, 3).at_least(0) == Interval(0, 3)
        True
        """
        return Interval(max(self.low, low), max(self.high, low), self.because)

    def hull(self, other: Interval) -> Interval:
        """The smallest interval that holds both, in their common unit. By hand:

        >>> Interval(1, 2).hull(Interval(5, 6)) == Interval(1, 6)
        True
        """
        return Interval(min(self.low, other.low), max(self.high, other.high), self.because | other.because)

    def rounded(self) -> Interval:
        """Both ends at 9 significant digits, in the same unit."""
        if self.low == self.high:
            return Interval.point(rounded(self.low))
        return Interval(rounded(self.low), rounded(self.high), self.because)

    def tagged(self, *paths: str) -> Interval:
        """The same interval in the same unit, blamed on these plan paths as well when it is wide."""
        return Interval(self.low, self.high, self.because | frozenset(paths))


def as_interval(value: Interval | float) -> Interval:
    """An interval as it is, a number as an exact one; the unit stays. Raises ValueError for a number not finite."""
    return value if isinstance(value, Interval) else Interval.point(float(value))


def corners(function: Callable[..., float], *arguments: Interval) -> Interval:
    """Range of a function that is monotone in each argument alone, from its values at all corners.

    Arguments and result in the units of the function. By hand:

    >>> r = corners(lambda dose, goods: 100 * dose / goods, Interval(1, 2), Interval(50, 100))
    >>> (r.low, r.high)
    (1.0, 4.0)
    """
    ends = [(a.low,) if a.exact else (a.low, a.high) for a in arguments]
    values = [function(*corner) for corner in itertools.product(*ends)]
    because = frozenset[str]().union(*(a.because for a in arguments))
    return Interval(min(values), max(values), because)
