"""Heat: time to temperature, boiling point, scalds, and the mass of the full pot."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.factors import THOUSAND
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures import air, heat
from advisor.measures.goods import GoodsWork
from advisor.measures.vessel import VesselWork
from advisor.physics import physics
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval

MINUTES = 60.0  # in an hour


@dataclass(frozen=True, slots=True)
class WarmthWork:
    """Times in s (scald) and min (heating), boiling_point in degC, rise in delta_degC/min, lift_mass in kg.

    `steam` in kg/h below the boil; `boils_away` in L while the bath is held; `power` of the source in W, and
    the fraction of it that reaches the pot.
    """

    boiling_point: Interval
    time_to_temperature: Interval
    fastest_rise: Interval
    steam: Interval
    boils_away: Interval
    scald_time: Interval
    child_scald_time: Interval
    lift_mass: Interval
    power: Interval
    efficiency: Interval


def warmth_work(plan: Plan, goods: GoodsWork, vessel: VesselWork, k: Knowledge) -> WarmthWork:
    """Work out times, temperatures and the mass to lift; a heat source that is not known may be any of the table.

    Power (W) and the fraction that reaches the pot: common practice, heat.toml.
    """
    temperature = plan.bath.temperature.interval.tagged("bath.temperature")
    source = plan.bath.heat_source
    rows = list(k.heat_sources) if source == UNKNOWN else [k.heat_sources[source]]
    power = Interval(min(r.power.low for r in rows), max(r.power.high for r in rows))
    efficiency = Interval(min(r.efficiency.low for r in rows), max(r.efficiency.high for r in rows))
    if source == UNKNOWN:
        power, efficiency = power.tagged("bath.heat_source"), efficiency.tagged("bath.heat_source")
    tap = k.limits["tap_water"].figure.interval
    own = plan.vessel.empty_mass
    pot = own.interval.tagged("vessel.empty_mass") / THOUSAND if own.stated else heat.vessel_mass(vessel.capacity)
    steam = air.evaporation(temperature, air.pot_surface(vessel.capacity)) * air.let_out(plan.vessel.lid)
    return WarmthWork(
        boiling_point=heat.boiling_point(plan.bath.altitude.interval.tagged("bath.altitude")),
        time_to_temperature=heat.time_to_temperature(
            vessel.water, goods.dry_mass, power, efficiency, tap, temperature, pot
        ),
        fastest_rise=heat.fastest_rise(vessel.water, goods.dry_mass, power, efficiency, pot),
        steam=steam,
        boils_away=_boils_away(plan, steam),
        scald_time=heat.scald_time(temperature),
        child_scald_time=heat.child_scald_time(temperature),
        lift_mass=heat.lift_mass(vessel.water, goods.dry_mass, pot),
        power=power,
        efficiency=efficiency,
    )


def _boils_away(plan: Plan, steam: Interval) -> Interval:
    """L that steams off while the bath is held. A sealed pot, or one nobody heats, is for the rules to tell apart."""
    hours = plan.bath.hold.interval.tagged("bath.hold") / MINUTES
    return steam * hours / physics().number("water_density")


def warmth_measures(plan: Plan, work: WarmthWork) -> dict[str, Measure]:
    """`heat.*` in min, degC and s, and `lift.mass` in kg."""
    hot = plan.bath.temperature
    known = hot.stated and plan.bath.water.stated
    at = format_interval(hot.interval, "degC")
    return {
        "heat.time_to_temperature": Measure(
            "heat.time_to_temperature",
            work.time_to_temperature,
            "min",
            f"heating {format_interval(plan.bath.water.interval, 'L')} from the tap to {at}"
            f" with {format_interval(work.power, 'W')}",
            "heat capacity of water, fibre and pot; power of the source from the table",
            known and plan.bath.heat_source not in (UNKNOWN, "none"),
        ),
        "heat.boiling_point": Measure(
            "heat.boiling_point",
            work.boiling_point,
            "degC",
            f"at {format_interval(plan.bath.altitude.interval, 'm')} above the sea",
            "standard atmosphere; Clausius and Clapeyron",
            plan.bath.altitude.stated,
        ),
        "heat.scald_time": Measure(
            "heat.scald_time",
            work.scald_time,
            "s",
            f"adult skin in liquor at {at}; a young child's in {format_interval(work.child_scald_time, 's')}",
            "damage integral of Henriques with conduction",
            hot.stated,
        ),
        "lift.mass": Measure(
            "lift.mass",
            work.lift_mass,
            "kg",
            "water, goods and pot"
            + ("" if plan.vessel.empty_mass.stated else "; the pot's own mass is a guess by its size"),
            "addition",
            plan.bath.water.stated and (plan.vessel.empty_mass.stated or plan.vessel.capacity.stated),
        ),
    }
