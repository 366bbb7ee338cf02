"""Drains, septic tanks, metals, what is kept and how, whom to ask. Effects: common practice, no source, unless said."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

import pytest

from advisor.checking import Checker
from advisor.facts import build_facts
from advisor.findings import Report
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.paths import rules_root
from advisor.plan import InputError, Plan, read_plan

Base = Callable[..., Plan]
PLANS = sorted(
    path.name.removesuffix(".toml") for path in (rules_root() / "plans").iterdir() if path.name.endswith(".toml")
)
MINE = ("drain-", "label-", "storage-", "safety-data-sheet-", "local-rules", "kept-")
COPPER = {"substance": "copper(II) sulfate", "amount": "4 g"}
DICHROMATE = {"substance": "potassium dichromate", "amount": "2 g"}
BLEACH = {"substance": "sodium hypochlorite bleach", "amount": "50 mL"}
# ISO 3166-1 codes that issue 4 asks for
COUNTRIES = ("US", "CA", "GB", "IE", "DE", "FR", "ES", "IT", "NL", "PL", "SE", "AU", "NZ")


def rules_of(report: Report, topic: str = "") -> set[str]:
    return {f.rule for f in report.findings if topic in ("", f.topic)}


def effects_of(report: Report, topic: str) -> set[str]:
    return {f.effect for f in report.findings if f.topic == topic}


# --- where the bath goes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("plan", PLANS)
def test_a_good_plan_to_the_public_sewer_is_let_be(checker: Checker, base: Base, plan: str) -> None:
    """At home a small spent bath goes to the sewer; a metal in the dye is worth a caution, no more."""
    report = checker.check(base(plan))
    mine = {rule for rule in rules_of(report) if rule.startswith(MINE)}
    assert mine == ({"drain-metals-in-the-dye"} if plan == "metal-complex-on-wool" else set())
    assert report.verdict in ("ready", "ready with cautions")


@pytest.mark.parametrize("plan", PLANS)
def test_a_storm_drain_is_never_ready(checker: Checker, base: Base, plan: str) -> None:
    """40 CFR 122.26 (from memory): storm water is not treated."""
    report = checker.check(base(plan, {"aftercare.drain": "storm drain"}))
    assert "change" in effects_of(report, "drain-forbidden")
    assert report.verdict in ("change first", "do not start")


@pytest.mark.parametrize("plan", PLANS)
def test_the_ground_takes_plant_liquor_at_most(checker: Checker, base: Base, plan: str) -> None:
    report = checker.check(base(plan, {"aftercare.drain": "ground"}))
    assert effects_of(report, "drain-forbidden") >= ({"caution"} if plan == "mordant-on-wool" else {"change"})


@pytest.mark.parametrize("plan", PLANS)
def test_a_septic_tank_is_always_spoken_of(checker: Checker, base: Base, plan: str) -> None:
    """US EPA, When Is a Septic System Regulated as a Class V Well?: made for a household's water."""
    assert "drain-septic" in rules_of(checker.check(base(plan, {"aftercare.drain": "septic"})))


@pytest.mark.parametrize("plan", PLANS)
def test_collecting_settles_every_drain_rule(checker: Checker, base: Base, plan: str) -> None:
    report = checker.check(base(plan, {"aftercare.drain": "collected"}))
    assert not {rule for rule in rules_of(report) if rule.startswith("drain-")}


@pytest.mark.parametrize("plan", PLANS)
def test_an_unknown_drain_is_asked_for_and_not_passed(checker: Checker, base: Base, plan: str) -> None:
    report = checker.check(base(plan, {"aftercare.drain": "unknown"}))
    asked = {question.field: question for question in report.questions}
    assert {"drain-forbidden", "drain-septic"} <= set(asked["aftercare.drain"].settles)
    assert report.verdict == "cannot tell"


@pytest.mark.parametrize(
    ("drain", "effects"),
    [
        ("sewer", {"change"}),
        ("septic", {"change"}),
        ("ground", {"change"}),
        ("storm drain", {"change"}),
        ("collected", set()),
    ],
)
def test_copper_goes_to_no_drain_unasked(checker: Checker, base: Base, drain: str, effects: set[str]) -> None:
    """International Chemical Safety Card 1416: not into the environment."""
    report = checker.check(base("mordant-on-wool", {"assists.2": COPPER, "aftercare.drain": drain}))
    assert effects_of(report, "drain-metals") == effects


