"""Vapour bounds against the `chemicals` package, published constants and a time-stepped room."""

from __future__ import annotations

import math

import pytest
from chemicals import TWA, Psat_IAPWS
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval
from advisor.measures import air
from advisor.physics import physics

P = Interval.point
WIDE = Interval(-1e6, 1e9)
CAS = {"acetic acid": "64-19-7", "formic acid": "64-18-6", "ammonia": "7664-41-7"}
SPECIES = sorted(CAS)
# 118.3 mL of 5 % vinegar for a pound of goods in 30 L/kg: 98.49 mmol in 13.61 L, 96 % of it un-ionised
BATH = 98.49e-3 / (0.45359237 * 30)
UNIONISED = 0.0731 / 0.0761


@pytest.mark.parametrize("degrees", [10, 25, 40, 60, 80, 90, 95, 100, 120])
def test_vapour_pressure_of_water(degrees: float) -> None:
    """IAPWS-IF97 as in the package `chemicals`."""
    assert air.water_vapour_pressure(P(degrees)).low == pytest.approx(Psat_IAPWS(degrees + 273.15), rel=0.006)


@pytest.mark.parametrize("species", SPECIES)
def test_limits_at_work(species: str) -> None:
    """Ontario occupational limits as in the package `chemicals`."""
    row = physics().volatiles[species]
    assert (row.limit_8h.low, row.limit_8h.unit) == TWA(CAS[species])


def test_henry_of_acetic_acid() -> None:
    """Johnson, Betterton and Craig 1996 (abstract): 4.1e3 mol/(L.atm) and 52 kJ/mol."""
    assert air.henry("acetic acid", P(25)).low == pytest.approx(4.1e3 * 1000 / 101325, rel=0.02)
    assert air.henry("acetic acid", P(90)).low == pytest.approx(0.939, rel=0.005)


@pytest.mark.parametrize(("species", "low", "high"), [("formic acid", 35, 130), ("ammonia", 0.55, 0.61)])
def test_henry_lies_on_the_volatile_side(species: str, low: float, high: float) -> None:
    """Sander 2023: the span of measured and recommended solubilities; ours is in its lower half."""
    at_25 = air.henry(species, P(25)).low
    assert low <= at_25 <= (low + high) / 2


def test_henry_of_formic_acid() -> None:
    """Sander 2023: consensus 51 mol/(m^3.Pa) (Johnson and others 1996), and the steepest slope, 6100 K."""
    assert air.henry("formic acid", P(25)).low == pytest.approx(51, rel=0.01)
    assert air.henry("formic acid", P(90)).low == pytest.approx(51 * math.exp(6100 * (1 / 363.15 - 1 / 298.15)))


def test_acetic_acid_at_the_boil_against_vapour_liquid_equilibrium() -> None:
    """At 100 degC y/x is about 0.7 in vapour-liquid tables (from memory): our bound is above, not by half."""
    moles_per_cubic_metre = 958.4 / 0.018015  # of boiling water
    y_over_x = moles_per_cubic_metre / air.henry("acetic acid", P(100)).low / 101325
    assert 0.7 < y_over_x < 1.05


@pytest.mark.parametrize(("degrees", "ppm"), [(25, 1.70), (90, 73.1)])
def test_headspace_of_half_a_cup_a_pound(degrees: float, ppm: float) -> None:
    bound = air.headspace("acetic acid", P(BATH * UNIONISED), P(degrees)).low
    assert bound == pytest.approx(ppm, rel=0.03)


@pytest.mark.parametrize(("degrees", "ppm"), [(25, 49), (60, 213), (80, 435)])
def test_headspace_of_ammonia(degrees: float, ppm: float) -> None:
    """2.9 mol/m^3 with Sander's usual 0.59: our bound is at least that, and within a tenth."""
    assert ppm * 0.99 <= air.headspace("ammonia", P(2.9e-3), P(degrees)).low <= ppm * 1.1


@pytest.mark.parametrize(
    ("kilograms", "changes", "steady", "after_an_hour"),
    [
        (0.5, 0.5, 5.86, 2.30),
        (0.5, 6, 0.49, 0.49),
        (1.0, 0.5, 11.71, 4.61),
        (1.0, 2, 2.93, 2.53),
        (2.4, 0.5, 28.11, 11.06),
        (2.4, 1, 14.05, 8.88),
    ],
)
def test_room(kilograms: float, changes: float, steady: float, after_an_hour: float) -> None:
    """25 m^3, bath of 90 degC, worked by hand."""
    bath = (P(BATH * UNIONISED), P(90), P(kilograms), P(25), P(changes))
    assert air.acid_vapour("acetic acid", *bath).room.low == pytest.approx(steady, rel=0.03)
    assert air.acid_vapour("acetic acid", *bath, time=P(1)).room.low == pytest.approx(after_an_hour, rel=0.03)


