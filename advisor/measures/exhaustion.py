"""How the dye divides between fibre and bath, and what stays unfixed.

Constants: [[partition]] and the ranges "dye", "goods", "liquor_ratio" in rules/knowledge/physics.toml.
A class that has no row there gives the whole meaningful range: nothing to everything.
"""

from __future__ import annotations

from typing import NamedTuple

from advisor.interval import Interval, corners
from advisor.physics import physics

_ALL_OR_NOTHING = Interval(0, 1)


class Division(NamedTuple):
    """Where the dye is when the bath is poured off, each in g."""

    fixed: Interval
    loose: Interval
    """on the fibre, but comes off in rinsing"""
    in_bath: Interval


def kept_share(dye_class: str) -> Interval:
    """Share of the exhausted dye that stays through rinsing, a fraction (common practice, [[partition]]).

    By hand: of a class without a row anything may stay.

    >>> kept_share("no such class") == Interval(0, 1)
    True
    """
    row = physics().partitions.get(dye_class)
    return _ALL_OR_NOTHING if row is None else row.kept.interval


def exhausted(dye_class: str, liquor_ratio: Interval) -> Interval:
    """Share of the dye that leaves the bath for the fibre at equilibrium, a fraction.

    E = K / (K + L), the mass balance of a Nernst partition K in L/kg in a bath of L litres per kg.

    Valid under the fibre's ceiling and with enough time, heat, acid or salt; a short or cool bath exhausts
    less. Form of K: Broadbent, Basic Principles of Textile Coloration (2001), p. 203; its values by class
    are common practice. By hand, acid levelling at 20 L/kg: 110 / 130 to 400 / 420.

    >>> taken = exhausted("acid levelling", Interval.point(20))
    >>> (round(taken.low, 3), round(taken.high, 3))
    (0.846, 0.952)
    """
    row = physics().partitions.get(dye_class)
    if row is None:
        return _ALL_OR_NOTHING
    return share_taken(row.partition.interval, liquor_ratio)


def share_taken(partition: Interval, liquor_ratio: Interval) -> Interval:
    """E = K / (K + L) for a known partition K in L/kg and liquor ratio L in L/kg; a fraction. By hand: 180 / 200.

    >>> share_taken(Interval.point(180), Interval.point(20)).low
    0.9
    """
    ratio = physics().within("liquor_ratio", liquor_ratio)
    return corners(lambda k, r: k / (k + r), partition.clip(0, 1e9), ratio)


def divide(dye: Interval, liquor_ratio: Interval, dye_class: str, holdable: Interval | None = None) -> Division:
    """The dye (g) divided into fixed, loose on the fibre, and left in the bath (g).

    on fibre = min(dye * E, holdable);  fixed = on fibre * kept;  loose = on fibre * (1 - kept)
    `holdable` (g of the product) is what the fibre's sites or the maker's maximum allow; what exceeds it
    stays in the bath. None: no ceiling known, so none is applied. `liquor_ratio` L/kg.
    By hand, where the fibre holds 2 g of 10 g: acid levelling keeps 0.95 to 0.98 of it.

    >>> d = divide(Interval.point(10), Interval.point(20), "acid levelling", Interval.point(2))
    >>> (round(d.fixed.low, 2), round(d.fixed.high, 2), d.in_bath.low)
    (1.9, 1.96, 8)
    """
    share, kept, mass, most = _inputs(dye, liquor_ratio, dye_class, holdable)
    return Division(
        fixed=corners(lambda m, e, k, h: min(m * e, h) * k, mass, share, kept, most),
        loose=corners(lambda m, e, k, h: min(m * e, h) * (1 - k), mass, share, kept, most),
        in_bath=corners(lambda m, e, h: m - min(m * e, h), mass, share, most),
    )


def unfixed_of_one_percent_more(
    dye: Interval, goods: Interval, liquor_ratio: Interval, dye_class: str, holdable: Interval
) -> Interval:
    """How much of one more percent of dye (on the weight of goods) would not stay, in g.

    Below the ceiling the usual share; from the ceiling on, all of it. `dye`, `goods`, `holdable` g; `liquor_ratio` L/kg.
    By hand, on 1 kg of goods that are full already: all 10 g.

    >>> dye, goods, ratio, full = map(Interval.point, (50, 1000, 20, 5))
    >>> unfixed_of_one_percent_more(dye, goods, ratio, "acid levelling", full) == Interval.point(10)
    True
    """
    share, kept, mass, most = _inputs(dye, liquor_ratio, dye_class, holdable)
    more = physics().within("goods", goods) / 100

    def extra(m: float, d: float, h: float, k: float, e: float) -> float:
        return d - (min((m + d) * e, h) - min(m * e, h)) * k

    def over_shares(m: float, d: float, h: float, k: float) -> tuple[float, float]:
        # what stays of the extra rises with the share taken until the ceiling is met, then falls
        turn = min(max(h / (m + d), share.low), share.high)
        values = [extra(m, d, h, k, e) for e in (share.low, turn, share.high)]
        return min(values), max(values)

    least = corners(lambda m, d, h, k: over_shares(m, d, h, k)[0], mass, more, most, kept)
    greatest = corners(lambda m, d, h, k: over_shares(m, d, h, k)[1], mass, more, most, kept)
    return Interval(least.low, greatest.high, least.because | share.because)


def _inputs(
    dye: Interval, liquor_ratio: Interval, dye_class: str, holdable: Interval | None
) -> tuple[Interval, Interval, Interval, Interval]:
    mass = physics().within("dye", dye)
    most = Interval.point(mass.high) if holdable is None else physics().within("dye", holdable)
    return exhausted(dye_class, liquor_ratio), kept_share(dye_class), mass, most
