"""The dose: dye on the weight of goods, against the maker's maximum, and how well it can be weighed."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.factors import HUNDRED
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures.amounts import Weighed, weigh_dye
from advisor.measures.goods import GoodsWork, total
from advisor.plan import Plan
from advisor.quantities import format_interval

MOST_SHARE = 1e6  # % on the weight of goods; an upper end for "nothing known", far past any dose
LEAST_MAXIMUM = 1e-3  # % on the weight of goods: an unknown maximum may be tiny, but it is not nothing


@dataclass(frozen=True, slots=True)
class DyeDose:
    """One dye: shares in %, ratios with 1 = at the maker's maximum; `weighing_error` a fraction of the g `on_scale`."""

    weighed: Weighed
    share_owf: Interval
    share_owf_dyeable: Interval
    maximum: Interval
    share_of_maximum: Interval
    share_of_maximum_dyeable: Interval
    share_of_usual_deep: Interval
    share_of_usual_pale: Interval
    weighing_error: Interval
    on_scale: Interval
    mass_at_maximum: Interval


@dataclass(frozen=True, slots=True)
class DoseWork:
    """All dyes together, shares in % and ratios; several dyes add up, each against its own maximum."""

    dyes: tuple[DyeDose, ...]
    share_owf: Interval
    share_owf_dyeable: Interval
    share_of_maximum: Interval
    share_of_maximum_dyeable: Interval
    share_of_usual_deep: Interval
    share_of_usual_pale: Interval


def dose_work(plan: Plan, goods: GoodsWork, k: Knowledge) -> DoseWork:
    """Work out the dose in g, in % on the weight of goods, and as a ratio to the maker's maximum.

    % = 100 x g of dye / g of dry goods (common practice).
    """
    dyes = tuple(_dye(plan, number, goods, k) for number in range(len(plan.dyes)))
    return DoseWork(
        dyes=dyes,
        share_owf=total([d.share_owf for d in dyes]),
        share_owf_dyeable=total([d.share_owf_dyeable for d in dyes]),
        share_of_maximum=total([d.share_of_maximum for d in dyes]),
        share_of_maximum_dyeable=total([d.share_of_maximum_dyeable for d in dyes]),
        share_of_usual_deep=total([d.share_of_usual_deep for d in dyes]),
        share_of_usual_pale=total([d.share_of_usual_pale for d in dyes]),
    )


def _dye(plan: Plan, number: int, goods: GoodsWork, k: Knowledge) -> DyeDose:
    dye = plan.dyes[number]
    weighed = weigh_dye(dye, number, goods.dry_mass, k)
    if weighed.kind == "share":  # already on the weight of goods; the goods' mass does not come into it
        share = dye.amount.interval.tagged(f"dyes.{number}.amount")
    else:
        share = weighed.mass * HUNDRED / goods.dry_mass
    on_dyeable = _on_dyeable(share, goods.dyeable_share_by_class[dye.dye_class])
    maximum = dye.maximum.interval.at_least(LEAST_MAXIMUM).tagged(f"dyes.{number}.maximum")
    of_maximum, of_maximum_dyeable = share / maximum, on_dyeable / maximum
    if dye.form == "plant pieces" and not dye.maximum.stated:  # nobody is there who could state one for a plant
        of_maximum = of_maximum_dyeable = Interval.point(0.0)
    pale, deep = usual_depths(dye.dye_class, k, f"dyes.{number}.class")
    step = plan.scale.resolution.interval.tagged("scale.resolution")
    # a stock solution is weighed as it is, and its error is that of the whole, not of the dye in it
    on_scale = dye.amount.interval.tagged(f"dyes.{number}.amount") if weighed.kind == "mass" else weighed.mass
    if weighed.kind in ("volume", "spoon"):
        error = Interval.point(0.0)  # not weighed out for this bath
    elif on_scale.low > 0:
        error = step / on_scale
    else:
        error = Interval(0.0, MOST_SHARE, on_scale.because | step.because)
    return DyeDose(
        weighed=weighed,
        share_owf=share.clip(0.0, MOST_SHARE),
        share_owf_dyeable=on_dyeable,
        maximum=maximum,
        share_of_maximum=of_maximum.clip(0.0, MOST_SHARE),
        share_of_maximum_dyeable=of_maximum_dyeable.clip(0.0, MOST_SHARE),
        share_of_usual_deep=share / deep,
        share_of_usual_pale=share / pale,
        weighing_error=error.clip(0.0, MOST_SHARE),
        on_scale=on_scale,
        mass_at_maximum=maximum * goods.dry_mass / HUNDRED,
    )


