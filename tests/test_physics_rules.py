"""Rules that rest on worked-out numbers: silent, then a question, then a finding, as an input widens or moves.

Issue 3: each value a rule compares is an interval when its inputs are. The limits met here are of
rules/knowledge/limits.toml: common practice, no source, but for the corrosive pH (40 CFR 261.22), the pH of
sewers (40 CFR 403.5), the load constant (NIOSH 94-110) and the workplace limits behind `air_limit_share`
(NIOSH Pocket Guide). They are tested as written there; what the measures say is tested in their own files.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from advisor.cases import base_plan, changed, run_case
from advisor.checking import Checker
from advisor.findings import Report
from advisor.plan import read_plan
from advisor.rulebook import Case

Change = Mapping[str, Any]
SULFURIC = {"substance": "sulfuric acid", "strength": "98 %"}
OWN_FILES = {"bath.toml", "fate.toml", "body.toml", "air.toml", "waste.toml"}


@pytest.fixture
def state(checker: Checker) -> Callable[[str, str, Change], str]:
    """What one rule does with a changed base plan: "silent", "question" or "finding"."""

    def told(rule_id: str, plan: str, change: Change) -> str:
        rule = checker.rulebook.rule(rule_id)
        got = run_case(checker, rule, "fires", Case(plan, change)).got
        report = _report(checker, plan, change)
        # what the rule does must reach the person
        assert (got == "fires") == any(finding.rule == rule_id for finding in report.findings)
        assert got != "asks" or any(rule.topic in question.settles for question in report.questions)
        return {"fires": "finding", "asks": "question", "silent": "silent"}[got]

    return told


def _report(checker: Checker, plan: str, change: Change) -> Report:
    return checker.check(read_plan(changed(base_plan(plan), change)))


def _topics(report: Report, effect: str) -> set[str]:
    return {finding.topic for finding in report.findings if finding.effect == effect}


# rule, base plan, path, values that stay silent, a value that may fire, values that must fire
WIDENING = [
    ("water-eats-acid", "acid-on-nylon", "bath.alkalinity",
     ["60 mg/L", "150 mg/L"], "100 mg/L to 250 mg/L", ["170 mg/L", "250 mg/L"]),
    ("water-eats-all-acid", "acid-on-nylon", "bath.alkalinity",
     ["60 mg/L", "60 mg/L to 150 mg/L"], "300 mg/L to 400 mg/L", ["400 mg/L", "350 mg/L to 450 mg/L"]),
    ("ph-not-acid-enough", "acid-on-nylon", "assists.0.amount",
     ["30 mL", "10 mL to 30 mL"], "1 mL to 30 mL", ["2 mL", "1 mL to 2 mL"]),
    ("ph-not-alkaline-enough", "reactive-on-cotton", "assists.1.amount",
     ["80 g", "20 g to 80 g"], "0.5 g to 80 g", ["0.5 g", "0.1 g to 0.5 g"]),
    ("vessel-crowded", "acid-on-nylon", "bath.water",
     ["4 L", "3 L to 4 L"], "1 L to 4 L", ["1 L", "1 L to 1.2 L"]),
    ("dose-over-maximum", "acid-on-nylon", "dyes.0.amount",
     ["1.5 g", "1 g to 1.5 g"], "1 g to 2 g", ["2 g", "1.6 g to 2 g"]),
    ("dose-over-maximum", "acid-on-nylon", "dyes.0.maximum",
     ["1.5 %", "1 % to 1.5 %"], "0.5 % to 1.5 %", ["0.9 %", "0.5 % to 0.9 %"]),
    ("dose-over-saturation", "acid-on-nylon", "dyes.0.amount",
     ["10 g", "5 g to 10 g"], "5 g to 12 g", ["11 g", "11 g to 12 g"]),
    ("vapour-over-limit", "acid-on-nylon", "assists.0.amount",
     ["30 mL", "30 mL to 60 mL"], "30 mL to 200 mL", ["150 mL", "200 mL"]),
    ("lift-heavy", "acid-on-nylon", "bath.water",
     ["4 L", "4 L to 8 L"], "4 L to 40 L", ["22 L", "22 L to 40 L"]),
    ("drain-ph-studio-acid", "acid-on-nylon", "bath.alkalinity",
     ["300 mg/L", "250 mg/L to 300 mg/L"], "60 mg/L to 300 mg/L", ["60 mg/L", "0 mg/L to 150 mg/L"]),
]  # fmt: skip
# what the plan needs beside, for the one value to decide
BESIDE: Mapping[str, Change] = {
    "lift-heavy": {"vessel.capacity": "20 L"},
    "vapour-over-limit": {"vessel.lid": False},
    "drain-ph-studio-acid": {"space.kind": "studio"},
}


@pytest.mark.parametrize(("rule_id", "plan", "path", "silent", "open_", "certain"), WIDENING)
def test_silent_then_question_then_finding(
    state: Callable[[str, str, Change], str],
    rule_id: str,
    plan: str,
    path: str,
    silent: list[str],
    open_: str,
    certain: list[str],
) -> None:
    beside = BESIDE.get(rule_id, {})
    assert [state(rule_id, plan, {**beside, path: value}) for value in silent] == ["silent"] * len(silent)
    assert state(rule_id, plan, {**beside, path: open_}) == "question"
    assert [state(rule_id, plan, {**beside, path: value}) for value in certain] == ["finding"] * len(certain)


@pytest.mark.parametrize(
    ("volume", "told"),
    [("20 m^3", "silent"), ("12 m^3 to 20 m^3", "silent"), ("5 m^3 to 20 m^3", "question"), ("5 m^3", "finding")],
)
def test_the_smaller_the_room_the_more_vapour(state: Callable[[str, str, Change], str], volume: str, told: str) -> None:
    """No ventilation or lid, 25 mmol of acetic acid at 88 degC: about 12 ppm in 5 m^3, against 10 ppm for 8 hours."""
    change = {"space.volume": volume, "space.ventilation": "none", "vessel.lid": False}
    assert state("vapour-over-limit", "acid-on-nylon", change) == told


def test_no_room_volume_is_a_question(checker: Checker, state: Callable[[str, str, Change], str]) -> None:
    """Not stated, the room may be a cupboard: asked about, and the verdict stays."""
    change = {"space.volume": "unknown"}
    assert state("vapour-over-limit", "acid-on-nylon", change) == "silent"
    assert state("vapour-room-unknown", "acid-on-nylon", change) == "question"
    assert "space.volume" in {question.field for question in _report(checker, "acid-on-nylon", change).questions}


@pytest.mark.parametrize(
    "left_out", ["bath.alkalinity", "bath.altitude", "bath.rise", "space.volume", "aftercare.rinse_water"]
)
@pytest.mark.parametrize(
    "plan", ["acid-on-nylon", "acid-on-wool", "reactive-on-cotton", "disperse-on-polyester", "vat-on-cotton"]
)
def test_what_people_leave_out_never_holds_the_verdict_back(checker: Checker, plan: str, left_out: str) -> None:
    """Alkalinity, altitude, rise, room volume and rinse water are often not known: a question, no more."""
    report = _report(checker, plan, {left_out: "unknown"})
    assert report.verdict in ("ready", "ready with cautions")
    assert {question.effect for question in report.questions} <= {"caution"}


@pytest.mark.parametrize(
    "strange",
    [
        {"assists.2": {"substance": "resist salt", "amount": "5 g"}},
        {"assists.2": {"substance": "sodium silicate", "amount": "5 g"}},
        {"assists.2": {"substance": "trisodium phosphate", "amount": "5 g"}},
    ],
)
def test_a_bath_the_balance_does_not_know_is_no_ph_verdict(checker: Checker, strange: Change) -> None:
    """The pH is then anything; rules that compare it must neither fire nor hold the verdict back."""
    report = _report(checker, "reactive-on-cotton", strange)
    topics = {"ph-out-of-window", "drain-ph", "corrosive"}
    mine = {rule.id for rule in checker.rulebook.rules if rule.file in OWN_FILES and rule.topic in topics}
    assert not {finding.rule for finding in report.findings} & mine
    assert not [q for q in report.questions if q.effect != "caution" and set(q.settles) & topics]


def test_twice_the_dye_is_an_overdose_and_nothing_else(checker: Checker) -> None:
    """2 g on 100 g of nylon at a maximum of 1.5 %: no rule on loose dye joins in."""
    report = _report(checker, "acid-on-nylon", {"dyes.0.amount": "2 g"})
    fired = {f.rule for f in report.findings}
    assert "dose-over-maximum" in {f.topic for f in report.findings}
    assert not fired & {rule.id for rule in checker.rulebook.rules if rule.file == "fate.toml"}


@pytest.mark.parametrize("dye", ["2 g", "5 g", "8 g", "12 g"])
def test_more_dye_costs_in_numbers(checker: Checker, dye: str) -> None:
    """From far over the maximum on, the report says how many rinses and litres one more per cent costs."""
    report = _report(checker, "acid-on-nylon", {"dyes.0.amount": dye})
    texts = [f.message for f in report.findings if f.topic in ("bleeding-risk", "dose-over-saturation")]
    assert all("more rinses" in text and " L of water" in text for text in texts)
    assert bool(texts) == (dye != "2 g")


@pytest.mark.parametrize("fibres", ["100% polyester", "100% cotton"])
def test_loose_dye_on_the_wrong_fibre_is_the_fibre_s_matter(checker: Checker, fibres: str) -> None:
    """All of the dye stays loose there, but the finding to make is about the fibre."""
    report = _report(checker, "acid-on-nylon", {"goods.0.fibres": fibres})
    assert not {f.topic for f in report.findings} & {"bleeding-risk", "unfixed-dye", "dose-over-saturation"}


@pytest.mark.parametrize(
    "plan", ["acid-on-nylon", "acid-on-wool", "reactive-on-cotton", "direct-on-cotton", "mordant-on-wool"]
)
def test_a_household_may_pour_its_usual_baths_away(checker: Checker, plan: str) -> None:
    """Vinegar, citric acid and soda ash baths to a home sewer; the same from a school may be asked about."""
    assert "drain-ph" not in {f.topic for f in _report(checker, plan, {}).findings}


@pytest.mark.parametrize(("grams", "effect"), [("1 g", "caution"), ("20 g", "change")])
def test_strong_acid_to_the_drain(checker: Checker, grams: str, effect: str) -> None:
    """1 g of sulfuric acid in 6 L is near pH 2.8 (silent), 20 g is at 1.45: corrosive waste, 40 CFR 261.22."""
    report = _report(checker, "acid-on-wool", {"assists.0": {**SULFURIC, "amount": grams}})
    assert ("drain-ph" in _topics(report, "change")) == (effect == "change")


@pytest.mark.parametrize(("water", "rule_id"), [("9 L", None), ("14 L", "lift-with-help"), ("20 L", "lift-heavy")])
def test_weight_of_the_full_pot(checker: Checker, water: str, rule_id: str | None) -> None:
    """16 kg HSE INDG143 (from memory), 23 kg NIOSH 94-110; one rule at a time."""
    report = _report(
        checker, "acid-on-nylon", {"bath.water": water, "vessel.capacity": "14 L" if water == "9 L" else "25 L"}
    )
    assert [f.rule for f in report.findings if f.topic == "lift-heavy"] == ([rule_id] if rule_id else [])


@pytest.mark.parametrize(
    ("altitude", "told"),
    [("50 m", "silent"), ("1400 m", "silent"), ("1200 m to 1800 m", "question"), ("5300 ft", "finding")],
)
def test_water_boils_cooler_higher_up(state: Callable[[str, str, Change], str], altitude: str, told: str) -> None:
    """95 degC is out of reach from about 1500 m on (ICAO standard atmosphere, from memory)."""
    assert state("boils-before-it-is-that-hot", "basic-on-acrylic", {"bath.altitude": altitude}) == told


@pytest.mark.parametrize("unit", ["10 g", "0.3527396 oz"])
def test_exactly_at_the_ceiling_is_not_over_it(state: Callable[[str, str, Change], str], unit: str) -> None:
    assert state("dose-over-saturation", "acid-on-nylon", {"dyes.0.amount": unit}) == "silent"
