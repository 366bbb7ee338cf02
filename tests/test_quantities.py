"""What people write -> intervals. Outside values name their table; the rest is the grammar of quantities."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval, rounded
from advisor.knowledge import units
from advisor.quantities import QuantityError, format_interval, parse, registry, unknown
from advisor.rows import Unit

AMOUNT = ("mass", "volume", "fraction")
MASS, VOLUME, TEMPERATURE = ("mass",), ("volume",), ("temperature",)
DIFFERENCE, RATE, TIME, ROOM, ALKALINITY = (
    ("temperature difference",),
    ("heating rate",),
    ("time",),
    ("room volume",),
    ("alkalinity",),
)
PLAIN_UNITS = [unit for unit in units().units if not unit.any_of]


def ends(text: str | int | float, kinds: tuple[str, ...], place: str | None = None) -> tuple[float, float]:
    interval = parse(text, kinds, place=place).interval.rounded()
    return interval.low, interval.high


def refusal(text: object, kinds: tuple[str, ...]) -> str:
    with pytest.raises(QuantityError) as caught:
        parse(text, kinds)  # type: ignore[arg-type]
    return str(caught.value)


# ---- what is understood


@pytest.mark.parametrize(
    ("text", "kinds", "value"),
    [
        ("200 g", AMOUNT, 200),
        ("200g", AMOUNT, 200),
        ("200 g.", AMOUNT, 200),
        ("1,5 g", AMOUNT, 1.5),
        ("0,125 g", AMOUNT, 0.125),
        (".5 g", AMOUNT, 0.5),
        ("1.5e-3 kg", AMOUNT, 1.5),
        ("8 oz", MASS, 226.796185),
        ("2 lb 3 oz", AMOUNT, 992.233309),
        ("1 kg 200 g", AMOUNT, 1200),
        ("½ lb", MASS, 226.796185),
        ("1 1/2 L", VOLUME, 1.5),
        ("1½ L", VOLUME, 1.5),
        ("1 ½ L", VOLUME, 1.5),
        ("1⁄2 L", VOLUME, 0.5),
        ("half a litre", VOLUME, 0.5),
        ("a litre", VOLUME, 1),
        ("one and a half litres", VOLUME, 1.5),
        ("three quarters of a litre", VOLUME, 0.75),
        ("one half litre", VOLUME, 0.5),
        ("two thirds L", VOLUME, 0.666666667),
        ("1 u.s. cup", VOLUME, 0.2365882365),
        ("imperial pint", VOLUME, None),
        ("UK gallon", VOLUME, None),
        ("2 US cups 3 US tbsp", VOLUME, 0.517536767),
        ("1 Australian tablespoon", VOLUME, 0.02),
        ("195 °F", TEMPERATURE, 90.5555556),
        ("195F", TEMPERATURE, 90.5555556),
        ("90 degC", TEMPERATURE, 90),
        ("90 °C", TEMPERATURE, 90),
        ("90 ° C", TEMPERATURE, 90),
        ("90º C", TEMPERATURE, 90),
        ("90 C", TEMPERATURE, 90),
        ("90℃", TEMPERATURE, 90),
        ("90 deg. C", TEMPERATURE, 90),
        ("363 K", TEMPERATURE, 89.85),
        ("−5 °C", TEMPERATURE, -5),
        ("10 delta_degC", DIFFERENCE, 10),
        ("18 delta_degF", DIFFERENCE, 10),
        ("10 K", DIFFERENCE, 10),
        ("1.5 delta_degC/min", RATE, 1.5),
        ("1.5 °C/min", RATE, 1.5),
        ("3 °F/min", RATE, 1.66666667),
        ("3 degrees F per minute", RATE, 1.66666667),
        ("60 K/h", RATE, 1),
        ("1.5 %", AMOUNT, 1.5),
        ("1.5%", AMOUNT, 1.5),
        ("2% owf", AMOUNT, 2),
        ("30 min", TIME, 30),
        ("1 h 30 min", TIME, 90),
        ("1h30min", TIME, 90),
        ("90 s", TIME, 1.5),
        ("20 m^3", ROOM, 20),
        ("20 m3", ROOM, 20),
        ("20 m³", ROOM, 20),
        ("150 mg/L", ALKALINITY, 150),
        ("150 ppm", ALKALINITY, 150),
        ("150 mg/L as CaCO3", ALKALINITY, 150),
        ("8 °dH", ALKALINITY, 142.784),
        ("15 °fH", ALKALINITY, 150),
        ("5 g/100 mL", ("concentration",), 50),
        ("12 in", ("length",), 30.48),
        ("1.5 kW", ("power",), 1500),
        ("12", ("count",), 12),
        (12, ("count",), 12),
        ("none", AMOUNT, 0),
        ("no", VOLUME, 0),
        ("0 g", MASS, 0),
    ],
)
def test_reads_one_exact_amount(text: str, kinds: tuple[str, ...], value: float | None) -> None:
    if value is None:
        text, value = "1 " + text, {"imperial pint": 0.56826125, "UK gallon": 4.54609}[text]
    assert ends(text, kinds) == (rounded(value), rounded(value))
    assert parse(text, kinds).stated


@pytest.mark.parametrize(
    "text",
    ["180 g to 220 g", "180-220 g", "180–220 g", "180 to 220 g", "180 g – 220 g", "between 180 and 220 g",
     "about 200 g", "approx. 200 g", "~200 g", "c. 200 g", "CIRCA 200 g", "200 g ± 20 g", "200 g +/- 20 g",
     "200 ± 20 g", "200 g ± 10 %", "0.18 kg to 220 g"],
)  # fmt: skip
def test_reads_a_range(text: str) -> None:
    assert ends(text, AMOUNT) == (180, 220)


@pytest.mark.parametrize(
    ("text", "kinds", "expected"),
    [
        ("less than 5 g", MASS, (0, 5)), ("under 5 g", MASS, (0, 5)), ("up to 5 g", MASS, (0, 5)),
        ("at most 5 g", MASS, (0, 5)), ("no more than 5 g", MASS, (0, 5)), ("< 5 g", MASS, (0, 5)),
        ("less than about 5 g", MASS, (0, 5.5)), ("under 60 °C", TEMPERATURE, (-30, 60)),
        ("at least 5 g", MASS, (5, 100_000)), ("1 g ± 2 g", MASS, (0, 3)),
        ("60 °C ± 5 °C", TEMPERATURE, (55, 65)),
        ("60 °C ± 9 delta_degF", TEMPERATURE, (55, 65)), ("140 °F ± 9 °F", TEMPERATURE, (55, 65)),
        ("250 mL to 1 cup", VOLUME, (rounded(0.2365882365), rounded(0.284130625))),
        ("60 ± 5 K", TEMPERATURE, None),
        ("-6 to -2 degC", TEMPERATURE, (-6, -2)), ("2 % ± 0.5 %", ("fraction",), (1.5, 2.5)),
    ],
)  # fmt: skip
def test_reads_bounds_and_tolerances(text: str, kinds: tuple[str, ...], expected: tuple[float, float] | None) -> None:
    if expected is None:
        refusal(text, kinds)  # 60 K is far below the frost that is taken
    else:
        assert ends(text, kinds) == expected


@pytest.mark.parametrize("sign", [chr(code) for code in (*range(0xBC, 0xBF), *range(0x2150, 0x215F))])
def test_every_vulgar_fraction(sign: str) -> None:
    import unicodedata

    value = unicodedata.numeric(sign)
    assert ends(f"{sign} L", VOLUME) == (rounded(value), rounded(value))
    assert ends(f"2{sign} L", VOLUME) == (rounded(2 + value), rounded(2 + value))


@pytest.mark.parametrize("space", ["", " ", "\u00a0", "\u2009", "\u202f", "\t", "\n"])
def test_any_space_between_number_and_unit(space: str) -> None:
    assert ends(f"90{space}g", MASS) == (90, 90)


def test_full_width_signs() -> None:
    assert ends("９０．５ ｇ", MASS) == (90.5, 90.5)


# ---- cups, spoons, ounces


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("1 1/2 cups", 0.354882355, 0.426195938), ("half a cup", 0.118294118, 0.142065313),
     ("a cup", 0.2365882365, 0.284130625), ("quarter teaspoon", 0.0012322304, 0.00125),
     ("½ tsp", 0.0024644608, 0.0025), ("1 tbsp", 0.0147867648, 0.02), ("1 gallon", 3.785411784, 4.54609)],
)  # fmt: skip
def test_a_bare_cup_is_every_cup(text: str, low: float, high: float) -> None:
    assert ends(text, AMOUNT) == (rounded(low), rounded(high))


def test_asks_which_cup() -> None:
    quantity = parse("1 cup", AMOUNT)
    assert quantity.ask == "Which cup: US (236.6 mL), metric (250 mL) or imperial (284.1 mL)?"
    assert quantity.spoon
    assert not parse("250 mL", AMOUNT).spoon
    assert parse("1 US cup", AMOUNT).ask is None


@pytest.mark.parametrize(
    ("place", "text", "litres"),
    [("US", "1 cup", 0.2365882365), ("US", "1 oz", 0.0295735296), ("us", "1 pint", 0.473176473),
     ("GB", "1 pint", 0.56826125), ("GB", "1 gallon", 4.54609), ("IE", "1 pint", 0.56826125),
     ("AU", "1 cup", 0.25), ("NZ", "1 cup", 0.25), ("CA", "1 cup", 0.25), ("AU", "1 tbsp", 0.02), ("NZ",
     "1 tbsp", 0.015)],
)  # fmt: skip
def test_a_place_settles_its_own_measures(place: str, text: str, litres: float) -> None:
    assert ends(text, VOLUME, place) == (rounded(litres), rounded(litres))
    assert parse(text, VOLUME, place=place).ask is None


def test_a_place_that_settles_nothing_leaves_the_question() -> None:
    assert parse("1 cup", VOLUME, place="GB") == parse("1 cup", VOLUME)
    assert parse("1 cup", VOLUME, place="XX").ask


def test_ounces_by_kind() -> None:
    assert parse("8 oz", MASS).ask is None
    assert ends("8 oz", VOLUME) == (0.2273045, rounded(0.2365882365))
    assert "fluid ounces" in (parse("8 oz", VOLUME).ask or "")
    both = parse("8 oz", ("volume", "mass"))
    assert (both.kind, both.interval.rounded()) == ("mass", Interval.point(226.796185))
    assert "weight" in (both.ask or "")
    assert parse("8 fl oz", ("mass", "volume")).kind == "volume"
    assert parse("2 lb 3 oz", ("volume", "mass")).kind == "mass"


def test_questions_state_the_sizes_in_the_table() -> None:
    asked = [unit for unit in units().units if unit.any_of and unit.ask]
    assert len(asked) >= 7
    for unit in asked:
        sizes = [
            float(number) / (1000 if symbol == "mL" else 1)
            for number, symbol in re.findall(r"\(([\d.]+) (mL|L)\)", unit.ask or "")
        ]
        members = [float(units().units[member].exact_factor or 0) for member in unit.any_of]
        assert sizes == [pytest.approx(member, rel=2e-3) for member in members], unit.id


# ---- what is refused


@pytest.mark.parametrize(
    ("text", "kinds", "says"),
    [
        ("1,500 g", MASS, "write 1500 or 1.5"), ("1.500,5 g", MASS, "thousands"),
        ("1,500.5 g", MASS, "thousands"),
        ("1'500 g", MASS, "thousands"), ("1 500 g", MASS, "'1500'"), ("1:30 h", TIME, "1 h 30 min"),
        ("200", AMOUNT, "without a unit"), ("0.02", ("fraction",), "2 % or 0.02 %"),
        ("10 °C", DIFFERENCE, "delta_degC"),
        ("10 delta_degC", TEMPERATURE, "temperature difference"), ("6 kg", VOLUME, "unit of mass"),
        ("90 g/L", MASS, "unit of concentration"), ("1 T", AMOUNT, "tbsp"), ("1 t", AMOUNT, "tsp"),
        ("1 c", AMOUNT, "cup"),
        ("1 pinch", AMOUNT, "no fixed size"), ("1 gr", MASS, "grain"), ("1 tespoon", VOLUME, "'teaspoon'"),
        ("3 liter s", VOLUME, "did you mean"), ("30 m", TIME, "accepted: time in min"),
        ("5 g 3 mL", AMOUNT, "same thing"),
        ("3 oz 2 lb", MASS, "large to small"), ("1-1/2 cups", VOLUME, "1 1/2"),
        ("220 to 180 g", MASS, "downwards"),
        ("180 g to 220", MASS, "without a unit"), ("180 g to", MASS, "missing"),
        ("two half cups", VOLUME, "figures"),
        ("1.5×10³ g", MASS, "powers of ten"), ("-5 g", MASS, "below 0 g"), ("−5 g", MASS, "below 0 g"),
        ("-31 °C", TEMPERATURE, "below -30"), ("101 kg", MASS, "above"),
        ("200 g ± -5 g", MASS, "tolerance"),
        ("1 1/0 g", MASS, "below the line"), (",5 g", MASS, "finished"), ("", MASS, "nothing"),
        ("g", MASS, "number"),
        ("none", TEMPERATURE, "no answer"), ("5 mmol/L", ALKALINITY, "meq/L"),
        ("2 cups of water", VOLUME, "no unit known"),
        ("0 °C 5 °F", TEMPERATURE, "two units"),
    ],
)  # fmt: skip
def test_refuses_and_says_why(text: str, kinds: tuple[str, ...], says: str) -> None:
    message = refusal(text, kinds)
    assert says in message
    assert repr(text) in message


@pytest.mark.parametrize("number", [200, 0.02, -1, True, False, float("nan"), float("inf"), 10**400, None, [1], b"1 g"])
def test_refuses_what_is_no_text(number: object) -> None:
    assert "accepted: mass in g" in refusal(number, AMOUNT)


@pytest.mark.parametrize(
    "text",
    ["9**9**9**9 g", "__import__('os')", "1e400 g", "1e-400 g", "nan g", "inf g", "Infinity g",
    "1_000 g", "0x10 g",
     "1" * 16 + " g", "0." + "1" * 15 + " g", "2" + " " * 300 + "g", "1e99999999999999999999 g",
     "{0.__class__} g", "%s g", "٣ g", "१ g",
     "5 g; rm -rf /", "5 g\x00", "(5) g",
     "5 g*2", "2^3 g", "😀 g", "5 " + "g" * 190, "1 " * 90 + "g",
     "-" * 150, "1/" * 90, "." * 150, "5 ± 5 ± 5 g",
     "10 meter", "1 degC*kg", "1 gram/gram"],
)  # fmt: skip
def test_hostile_text_is_refused(text: str) -> None:
    refusal(text, AMOUNT)


def test_ten_million_characters_are_refused_unread() -> None:
    message = refusal("9" * 10_000_000 + " g", AMOUNT)
    assert len(message) < 1000


def check_read_or_refused(text: str, kinds: tuple[str, ...]) -> None:
    """Nothing but a QuantityError may come out, and what is read lies inside the range of its kind."""
    try:
        quantity = parse(text, kinds)
    except QuantityError:
        return
    kind = units().kinds[quantity.kind]
    assert quantity.kind in kinds
    assert kind.low <= quantity.interval.low <= quantity.interval.high <= kind.high


@given(st.text(max_size=220))
def test_any_text_gives_a_quantity_or_a_reason(text: str) -> None:
    check_read_or_refused(text, AMOUNT)


WORDS = [
    "1", "2", "1/2", "½", ",5", ".", "-", "to", "±", " ", "g", "oz", "cup", "°F", "half", "a", "and", "about",
    "less than", "%", "e9", "/", "m3", "between",
]  # fmt: skip


@given(st.lists(st.sampled_from(WORDS), max_size=12))
def test_any_pile_of_known_words_gives_a_quantity_or_a_reason(words: list[str]) -> None:
    check_read_or_refused(" ".join(words), ("mass", "volume", "temperature"))


# ---- letters that must not be mixed up


@pytest.mark.parametrize(
    ("text", "kinds", "value"),
    [("5 G", MASS, 5), ("5 KG", MASS, 5000), ("5 MG", MASS, 0.005), ("5 mg", MASS, 0.005),
    ("5 ML", VOLUME, 0.005),
     ("5 ml", VOLUME, 0.005), ("5 mL", VOLUME, 0.005), ("5 l", VOLUME, 5),
     ("5 US Tsp", VOLUME, 0.024644608),
     ("2 us TBSP", VOLUME, 0.0295735296), ("5 MIN", TIME, 5), ("2 H", TIME, 120),
     ("90 c", TEMPERATURE, 90)],
)  # fmt: skip
def test_case_is_forgiven_where_it_is_harmless(text: str, kinds: tuple[str, ...], value: float) -> None:
    assert ends(text, kinds) == (rounded(value), rounded(value))


@pytest.mark.parametrize(("text", "kinds"), [("5 Mg", MASS), ("5 Ml", VOLUME), ("5 Mm", ("length",)), ("5 M", TIME)])
def test_a_capital_m_before_a_small_letter_is_refused(text: str, kinds: tuple[str, ...]) -> None:
    refusal(text, kinds)


def test_no_spelling_means_two_units_of_a_kind() -> None:
    seen: dict[tuple[str, str], str] = {}
    for unit in units().units:
        for word in {unit.id, unit.title, *unit.synonyms} - {""}:
            owner = seen.setdefault((unit.kind, word.casefold()), unit.id)
            assert owner == unit.id, word


def test_every_spelling_in_the_table_is_read() -> None:
    refused = {word for row in units().refused for word in row.words}
    for unit in units().units:
        for word in (unit.id, *unit.synonyms):
            assert word not in refused or unit.kind == "temperature", word
            kind = units().kinds[unit.kind]
            amount = {"K": 300, "L of room": 2000, "ft^3": 50}.get(unit.id, 2)
            quantity = parse(f"{amount} {word}", (unit.kind,))
            factors = [float(f.exact_factor or 0) for f in _one_size(unit)]
            if all(factors):
                low = min((amount - unit.offset) * factor for factor in factors)
                assert quantity.interval.low == pytest.approx(low), word
            assert kind.low <= quantity.interval.low


def _one_size(unit: Unit) -> list[Unit]:
    return [units().units[member] for member in unit.any_of] or [unit]


def test_examples_and_accepted_units_of_each_kind_are_accepted() -> None:
    for kind in units().kinds:
        assert parse(kind.example, (kind.id,)).kind == kind.id
        for word in kind.accepted:
            if not kind.bare:
                amount = {"K": 300, "L": 2000}.get(word, 50) if kind.id in ("temperature", "room volume") else 1
                assert parse(f"{amount} {word}", (kind.id,)).kind == kind.id


# ---- unknown


def test_unknown_is_the_whole_range() -> None:
    for kind in units().kinds:
        for quantity in (unknown(kind.id), parse("unknown", (kind.id, "mass")), parse("?", (kind.id,))):
            assert (quantity.interval.low, quantity.interval.high) == (kind.low, kind.high)
            assert quantity.kind == kind.id
            assert not quantity.stated
            assert format_interval(quantity.interval, kind.unit) == "unknown"


# ---- conversions against outside values

# NIST SP 811 (2008), Appendix B.9, factors to 7 digits: published (tables seen in a reproduction).
NIST_SP_811 = [
    ("oz", 2.834952e-2 * 1000), ("lb", 4.535924e-1 * 1000), ("grain", 6.479891e-5 * 1000),
    ("troy ounce", 3.110348e-2 * 1000), ("us cup", 2.365882e-4 * 1000),
    ("us fluid ounce", 2.957353e-5 * 1000),
    ("imperial gallon", 4.54609e-3 * 1000), ("us gallon", 3.785412e-3 * 1000),
    ("imperial fluid ounce", 2.841306e-5 * 1000), ("us pint", 4.731765e-4 * 1000),
    ("us quart", 9.463529e-4 * 1000),
    ("us tablespoon", 1.478676e-5 * 1000), ("us teaspoon", 4.928922e-6 * 1000), ("in", 2.54e-2 * 100),
    ("ft", 3.048e-1), ("yd", 9.144e-1 * 100), ("h", 3.6e3 / 60), ("day", 8.64e4 / 60), ("L", 1.0),
]  # fmt: skip


@pytest.mark.parametrize(("unit_id", "factor"), NIST_SP_811)
def test_factor_against_nist_sp_811(unit_id: str, factor: float) -> None:
    unit = units().units[unit_id]
    assert parse(f"1 {unit_id}", (unit.kind,)).interval.middle == pytest.approx(factor, rel=5e-7)


def test_temperature_formulas_of_nist_sp_811() -> None:
    # Appendix B.9, Temperature: t/°C = (t/°F - 32)/1.8 and t/°C = T/K - 273.15 (published)
    for fahrenheit in (-20, 0, 32, 68, 140, 194, 212, 451):
        assert ends(f"{fahrenheit} °F", TEMPERATURE)[0] == rounded((fahrenheit - 32) / 1.8)
    assert ends("140 °F", TEMPERATURE) == (60.0, 60.0)
    assert ends("373.15 K", TEMPERATURE) == (100.0, 100.0)
    assert ends("3 °F/min", RATE) == (rounded(3 / 1.8),) * 2


def test_imperial_pint_is_an_eighth_of_the_gallon() -> None:
    # Weights and Measures Act 1985, Schedule 1 (published, values seen in reproductions): 0.568 261 25 L
    assert parse("1 imperial pint", VOLUME).interval.low == 0.56826125
    assert ends("8 imperial pints", VOLUME) == ends("1 imperial gallon", VOLUME)
    assert ends("2 imperial pints", VOLUME) == ends("1 imperial quart", VOLUME)
    assert ends("20 imperial fl oz", VOLUME) == ends("1 imperial pint", VOLUME)


def test_water_hardness_degrees() -> None:
    # FAO glossary of aquaponics (published, excerpt): 50 mg/L of CaCO3 is 1 meq/L is 2.805 German degrees
    assert ends("2.805 °dH", ALKALINITY)[0] == pytest.approx(50, rel=2e-3)
    assert ends("1 meq/L", ALKALINITY)[0] == pytest.approx(50, rel=1e-3)
    # Vivaqua, Water composition (published, excerpt): 1 French degree is 0.56 German degree
    assert ends("1 °fH", ALKALINITY)[0] == pytest.approx(ends("0.56 °dH", ALKALINITY)[0], rel=1e-2)
    # IUPAC molar masses (from memory): 1 mmol/L of bicarbonate, 61.0168 mg/L, is 1 meq/L
    assert ends("61.0168 mg/L as HCO3", ALKALINITY) == ends("1 meq/L", ALKALINITY)
    # one grain in an imperial gallon (the Clark degree) is 14.25 mg/L (from memory)
    assert ends("1 °Clark", ALKALINITY)[0] == pytest.approx(14.254, rel=1e-3)


@pytest.mark.parametrize("unit", PLAIN_UNITS, ids=lambda unit: unit.id)
def test_factor_equals_pint(unit: Unit) -> None:
    """Independent definitions: pint's own (its names lack the metric kitchen measures)."""
    ureg = registry()
    canonical = units().kinds[unit.kind].pint
    if unit.kind == "temperature":
        theirs = ureg.Quantity(300, unit.pint).m_as(canonical)
        ours = float((300 - Fraction(repr(unit.offset))) * (unit.exact_factor or 0))
    else:
        theirs = ureg.parse_expression(unit.pint).m_as(canonical)
        rare = unit.exact_factor is None
        ours = parse(f"1 {unit.id}", (unit.kind,)).interval.middle if rare else float(unit.exact_factor or 0)
    assert ours == pytest.approx(theirs, rel=1e-12)


