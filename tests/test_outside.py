"""The whole check against what stands outside the project; each test names its source.

"published" means the document or an excerpt was seen while the project was researched, "from memory" that it was
recalled, "common practice" that it is trade knowledge with no source. Names and tables of fibres are also checked
one by one in test_labels.py and test_knowledge_dyes.py; here they go through a plan.
"""

from __future__ import annotations

from typing import Any

import pytest
from strangers import COTTON, NYLON

from advisor.cases import changed
from advisor.checking import Checker
from advisor.findings import Report
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.plan import Plan, read_plan
from advisor.quantities import parse


def plan(change: dict[str, Any] | None = None, base: dict[str, Any] = NYLON) -> Plan:
    return read_plan(changed(base, change or {}))


def topics(report: Report) -> set[str]:
    return {finding.topic for finding in report.findings}


# Regulation (EU) No 1007/2011, Annex I: number and name. Transcription, from memory; a copy of the list was seen.
REGULATION = {
    1: "wool",
    4: "silk",
    5: "cotton",
    6: "kapok",
    7: "flax",
    8: "true hemp",
    9: "jute",
    10: "abaca",
    11: "alfa",
    12: "coir",
    13: "broom",
    14: "ramie",
    15: "sisal",
    16: "sunn",
    17: "henequen",
    18: "maguey",
    19: "acetate",
    20: "alginate",
    21: "cupro",
    22: "modal",
    23: "protein",
    24: "triacetate",
    25: "viscose",
    26: "acrylic",
    27: "chlorofibre",
    28: "fluorofibre",
    29: "modacrylic",
    30: "polyamide",
    31: "aramid",
    32: "polyimide",
    33: "lyocell",
    34: "polylactide",
    35: "polyester",
    36: "polyethylene",
    37: "polypropylene",
    38: "polycarbamide",
    39: "polyurethane",
    40: "vinylal",
    41: "trivinyl",
    42: "elastodiene",
    43: "elastane",
    44: "glass fibre",
    45: "elastomultiester",
    46: "elastolefin",
    47: "melamine",
}


@pytest.mark.parametrize("number", REGULATION)
def test_a_plan_understands_the_names_of_the_regulation(number: int) -> None:
    fibre = plan({"goods.0.fibres": f"100% {REGULATION[number]}"}).goods[0].fibres.components()[0].fibre
    assert knowledge().fibres[fibre].eu_number == number


def test_the_regulation_has_fifty_entries_and_all_are_there() -> None:
    numbers = {fibre.eu_number for fibre in knowledge().fibres} - {None}
    assert set(range(1, 51)) <= numbers


@pytest.mark.parametrize("share", ["1.5 %", "1.5%", "1,5 %"])
def test_a_share_of_the_goods_in_grams(share: str) -> None:
    """1.5 % of 100 g is 1.5 g: common practice, no source."""
    done = work_out(plan({"dyes.0.amount": share}), knowledge())
    assert done.dose.dyes[0].weighed.mass.low == pytest.approx(1.5, rel=1e-12)
    assert done.dose.dyes[0].weighed.mass.exact


POUND = {
    "goods.0.dry_mass": "1 lb",
    "dyes.0.amount": "1 %",
    "bath.water": "14 L",
    "vessel.capacity": "20 L",
    "space.volume": "60 m^3",
    "bath.alkalinity": "60 mg/L",
}


@pytest.mark.parametrize(
    "assist",
    [
        {"substance": "white vinegar", "amount": "1/2 US cup", "strength": "5 %"},
        {"substance": "citric acid", "amount": "1 US tbsp"},
    ],
    ids=["half a cup of vinegar", "a tablespoon of citric acid"],
)
@pytest.mark.parametrize("fibres", ["100% nylon", "100% wool", "100% silk"])
def test_the_usual_acid_to_a_pound_of_goods(checker: Checker, fibres: str, assist: dict[str, str]) -> None:
    """Half a US cup of vinegar, or a tablespoon of citric acid, to a pound of goods: common practice, no source."""
    report = checker.check(
        plan({**POUND, "goods.0.fibres": fibres, "bath.temperature": "85 degC", "assists": [assist]})
    )
    assert not topics(report) & {
        "assist-short",
        "assist-excess",
        "assist-missing",
        "assist-wrong-kind",
        "ph-out-of-window",
    }
    assert report.verdict in ("ready", "ready with cautions")


