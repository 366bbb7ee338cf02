"""What is not known is never fine: hidden inputs, and inputs that widen.

Each input of a complete plan is hidden in turn. The order of verdicts and what an unknown does are fixed by the
design of the project (Kleene logic), not by an outside source.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from strangers import COTTON, NYLON, Data, is_leaf, keys, without

from advisor.cases import changed
from advisor.checking import Checker
from advisor.findings import Report
from advisor.plan import read_plan

PLANS = {"nylon": NYLON, "cotton": COTTON}
# worst first; "cannot tell" is no better than a plan that must change, and worse than any that is ready
ORDER = ("do not start", "change first", "cannot tell", "ready with cautions", "ready")
MAIN_INPUTS = {
    "goods.0.fibres": "goods.0.fibres",
    "goods.0.dry_mass": "goods.0.dry_mass",
    "dyes.0.class": "dyes.0.class",
    "dyes.0.amount": "dyes.0.amount",
    "dyes.0.maximum": "dyes.0.maximum",
    "bath.water": "bath.water",
    "bath.temperature": "bath.temperature",
    "bath.hold": "bath.hold",
    "bath.heat_source": "bath.heat_source",
    "vessel": "vessel.capacity",
    "vessel.material": "vessel.material",
    "vessel.capacity": "vessel.capacity",
    "vessel.used_for_food": "vessel.used_for_food",
    "utensils": "utensils",
    "utensils.0.used_for_food": "utensils.0.used_for_food",
    "people": "people.wearing",
    "people.wearing": "people.wearing",
    "space": "space.kind",
    "space.kind": "space.kind",
    "aftercare": "aftercare.leftover",
    "aftercare.leftover": "aftercare.leftover",
    "assists": "assists",
    "assists.0.substance": "assists.0.substance",
}
HIDDEN = [(name, path) for name, plan in PLANS.items() for path in keys(plan) if path not in ("goods", "dyes")]
# tables and lists of tables can only be left out, and a name is any text
WORDS = [(name, path) for name, path in HIDDEN if is_leaf(PLANS[name], path) and not path.endswith(("name", "title"))]


def report(checker: Checker, data: Data) -> Report:
    return checker.check(read_plan(data))


def fields(found: Report) -> set[str]:
    return {question.field for question in found.questions}


@pytest.mark.parametrize(("name", "path"), HIDDEN, ids=str)
def test_hiding_an_input_never_helps(checker: Checker, name: str, path: str) -> None:
    whole, part = report(checker, PLANS[name]), report(checker, without(PLANS[name], path))
    assert ORDER.index(part.verdict) <= ORDER.index(whole.verdict)


@pytest.mark.parametrize(("name", "path"), WORDS, ids=str)
def test_the_word_unknown_is_the_same_as_leaving_it_out(checker: Checker, name: str, path: str) -> None:
    left_out = report(checker, without(PLANS[name], path))
    said = report(checker, changed(PLANS[name], {path: "unknown"}))
    assert said.verdict == left_out.verdict
    assert [f.rule for f in said.findings] == [f.rule for f in left_out.findings]
    assert said.questions == left_out.questions


@pytest.mark.parametrize(("path", "asked"), MAIN_INPUTS.items(), ids=str)
@pytest.mark.parametrize("name", PLANS)
def test_a_hidden_main_input_is_asked_for(checker: Checker, name: str, path: str, asked: str) -> None:
    found = report(checker, without(PLANS[name], path))
    assert found.verdict == "cannot tell"
    assert asked in fields(found)
    question = next(q for q in found.questions if q.field == asked)
    assert question.effect in ("stop", "change")
    assert question.settles
    assert "?" in question.ask


# one fault each, whose own input is then hidden: the finding may go, but only into a question about that input
FAULTS: list[tuple[str, dict[str, Any], str, str]] = [
    ("nylon", {"goods.0.fibres": "100% polyester"}, "goods.0.fibres", "fibre-unsuitable"),
    ("nylon", {"dyes.0.amount": "3 g"}, "dyes.0.amount", "dose-over-maximum"),
    ("nylon", {"dyes.0.amount": "3 g"}, "goods.0.dry_mass", "dose-over-maximum"),
    ("nylon", {"dyes.0.amount": "3 g"}, "dyes.0.maximum", "dose-over-maximum"),
    ("nylon", {"bath.water": "1 L"}, "bath.water", "vessel-crowded"),
    ("nylon", {"bath.water": "1 L"}, "goods.0.dry_mass", "vessel-crowded"),
    ("nylon", {"vessel.capacity": "4 L"}, "vessel.capacity", "vessel-overfull"),
    ("nylon", {"vessel.material": "aluminium"}, "vessel.material", "vessel-material"),
    ("nylon", {"vessel.used_for_food": True}, "vessel.used_for_food", "food-vessel"),
    ("nylon", {"utensils.0.used_for_food": True}, "utensils.0.used_for_food", "food-utensil"),
    ("nylon", {"space.food_out": True}, "space.food_out", "food-space"),
    ("nylon", {"space.kind": "kitchen"}, "space.kind", "food-space"),
    ("nylon", {"aftercare.leftover": "food jar"}, "aftercare.leftover", "food-container"),
    ("nylon", {"people.wearing": []}, "people.wearing", "gear-missing"),
    ("nylon", {"bath.attended": False}, "bath.attended", "heat-unattended"),
    ("nylon", {"bath.temperature": "50 degC"}, "bath.temperature", "temperature-under-window"),
    ("nylon", {"bath.hold": "5 min"}, "bath.hold", "hold-too-short"),
    ("nylon", {"assists": []}, "assists", "assist-missing"),
    ("nylon", {"bath.rise": "5 delta_degC/min"}, "bath.rise", "rise-too-fast"),
    ("nylon", {"goods.0.colour": "dyed"}, "goods.0.colour", "prior-colour"),
    ("nylon", {"goods.0.finishes": ["water repellent"]}, "goods.0.finishes", "finish-blocks-dye"),
    ("nylon", {"scale.resolution": "1 g"}, "scale.resolution", "weighing-too-coarse"),
    ("cotton", {"people.present": ["asthma"]}, "people.present", "sensitiser"),
    ("cotton", {"goods.0.dry_mass": "600 g"}, "goods.0.dry_mass", "vessel-crowded"),
    (
        "cotton",
        {"bath.temperature": "75 degC", "bath.heat_source": "electric hob"},
        "bath.temperature",
        "temperature-over-window",
    ),
]


@pytest.mark.parametrize(("name", "change", "hide", "topic"), FAULTS, ids=str)
def test_a_fault_whose_input_is_hidden_turns_into_its_question(
    checker: Checker, name: str, change: dict[str, Any], hide: str, topic: str
) -> None:
    faulty = changed(PLANS[name], change)
    assert topic in {finding.topic for finding in report(checker, faulty).findings}
    hidden = report(checker, without(faulty, hide))
    assert hidden.verdict != "ready"
    found = topic in {finding.topic for finding in hidden.findings}
    asked = any(question.field == hide and topic in question.settles for question in hidden.questions)
    assert found or asked


# silent -> question -> finding, as one input widens past a limit and then lies past it whole
WIDENING: list[tuple[str, str, str, tuple[str, str, str]]] = [
    ("nylon", "dyes.0.amount", "dose-over-maximum", ("1.2 g to 1.5 g", "1.2 g to 1.6 g", "1.6 g to 1.8 g")),
    ("nylon", "dyes.0.maximum", "dose-over-maximum", ("1 % to 2 %", "0.8 % to 2 %", "0.5 % to 0.9 %")),
    ("nylon", "goods.0.dry_mass", "dose-over-maximum", ("67 g to 120 g", "60 g to 120 g", "50 g to 66 g")),
    ("nylon", "bath.water", "vessel-crowded", ("2 L to 4 L", "1.4 L to 4 L", "0.9 L to 1.4 L")),
    ("nylon", "vessel.capacity", "vessel-overfull", ("6 L to 8 L", "4.2 L to 8 L", "4.2 L to 4.4 L")),
    (
        "nylon",
        "bath.temperature",
        "temperature-under-window",
        ("80 degC to 90 degC", "75 degC to 90 degC", "70 degC to 79 degC"),
    ),
    (
        "nylon",
        "bath.temperature",
        "temperature-over-fibre-limit",
        ("85 degC to 95 degC", "85 degC to 130 degC", "125 degC to 130 degC"),
    ),
    ("nylon", "bath.hold", "hold-too-short", ("20 min to 40 min", "8 min to 40 min", "5 min to 9 min")),
    ("nylon", "scale.resolution", "weighing-too-coarse", ("0.05 g to 0.1 g", "0.05 g to 0.2 g", "0.2 g to 0.3 g")),
    ("nylon", "assists.0.amount", "assist-short", ("30 mL to 40 mL", "1 mL to 40 mL", "1 mL to 2 mL")),
    (
        "cotton",
        "bath.temperature",
        "temperature-over-window",
        ("30 degC to 60 degC", "30 degC to 70 degC", "62 degC to 70 degC"),
    ),
    ("cotton", "dyes.0.amount", "dose-over-maximum", ("10 g to 16 g", "10 g to 17 g", "16.1 g to 17 g")),
    ("cotton", "assists.1.amount", "assist-short", ("40 g to 80 g", "10 g to 80 g", "10 g to 19 g")),
]


@pytest.mark.parametrize(("name", "path", "topic", "values"), WIDENING, ids=str)
def test_silent_question_finding(
    checker: Checker, name: str, path: str, topic: str, values: tuple[str, str, str]
) -> None:
    change = {"bath.heat_source": "electric hob"} if path == "bath.temperature" else {}
    narrow, wide, past = (report(checker, changed(PLANS[name], {**change, path: value})) for value in values)

    def found(of: Report) -> bool:
        return topic in {finding.topic for finding in of.findings}

    def asked(of: Report) -> bool:
        return any(topic in question.settles and question.field == path for question in of.questions)

    assert not found(narrow)
    assert not asked(narrow)
    assert asked(wide)
    assert not found(wide)
    assert found(past)


def test_a_family_name_stays_silent_where_all_members_agree_and_asks_where_they_do_not(checker: Checker) -> None:
    agreed = report(checker, changed(NYLON, {"dyes.0.class": "acid"}))
    assert agreed.verdict in ("ready", "ready with cautions")
    apart = report(checker, changed(COTTON, {"dyes.0.class": "fibre-reactive"}))  # hot ones do not work at 40 °C
    assert apart.verdict == "cannot tell"
    assert "dyes.0.class" in fields(apart)


def test_nothing_known_but_that_there_are_goods_and_a_dye(checker: Checker) -> None:
    found = report(checker, {"goods": [{}], "dyes": [{}]})
    assert found.verdict == "cannot tell"
    assert {
        "goods.0.fibres",
        "dyes.0.class",
        "dyes.0.amount",
        "dyes.0.maximum",
        "bath.water",
        "bath.temperature",
        "vessel.capacity",
        "vessel.material",
        "vessel.used_for_food",
        "people.wearing",
    } <= fields(found)
    weights = [question.weight for question in found.questions]
    assert weights == sorted(weights, reverse=True)  # the most telling question comes first


@pytest.mark.parametrize("name", PLANS)
def test_no_plan_is_ready_while_a_grave_rule_may_fire(checker: Checker, name: str) -> None:
    """Hides inputs two by two; the verdict must follow from findings and questions, never be better."""
    paths = [path for path in keys(PLANS[name]) if path in MAIN_INPUTS]
    for first, second in pairwise(paths):
        if second.startswith(f"{first}."):
            continue
        found = report(checker, without(PLANS[name], first, second))
        if any(question.effect != "caution" for question in found.questions):
            assert found.verdict in ("do not start", "change first", "cannot tell")
            assert found.exit_status in (1, 3)


@pytest.mark.parametrize("word", ["unknown", "acid"])
def test_a_caution_of_one_class_is_no_fact_while_the_class_is_open(checker: Checker, word: str) -> None:
    metal = "This kind of dye holds chromium or cobalt"
    told = report(checker, changed(NYLON, {"dyes.0.class": word})).cautions
    assert [text[: text.index(metal)] for text in told if metal in text] == ["If it is acid metal-complex dye: "]
    known = report(checker, changed(NYLON, {"dyes.0.class": "acid metal-complex"})).cautions
    assert any(text.startswith(metal) for text in known)


def test_a_caution_of_all_the_classes_it_may_be_is_told_as_it_is(checker: Checker) -> None:
    told = report(checker, changed(NYLON, {"dyes.0.class": "fibre-reactive"})).cautions
    assert any(text.startswith("The dry powder can bring on asthma for life") for text in told)
    assert not any(text.startswith("If it is") for text in told)