def test_exact_decimal_arithmetic() -> None:
    assert 100 * parse("1.5 %", ("fraction",)).interval.low / 100 == 1.5
    assert parse("0.1 g", MASS).interval.low == 0.1
    assert parse("0.3 kg", MASS).interval.low == 300.0


# ---- properties

amounts = st.decimals(min_value="0.001", max_value="90", places=3)


@given(amounts)
def test_a_change_of_unit_changes_nothing(amount: object) -> None:
    value = Fraction(str(amount))

    def written(number: Fraction) -> str:
        return f"{float(number):.12f}"

    assert ends(f"{amount} kg", MASS) == ends(f"{written(value * 1000)[:15]} g", MASS)
    assert ends(f"{amount} h", TIME) == ends(f"{written(value * 60)[:15]} min", TIME)
    assert ends(f"about {amount} delta_degC", DIFFERENCE) == ends(f"about {amount} K", DIFFERENCE)
    assert ends(f"{amount} L", VOLUME) == ends(f"{written(value * 1000)[:15]} mL", VOLUME)
    fahrenheit = written(value * 9 / 5 + 32)[:15]
    assert ends(f"{amount} °C", TEMPERATURE) == ends(f"{fahrenheit} °F", TEMPERATURE)
    assert ends(f"about {amount} °C", TEMPERATURE) == ends(f"about {fahrenheit} °F", TEMPERATURE)


