"""Upper bounds for acetic acid, formic acid and ammonia in the air over a bath and in the room.

Every figure is an upper bound: all the acid counts as un-ionised, the air over the bath as being at
equilibrium with it, Henry's constant is the volatile side of what was measured. A figure under a limit
is no clearance, and steam at the rim of the pot is far stronger than the room.

Constants: [[volatile]], "water_antoine_*", "room_water_vapour", "room_molar_volume",
"evaporation_coefficient", "evaporation_spread", "lid_lets_out", "water_heat_of_vaporisation" and the ranges in
rules/knowledge/physics.toml.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from advisor.interval import Interval, corners
from advisor.physics import physics

_LITRES_PER_CUBIC_METRE = 1000
_SECONDS_PER_HOUR = 3600
_PER_MILLION = 1e6
_GRAMS_PER_KILOGRAM = 1000


class Vapour(NamedTuple):
    """Upper bounds in ppm: `headspace` right over the bath, `room` mixed through the room."""

    headspace: Interval
    room: Interval


def water_vapour_pressure(temperature: Interval) -> Interval:
    """Vapour pressure of water in Pa at degC: log10(p/mmHg) = 8.07131 - 1730.63 / (233.426 + t).

    Antoine's constants (Lange's Handbook, from memory), fitted for 1 to 100 degC; within 0.5 % from 10 to 135 degC.
    By definition of the boiling point 101.3 kPa at 100 degC:

    >>> round(water_vapour_pressure(Interval.point(100)).low / 1000, 1)
    101.3
    """
    return corners(_water_pascal, physics().within("temperature", temperature))


def henry(species: str, temperature: Interval) -> Interval:
    """Henry's constant in mol/(m^3.Pa) at degC: H = H25 * exp(slope * (1/T - 1/298.15)).

    Johnson, Betterton and Craig 1996 (acetic acid); Sander 2023 (formic acid, ammonia). Measured to about
    40 degC and carried on to the boil. Raises KeyError for a species that is not in the table.
    Johnson, Betterton and Craig 1996 (published): 4.1e3 mol/(L.atm) = 4.1e6 / 101325 = 40 mol/(m^3.Pa).

    >>> round(henry("acetic acid", Interval.point(25)).low)
    40
    """
    return corners(lambda t: _henry(species, t), physics().within("temperature", temperature))


def headspace(species: str, concentration: Interval, temperature: Interval) -> Interval:
    """Vapour (ppm) in undiluted steam right over the bath: concentration / H / 101325 * 1e6.

    `concentration` mol/L of un-ionised acid or free ammonia; the whole dose is an upper bound. Clipped at
    the range "vapour". Henry's law holds for dilute baths; above about 1 mol/L it overstates. `temperature` degC.
    Raises KeyError for a species that is not in the table. By hand: 5 mol/m^3 / 40 / 101325 * 1e6 = 1.23 ppm.

    >>> round(headspace("acetic acid", Interval.point(0.005), Interval.point(25)).low, 2)
    1.23
    """
    tables = physics()
    standard = tables.number("standard_pressure")
    return tables.within(
        "vapour",
        corners(
            lambda c, t: c * _LITRES_PER_CUBIC_METRE / _henry(species, t) / standard * _PER_MILLION,
            tables.within("concentration", concentration),
            tables.within("temperature", temperature),
        ),
    )


def pot_surface(capacity: Interval) -> Interval:
    """Likely open surface (m^2) of a pot that holds `capacity` (L).

    A cylinder: width = (4 V / (pi * shape))^(1/3), with shape = height / width from the table (common practice).
    By hand for 10 L: width 0.220 m when tall, 0.317 m when wide, so pi / 4 * width^2 is

    >>> surface = pot_surface(Interval.point(10))
    >>> (round(surface.low, 3), round(surface.high, 3))
    (0.038, 0.079)
    """
    tables = physics()

    def surface(litres: float, shape: float) -> float:
        width = math.cbrt(4 * litres / _LITRES_PER_CUBIC_METRE / (math.pi * shape))
        return math.pi * width**2 / 4

    return corners(surface, tables.within("capacity", capacity), tables.interval("vessel_height_to_width"))


def evaporation(temperature: Interval, surface: Interval) -> Interval:
    """Water that steams off an open bath below the boil (kg/h).

    E = surface * 0.089 W/(m^2.Pa) * (p_w - p_room) / h * 3600, 0.5 to 1.5 times that (ASHRAE, pools, still
    air, from memory). `temperature` degC, `surface` m^2. At the boil `boil_off` may be more: take the larger.
    By hand at 60 degC: 0.05 * 0.089 * (19 870 - 1500) / 2.2565e6 * 3600 = 0.130 kg/h, times 0.5 and 1.5.

    >>> steam = evaporation(Interval.point(60), Interval.point(0.05))
    >>> (round(steam.low, 3), round(steam.high, 3))
    (0.065, 0.196)
    """
    tables = physics()
    coefficient = tables.number("evaporation_coefficient")
    heat = tables.number("water_heat_of_vaporisation")
    room = tables.number("room_water_vapour")

    def kilograms(t: float, area: float, spread: float) -> float:
        return spread * area * coefficient * max(_water_pascal(t) - room, 0.0) / heat * _SECONDS_PER_HOUR

    return tables.within(
        "evaporation",
        corners(
            kilograms,
            tables.within("temperature", temperature),
            tables.within("surface", surface),
            tables.interval("evaporation_spread"),
        ),
    )


def let_out(lid: bool | None) -> Interval:
    """Share of an open pot's steam that this pot lets out: 1 without a lid, the table's share with one.

    Common practice, no source: a lid lies loosely, is lifted to stir, and most of the steam runs back from it.

    >>> let_out(False).low
    1.0
    """
    lidded = physics().interval("lid_lets_out")
    if lid is None:
        return Interval(lidded.low, 1.0, frozenset({"vessel.lid"}))
    return lidded if lid else Interval.point(1.0)


def boil_off(power: Interval) -> Interval:
    """Water (kg/h) that this power (W) boils off when all of it makes steam: power / h * 3600.

    h = 2.2565 MJ/kg (IAPWS-95, from memory). By hand: 1000 * 3600 / 2.2565e6.

    >>> round(boil_off(Interval.point(1000)).low, 3)
    1.595
    """
    tables = physics()
    return tables.within("power", power) * (_SECONDS_PER_HOUR / tables.number("water_heat_of_vaporisation"))


def acid_vapour(
    species: str,
    concentration: Interval,
    temperature: Interval,
    evaporation_rate: Interval,
    room: Interval,
    air_changes: Interval,
    time: Interval | None = None,
    water: Interval | None = None,
) -> Vapour:
    """Upper bound (ppm) of "acetic acid", "formic acid" or "ammonia" over the bath and in the room.

    The steam carries as much of it as its share of the vapour pressure:
    G = E / 0.018015 * p / (p_w - p_room)  mol/h,   p = concentration / H
    room = G * 0.02445 * (1 - exp(-n t)) / n / V * 1e6,   n air changes per hour, t hours (None: forever)

    `concentration` mol/L (see `headspace`), `temperature` degC, `evaporation_rate` kg/h (`evaporation`),
    `room` m^3, `air_changes` 1/h, `time` h, `water` L in the bath. The room is never above the headspace,
    nor, when `water` is given, above all of the substance in the air of a closed room.
    Raises KeyError for another species. By hand at 90 degC: p = 7 / 0.939 = 7.46 Pa in 68 530 Pa of steam,
    G = 55.5 * 7.46 / 68 530 = 0.00604 mol/h, room = 0.00604 * 0.02445 / 0.5 / 25 * 1e6 = 11.8 ppm.

    >>> concentration, hot, steam, volume, airing = map(Interval.point, (0.007, 90, 1, 25, 0.5))
    >>> round(acid_vapour("acetic acid", concentration, hot, steam, volume, airing).room.low, 1)
    11.8
    """
    tables = physics()
    warm = tables.within("temperature", temperature)
    acid = tables.within("concentration", concentration)
    volume = tables.within("room", room)
    molar_volume = tables.number("room_molar_volume")
    kilogram_moles = _GRAMS_PER_KILOGRAM / tables.number("water_molar_mass")
    room_pascal = tables.number("room_water_vapour")

    # p / (p_w - p_room) falls and then rises with temperature: its ends bound it from above, but not from
    # below, where the least p over the greatest p_w does
    def share(c: float, t: float, t_water: float) -> float:
        excess = _water_pascal(t_water) - room_pascal
        return c * _LITRES_PER_CUBIC_METRE / _henry(species, t) / excess if excess > 0 else math.inf

    def steady(ratio: float, kilograms: float, v: float, mixing_hours: float) -> float:
        if math.isinf(ratio):  # a bath under the room's dew point: only the headspace bounds it
            return math.inf
        if ratio == 0 or kilograms == 0:
            return 0.0
        return kilograms * kilogram_moles * ratio * molar_volume * mixing_hours / v * _PER_MILLION

    steam = tables.within("evaporation", evaporation_rate)
    airing = tables.within("air_changes", air_changes)
    session = None if time is None else tables.within("session", time)
    shortest, longest = (None, None) if session is None else (session.low, session.high)
    low = steady(
        share(acid.low, warm.low, warm.high),
        steam.low,
        volume.high,
        _mixing_hours(airing.high, shortest),
    )
    high = steady(
        max(share(acid.high, t, t) for t in (warm.low, warm.high)),
        steam.high,
        volume.low,
        _mixing_hours(airing.low, longest),
    )
    over_bath = headspace(species, acid, warm)
    ceiling = over_bath
    if water is not None:
        ceiling = _lower(ceiling, all_in_room(acid, water, volume))
    because = acid.because | warm.because | steam.because | volume.because | airing.because
    if session is not None:
        because |= session.because
    most = tables.ranges["vapour"].figure.high
    in_room = _lower(Interval(min(low, most), min(high, most), because), ceiling)
    return Vapour(over_bath, in_room)


def all_in_room(concentration: Interval, water: Interval, room: Interval) -> Interval:
    """The most there can ever be (ppm): all of the substance in the bath in the air of a closed room.

    concentration (mol/L) * water (L) * 0.02445 m^3/mol / room (m^3) * 1e6; molar volume of the NIOSH Pocket Guide.
    By hand: 0.01 * 10 * 0.02445 / 25 * 1e6.

    >>> round(all_in_room(*map(Interval.point, (0.01, 10, 25))).low, 1)
    97.8
    """
    tables = physics()
    molar_volume = tables.number("room_molar_volume")
    return tables.within(
        "vapour",
        corners(
            lambda c, w, v: c * w * molar_volume / v * _PER_MILLION,
            tables.within("concentration", concentration),
            tables.within("water", water),
            tables.within("room", room),
        ),
    )


def _mixing_hours(air_changes: float, hours: float | None) -> float:
    """(1 - exp(-n t)) / n: the hours of emission that the room's air holds; 1/n when t is without end."""
    if hours is None:
        return 1 / air_changes if air_changes else math.inf
    if air_changes == 0:
        return hours
    return -math.expm1(-air_changes * hours) / air_changes


def _water_pascal(temperature: float) -> float:
    tables = physics()
    exponent = tables.number("water_antoine_a") - tables.number("water_antoine_b") / (
        tables.number("water_antoine_c") + temperature
    )
    return math.pow(10, exponent) * tables.number("mmhg")


def _henry(species: str, temperature: float) -> float:
    tables = physics()
    row = tables.volatiles[species]
    kelvin = temperature + tables.number("zero_celsius")
    inverse = 1 / kelvin - 1 / tables.number("henry_reference_temperature")
    return row.henry.low * math.exp(row.henry_slope.low * inverse)


def _lower(one: Interval, other: Interval) -> Interval:
    """The smaller of two quantities; both are bounds on the same thing."""
    return Interval(min(one.low, other.low), min(one.high, other.high), one.because | other.because)
