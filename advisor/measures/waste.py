"""What goes down the drain: its pH, what brings it to where local rules want it, how much it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures import acidity
from advisor.measures.fate import FateWork
from advisor.measures.liquor import LiquorWork
from advisor.measures.sides import Side
from advisor.measures.vessel import VesselWork
from advisor.plan import Plan
from advisor.quantities import format_interval

BASE, ACID = "sodium bicarbonate", "citric acid"
NO_ACID = "no acid into it, which may set a poisonous gas free: ask the works"


@dataclass(frozen=True, slots=True)
class WasteWork:
    """ph of the spent bath (taken as that of the fresh one); volume in L with all rinses; how to neutralise, in words."""

    ph: Interval
    volume: Interval
    neutralise: str


def waste_work(
    plan: Plan, liquor: LiquorWork, vessel: VesselWork, fate: FateWork, sides: Mapping[str, Side], k: Knowledge
) -> WasteWork:
    """Work out the waste: pH, L with all rinses, and g of what neutralises it, in words.

    Fibre binds some acid and some leaves as vapour, so an acid bath ends a little milder. Limits of pH: limits.toml.
    """
    low, high = k.limits["ph_drain_low"].figure.low, k.limits["ph_drain_high"].figure.low
    words = "check the pH with a strip first"
    if (
        _may_be_asked(plan)
        and liquor.doses is not None
        and not liquor.ph.because
        and not low <= liquor.ph.low <= liquor.ph.high <= high
    ):
        gassing = any(sides[side].answer != "no" for side in ("bath_bleach", "bath_reducing"))
        alkaline = liquor.ph.low > high
        words = NO_ACID if gassing and alkaline else _neutraliser(plan, liquor, vessel, low, high)
    return WasteWork(liquor.ph, vessel.water + fate.rinse_water, words)


def _may_be_asked(plan: Plan) -> bool:
    """Whether local rules may ask for a middling pH: not of a household's bath to the sewer."""
    return plan.aftercare.drain != "sewer" or plan.space.kind in ("classroom", "studio")


def _neutraliser(plan: Plan, liquor: LiquorWork, vessel: VesselWork, low: float, high: float) -> str:
    assert liquor.doses is not None
    target, substance = (low, BASE) if liquor.ph.low < low else (high, ACID)
    need = acidity.base_to_reach(liquor.doses, vessel.water, plan.bath.alkalinity.interval, target, substance)
    if need is None:
        return "no sensible amount is known: ask the works"
    end = Interval.point(need.low if need.low > 0 else need.high)
    first = format_interval(end, "g") if need.low > 0 else f"at most {format_interval(end, 'g')}"
    return f"stir in {first} of {substance} to the cold bath, wait half an hour, and test with a strip for pH {low:g} to {high:g}"


def waste_measures(work: WasteWork, liquor: LiquorWork) -> dict[str, Measure]:
    """`waste.ph`, in pH."""
    return {
        "waste.ph": Measure(
            "waste.ph",
            work.ph,
            "pH",
            f"as the bath, at the most; {work.neutralise}",
            "charge balance; the fibre's share left out",
            liquor.ph_known,
        )
    }