# a difference is shown as "5 °C", which is read back only as a temperature
ROUND_TRIP = [kind for kind in units().kinds if kind.id != "temperature difference"]


@given(st.sampled_from(ROUND_TRIP), st.floats(0.001, 0.99), st.floats(0.001, 0.99))
def test_what_is_shown_can_be_read_back(kind: object, a: float, b: float) -> None:
    from advisor.rows import Kind

    assert isinstance(kind, Kind)
    span = kind.high - kind.low
    interval = Interval(kind.low + span * min(a, b), kind.low + span * max(a, b))
    back = parse(format_interval(interval, kind.unit), (kind.id,)).interval
    assert back.low == pytest.approx(interval.low, rel=6e-3, abs=1e-9)
    assert back.high == pytest.approx(interval.high, rel=6e-3, abs=1e-9)


@pytest.mark.parametrize(
    ("interval", "unit", "words"),
    [
        (Interval(1.5, 1.5), "%", "1.5 %"), (Interval(1.3, 1.8), "%", "1.3 to 1.8 %"),
        (Interval(88, 88), "degC", "88 °C"),
        (Interval(4, 4), "L", "4 L"), (Interval(0.1, 0.1), "L", "100 mL"), (Interval(0.355, 0.426), "L",
        "355 to 426 mL"),
        (Interval(30, 30), "min", "30 min"), (Interval(1.2, 1.2), "delta_degC/min", "1.2 °C/min"),
        (Interval(1234, 1234), "g", "1230 g"), (Interval(20, 20), "m^3", "20 m³"), (Interval(0, 5), "g",
        "up to 5 g"),
        (Interval(5, 100_000), "g", "at least 5 g"), (Interval(0, 100_000), "g", "unknown"),
        (Interval(0, 0), "g", "0 g"),
        (Interval(0.00012345, 0.00012345), "g", "0.000123 g"), (Interval(-5, 5), "degC", "-5 to 5 °C"),
        (Interval(1.5001, 1.5002), "%", "1.5 %"), (Interval(30, 30), "L/kg", "30 L/kg"),
        (Interval(0.5, 0.5), "fraction", "0.5"),
        (Interval(1e-12, 1e-12), "g", "0.000000000001 g"),
    ],
)  # fmt: skip
def test_format(interval: Interval, unit: str, words: str) -> None:
    assert format_interval(interval, unit) == words


