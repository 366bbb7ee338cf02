"""How many rinses until the water stays clear, how much water that takes, and what more dye costs.

Dye that sits loosely inside the fibre comes out slowly, so every count is a lower bound for real goods:
say "at least".

Constants: [[retained]], "visible_dye" and the ranges "goods", "dye", "retained", "water", "rinses",
"visible" in rules/knowledge/physics.toml.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from advisor.interval import Interval, corners
from advisor.measures.exhaustion import Division
from advisor.physics import physics

_SLACK = 1e-9  # relative: a value on the threshold to rounding counts as clear


class Rinsing(NamedTuple):
    """Number of rinses, and the water (L) for all of them."""

    number: Interval
    water: Interval


def retained_liquor(drained: str | None = None) -> Interval:
    """Liquor that wet goods hold, L per kg dry: "dripping", "wrung" or "spun"; anything else, all three.

    Common practice, [[retained]]; whatever is not known is all three:

    >>> retained_liquor() == retained_liquor("dripping").hull(retained_liquor("spun"))
    True
    """
    rows = physics().retained
    if drained in rows:
        return rows[drained].figure.interval
    figures = [row.figure.interval for row in rows.values()]
    return Interval(min(f.low for f in figures), max(f.high for f in figures))


def carried_over(division: Division, liquor_ratio: Interval, retained: Interval) -> Interval:
    """Unfixed dye (g) that goes into the first rinse with the goods when the bath is poured off.

    carried = loose on the fibre + in the bath * retained / liquor ratio  (both L/kg)
    By hand: 1 g loose, and of 2 g in 20 L/kg what 2 L/kg hold: 1 + 2 * 2 / 20.

    >>> bath = Division(fixed=Interval.point(7), loose=Interval.point(1), in_bath=Interval.point(2))
    >>> carried_over(bath, Interval.point(20), Interval.point(2)).low
    1.2
    """
    ratio = physics().within("liquor_ratio", liquor_ratio)
    held = physics().within("retained", retained)
    return division.loose + corners(lambda b, r, L: b * min(r / L, 1), division.in_bath, held, ratio)


def concentration_after(count: int, carried: float, retained: float, water: float) -> float:
    """Dye in the liquor after so many rinses, in g/L.

    c = carried / retained * (retained / (water + retained))^count
    Each rinse mixes fully with the liquor the goods hold. `carried` g, `retained` and `water` L. Plain
    mass balance, no source needed. By hand: 1 g in 1 L, thinned tenfold twice.

    >>> round(concentration_after(2, 1.0, 1.0, 9.0), 9)
    0.01
    """
    return carried / retained * (retained / (water + retained)) ** count


def rinses(
    carried: Interval,
    goods: Interval,
    retained: Interval,
    rinse_volume: Interval,
    visible: Interval | None = None,
) -> Rinsing:
    """At least so many rinses until the rinse water looks clear, and the water they take.

    `carried` g of unfixed dye with the goods (`carried_over`; the whole unfixed mass is an upper bound),
    `goods` g dry, `retained` L/kg, `rinse_volume` L each, `visible` g/L (default: the table's).
    The count is the smallest n for which `concentration_after` is no more than `visible`.
    By hand: 1 g/L, thinned tenfold by 9 L each time, is 1e-4 g/L after four rinses.

    >>> dye, goods, held, each, clear = map(Interval.point, (1, 1000, 1, 9, 1e-4))
    >>> found = rinses(dye, goods, held, each, clear)
    >>> (found.number.high, found.water.high)
    (4, 36)
    """
    tables = physics()
    dye = tables.within("dye", carried)
    held = _held(goods, retained)
    water = tables.within("water", rinse_volume)
    clear = tables.within("visible", tables.interval("visible_dye") if visible is None else visible)
    most = int(tables.ranges["rinses"].figure.high)

    def enough(n: int, dye_g: float, litres: tuple[float, ...], water_l: float, limit: float) -> bool:
        worst = (concentration_after(n, dye_g, r, water_l) for r in litres)
        return max(worst) <= limit * (1 + _SLACK)

    def turning(n: int) -> tuple[float, ...]:
        # for a fixed mass of dye the concentration after n rinses peaks at retained = (n - 1) * water
        peak = min(max((n - 1) * water.low, held.low), held.high)
        return held.low, peak, held.high

    fewest = next(
        (
            n
            for n in range(most)
            if any(enough(n, dye.low, (r,), water.high, clear.high) for r in (held.low, held.high))
        ),
        most,
    )
    greatest = next((n for n in range(most) if enough(n, dye.high, turning(n), water.low, clear.low)), most)
    because = dye.because | held.because | water.because | clear.because
    count = Interval(fewest, greatest, because)
    return Rinsing(count, count * water)


def extra_rinses_for_one_percent_more(
    carried: Interval, extra: Interval, goods: Interval, retained: Interval, rinse_volume: Interval
) -> Rinsing:
    """What one more percent of dye costs: rinses (on average, not rounded up) and water (L).

    extra rinses = ln(1 + extra / carried) / ln(1 + rinse volume / retained litres)
    `carried` g as for `rinses`; `extra` g is what one more percent adds to it
    (`exhaustion.unfixed_of_one_percent_more` is an upper bound); other units as for `rinses`.
    By hand: ten times the dye takes one more rinse that thins tenfold.

    >>> round(extra_rinses_for_one_percent_more(*map(Interval.point, (1, 9, 1000, 1, 9))).number.low, 9)
    1.0
    """
    tables = physics()
    most = tables.ranges["rinses"].figure.high
    water = tables.within("water", rinse_volume)

    def more(dye_g: float, extra_g: float, litres: float, water_l: float) -> float:
        if extra_g == 0:
            return 0.0
        if dye_g == 0 or water_l == 0:
            return most
        return min(math.log1p(extra_g / dye_g) / math.log1p(water_l / litres), most)

    count = corners(more, tables.within("dye", carried), tables.within("dye", extra), _held(goods, retained), water)
    return Rinsing(count, count * water)


def _held(goods: Interval, retained: Interval) -> Interval:
    """Liquor held by all the goods, L."""
    return physics().within("goods", goods) / 1000 * physics().within("retained", retained)
