"""The pot: water to goods, how full it is, and how much it can dye evenly."""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.factors import THOUSAND
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures.goods import GoodsWork
from advisor.plan import Plan
from advisor.quantities import format_interval

LEAST = 1e-3  # L: an unknown volume may be tiny, but it is not nothing


@dataclass(frozen=True, slots=True)
class VesselWork:
    """liquor_ratio L/kg; fill a fraction; dry_mass_limit g; share_of_limit a ratio; water and capacity needed L."""

    water: Interval
    capacity: Interval
    liquor_ratio: Interval
    fill: Interval
    dry_mass_limit: Interval
    share_of_limit: Interval
    water_needed: Interval
    capacity_needed: Interval
    batches: Interval


def vessel_work(plan: Plan, goods: GoodsWork, k: Knowledge) -> VesselWork:
    """Work out the pot.

    fill = (water + dry goods / fibre density) / capacity: the water inside the fibre is counted as water.
    The most an even shade allows: working fill x capacity / (even liquor ratio + 1 / density), with the
    working fill lower for a hot bath, which needs headroom (common practice). Water in L, goods in g.
    """
    water = plan.bath.water.interval.at_least(LEAST).tagged("bath.water")
    capacity = plan.vessel.capacity.interval.at_least(LEAST).tagged("vessel.capacity")
    kilograms = goods.dry_mass / THOUSAND
    solid = 1.0 / goods.density  # L per kg
    even = k.limits["liquor_ratio_even"].figure.low
    working = _working_fill(plan, k)
    limit = working * capacity / (even + solid) * THOUSAND
    water_needed = kilograms * even
    share = goods.dry_mass / limit
    return VesselWork(
        water=water,
        capacity=capacity,
        liquor_ratio=water / kilograms,
        fill=(water + kilograms * solid) / capacity,
        dry_mass_limit=limit,
        share_of_limit=share,
        water_needed=water_needed,
        capacity_needed=(water_needed + kilograms * solid) / working,
        batches=Interval(max(1, math.ceil(share.low)), max(1, math.ceil(min(share.high, 1e6))), share.because),
    )


def _working_fill(plan: Plan, k: Knowledge) -> Interval:
    hot, full = k.limits["fill_hot"].figure.low, k.limits["fill_full"].figure.low
    limit, temperature = k.limits["hot_bath"].figure.low, plan.bath.temperature.interval
    if temperature.low >= limit:
        return Interval.point(hot)
    if temperature.high < limit:
        return Interval.point(full)
    return Interval(hot, full, frozenset({"bath.temperature"}))


def vessel_measures(plan: Plan, goods: GoodsWork, work: VesselWork, k: Knowledge) -> dict[str, Measure]:
    """`bath.liquor_ratio` in L/kg, `vessel.fill` as a fraction and `vessel.dry_mass_limit` in g."""
    water, dry = format_interval(work.water, "L"), format_interval(goods.dry_mass, "g")
    pot = f"a pot of {format_interval(work.capacity, 'L')}" if plan.vessel.capacity.stated else "a pot of unknown size"
    even, massed = k.limits["liquor_ratio_even"].figure, all(g.dry_mass.stated for g in plan.goods)
    return {
        "bath.liquor_ratio": Measure(
            "bath.liquor_ratio",
            work.liquor_ratio,
            "L/kg",
            f"{water} of water for {dry} of dry goods = {format_interval(work.liquor_ratio, 'L/kg')}",
            "liquor ratio: the trade's usual measure",
            plan.bath.water.stated and massed,
        ),
        "vessel.fill": Measure(
            "vessel.fill",
            work.fill,
            "fraction",
            f"{water} of water and the goods in {pot}",
            "volume of water and fibre; densities in the family table",
            plan.bath.water.stated and plan.vessel.capacity.stated and massed,
        ),
        "vessel.dry_mass_limit": Measure(
            "vessel.dry_mass_limit",
            work.dry_mass_limit,
            "g",
            f"{pot}, filled as far as it may be, at {format_interval(even.interval, even.unit)}",
            f"{even.basis}",
            plan.vessel.capacity.stated,
        ),
    }