# ---- the unit library stays out of the way


def test_plain_units_do_not_load_pint() -> None:
    code = (
        "import sys; from advisor.quantities import parse;"
        "parse('2 lb 3 oz', ('mass',)); parse('1 cup', ('volume',)); parse('140 F', ('temperature',));"
        "assert 'pint' not in sys.modules; parse('1 grain', ('mass',)); assert 'pint' in sys.modules"
    )
    root = Path(__file__).resolve().parents[1]
    subprocess.run([sys.executable, "-c", code], check=True, cwd=root)


@pytest.mark.parametrize("mode", [0o700, 0o777])
def test_a_rare_unit_keeps_nothing_and_reads_nothing_that_may_be_a_strangers(tmp_path: Path, mode: int) -> None:
    """The unit library would unpickle what lies in its cache folder, whoever wrote it."""
    caches = tmp_path / "caches"
    caches.mkdir()
    caches.chmod(mode)
    code = (
        "import pickle; loads = pickle.load, pickle.loads\n"
        "def refuse(*_, **__): raise SystemExit('a pickle was read')\n"
        "pickle.load = pickle.loads = refuse\n"
        "from advisor.quantities import parse; [parse('1 grain', ('mass',)) for _ in range(2)]"
    )
    env = {**os.environ, "XDG_CACHE_HOME": str(caches), "HOME": str(tmp_path), "ADVISOR_CACHE": "off"}
    root = Path(__file__).resolve().parents[1]
    for _ in range(2):
        subprocess.run([sys.executable, "-c", code], check=True, cwd=root, env=env)
    assert list(caches.rglob("*")) == []