def test_room_equals_a_minute_by_minute_simulation() -> None:
    """Emission in, air out, second by second for 2 h."""
    moles_per_hour = 1.0 / 0.018015 * (5.0 / 0.938752) / (air.water_vapour_pressure(P(90)).low - 1500)
    moles, step = 0.0, 1 / 3600
    for _ in range(7200):
        moles += (moles_per_hour - 1.5 * moles) * step
    bound = air.acid_vapour("acetic acid", P(0.005), P(90), P(1), P(30), P(1.5), P(2)).room
    assert bound.low == pytest.approx(moles * 0.02445 / 30 * 1e6, rel=1e-3)


def test_sealed_room_is_bounded_by_all_there_is() -> None:
    """98.49 mmol in 25 m^3: 96.4 ppm at the most."""
    assert air.all_in_room(P(BATH), P(0.45359237 * 30), P(25)).low == pytest.approx(96.4, rel=0.005)
    vapour = air.acid_vapour("acetic acid", P(8), P(95), P(30), P(25), P(0), water=P(0.1))
    assert vapour.room.high <= 8 * 0.1 * 0.02445 / 25 * 1e6 * (1 + 1e-9)


def test_room_is_never_stronger_than_the_air_over_the_bath() -> None:
    vapour = air.acid_vapour("ammonia", P(0.003), P(80), P(30), P(1), P(0))
    assert vapour.room.high == vapour.headspace.high


@pytest.mark.parametrize("degrees", [5, 12])
def test_a_cold_bath_without_steam_still_has_a_bound(degrees: float) -> None:
    """No water leaves a bath colder than the dew point, but ammonia does: the headspace bounds the room."""
    vapour = air.acid_vapour("ammonia", P(0.5), P(degrees), P(0), P(20), P(1))
    assert vapour.room == vapour.headspace
    assert vapour.room.low > 100


def test_no_acid_or_no_steam_is_nothing_in_a_room_that_is_never_aired() -> None:
    for acid, kilograms in ((0.0, 1.0), (0.01, 0.0)):
        vapour = air.acid_vapour("acetic acid", P(acid), P(90), P(kilograms), P(25), P(0))
        assert vapour.room == P(0)


def test_a_sealed_room_keeps_every_hour_of_emission() -> None:
    """No air goes out, so two hours give twice as much as one; half an air change an hour keeps 2 (1 - 1/e) of two."""
    bath = ("acetic acid", P(0.005), P(90), P(0.1), P(30))
    one, two = (air.acid_vapour(*bath, P(0), P(hours)).room.low for hours in (1, 2))
    assert two == pytest.approx(2 * one)
    aired = air.acid_vapour(*bath, P(0.5), P(2)).room.low
    assert aired == pytest.approx(one * 2 * (1 - math.exp(-1)))


def test_every_input_that_widens_the_vapour_is_blamed() -> None:
    def wide(low: float, high: float, *paths: str) -> Interval:
        return Interval(low, high, frozenset(paths))

    # each input has a path of its own, and shares another with the next
    inputs = [
        wide(0.001, 0.002, "dose", "1"), wide(80, 90, "temperature", "1", "2"), wide(0.1, 0.2, "pot", "2", "3"),
        wide(20, 40, "room", "3", "4"), wide(1, 2, "airing", "4", "5"), wide(0.5, 1, "hold", "5"),
    ]  # fmt: skip
    vapour = air.acid_vapour("acetic acid", *inputs)
    assert vapour.room.because == {"dose", "temperature", "pot", "room", "airing", "hold", "1", "2", "3", "4", "5"}
    assert vapour.headspace.because == {"dose", "temperature", "1", "2"}
    without_hold = air.acid_vapour("acetic acid", *inputs[:-1])
    assert without_hold.room.because == vapour.room.because - {"hold"}
    with_water = air.acid_vapour("acetic acid", *inputs, wide(3, 6, "water"))
    assert "water" in with_water.room.because


def test_boil_off() -> None:
    assert air.boil_off(P(1500)).low == pytest.approx(2.393, rel=0.005)
    # 2.2565 MJ/kg (IAPWS-95, from memory) in an hour of 3600 s is 626.806 W
    assert air.boil_off(P(626.806)).low == pytest.approx(1, rel=1e-5)