def test_the_copper_sum_of_the_text() -> None:
    """A quarter of copper sulfate pentahydrate is copper (CRC Handbook: 63.55 / 249.69); a third of 1 g in 10 L."""
    share = 63.55 / 249.69
    assert share == pytest.approx(0.25, abs=0.01)
    assert 1000 * share / 3 / 10 == pytest.approx(8, abs=0.6)


def test_dichromate_is_stopped_at_the_sewer(checker: Checker, base: Base) -> None:
    report = checker.check(base("mordant-on-wool", {"assists.0": DICHROMATE}))
    assert effects_of(report, "drain-metals") == {"stop"}
    assert "local-rules-dichromate" in rules_of(report)
    assert report.verdict == "do not start"


def test_metal_of_the_class_counts_when_the_plan_does_not_say(checker: Checker, base: Base) -> None:
    report = checker.check(base("metal-complex-on-wool", {"dyes.0.contains": "unknown", "aftercare.drain": "septic"}))
    assert effects_of(report, "drain-metals") == {"change"}


@pytest.mark.parametrize(
    ("plan", "change", "rule"),
    [
        ("direct-on-cotton", {"assists.1": BLEACH}, "drain-septic-bleach"),
        ("reactive-on-cotton", {}, "drain-septic-salt"),
        ("indigo-on-cotton", {}, "drain-septic-reducing"),
        ("basic-on-acrylic", {}, "drain-septic-water-life"),
        ("disperse-on-polyester", {}, "drain-forbidden-carrier"),
        ("acid-on-nylon", {"space.kind": "classroom"}, "drain-septic-trade"),
        ("mordant-on-wool", {}, "drain-metals-alum-or-iron"),
    ],
)
def test_what_harms_a_septic_tank(checker: Checker, base: Base, plan: str, change: dict[str, Any], rule: str) -> None:
    assert rule in rules_of(checker.check(base(plan, {**change, "aftercare.drain": "septic"})))
    assert rule not in rules_of(checker.check(base(plan, change)))


# --- what is kept -------------------------------------------------------------------------------------------


def storage_words(plan: Plan) -> dict[str, str]:
    facts = build_facts(work_out(plan, knowledge()), knowledge())
    (fact,) = [fact for fact in facts if fact.type == "storage"]
    return {name: str(value) for name, value in fact.values.items()}


@pytest.mark.parametrize(
    ("said", "word", "stated"), [(True, "yes", "yes"), (False, "no", "yes"), ("unknown", "unknown", "no")]
)
def test_storage_is_a_closed_fact(base: Base, said: object, word: str, stated: str) -> None:
    words = storage_words(base("acid-on-nylon", {"storage.stock_labelled": said, "storage.out_of_reach": said}))
    assert words == {
        "stock_labelled": word, "stock_labelled_stated": stated, "out_of_reach": word, "out_of_reach_stated": stated,
    }  # fmt: skip


def test_storage_left_out_is_unknown_and_asks_nothing_of_a_quiet_plan(checker: Checker, base: Base) -> None:
    assert storage_words(base("acid-on-nylon"))["out_of_reach"] == "unknown"
    report = checker.check(base("acid-on-nylon"))
    assert not [q for q in report.questions if q.field.startswith("storage.")]


def test_a_misspelt_storage_key_is_refused(base: Base) -> None:
    plan = tomllib.loads('[[goods]]\nname = "a"\n[[dyes]]\nname = "b"\n[storage]\nlabelled = true')
    with pytest.raises(InputError, match="stock_labelled"):
        read_plan(plan)


@pytest.mark.parametrize(
    ("leftover", "present", "effects"),
    [
        ("none", ["child"], set()),
        ("open vessel", [], set()),
        ("open vessel", ["child"], {"stop"}),
        ("labelled jar", ["child"], {"caution"}),
        ("labelled jar", ["teenager"], set()),
    ],
)
def test_children_and_what_is_kept(
    checker: Checker, base: Base, leftover: str, present: list[str], effects: set[str]
) -> None:
    stock = {} if leftover == "labelled jar" else {"storage.out_of_reach": True}
    change = {"aftercare.leftover": leftover, "people.present": present, **stock}
    report = checker.check(base("acid-on-nylon", change))
    assert effects_of(report, "storage-children") == effects


