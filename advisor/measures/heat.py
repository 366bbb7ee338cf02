"""Heating a bath, boiling point, scalds, and the weight of a full pot.

Constants under these names in rules/knowledge/physics.toml: "water_density", "water_heat_capacity",
"fibre_heat_capacity", "vessel_heat_capacity", "vessel_mass_per_litre", "standard_pressure" and the other air
constants, "water_boiling_point", "water_molar_heat_of_vaporisation", "gas_constant", the "burn_" and
"skin_" constants, "child_scald_fraction", and the ranges.
"""

from __future__ import annotations

import math
from functools import lru_cache

from advisor.factors import THOUSAND
from advisor.interval import Interval, corners, rounded
from advisor.physics import physics

_SECONDS_PER_MINUTE = 60
_NO_VESSEL = Interval.point(0)


def heat_capacity(water: Interval, goods: Interval, vessel: Interval = _NO_VESSEL) -> Interval:
    """Heat for one degree (J/degC): water (L), goods (g), and the pot (kg) where it is to be counted.

    C = water * density * c_water + goods / 1000 * c_fibre + vessel * c_vessel; constants of IAPWS-95, Morton and
    Hearle, CRC Handbook, from memory. By hand: 20 * 0.998 * 4186 + 1 * 1300 to 1500.

    >>> c = heat_capacity(Interval.point(20), Interval.point(1000))
    >>> (round(c.low), round(c.high))
    (84853, 85053)
    """
    tables = physics()
    per_litre = tables.number("water_density") * tables.number("water_heat_capacity")
    return (
        tables.within("water", water) * per_litre
        + tables.within("goods", goods) / THOUSAND * tables.interval("fibre_heat_capacity")
        + tables.within("vessel_mass", vessel) * tables.interval("vessel_heat_capacity")
    )


def time_to_temperature(
    water: Interval,
    goods: Interval,
    power: Interval,
    efficiency: Interval,
    start: Interval,
    target: Interval,
    vessel: Interval = _NO_VESSEL,
) -> Interval:
    """Minutes to heat the bath from `start` to `target` (degC) with `power` (W); `water` L, `goods` g, `vessel` kg.

    t = C * (target - start) / (efficiency * power) / 60, with C from `heat_capacity`
    0 when it is already warm enough; clipped at the range "heating_time" (it never gets there).
    Valid while the losses are inside `efficiency` (fraction), that is with a lid and below the boil.
    By hand: 10 L up 40 degC with half of 2000 W: 10 * 0.998 * 4186 * 40 / 1000 / 60 = 27.85.

    >>> water, goods, watt, half, cold, warm = map(Interval.point, (10, 1, 2000, 0.5, 20, 60))
    >>> round(time_to_temperature(water, goods, watt, half, cold, warm).low, 2)
    27.85
    """
    tables = physics()
    longest = tables.ranges["heating_time"].figure.high

    def minutes(capacity: float, p: float, eta: float, low: float, high: float) -> float:
        joules = capacity * max(high - low, 0.0)
        if joules == 0:
            return 0.0
        return longest if p == 0 else min(joules / (p * eta) / _SECONDS_PER_MINUTE, longest)

    return corners(
        minutes,
        heat_capacity(water, goods, vessel),
        tables.within("power", power),
        tables.within("efficiency", efficiency),
        tables.within("temperature", start),
        tables.within("temperature", target),
    )


def fastest_rise(
    water: Interval, goods: Interval, power: Interval, efficiency: Interval, vessel: Interval = _NO_VESSEL
) -> Interval:
    """The fastest rise (delta_degC/min) that this heat source can give this bath.

    `water` L, `goods` g, `power` W, `efficiency` a fraction, `vessel` kg.
    rise = 60 * efficiency * power / C, with C from `heat_capacity`; clipped at the range "rise".
    By hand: 60 * 0.5 * 2000 / (10 * 0.998 * 4186 + 1.5) = 1.436.

    >>> round(fastest_rise(*map(Interval.point, (10, 1, 2000, 0.5))).low, 3)
    1.436
    """
    tables = physics()
    return tables.within(
        "rise",
        corners(
            lambda capacity, p, eta: _SECONDS_PER_MINUTE * eta * p / capacity,
            heat_capacity(water, goods, vessel),
            tables.within("power", power),
            tables.within("efficiency", efficiency),
        ),
    )


def boiling_point(altitude: Interval) -> Interval:
    """Boiling point of water (degC) at an altitude (m).

    p = p0 (1 - 2.25577e-5 h)^5.25588 (ICAO standard atmosphere, to 11 km; from memory), then Clausius and
    Clapeyron from 100 degC: 1/T = 1/373.15 - R / H * ln(p / p0). Within 0.2 degC up to 3000 m; the weather moves
    it by half a degree. By hand at 2000 m: ln(p / p0) = -0.24264, T = 366.37 K.

    >>> [round(boiling_point(Interval.point(h)).low, 1) for h in (0, 2000)]
    [100.0, 93.2]
    """
    tables = physics()
    slope, exponent = tables.number("air_pressure_slope"), tables.number("air_pressure_exponent")
    zero = tables.number("zero_celsius")
    at_sea_level = tables.number("water_boiling_point") + zero
    per_kelvin = tables.number("gas_constant") / tables.number("water_molar_heat_of_vaporisation")

    def degrees(height: float) -> float:
        log_pressure_ratio = exponent * math.log1p(-slope * height)
        return 1 / (1 / at_sea_level - per_kelvin * log_pressure_ratio) - zero

    return corners(degrees, tables.within("altitude", altitude))


