"""Vapour over the bath and in the room, as an upper bound against occupational limits; never a clearance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.interval import Interval, corners
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures import air
from advisor.measures.airing import airing
from advisor.measures.amounts import DosedAssist
from advisor.measures.vessel import VesselWork
from advisor.measures.warmth import WarmthWork
from advisor.physics import physics
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval

MILLIMOLES = 1000.0
MINUTES = 60.0
# what each substance of a plan can give off: its active part
_SPECIES = {"acetic acid": "acetic", "formic acid": "formic", "ammonia": "ammonia"}
NOTHING = Interval.point(0.0)


@dataclass(frozen=True, slots=True)
class FumesWork:
    """Upper bounds in ppm, by "acetic", "formic", "ammonia"; and the highest share of an 8 h limit, a ratio."""

    room: Mapping[str, Interval]
    headspace: Mapping[str, Interval]
    limit_share: Interval


def fumes_work(
    plan: Plan, assists: tuple[DosedAssist, ...], vessel: VesselWork, warmth: WarmthWork, k: Knowledge
) -> FumesWork:
    """Work out the bounds in ppm: all the acid un-ionised, the room's air mixed; a lid keeps some steam in.

    Limits of 8 hours: NIOSH Pocket Guide (acetic acid published, the others from memory).
    """
    room = dict.fromkeys(_SPECIES.values(), NOTHING)
    headspace = dict(room)
    share = NOTHING
    concentrations = _concentrations(plan, assists, vessel, k)
    for species, concentration in concentrations.items():
        vapour = _vapour(species, concentration, plan, vessel, warmth, k)
        name = _SPECIES[species]
        room[name], headspace[name] = vapour.room, vapour.headspace
        limit = physics().volatiles[species].limit_8h.low
        share = corners(max, share, vapour.room / limit)
    return FumesWork(room, headspace, share)


def _concentrations(
    plan: Plan, assists: tuple[DosedAssist, ...], vessel: VesselWork, k: Knowledge
) -> dict[str, Interval]:
    """mol/L of each species that is dosed; a bath of unknown assists is asked about elsewhere."""
    found: dict[str, Interval] = {}
    for assist, dosed in zip(plan.assists or (), assists, strict=True):
        if assist.substance == UNKNOWN or dosed.moles is None:
            continue
        substance = k.substances[assist.substance]
        species = substance.active or substance.id
        if species in _SPECIES:
            found[species] = found.get(species, NOTHING) + dosed.moles / MILLIMOLES / vessel.water
    return found


def _vapour(
    species: str, concentration: Interval, plan: Plan, vessel: VesselWork, warmth: WarmthWork, k: Knowledge
) -> air.Vapour:
    temperature = plan.bath.temperature.interval.tagged("bath.temperature")
    steam = warmth.steam
    if temperature.high >= warmth.boiling_point.high:  # a boiling bath steams as fast as it is heated, lid or not
        boiling = air.boil_off(warmth.power * warmth.efficiency)
        steam = Interval(steam.low, max(steam.high, boiling.high), steam.because | boiling.because)
    space = plan.space
    if space.kind != UNKNOWN and k.spaces[space.kind].indoors == "no":
        return air.Vapour(air.headspace(species, concentration, temperature), NOTHING)
    volume = space.volume.interval.tagged("space.volume")
    aired = airing(space, k)
    rows = [k.ventilation[way] for way in aired.ways]
    changes = Interval(min(r.air_changes.low for r in rows), max(r.air_changes.high for r in rows), aired.inputs)
    hours = plan.bath.hold.interval.tagged("bath.hold") / MINUTES
    return air.acid_vapour(species, concentration, temperature, steam, volume, changes, hours, vessel.water)


def fumes_measures(plan: Plan, work: FumesWork) -> dict[str, Measure]:
    """`air.acetic` and its like, in ppm, for what is dosed."""
    found = {}
    for name, ppm in work.room.items():
        if work.headspace[name].high > 0:
            found[f"air.{name}"] = Measure(
                f"air.{name}",
                Interval.point(ppm.high) if not ppm.because else ppm,
                "ppm",
                f"at most this in the room; right over the bath up to {format_interval(Interval.point(work.headspace[name].high), 'ppm')}."
                " An upper bound, and no clearance",
                "Henry's constants, evaporation from an open pot, air changes of the table",
                not ppm.because,
            )
    return found