@pytest.mark.parametrize("temperature", ["82 degC", "180 degF", "88 degC", "190 degF", "93 degC", "200 degF"])
@pytest.mark.parametrize("hold", ["25 min", "30 min", "35 min"])
@pytest.mark.parametrize("dye_class", ["acid levelling", "acid milling", "acid metal-complex"])
def test_acid_dyes_work_hot_for_half_an_hour(checker: Checker, dye_class: str, hold: str, temperature: str) -> None:
    """82 to 93 °C (180 to 200 °F) for about 30 minutes on nylon: common practice, no source."""
    report = checker.check(
        plan(
            {
                "bath.temperature": temperature,
                "bath.hold": hold,
                "dyes.0.class": dye_class,
                "bath.rise": "1 delta_degC/min",
            }
        )
    )
    heat = {"temperature-under-window", "temperature-over-window", "temperature-over-fibre-limit"}
    assert not topics(report) & heat
    grave = {finding.topic for finding in report.findings if finding.effect != "caution"}
    assert "hold-too-short" not in grave  # milling dyes are held half an hour at the least: 25 minutes is a caution


@pytest.mark.parametrize(
    ("fibres", "topic"),
    [
        ("100% nylon", None),
        ("100% wool", None),
        ("100% silk", None),
        ("100% polyester", "fibre-unsuitable"),
        ("100% cotton", "fibre-stains-only"),
    ],
)
def test_what_takes_acid_dyes(checker: Checker, fibres: str, topic: str | None) -> None:
    """Nylon, wool and silk take acid dyes, polyester does not, cotton hardly: common practice, no source.

    Also A. D. Broadbent, Basic Principles of Textile Coloration, 2001, pp. 244 to 246, for wool: published.
    """
    report = checker.check(plan({"goods.0.fibres": fibres, "bath.temperature": "85 degC"}))
    fibre_topics = {name for name in topics(report) if name.startswith("fibre-")}
    assert fibre_topics == ({topic} if topic else set())
    assert (report.verdict == "change first") == (topic is not None)


@pytest.mark.parametrize(
    ("material", "suits"),
    [("stainless steel", True), ("enamel", True), ("aluminium", False), ("copper", False), ("cast iron", False)],
)
def test_stainless_or_enamel_pots(checker: Checker, material: str, suits: bool) -> None:
    """Stainless steel or sound enamel for a hot acid bath; bare reactive metals not: common practice, no source."""
    report = checker.check(plan({"vessel.material": material}))
    assert ("vessel-material" not in topics(report)) == suits


# NIST Special Publication 811 (2008), Appendix B: factors to SI, from memory; their exact definitions are in section B.
SP_811 = [
    ("8 oz", ("mass",), 226.796185),
    ("1 lb", ("mass",), 453.59237),
    ("1 US cup", ("volume",), 0.2365882),
    ("1 US gal", ("volume",), 3.785412),
    ("1 imperial gallon", ("volume",), 4.54609),
    ("1 US qt", ("volume",), 0.9463529),
    ("1 US pint", ("volume",), 0.4731765),
    ("1 US fl oz", ("volume",), 0.02957353),
    ("1 US tbsp", ("volume",), 0.01478676),
    ("1 US tsp", ("volume",), 0.004928922),
    ("195 degF", ("temperature",), 90.555556),
    ("212 degF", ("temperature",), 100.0),
    ("300 K", ("temperature",), 26.85),
    ("1 h", ("time",), 60.0),
]


@pytest.mark.parametrize(("text", "kinds", "expected"), SP_811, ids=[text for text, *_ in SP_811])
def test_conversions_of_nist(text: str, kinds: tuple[str, ...], expected: float) -> None:
    found = parse(text, kinds).interval
    assert found.exact
    assert found.low == pytest.approx(expected, rel=5e-7)


