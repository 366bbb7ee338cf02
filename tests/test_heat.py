"""Heating, boiling, scalds and lifting against published tables."""

from __future__ import annotations

import math
import time
import tomllib
from pathlib import Path

import pytest
from chemicals import Psat_IAPWS
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval
from advisor.knowledge import TableError
from advisor.measures import heat
from advisor.paths import rules_root
from advisor.physics import Physics, physics

P = Interval.point
WIDE = Interval(-1e6, 1e9)

# Moritz and Henriques 1947, as reproduced (published, secondary): degC, second degree s, full thickness s
MORITZ_HENRIQUES = [
    (45, 7200, 10800),
    (47, 1200, 2700),
    (48, 900, 1200),
    (49, 480, 600),
    (51, 120, 252),
    (55, 17, 30),
    (60, 3, 5),
]
# US Consumer Product Safety Commission, Document 5098, as reproduced: degC, third degree of most adults, s
CONSUMER_TABLE = [(48.9, 300), (54.4, 30), (60.0, 6), (65.6, 2)]
# Gas Appliance Manufacturers Association leaflet, as reproduced: degC, severe burn of an infant, s
INFANT_TABLE = [(48.9, 240), (60.0, 1), (65.6, 0.5)]


@pytest.mark.parametrize(("degrees", "second", "full"), [r for r in MORITZ_HENRIQUES if r[0] != 47])
def test_scald_times_of_moritz_and_henriques(degrees: float, second: float, full: float) -> None:
    seconds = heat.scald_time(P(degrees)).low
    assert 0.85 * second <= seconds <= 1.25 * second
    assert seconds < full


def test_scald_time_at_47_lies_between_the_two_columns() -> None:
    assert 1200 <= heat.scald_time(P(47)).low <= 2700


@pytest.mark.parametrize(("degrees", "third"), CONSUMER_TABLE)
def test_scald_times_lie_within_the_spread_of_the_published_tables(degrees: float, third: float) -> None:
    """Not longer than the longest published burn time about there, not under a third of the shortest."""
    nearest = min(MORITZ_HENRIQUES, key=lambda row: abs(row[0] - degrees))
    published = [third, *(nearest[1:] if abs(nearest[0] - degrees) < 1 else ())]
    seconds = heat.scald_time(P(degrees)).low
    assert min(published) / 3 <= seconds <= max(published)


@pytest.mark.parametrize(("degrees", "severe"), INFANT_TABLE)
def test_child_times_are_never_longer_than_the_infant_table(degrees: float, severe: float) -> None:
    child = heat.child_scald_time(P(degrees)).low
    assert child <= severe
    assert child < heat.scald_time(P(degrees)).low
    assert child >= severe / 3, "cautious, but no other order of magnitude"


@pytest.mark.parametrize("degrees", [45, 50, 55, 60, 70, 90])
def test_scald_time_equals_a_plain_time_stepping_integral(degrees: float) -> None:
    """The same integral by 20 000 equal steps to the time found: it must come to 1."""
    end = heat.scald_time(P(degrees)).low
    steps = 20_000
    damage = 0.0
    for i in range(steps):
        t = (i + 0.5) / steps * end
        basal = degrees - (degrees - 33) * math.erf(8e-5 / (2 * math.sqrt(8e-8 * t)))
        damage += 3.1e98 * math.exp(-75000 / (basal + 273)) * end / steps
    assert damage == pytest.approx(1, rel=0.01)


def test_no_scald_in_lukewarm_water_and_none_quicker_than_at_once() -> None:
    assert heat.scald_time(P(30)) == P(86400)
    assert heat.scald_time(P(40)) == P(86400)
    assert heat.scald_time(P(135)).low == 0.05


def test_repeated_scald_times_are_quick() -> None:
    """A full check has 10 ms; a scald time already reckoned must not take a noticeable part of it."""
    heat.scald_time(P(88.25))
    start = time.perf_counter()
    for _ in range(100):
        heat.scald_time(P(88.25))
    assert (time.perf_counter() - start) / 100 < 2e-4