def usual_depths(dye_class: str, k: Knowledge, path: str) -> tuple[Interval, Interval]:
    """A usual pale and a usual deep shade of a class, in % on the weight of goods; wide when the class is unsure.

    Common practice, dye_classes.toml. `path` is blamed for the width. Raises KeyError for a class that is not known.
    """
    figures = [member.usual_depth for member in k.members(dye_class)]
    pale, deep = [figure.low for figure in figures], [figure.high for figure in figures]
    unsure = frozenset({path})
    return Interval(min(pale), max(pale), unsure), Interval(min(deep), max(deep), unsure)


def _on_dyeable(share: Interval, dyeable_share: Interval) -> Interval:
    """The share on the fibre that takes the dye, in %."""
    if dyeable_share.high <= 0:
        return share.clip(0.0, MOST_SHARE)  # nothing takes it: a matter of the fibre, not of the dose
    high = share.high * HUNDRED / dyeable_share.low if dyeable_share.low > 0 else MOST_SHARE
    low = share.low * HUNDRED / dyeable_share.high
    return Interval(low, max(low, high), share.because | dyeable_share.because).clip(0.0, MOST_SHARE)


def dose_measures(plan: Plan, goods: GoodsWork, work: DoseWork) -> dict[str, Measure]:
    """Dye in g, dose in % on the weight of goods, share of the maximum as a ratio, weighing error as a fraction."""
    found: dict[str, Measure] = {}

    def put(key: str, interval: Interval, unit: str, how: str, source: str, known: bool = True) -> None:
        found[key] = Measure(key, interval, unit, how, source, known)

    massed = all(g.dry_mass.stated for g in plan.goods)
    shares = all(d.weighed.kind == "share" for d in work.dyes)
    stated = all(d.weighed.known for d in work.dyes) and (massed or shares)
    limited = all(dye.maximum.stated for dye in plan.dyes)
    for number, dose in enumerate(work.dyes):
        known = dose.weighed.known and (massed or dose.weighed.kind != "share")
        put(f"dyes.{number}.mass", dose.weighed.mass, "g", dose.weighed.how, "the plan", known)
    grams = " + ".join(format_interval(d.weighed.mass, "g") for d in work.dyes)
    dry, owf = format_interval(goods.dry_mass, "g"), format_interval(work.share_owf, "%")
    practice = "on the weight of goods: common practice"
    put("dye.share_owf", work.share_owf, "%", f"{grams} of dye on {dry} of dry goods = {owf}", practice, stated)
    put(
        "dye.share_owf_dyeable",
        work.share_owf_dyeable,
        "%",
        f"the same dye on the {format_interval(goods.dyeable_mass, 'g')} that takes it"
        f" = {format_interval(work.share_owf_dyeable, '%')}",
        practice,
        stated,
    )
    each = " + ".join(f"{format_interval(d.share_owf, '%')} / {format_interval(d.maximum, '%')}" for d in work.dyes)
    put(
        "dye.share_of_maximum",
        work.share_of_maximum,
        "",
        f"{each} = {format_interval(work.share_of_maximum, '')} of the maker's maximum",
        "the maker's maximum, from the plan",
        stated and limited,
    )
    put(
        "dye.share_of_maximum_dyeable",
        work.share_of_maximum_dyeable,
        "",
        f"the same on the fibre that takes the dye = {format_interval(work.share_of_maximum_dyeable, '')}",
        "the maker's maximum, from the plan",
        stated and limited,
    )
    weighed = all(d.weighed.kind != "unknown" and (massed or d.weighed.kind != "share") for d in work.dyes)
    worst = max(work.dyes, key=lambda d: (d.weighing_error.high, d.weighing_error.low))
    put(
        "dye.weighing_error",
        worst.weighing_error,
        "fraction",
        _weighing_told(plan, worst),
        "display step against dose: common practice",
        worst.weighing_error.high == 0 or (plan.scale.resolution.stated and weighed),
    )
    return found


def _weighing_told(plan: Plan, worst: DyeDose) -> str:
    """How the weighing error comes about."""
    if worst.weighed.kind in ("volume", "spoon"):
        return "measured by volume, so no scale comes into it"
    step, mass = format_interval(plan.scale.resolution.interval, "g"), format_interval(worst.on_scale, "g")
    return f"a step of {step} on {mass}: one step, since zero and reading may each be half a step off"
