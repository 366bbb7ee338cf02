"""Amounts written anew in the unit the person used: "2 tsp" -> "1.5 tsp", "195 degF" -> "140 degF"."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from typing import Any, Literal

from advisor.factors import THOUSAND
from advisor.knowledge import units
from advisor.quantities import QuantityError, parse, unit_words

Towards = Literal["down", "up", "near"]
_ROUNDING = {"down": ROUND_FLOOR, "up": ROUND_CEILING, "near": ROUND_HALF_EVEN}
DIGITS = 3
_SMALL = "mL"  # for less than a litre


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit as a person writes it: canonical value = zero + number * size."""

    word: str
    zero: float
    size: float

    @property
    def metric(self) -> bool:
        """Whether the size is a power of ten of the canonical unit."""
        return Decimal(f"{self.size:.9g}").normalize().as_tuple().digits == (1,)

    def number(self, value: float) -> float:
        """The number to write for a canonical value."""
        return (value - self.zero) / self.size

    def text(self, number: Decimal) -> str:
        """The amount as text."""
        return f"{_plain(number)} {self.word}"


def scale_of(raw: Any, kind: str, value: float | None = None, place: str | None = None) -> Scale:
    """The unit of what was written, where it has one plain size; else the usual unit of the kind."""
    for word in reversed(unit_words(raw) if isinstance(raw, str) else ()):  # the smaller unit of "1 h 30 min"
        try:
            ten, twenty = (parse(f"{number} {word}", (kind,), place=place).interval for number in (10, 20))
        except QuantityError:
            continue
        if ten.exact and twenty.exact:
            size = (twenty.low - ten.low) / 10
            return Scale(word, ten.low - 10 * size, size)
    if kind == "volume" and value is not None and value < 1:
        return Scale(_SMALL, 0.0, 1 / THOUSAND)
    return Scale(units().kinds[kind].unit, 0.0, 1.0)


def restated(
    raw: Any,
    kind: str,
    value: float,
    towards: Towards,
    *,
    step: float = 0.0,
    place: str | None = None,
    digits: int = DIGITS,
) -> str:
    """The value (in the canonical unit of its kind) as text, in the unit of `raw` where that has one plain size.

    Rounded to so many significant digits, or to whole steps (g) of a scale when that leaves anything.
    """
    scale = scale_of(raw, kind, value, place)
    if kind == "volume" and scale.size == 1.0 and 0 < value < 1:  # nobody measures 0.06 L
        scale = Scale(_SMALL, 0.0, 1 / THOUSAND)
    step = step if scale.metric else 0.0  # no scale shows grams in steps of an ounce
    return scale.text(_rounded(scale.number(value), towards, step / scale.size, digits))


def scaled(raw: Any, kind: str, ends: tuple[float, float], factor: float, towards: Towards, **how: Any) -> str:
    """A stated amount times a factor; a range stays a range."""
    low, high = (restated(raw, kind, end * factor, towards, **how) for end in ends)
    return low if low == high else f"{low} to {high}"


def _rounded(value: float, towards: Towards, step: float, digits: int) -> Decimal:
    exact = Decimal(f"{value:.9g}")  # as finely as measures are compared, so that 1.5000000001 is 1.5
    if step > 0 and exact >= Decimal(f"{step:.9g}"):
        unit = Decimal(f"{step:.9g}")
        return (exact / unit).to_integral_value(_ROUNDING[towards]) * unit
    unit = Decimal(1).scaleb(exact.adjusted() - digits + 1)
    return exact.quantize(unit, _ROUNDING[towards])


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