def test_heating_twenty_litres() -> None:
    """20 L from 15 to 90 degC: 6.266 MJ; 82.9 min and 0.905 degC/min with 1800 W at 0.7."""
    joules = heat.heat_capacity(P(20), P(1)).low * 75
    assert joules == pytest.approx(6.266e6, rel=0.005)
    minutes = heat.time_to_temperature(P(20), P(1), P(1800), P(0.7), P(15), P(90))
    assert minutes.low == pytest.approx(82.9, rel=0.005)
    rise = heat.fastest_rise(P(20), P(1), P(1800), P(0.7))
    assert rise.low == pytest.approx(0.905, rel=0.005)
    assert minutes.low * rise.high == pytest.approx(75, rel=1e-3)


def test_heat_capacity_of_goods_and_pot() -> None:
    """Fibre 1.3 to 1.5 kJ/(kg.K) (Morton and Hearle), steel 0.46, aluminium 0.90 (CRC); from memory."""
    goods = heat.heat_capacity(P(0), P(10_000))
    assert goods.low == pytest.approx(13_000, rel=0.02)
    assert goods.high == pytest.approx(15_000, rel=0.02)
    pot = heat.heat_capacity(P(0), P(1), vessel=P(1))
    assert 430 < pot.low < 470
    assert 890 < pot.high < 920


def test_already_warm_takes_no_time() -> None:
    assert heat.time_to_temperature(P(20), P(500), P(0), P(0.7), P(60), P(40)) == P(0)


def test_no_power_never_gets_there() -> None:
    assert heat.time_to_temperature(P(20), P(500), P(0), P(0.7), P(20), P(40)) == P(2880)


def test_the_pot_counts() -> None:
    bare = heat.time_to_temperature(P(5), P(200), P(1000), P(0.7), P(15), P(90))
    with_pot = heat.time_to_temperature(P(5), P(200), P(1000), P(0.7), P(15), P(90), vessel=P(3))
    assert with_pot.low > bare.low


# ICAO Doc 7488 (1993), standard atmosphere: altitude m, pressure Pa (from memory)
ICAO = [(-400, 106_221), (0, 101_325), (500, 95_461), (1000, 89_875), (2000, 79_495), (3000, 70_109)]


@pytest.mark.parametrize(("metres", "pascal"), ICAO)
def test_boiling_point_in_the_standard_atmosphere(metres: float, pascal: float) -> None:
    """Where water boils its vapour pressure (IAPWS-IF97, package `chemicals`) is the air pressure."""
    degrees = heat.boiling_point(P(metres)).low
    slope = (Psat_IAPWS(degrees + 273.65) - Psat_IAPWS(degrees + 272.65)) / 1.0
    off = (Psat_IAPWS(degrees + 273.15) - pascal) / slope
    assert abs(off) <= 0.2


@pytest.mark.parametrize(("metres", "degrees"), [(1609, 94.6), (3000, 89.9)])
def test_boiling_points_by_table(metres: float, degrees: float) -> None:
    """Wagner and Pruss 2002, worked with another program."""
    assert heat.boiling_point(P(metres)).low == pytest.approx(degrees, abs=0.2)


def test_lifting_a_full_pot() -> None:
    """15 L + 0.5 kg + 3 kg: 18.5 kg."""
    assert heat.lift_mass(P(15), P(500), P(3)).low == pytest.approx(18.5, abs=0.05)


def test_likely_pot_mass_covers_a_kitchen_scale() -> None:
    """Common practice, no source: a 10 L steel pot weighs 1 to 3 kg."""
    mass = heat.vessel_mass(P(10))
    assert mass.low <= 1
    assert mass.high >= 3


def test_unknown_everything_does_not_raise() -> None:
    minutes = heat.time_to_temperature(WIDE, WIDE, WIDE, WIDE, WIDE, WIDE, WIDE)
    assert (minutes.low, minutes.high) == (0, 2880)
    assert heat.fastest_rise(WIDE, WIDE, WIDE, WIDE).high <= 100
    assert heat.boiling_point(WIDE).low < 72
    scald = heat.scald_time(WIDE)
    assert (scald.low, scald.high) == (0.05, 86400)
    assert heat.child_scald_time(WIDE).low == 0.05
    assert heat.lift_mass(WIDE, WIDE, WIDE).low >= 0


def test_a_widening_temperature_is_blamed() -> None:
    seconds = heat.scald_time(Interval(50, 60, frozenset({"bath.temperature"})))
    assert seconds.low == heat.scald_time(P(60)).low
    assert seconds.high == heat.scald_time(P(50)).low
    assert seconds.because == {"bath.temperature"}