@pytest.mark.parametrize(("degrees", "kilograms"), [(60, 0.18), (80, 0.45), (90, 0.68)])
def test_evaporation_of_a_pot(degrees: float, kilograms: float) -> None:
    """30 cm pot; ASHRAE's formula for pools (from memory), heat of vaporisation at that temperature."""
    bound = air.evaporation(P(degrees), P(3.14159265 * 0.3**2 / 4))
    assert bound.low < kilograms < bound.high
    assert bound.middle == pytest.approx(kilograms, rel=0.06)


def test_pot_surface_holds_a_real_pot() -> None:
    """A pot 30 cm wide and 30 cm high holds 21.2 L and is open over 0.0707 m^2."""
    surface = air.pot_surface(P(21.206))
    assert surface.low < 0.0707 < surface.high
    assert surface.high / surface.low < 2.2


def test_pot_surface_by_hand() -> None:
    """8 L, height 0.4 to 1.2 of the width w: 0.008 = pi/4 w^2 x 0.4 w, w = 0.29420 m, open over 0.06798 m^2;

    with 1.2 w it is 0.20399 m and 0.03268 m^2.
    """
    surface = air.pot_surface(P(8))
    assert (surface.low, surface.high) == pytest.approx((0.032682, 0.067980), rel=1e-4)


def test_unknown_everything_gives_the_whole_range() -> None:
    vapour = air.acid_vapour("acetic acid", WIDE, WIDE, WIDE, WIDE, WIDE, WIDE, WIDE)
    assert vapour.room.low == 0
    assert vapour.room.high == 1e6
    assert vapour.headspace == Interval(0, 1e6)
    assert air.evaporation(WIDE, WIDE).low == 0


def test_unknown_species_is_an_error() -> None:
    with pytest.raises(KeyError):
        air.headspace("citric acid", P(0.1), P(80))


def test_a_widening_input_crosses_the_limit_and_is_blamed() -> None:
    """Silent, then undecided, then over 10 ppm: as the airing is known good, unknown, known bad."""

    def room(changes: Interval) -> Interval:
        return air.acid_vapour("acetic acid", P(BATH), P(90), P(2.4), P(25), changes).room

    limit = physics().volatiles["acetic acid"].limit_8h.low
    assert room(P(6)).high < limit
    unknown = room(Interval(0.3, 6, frozenset({"space.ventilation"})))
    assert unknown.low < limit < unknown.high
    assert unknown.because == {"space.ventilation"}
    assert room(P(0.3)).low > limit


@given(
    species=st.sampled_from(SPECIES),
    acid=st.floats(1e-4, 0.5),
    degrees=st.floats(1, 95),
    kilograms=st.floats(0.05, 3),
    changes=st.floats(0.1, 10),
    x=st.floats(0, 1),
    y=st.floats(0, 1),
    hours=st.one_of(st.none(), st.floats(0.1, 8)),
)
def test_interval_holds_what_is_inside(
    species: str,
    acid: float,
    degrees: float,
    kilograms: float,
    changes: float,
    x: float,
    y: float,
    hours: float | None,
) -> None:
    time = None if hours is None else P(hours)
    whole = air.acid_vapour(
        species,
        Interval(acid, 2 * acid),
        Interval(degrees, degrees + 40),
        Interval(kilograms, 2 * kilograms),
        P(25),
        Interval(changes, 2 * changes),
        time,
    )
    inside = air.acid_vapour(
        species,
        P(acid * (1 + x)),
        P(degrees + 40 * y),
        P(kilograms * (1 + x)),
        P(25),
        P(changes * (1 + y)),
        time,
    )
    for outer, inner in zip(whole, inside, strict=True):
        assert outer.low * (1 - 1e-9) <= inner.low
        assert inner.high <= outer.high * (1 + 1e-9)


@given(st.floats(1e-4, 1), st.floats(20, 95), st.floats(0.2, 5), st.floats(1.01, 3))
def test_more_acid_or_less_airing_is_never_less_vapour(
    acid: float, degrees: float, changes: float, more: float
) -> None:
    here = air.acid_vapour("acetic acid", P(acid), P(degrees), P(1), P(25), P(changes)).room.high
    stronger = air.acid_vapour("acetic acid", P(acid * more), P(degrees), P(1), P(25), P(changes)).room.high
    aired = air.acid_vapour("acetic acid", P(acid), P(degrees), P(1), P(25), P(changes * more)).room.high
    assert stronger >= here
    assert aired <= here