def test_stock_within_reach_is_certain_only_when_said(checker: Checker, base: Base) -> None:
    there: dict[str, Any] = {"people.present": ["child"]}
    silent = checker.check(base("vat-on-cotton", there))
    assert effects_of(silent, "storage-children") == {"caution"}, "says that it was not said"
    assert {q.field: q.effect for q in silent.questions}["storage.out_of_reach"] == "caution"
    said = checker.check(base("vat-on-cotton", {**there, "storage.out_of_reach": False}))
    assert "change" in effects_of(said, "storage-children")
    locked = checker.check(base("vat-on-cotton", {**there, "storage.out_of_reach": True}))
    assert effects_of(locked, "storage-children") == set()


@pytest.mark.parametrize(
    ("leftover", "effects"), [("none", set()), ("labelled jar", set()), ("open vessel", {"change"})]
)
def test_a_label_is_missing(checker: Checker, base: Base, leftover: str, effects: set[str]) -> None:
    report = checker.check(base("acid-on-nylon", {"aftercare.leftover": leftover}))
    assert effects_of(report, "label-missing") == effects


def test_a_label_at_school_says_what_workplace_rules_ask(checker: Checker, base: Base) -> None:
    """29 CFR 1910.1200(f)(6): product identifier, and words, pictures or symbols for the hazards."""
    report = checker.check(base("acid-on-nylon", {"aftercare.leftover": "labelled jar", "space.kind": "classroom"}))
    (found,) = [f for f in report.findings if f.rule == "label-at-work"]
    text = " ".join(found.do)
    assert all(word in text for word in ("product name", "signal word", "hazard words", "pictures"))


# --- paper --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "effect"),
    [
        ("acid-on-nylon", "caution"),
        ("direct-on-cotton", "caution"),
        ("reactive-on-cotton", "change"),
        ("hot-reactive-on-cotton", "change"),
        ("metal-complex-on-wool", "change"),
        ("basic-on-acrylic", "change"),
        ("vat-on-cotton", "change"),
        ("sulphur-on-cotton", "change"),
    ],
)
def test_the_data_sheet_weighs_by_what_the_class_can_do(checker: Checker, base: Base, plan: str, effect: str) -> None:
    topic = "safety-data-sheet-unread"
    unread = checker.check(base(plan, {"dyes.0.safety_data_sheet": "not read"}))
    assert ("change" in effects_of(unread, topic)) == (effect == "change")
    unsaid = checker.check(base(plan, {"dyes.0.safety_data_sheet": "unknown"}))
    assert effects_of(unsaid, topic) == set()
    asked = {q.field: q for q in unsaid.questions}["dyes.0.safety_data_sheet"]
    assert asked.effect == "caution"
    assert unsaid.verdict == "ready with cautions"


@pytest.mark.parametrize("kind", ["studio", "classroom"])
def test_who_is_no_household_is_sent_to_ask(checker: Checker, base: Base, kind: str) -> None:
    """40 CFR 403.5: for users that are no household."""
    assert "local-rules-waste-water" in rules_of(checker.check(base("acid-on-nylon", {"space.kind": kind})))
    collected = rules_of(checker.check(base("acid-on-nylon", {"space.kind": kind, "aftercare.drain": "collected"})))
    assert "local-rules-trade-waste" in collected
    assert "local-rules-waste-water" not in collected


@pytest.mark.parametrize("country", COUNTRIES)
def test_each_country_has_its_pointers(country: str) -> None:
    row = knowledge().places[country]
    for text in (
        row.emergency,
        row.poison,
        row.rules_at_work,
        row.rules_in_schools,
        row.rules_on_waste_water,
        row.local,
    ):
        assert len(text) >= 3
    assert any(character.isdigit() for character in row.emergency)
    assert knowledge().source(row.source).text


@pytest.mark.parametrize(
    ("country", "number"),
    [
        ("US", "1-800-222-1222"),
        ("CA", "1-844-764-7669"),
        ("IE", "01 809 2166"),
        ("FR", "01 45 42 59 59"),
        ("IT", "02 66101029"),
        ("SE", "010 456 67 00"),
        ("AT", "01 406 43 43"),
        ("BE", "070 245 245"),
        ("CH", "145"),
        ("DK", "82 12 12 12"),
        ("NO", "22 59 13 00"),
        ("FI", "0800 147 111"),
        ("NZ", "0800 764 766"),
        ("AU", "13 11 26"),
        ("NL", "088 755 8000"),
    ],
)
def test_poison_numbers_that_were_seen(country: str, number: str) -> None:
    """As published by the poison centre or health authority of the country; Canada as quoted by others."""
    assert number in knowledge().places[country].poison