def test_a_plan_in_us_units_and_the_same_in_metric_agree(checker: Checker) -> None:
    """The same bath in pounds, gallons and degrees Fahrenheit; factors of NIST SP 811, from memory."""
    ours = {
        "goods.0.dry_mass": "8 oz",
        "dyes.0.amount": "0.08 oz",
        "bath.water": "2.5 US gal",
        "bath.temperature": "195 degF",
        "bath.hold": "0.5 h",
        "vessel.capacity": "4 US gal",
        "assists.0.amount": "1/4 US cup",
    }
    theirs = {
        "goods.0.dry_mass": "226.796185 g",
        "dyes.0.amount": "2.26796185 g",
        "bath.water": "9.463529460 L",
        "bath.temperature": "90.5555556 degC",
        "bath.hold": "30 min",
        "vessel.capacity": "15.141647136 L",
        "assists.0.amount": "59.1470591 mL",
    }
    one, other = (checker.check(plan(change)) for change in (ours, theirs))
    assert one.verdict == other.verdict
    assert [finding.rule for finding in one.findings] == [finding.rule for finding in other.findings]
    for key, measure in one.measures.items():
        assert measure.interval.low == pytest.approx(other.measures[key].interval.low, rel=1e-6, abs=1e-9), key
        assert measure.interval.high == pytest.approx(other.measures[key].interval.high, rel=1e-6, abs=1e-9), key


def test_a_difference_of_temperature_is_no_temperature() -> None:
    """9 °F of difference is 5 K, 9 °F on the scale is -12.78 °C: NIST SP 811 (2008), B.8, from memory."""
    assert parse("9 delta_degF/min", ("heating rate",)).interval.low == pytest.approx(5.0)
    assert parse("33.8 degF", ("temperature",)).interval.low == pytest.approx(1.0)


# Commercial moisture allowances, % of the dry mass: Austria, textile labelling regulation, Annex 2 (1975), published;
# Annex IX of Regulation (EU) No 1007/2011 gives the same, from memory.
ALLOWANCES = {"cotton": 8.5, "viscose": 13.0, "silk": 11.0, "acetate": 9.0, "acrylic": 2.0, "elastane": 1.5}


@pytest.mark.parametrize("fibre", ALLOWANCES)
def test_moisture_regain(fibre: str) -> None:
    row = knowledge().fibres[knowledge().fibres.find(fibre).id]  # type: ignore[union-attr]
    regain = row.regain or knowledge().families[row.family].regain
    assert regain is not None
    assert regain.low <= ALLOWANCES[fibre] <= regain.high


def test_gate_items() -> None:
    """GATE (India), Textile Engineering: 2019 Q24 and 2009 Q56, published (questions; answers worked out).

    4 % at 1 to 40 is 1 g/L; 200 g/m2 x 1.5 m x 10 m is 3 kg, 2 % of it 60 g, in 2.4 L (80 % pick-up) 25 g/L.
    """
    wool = work_out(plan({"goods.0.fibres": "wool", "dyes.0.amount": "4 %", "dyes.0.maximum": "4 %"}), knowledge())
    assert wool.measures["bath.liquor_ratio"].interval == Interval.point(40.0)
    assert (wool.dose.dyes[0].weighed.mass / wool.vessel.water).low == pytest.approx(1.0)
    cloth = work_out(
        plan({"goods.0.dry_mass": "3 kg", "dyes.0.amount": "2 %", "bath.water": "2.4 L"}, COTTON), knowledge()
    )
    assert (cloth.dose.dyes[0].weighed.mass / cloth.vessel.water).low == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("goods", "dye", "share"), [("250 g", "5 g", 2.0), ("3 kg", "150 g", 5.0), ("100 kg", "4 kg", 4.0)]
)
def test_textbook_shades(goods: str, dye: str, share: float) -> None:
    """A textile calculation page's Q1 and Q3 and lecture slides on depth of shade: published as excerpts."""
    done = work_out(plan({"goods.0.dry_mass": goods, "dyes.0.amount": dye}), knowledge())
    assert done.measures["dye.share_owf"].interval.low == pytest.approx(share)
    assert done.measures["dye.share_owf"].interval.exact