def scald_time(temperature: Interval) -> Interval:
    """Seconds of contact with water at this temperature (degC) until an adult has a second-degree burn.

    The time at which the integral of the damage rate, 3.1e98 * exp(-75000 / (T_b + 273)) a second, reaches 1, where
    the basal layer warms by conduction: T_b = T_w - (T_w - 33) * erf(x / (2 sqrt(a t))), depth x = 80 um, diffusivity a = 8e-8 m^2/s.
    (Henriques 1947; Moritz and Henriques 1947.) Meets the published second-degree times from 45 to 60 degC
    within -15 to +25 %. Clipped at the range "scald_time". At 44 degC it takes hours.
    Moritz and Henriques 1947, as reproduced (published): 120 s at 51 degC, 3 s at 60 degC.

    >>> [0.85 * t <= scald_time(Interval.point(hot)).low <= 1.25 * t for hot, t in ((51, 120), (60, 3))]
    [True, True]
    """
    return corners(_scald_seconds, physics().within("temperature", temperature))


def child_scald_time(temperature: Interval) -> Interval:
    """Seconds (at a temperature in degC) for a young child, whose skin is thinner: a fraction of `scald_time`.

    The fraction is "child_scald_fraction". Leaflet on infant scalds, as reproduced (published): 0.5 s at 65.6 degC.

    >>> child_scald_time(Interval.point(65.6)).low <= 0.5
    True
    """
    tables = physics()
    return tables.within("scald_time", scald_time(temperature) * tables.interval("child_scald_fraction"))


def vessel_mass(capacity: Interval) -> Interval:
    """Likely mass (kg) of an empty pot that holds `capacity` (L); common practice. By hand: 10 * 0.1 to 10 * 0.35.

    >>> pot = vessel_mass(Interval.point(10))
    >>> (round(pot.low, 9), round(pot.high, 9))
    (1.0, 3.5)
    """
    tables = physics()
    return tables.within("capacity", capacity) * tables.interval("vessel_mass_per_litre")


def lift_mass(water: Interval, goods: Interval, vessel: Interval) -> Interval:
    """Mass (kg) of the full pot: water (L) * density + goods (g) / 1000 + the empty pot (kg).

    By hand: 20 * 0.998 + 1 + 2.

    >>> round(lift_mass(*map(Interval.point, (20, 1000, 2))).low, 9)
    22.96
    """
    tables = physics()
    return (
        tables.within("water", water) * tables.interval("water_density")
        + tables.within("goods", goods) / THOUSAND
        + tables.within("vessel_mass", vessel)
    )


def _log_damage_rate(basal_temperature: float) -> float:
    tables = physics()
    kelvin = basal_temperature + tables.number("burn_zero_celsius")
    return math.log(tables.number("burn_rate_factor")) - tables.number("burn_activation") / kelvin


def _scald_seconds(temperature: float) -> float:
    return _integrate_scald(rounded(temperature))


_LOG_STEP = 0.05  # of ln(time); with the log-linear rule below the time is right to 0.1 %


@lru_cache(maxsize=4096)
def _integrate_scald(temperature: float) -> float:
    """Step through ln(time); between steps the damage per unit of ln(time) is taken as exponential."""
    tables = physics()
    allowed = tables.ranges["scald_time"].figure
    skin = tables.number("skin_temperature")
    if temperature <= skin:
        return allowed.high
    half_depth = tables.number("burn_depth") / (2 * math.sqrt(tables.number("skin_diffusivity")))
    threshold = tables.number("burn_threshold")

    def log_damage(log_time: float) -> float:
        basal = temperature - (temperature - skin) * math.erf(half_depth / math.exp(log_time / 2))
        return log_time + _log_damage_rate(basal)

    # before the first step the damage is nothing: the basal layer has not yet warmed
    log_time = math.log(allowed.low / 100)
    last = math.log(allowed.high)
    before = log_damage(log_time)
    damage = 0.0
    while log_time < last:
        after = log_damage(log_time + _LOG_STEP)
        slope = after - before
        start = math.exp(before)
        step = start * _LOG_STEP * (math.expm1(slope) / slope if slope else 1.0)
        if damage + step >= threshold:
            # solve  damage + start * h / slope * (exp(slope * x) - 1) = threshold  for x in 0..1
            missing = (threshold - damage) / (start * _LOG_STEP)
            part = math.log1p(missing * slope) / slope if slope else missing
            return min(max(math.exp(log_time + part * _LOG_STEP), allowed.low), allowed.high)
        damage += step
        log_time += _LOG_STEP
        before = after
    return allowed.high