@given(st.floats(0, 135), st.floats(0.01, 10))
def test_hotter_never_scalds_later(degrees: float, more: float) -> None:
    warmer = min(degrees + more, 135)
    assert heat.scald_time(P(warmer)).low <= heat.scald_time(P(degrees)).low * (1 + 1e-9)


@given(st.floats(-450, 9000), st.floats(-450, 9000), st.floats(0, 1))
def test_boiling_point_falls_with_height(a: float, b: float, x: float) -> None:
    heights = Interval(min(a, b), max(a, b))
    whole = heat.boiling_point(heights)
    inside = heat.boiling_point(P(min(heights.low + x * (heights.high - heights.low), heights.high)))
    assert whole.low - 1e-9 <= inside.low <= whole.high + 1e-9
    assert heat.boiling_point(P(heights.high)).low <= heat.boiling_point(P(heights.low)).low


@given(
    water=st.floats(0.5, 50),
    power=st.floats(100, 3000),
    eta=st.floats(0.3, 0.5),
    start=st.floats(5, 30),
    x=st.floats(0, 1),
)
def test_heating_time_holds_what_is_inside(water: float, power: float, eta: float, start: float, x: float) -> None:
    whole = heat.time_to_temperature(
        Interval(water, 2 * water),
        P(300),
        Interval(power, 2 * power),
        Interval(eta, 2 * eta),
        P(start),
        P(90),
    )
    inside = heat.time_to_temperature(P(water * (1 + x)), P(300), P(power * (1 + x)), P(eta * (1 + x)), P(start), P(90))
    assert whole.low - 1e-9 <= inside.low
    assert inside.high <= whole.high * (1 + 1e-9)
    stronger = heat.time_to_temperature(P(water), P(300), P(power * 1.1), P(eta), P(start), P(90))
    weaker = heat.time_to_temperature(P(water), P(300), P(power), P(eta), P(start), P(90))
    assert stronger.high < weaker.high or weaker.high == 2880


def test_sources_of_physics_are_all_listed() -> None:
    """Every figure of physics.toml rests on a source that sources.toml knows."""
    listed = tomllib.loads((rules_root() / "knowledge" / "sources.toml").read_text(encoding="utf-8"))
    assert physics().source_ids <= {source["id"] for source in listed["source"]}


def test_rows_of_physics_name_families_and_classes_that_exist() -> None:
    """A misspelt id would silently give no ceiling or the whole range."""

    def ids(file: str, table: str) -> set[str]:
        data = tomllib.loads((rules_root() / "knowledge" / file).read_text(encoding="utf-8"))
        return {row["id"] for row in data[table]}

    families = {family for row in physics().sites.values() for family in row.families}
    assert families == {"polyamide", "keratin", "silk"}
    assert families <= ids("families.toml", "family")
    classes = ids("dye_classes.toml", "dye_class")
    assert set(physics().molecules) <= classes
    assert set(physics().partitions) == classes - {"pigment"}, "pigment is glued on and has no partition"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'high = 2, unit = "mol/mol"',
            'high = 2, unit = "g"',
            ["physics.toml", "acid levelling", "groups", "mol/mol"],
        ),
        ('id = "mmhg"\ntitle', 'id = "mmhg"\nname', ["physics.toml", "mmhg"]),
        ('id = "mmhg"', 'id = "gas_constant"', ["physics.toml", "gas_constant", "twice"]),
        ("value = 133.322", "value = nan", ["physics.toml", "mmhg", "figure"]),
        ("[[constant]]", "[[constants]]", ["physics.toml", "constants"]),
    ],
)
def test_a_broken_table_is_reported_with_entry_and_field(tmp_path: Path, old: str, new: str, words: list[str]) -> None:
    text = (rules_root() / "knowledge" / "physics.toml").read_text(encoding="utf-8")
    assert old in text
    broken = tmp_path / "physics.toml"
    broken.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(TableError) as error:
        Physics(broken)
    for word in words:
        assert word in str(error.value)


def test_a_missing_table_is_reported(tmp_path: Path) -> None:
    with pytest.raises(TableError, match=r"physics\.toml: the file is missing"):
        Physics(tmp_path / "physics.toml")
