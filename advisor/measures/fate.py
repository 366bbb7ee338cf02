"""Where the dye goes: what the fibre can hold, what stays loose, how many rinses that costs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.factors import HUNDRED
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures import exhaustion, rinse, saturation
from advisor.measures.dose import DoseWork
from advisor.measures.goods import GoodsWork, total
from advisor.measures.vessel import VesselWork
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval


@dataclass(frozen=True, slots=True)
class FateWork:
    """ceiling in % on the weight of goods (None: not known); shares in %; masses in g; water in L; rinses without unit."""

    ceiling: Interval | None
    share_of_ceiling: Interval
    unfixed: Interval
    unfixed_share: Interval
    rinses: Interval
    rinse_water: Interval
    extra_rinses: Interval
    extra_water: Interval


def fate_work(plan: Plan, goods: GoodsWork, dose: DoseWork, vessel: VesselWork, k: Knowledge) -> FateWork:
    """Divide each dye between fibre and bath (g) and rinse the rest out (L); sources in the modules it calls."""
    ratio, retained = vessel.liquor_ratio, rinse.retained_liquor()
    unfixed, carried, extra = Interval.point(0.0), Interval.point(0.0), Interval.point(0.0)
    for number, (dye, dosed) in enumerate(zip(plan.dyes, dose.dyes, strict=True)):
        holdable = dosed.mass_at_maximum * goods.dyeable_share_by_class[dye.dye_class] / HUNDRED
        tag = f"dyes.{number}.class"
        divisions = [
            exhaustion.divide(dosed.weighed.mass, ratio, member.id, holdable) for member in k.members(dye.dye_class)
        ]
        # each part is as much as it may be; both at once are no more than went in
        loose = _hull((d.loose + d.in_bath for d in divisions), tag).clip(0.0, dosed.weighed.mass.high)
        unfixed = unfixed + loose
        carried = carried + _hull((rinse.carried_over(d, ratio, retained) for d in divisions), tag)
        extra = extra + _hull(
            (
                exhaustion.unfixed_of_one_percent_more(dosed.weighed.mass, goods.dry_mass, ratio, member.id, holdable)
                for member in k.members(dye.dye_class)
            ),
            tag,
        )
    dosed_mass = total(d.weighed.mass for d in dose.dyes)
    fresh = plan.aftercare.rinse_water.interval.tagged("aftercare.rinse_water")
    rinsing = rinse.rinses(carried, goods.dry_mass, retained, fresh)
    more = rinse.extra_rinses_for_one_percent_more(carried, extra, goods.dry_mass, retained, fresh)
    ceiling = _ceiling(goods, plan, k)
    return FateWork(
        ceiling=ceiling,
        share_of_ceiling=Interval.point(0.0) if ceiling is None else dose.share_owf_dyeable / ceiling.high,
        unfixed=unfixed,
        unfixed_share=_share(unfixed, dosed_mass),
        rinses=rinsing.number,
        rinse_water=rinsing.water,
        extra_rinses=more.number,
        extra_water=more.water,
    )


def _hull(intervals: Iterable[Interval], tag: str) -> Interval:
    """All of several answers; the class is to blame when there are several."""
    found = list(intervals)
    wide = found[0]
    for interval in found[1:]:
        wide = wide.hull(interval)
    return wide.tagged(tag) if len(found) > 1 else wide


def _share(unfixed: Interval, dosed: Interval) -> Interval:
    """Share of the dye that does not stay, in %. The dose is in both, so a wide dose leaves the widest answer."""
    if dosed.high <= 0:
        return Interval.point(0.0)
    if dosed.exact:
        return (unfixed * HUNDRED / dosed).clip(0.0, HUNDRED)
    return Interval(0.0, HUNDRED, unfixed.because | dosed.because)


def _ceiling(goods: GoodsWork, plan: Plan, k: Knowledge) -> Interval | None:
    """The most the dye sites of the dyeable fibres hold, in % on their weight, over all fibres and classes."""
    found: Interval | None = None
    for part in goods.parts:
        if part.role != "goods" or part.fibre == UNKNOWN:
            continue
        for dye in plan.dyes:
            for member in k.members(dye.dye_class):
                molecules = saturation.likely_molecules(member.id)
                if molecules is None:
                    continue
                most = saturation.ceiling_owf(k.fibres[part.fibre].family, *molecules)
                if most is not None:
                    found = most if found is None else found.hull(most)
    return found


def fate_measures(work: FateWork, plan: Plan) -> dict[str, Measure]:
    """`dye.unfixed_mass` in g, `dye.ceiling` in %, `rinse.count` and what one more percent costs (no unit)."""
    stated = all(dye.amount.stated for dye in plan.dyes) and all(g.dry_mass.stated for g in plan.goods)
    plant = any(dye.form == "plant pieces" for dye in plan.dyes)
    rinsed = stated and plan.aftercare.rinse_water.stated
    found = {
        "dye.unfixed_mass": Measure(
            "dye.unfixed_mass",
            work.unfixed,
            "g",
            f"dye that stays in the bath or comes off in rinsing: {format_interval(work.unfixed_share, '%')} of the dose"
            + ("; pieces of plant count whole, and only a small part of them is dye" if plant else ""),
            "partition and fixation by dye class; a wide, honest range",
            stated,
        ),
        "rinse.count": Measure(
            "rinse.count",
            work.rinses,
            "",
            f"at least this many, then until clear; {format_interval(work.rinse_water, 'L')} of water in all",
            "mixing of rinse water with the liquor the goods hold; lower bound",
            rinsed,
        ),
        "rinse.one_percent_more": Measure(
            "rinse.one_percent_more",
            work.extra_rinses,
            "",
            f"further rinses that one more percent of dye costs; {format_interval(work.extra_water, 'L')} of water",
            "the same rinse model",
            rinsed,
        ),
    }
    if work.ceiling is not None:
        found["dye.ceiling"] = Measure(
            "dye.ceiling",
            work.ceiling,
            "%",
            "the most the fibre's dye sites can hold, on its weight; molar mass and strength of the dye are guesses",
            "end groups of the fibre, likely size of the dye",
        )
    return found
