"""The goods: how much there is, and how much of it takes the dyes of the bath."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.fact_types import vocabularies
from advisor.factors import HUNDRED
from advisor.interval import Interval
from advisor.knowledge import TAKES_DYE, Knowledge
from advisor.measure import Measure
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval

LEAST = 1e-3  # g: an unknown mass may be tiny, but it is not nothing


@dataclass(frozen=True, slots=True)
class FibrePart:
    """A fibre of one lot or of its trims; `share` in % of the lot (None for a trim)."""

    goods: int
    role: str
    name: str
    fibre: str
    share: Interval | None


@dataclass(frozen=True, slots=True)
class GoodsWork:
    """Masses in g, density in g/mL, shares in %: of each lot, of all goods, and of them for each dye class alone."""

    masses: tuple[Interval, ...]
    dry_mass: Interval
    parts: tuple[FibrePart, ...]
    dyeable_shares: tuple[Interval, ...]
    dyeable_mass: Interval
    dyeable_share: Interval
    dyeable_share_by_class: dict[str, Interval]
    density: Interval


def takes(k: Knowledge, fibre: str, dye_class: str) -> frozenset[str]:
    """The ways a fibre may take a dye class, when either may be unknown or the class only a family (uptake.toml).

    Raises KeyError for a fibre or class that is not known.
    """
    return k.takes(k.families.ids if fibre == UNKNOWN else (k.fibres[fibre].family,), dye_class)


def goods_work(plan: Plan, k: Knowledge, dye_classes: Sequence[str]) -> GoodsWork:
    """Work out the goods against the dye classes of the bath.

    A fibre counts as dyeable when it takes a class fully or in part; with an unknown fibre or class its
    share runs from nothing to all of it. Masses in g, shares in % of the mass, densities in g/mL.
    """
    masses = tuple(g.dry_mass.interval.at_least(LEAST).tagged(f"goods.{i}.dry_mass") for i, g in enumerate(plan.goods))
    parts = tuple(_parts(plan))

    def shares_for(*classes: str) -> tuple[Interval, ...]:
        return tuple(_share(parts, i, k, classes, plan) for i in range(len(masses)))

    classes = tuple(dict.fromkeys(dye_classes))
    shares = shares_for(*classes)
    dyeable = total(m * s / HUNDRED for m, s in zip(masses, shares, strict=True))
    return GoodsWork(
        masses=masses,
        dry_mass=total(masses),
        parts=parts,
        dyeable_shares=shares,
        dyeable_mass=dyeable,
        dyeable_share=_average(masses, shares),
        dyeable_share_by_class={c: _average(masses, shares_for(c)) for c in classes},
        density=_density(parts, k),
    )


def goods_measures(plan: Plan, work: GoodsWork) -> dict[str, Measure]:
    """`goods.dry_mass` and `goods.dyeable_mass`, in g."""
    stated = all(goods.dry_mass.stated for goods in plan.goods)
    listed = " + ".join(format_interval(m, "g") for m in work.masses)
    shares = ", ".join(format_interval(s, "%") for s in work.dyeable_shares)
    return {
        "goods.dry_mass": Measure(
            "goods.dry_mass",
            work.dry_mass,
            "g",
            f"stated: {listed}" if stated else "the mass of the goods is not stated",
            "the plan",
            stated,
        ),
        "goods.dyeable_mass": Measure(
            "goods.dyeable_mass",
            work.dyeable_mass,
            "g",
            f"{listed}, of which {shares} takes the dye fully or in part",
            "fibre label and the uptake table",
            stated,
        ),
    }


def _parts(plan: Plan) -> list[FibrePart]:
    parts = []
    for i, goods in enumerate(plan.goods):
        for component in goods.fibres.components():
            share = component.share.tagged(f"goods.{i}.fibres")
            parts.append(FibrePart(i, "goods", goods.name, component.fibre, share))
        for trim in goods.trims or ():
            name = f"{trim.text} on {goods.name}"
            parts += [FibrePart(i, "trim", name, component.fibre, None) for component in trim.components()]
    return parts


def _share(parts: tuple[FibrePart, ...], goods: int, k: Knowledge, classes: tuple[str, ...], plan: Plan) -> Interval:
    low = high = 0.0
    because = frozenset[str]()
    for part in parts:
        if part.goods != goods or part.share is None:
            continue
        surely = any(takes(k, part.fibre, c) <= TAKES_DYE for c in classes)
        maybe = any(takes(k, part.fibre, c) & TAKES_DYE for c in classes)
        low += part.share.low if surely else 0.0
        high += part.share.high if maybe else 0.0
        because |= part.share.because
        if maybe and not surely:
            if part.fibre == UNKNOWN:
                because |= {f"goods.{goods}.fibres"}
            because |= unsure_classes(plan)
    return Interval(min(low, HUNDRED), min(max(low, high), HUNDRED), because)


def unsure_classes(plan: Plan) -> frozenset[str]:
    """The plan paths of the dyes whose class is unknown or only a family."""
    words = vocabularies()["dye class"].words
    return frozenset(f"dyes.{i}.class" for i, dye in enumerate(plan.dyes) if dye.dye_class not in words)


def _density(parts: tuple[FibrePart, ...], k: Knowledge) -> Interval:
    """g/mL over all fibres there may be; wide enough not to matter to the fill of a pot."""
    found = None
    for part in parts:
        families = k.families.ids if part.fibre == UNKNOWN else (k.fibres[part.fibre].family,)
        for family in families:
            interval = k.families[family].density.interval
            found = interval if found is None else found.hull(interval)
    assert found is not None  # a plan has at least one lot, and a lot at least one fibre
    return found


def _average(masses: tuple[Interval, ...], shares: tuple[Interval, ...]) -> Interval:
    """The share of all goods, in %. A single lot's mass cancels out; unsure masses leave the widest answer."""
    if len(masses) > 1 and all(mass.exact for mass in masses):
        return total(m * s for m, s in zip(masses, shares, strict=True)) / total(masses)
    wide = shares[0]
    for share in shares[1:]:
        wide = wide.hull(share)
    return wide if len(masses) == 1 or wide.exact else wide.tagged(*(p for m in masses for p in m.because))


def total(intervals: Iterable[Interval]) -> Interval:
    """The sum of intervals, in their common unit; 0 of none. By hand:

    >>> total([Interval(1, 2), Interval(3, 5)]) == Interval(4, 7)
    True
    """
    return sum(intervals, start=Interval.point(0.0))
