"""Ways out of findings: proved on the rulebook, for each rule and for broken plans."""

from __future__ import annotations

import io
import random
import statistics
import time
import tomllib
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import jsonschema
import pytest
import tomlkit
from broken_plans import broken_plan

import advisor
from advisor.amend import amended
from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.findings import Report
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.plan import InputError, Plan, read_plan
from advisor.remedies.acts import PAPERS
from advisor.remedies.amounts import restated, scaled
from advisor.remedies.bench import Bench
from advisor.remedies.candidates import MAKERS
from advisor.remedies.changes import applied, clash, merged, steps_of, tidy
from advisor.remedies.dosing import usual_dose
from advisor.remedies.proof import gravity
from advisor.render.data import report_data
from advisor.render.schema import report_schema
from advisor.render.terminal import print_report
from advisor.rulebook import EFFECTS, SIGNALS, Rule, rulebook

LEAST_SHARE = 0.9  # of the rules that stop or change a plan, those whose firing case has a proved way out
OF_A_CLASS = "sessions/"


def _stopping() -> list[Rule]:
    return [rule for rule in rulebook().findings_rules if rule.effect != "caution"]


def _case(rule: Rule) -> dict[str, Any]:
    return changed(base_plan(rule.cases.fires[0].plan), rule.cases.fires[0].change)


# --------------------------------------------------------------------------------------- every rule


BATHS = [rule for rule in _stopping() if not rule.cases.fires[0].plan.startswith(OF_A_CLASS)]


@pytest.mark.parametrize("rule", BATHS, ids=lambda rule: rule.id)
def test_the_first_firing_case_has_a_proved_way_out_or_a_reason(checker: Checker, rule: Rule) -> None:
    report = checker.check(read_plan(_case(rule)), remedies=True)
    mine = [finding for finding in report.findings if finding.rule == rule.id]
    assert mine
    if rule.no_remedy is not None:
        assert rule.remedy is None
        assert rule.no_remedy in [stuck.why for stuck in report.way_out.left if stuck.rule == rule.id]  # type: ignore[union-attr]
        return
    for finding in mine:
        assert finding.remedy is not None
        assert finding.remedy.verified
        # proved once more, by other means: the whole check, both evaluations, findings compared by hand
        after = checker.check(read_plan(applied(_case(rule), finding.remedy.changes)[0]))
        grave = gravity(rule)
        known = {f.rule for f in report.findings}
        assert rule.id not in {f.rule for f in after.findings if f.subject == finding.subject} - {
            f.rule for f in mine if f.subject != finding.subject
        }
        new = [checker.rulebook.rule(f.rule) for f in after.findings if f.rule not in known]
        assert not [other.id for other in new if gravity(other) <= grave]


def test_nine_rules_in_ten_have_a_way_out() -> None:
    rules = _stopping()
    without = [rule.id for rule in BATHS if rule.no_remedy is not None]
    share = 1 - len(without) / len(BATHS)
    print(f"{len(BATHS)} rules stop or change a bath; {share:.1%} have a proved way out; a reason why not: {without}")
    print(f"with those on a class: {1 - sum(r.no_remedy is not None for r in rules) / len(rules):.1%} of {len(rules)}")
    assert share >= LEAST_SHARE
    assert all((rule.remedy is None) != (rule.no_remedy is None) for rule in rules)


def test_the_table_of_ways_out_is_the_list_of_remedies() -> None:
    assert set(knowledge().ways_out.ids) == set(MAKERS)


# --------------------------------------------------------------------------------------- single plans


@pytest.mark.parametrize(
    ("plan", "change", "wanted"),
    [
        # 1.5 % of 100 g, on a scale with steps of 0.01 g and of 1 g; worked out by hand
        ("acid-on-nylon", {"dyes.0.amount": "2 g"}, {"dyes.0.amount": "1.5 g"}),
        ("acid-on-nylon", {"dyes.0.amount": "2 %"}, {"dyes.0.amount": "1.5 %"}),
        ("acid-on-nylon", {"dyes.0.amount": "1/4 oz"}, {"dyes.0.amount": "0.0529 oz"}),
        ("acid-on-nylon", {"bath.water": "1 L"}, {"bath.water": "2 L"}),  # 20 L/kg x 0.1 kg
        ("acid-on-nylon", {"bath.water": "1000 mL"}, {"bath.water": "2000 mL"}),
        ("acid-on-nylon", {"bath.temperature": "140 degF"}, {"bath.temperature": "176 degF"}),  # 80 degC
        ("acid-on-nylon", {"bath.hold": "0.1 h"}, {"bath.hold": "0.334 h"}),  # 20 min, rounded up
        ("acid-on-nylon", {"vessel.capacity": "4 L"}, {"vessel.capacity": "5.5 L"}),  # 5.11 L, next size up
        ("acid-on-nylon", {"bath.before": ["bleach"]}, {"bath.before": []}),
        ("acid-on-nylon", {"people.present": ["kid"]}, {"people.away_from_powder": ["child"]}),
    ],
)  # fmt: skip
def test_the_smallest_change(
    checker: Checker, base: Callable[..., Plan], plan: str, change: dict[str, Any], wanted: dict[str, Any]
) -> None:
    if "kid" in str(change) and knowledge().people.find("kid") is None:
        pytest.skip("no such synonym")
    report = checker.check(base(plan, change), remedies=True)
    first = next(finding for finding in report.findings if finding.effect != "caution")
    assert first.remedy is not None
    assert dict(first.remedy.changes) == wanted


@pytest.mark.parametrize(
    ("plan", "change", "wanted"),
    [
        # powders and somebody who must not breathe them: kept away, not called a solution
        ("reactive-on-cotton", {"people.present": ["asthma"]}, {"people.away_from_powder": ["asthma"]}),
        ("acid-on-wool", {"people.present": ["pregnant"]}, {"people.away_from_powder": ["pregnant"]}),
        # a house with a tank has no sewer, one with a street drain mostly has
        ("metal-complex-on-wool", {"aftercare.drain": "septic"}, {"aftercare.drain": "collected"}),
        ("vat-on-cotton", {"aftercare.drain": "septic"}, {"aftercare.drain": "collected"}),
        ("mordant-on-wool", {"aftercare.drain": "storm drain"}, {"aftercare.drain": "sewer"}),
        # 200 g at the geometric mean of 80 and 700 mmol/kg is 47.3 mmol: by hand 56.8 mL at 50 g/L and 60.05 g/mol
        ("acid-on-wool", {"assists.0": {"substance": "white vinegar", "amount": "1 L", "strength": "5 %"}},
         {"assists.0.amount": "56.8 mL"}),
        # 8 mmol/L x 6 L takes 57.6 mL, and the least usual, 80 mmol/kg x 0.2 kg, is 19.2 mL more
        ("acid-on-wool", {"assists.0": {"substance": "white vinegar", "amount": "10 mL", "strength": "5 %"},
                          "bath.alkalinity": "400 mg/L"}, {"assists.0.amount": "76.9 mL"}),
        # whole steps of the scale
        ("acid-on-wool", {"assists.0.amount": "0.5 g", "scale.resolution": "1 g"}, {"assists.0.amount": "2 g"}),
        # 2 g on a scale with steps of 1 g may be 3 g, and 1 g is a guess; 4 g may be 5 g, and 3 g is no guess
        ("acid-on-wool", {"goods.0.dry_mass": "100 g", "dyes.0.amount": "5 g", "scale.resolution": "1 g"},
         {"dyes.0.amount": "2 g", "scale.resolution": "0.1 g"}),
        ("acid-on-wool", {"dyes.0.amount": "5 g", "scale.resolution": "1 g"}, {"dyes.0.amount": "3 g"}),
    ],
)  # fmt: skip
def test_ways_out_aim_inside_what_is_usual(
    checker: Checker, base: Callable[..., Plan], plan: str, change: dict[str, Any], wanted: dict[str, Any]
) -> None:
    report = checker.check(base(plan, change), remedies=True)
    first = next(finding for finding in report.findings if finding.effect != "caution")
    assert first.remedy is not None
    assert dict(first.remedy.changes) == wanted
    assert report.way_out is not None
    assert report.way_out.verdict in ("ready", "ready with cautions")


def test_another_dye_does_not_keep_the_papers_of_the_old_one(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("reactive-on-cotton", {"goods.0.fibres": "100% wool"}), remedies=True)
    assert report.way_out is not None
    for changes in (report.findings[0].remedy.changes, report.way_out.changes):  # type: ignore[union-attr]
        assert changes["dyes.0.class"] == "acid levelling"  # the class that wool takes best
        assert changes["dyes.0.name"] == "another dye, acid levelling"
        assert [changes[f"dyes.0.{paper}"] for paper in PAPERS] == ["unknown"] * 3
        assert changes["bath.heat_source"] == "electric hob"
        assert changes["assists.0.amount"] == "24.7 g"  # salt, between 5 and 10 % of 400 g
    assert report.way_out.verdict == "cannot tell"
    assert not report.way_out.left
    assert "with 4 % again the verdict would be: ready" in report.way_out.notes["dyes.0.maximum"]


@pytest.mark.parametrize(
    ("plan", "change", "path", "act"),
    [
        ("direct-on-cotton", {"dyes.0.old_stock": True}, "dyes.0.old_stock", "buy another dye"),
        ("acid-on-nylon", {"vessel.used_for_food": True}, "vessel.used_for_food", "take another pot"),
        ("reactive-on-cotton", {"dyes.0.safety_data_sheet": "not read"}, "dyes.0.safety_data_sheet", "get the sheet"),
        ("acid-on-nylon", {"bath.before": ["bleach"]}, "bath.before", "empty the pot"),
    ],
)
def test_a_changed_word_says_the_act_behind_it(
    checker: Checker, base: Callable[..., Plan], plan: str, change: dict[str, Any], path: str, act: str
) -> None:
    report = checker.check(base(plan, change), remedies=True)
    remedy, way_out = report.findings[0].remedy, report.way_out
    assert remedy is not None
    assert way_out is not None
    data = report_data(report)
    for steps, notes in (
        (remedy.steps, data["findings"][0]["remedy"]["notes"]),
        (way_out.steps, data["way_out"]["notes"]),
    ):
        assert act in notes[path]
        assert act in next(after for changed_path, _, after in steps if changed_path == path)


def test_suspected_stock_is_another_dye(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("direct-on-cotton", {"dyes.0.old_stock": True}), remedies=True)
    assert report.way_out is not None
    assert report.way_out.changes["dyes.0.name"] == "another dye, direct"
    assert report.way_out.verdict == "cannot tell"


def test_a_solution_in_place_of_powder_is_made_elsewhere(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("acid-on-nylon", {"people.present": ["asthma"]}), remedies=True)
    finding = next(finding for finding in report.findings if finding.rule == "asthma-dust")
    assert finding.remedy is None  # nothing else is wrong, so no ways out are looked for
    change = {"people.present": ["asthma"], "dyes.0.amount": "2 g"}
    report = checker.check(base("acid-on-nylon", change), remedies=True)
    finding = next(finding for finding in report.findings if finding.rule == "asthma-dust")
    assert finding.remedy is not None
    assert finding.remedy.changes["dyes.0.form"] == "solution"
    assert "somebody else weighs and dissolves it beforehand" in finding.remedy.notes["dyes.0.form"]


@pytest.mark.parametrize("plan", ["acid-on-nylon", "acid-on-wool"])
def test_another_class_is_taken_inside_its_window(checker: Checker, base: Callable[..., Plan], plan: str) -> None:
    """Dichlorotriazine dyes want 20 to 40 degC, vinyl-sulphone dyes 40 to 60 degC: from memory, Shore (1995)."""
    report = checker.check(base(plan, {"goods.0.fibres": "100% cotton"}), remedies=True)
    assert report.way_out is not None
    assert report.way_out.changes["dyes.0.class"] == "fibre-reactive cold"
    assert report.way_out.changes["bath.temperature"] == "40 degC"


def test_the_dye_in_hand_gets_what_it_needs(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("vat-on-cotton", {"assists": []}), remedies=True)
    assert report.way_out is not None
    assert {entry["substance"] for path, entry in report.way_out.changes.items() if path.startswith("assists.")} == {
        "sodium hydroxide",
        "thiourea dioxide",
    }
    assert "dyes.0.class" not in report.way_out.changes
    assert report.way_out.verdict == "ready with cautions"
    for finding in report.findings:
        if finding.topic == "assist-missing":
            assert finding.remedy is not None
            assert "dyes.0.class" not in finding.remedy.changes


def test_batches_hold_equal_shares(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("acid-on-nylon", {"goods.0.dry_mass": "400 g", "dyes.0.amount": "4 g"}), remedies=True)
    finding = next(f for f in report.findings if f.rule == "vessel-too-small")
    assert finding.remedy is not None
    assert finding.remedy.changes["goods.0.dry_mass"] == "200 g"  # a pot of 8 L takes 306 g at 20 L/kg
    assert finding.remedy.changes["dyes.0.amount"] == "2 g"
    assert finding.remedy.changes["assists.0.amount"] == "15 mL"


def test_a_plan_that_nothing_stops_pays_nothing(checker: Checker, base: Callable[..., Plan], monkeypatch: Any) -> None:
    monkeypatch.setattr(checker, "try_out", lambda plan: pytest.fail("tried changes out"))
    for change in ({}, {"goods.0.trims": ["polyester thread"]}, {"bath.water": "unknown"}):
        report = checker.check(base("acid-on-nylon", change), remedies=True)
        assert report.way_out is None
        assert all(finding.remedy is None for finding in report.findings)


def test_what_no_change_lifts_is_named(checker: Checker, base: Callable[..., Plan]) -> None:
    change = {"goods.0.finishes": ["water repellent"], "dyes.0.amount": "2 g"}
    report = checker.check(base("acid-on-nylon", change), remedies=True)
    assert report.way_out is not None
    assert report.way_out.changes == {"dyes.0.amount": "1.5 g"}
    assert [stuck.rule for stuck in report.way_out.left] == ["finish-blocks-dye"]
    assert report.way_out.verdict == "change first"


def test_open_questions_stand(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("acid-on-nylon", {"dyes.0.amount": "2 g", "bath.water": "unknown"}), remedies=True)
    assert report.way_out is not None
    assert report.way_out.verdict == "cannot tell"
    assert "bath.water" not in report.way_out.changes


def test_measuring_as_a_stock_solution_does_not_stand_in_for_gear(checker: Checker, base: Callable[..., Plan]) -> None:
    # the powder is weighed once, for the stock, so the lungs still need their guard
    change = {"scale.resolution": "1 g", "people.wearing.1": "hair tied back"}
    report = checker.check(base("acid-on-nylon", change), remedies=True)
    assert report.way_out is not None
    assert report.way_out.changes["dyes.0.form"] == "solution"
    assert "half-mask respirator P100" in report.way_out.changes["people.wearing"]


def test_from_a_file_from_data_and_from_a_plan() -> None:
    data = changed(base_plan("acid-on-nylon"), {"dyes.0.amount": "2 g"})
    for given in (data, read_plan(data)):
        finding = advisor.check(given).findings[0]
        assert finding.remedy is not None
        assert finding.remedy.changes == {"dyes.0.amount": "1.5 g"}
    made = Plan(goods=read_plan(data).goods, dyes=read_plan(data).dyes)
    assert advisor.check(made).way_out is None  # made in Python: there is no text to change


def test_the_report_shows_before_and_after(checker: Checker, base: Callable[..., Plan]) -> None:
    change = {"dyes.0.amount": "2 g", "assists.1": {"substance": "soda ash", "amount": "5 g"}}
    report = checker.check(base("acid-on-nylon", change), remedies=True)
    jsonschema.validate(report_data(report), report_schema())
    stream = io.StringIO()
    print_report(report, stream, width=80)
    assert "Fix: dyes.0.amount: 2 g -> 1.5 g" in stream.getvalue()
    assert "assists.1: substance soda ash, amount 5 g -> left out" in stream.getvalue()


# --------------------------------------------------------------------------------------- broken plans


def _topics(report: Report, added: frozenset[str] = frozenset()) -> dict[str, tuple[int, int]]:
    """The gravest finding of each topic, but for cautions about a chemical that was added."""
    worst: dict[str, tuple[int, int]] = {}
    for finding in report.findings:
        if finding.effect == "caution" and finding.subject in added:
            continue
        grave = EFFECTS.index(finding.effect), SIGNALS.index(finding.signal)
        worst[finding.topic] = min(worst.get(finding.topic, grave), grave)
    return worst


def _amend(checker: Checker, seed: int) -> float | None:
    """Amend a broken plan and look at what came out; the seconds it took, None for a plan that was not broken."""
    data = broken_plan(random.Random(seed))
    try:
        plan = read_plan(data)
    except InputError:  # two faults together may make no plan at all
        return None
    start = time.perf_counter()
    report = checker.check(plan, remedies=True)
    seconds = time.perf_counter() - start
    if report.way_out is None:
        return None
    new = tomllib.loads(amended(tomlkit.dumps(data), report.way_out))
    after = checker.check(read_plan(new))
    before = _topics(report)
    read = checker.check(read_plan(_with_papers(new, data, applied(data, report.way_out.changes)[1].left["dyes"])))
    assert [f.rule for f in after.findings if f.effect != "caution"] == [
        f.rule for f in read.findings if f.effect != "caution"
    ]  # papers that are still to be read ask, and stop nothing
    worse = [
        topic
        for topic, grave in _topics(read, _added(new, data)).items()
        if topic not in before or grave < before[topic]
    ]
    assert not worse, (seed, worse)
    assert after.verdict == report.way_out.verdict, seed
    assert bool(report.way_out.left) == (after.exit_status == 1), seed
    return seconds


def _added(new: dict[str, Any], old: dict[str, Any]) -> frozenset[str]:
    had = [assist.get("substance") for assist in old.get("assists") or ()]
    return frozenset(f"assists.{n}" for n, a in enumerate(new.get("assists") or ()) if a.get("substance") not in had)


def _with_papers(new: dict[str, Any], old: dict[str, Any], left: tuple[int, ...]) -> dict[str, Any]:
    """The plan when another dye's sheet is read, and holds nothing bad and has the old dye's maximum."""
    dyes = [dict(dye) for dye in new["dyes"]]
    for dye, number in zip(dyes, left, strict=True):
        if str(dye.get("name", "")).startswith("another dye"):
            was = old["dyes"][number]
            dye.update({paper: was[paper] for paper in PAPERS if paper in was and dye.get(paper) == "unknown"})
            dye["safety_data_sheet"] = "read"
            dye["contains"] = []
    return {**new, "dyes": dyes}


def _sweep(checker: Checker, seeds: range) -> None:
    taken = [seconds for seed in seeds if (seconds := _amend(checker, seed)) is not None]
    print(f"{len(taken)} broken plans; median {statistics.median(taken):.3f} s, longest {max(taken):.2f} s")
    assert len(taken) > len(seeds) * 0.6  # else the plans are not broken enough to say anything


@pytest.mark.parametrize("first", range(0, 24, 6))  # in parts, for the test runner to spread
def test_amended_plans_are_worse_in_no_topic(checker: Checker, first: int) -> None:
    _sweep(checker, range(first, first + 6))


@pytest.mark.sweep
def test_amended_plans_are_worse_in_no_topic_at_length(checker: Checker, request: pytest.FixtureRequest) -> None:
    if "sweep" not in request.config.option.markexpr:
        pytest.skip("a long sweep; run with -m sweep")
    _sweep(checker, range(24, 560))


# --------------------------------------------------------------------------------------- changes and amounts


def test_changes_keep_the_numbers_of_the_plan_as_written() -> None:
    data = {"assists": [{"a": 1}, {"a": 2}], "people": {"wearing": ["x", "y"]}}
    done, numbering = applied(data, {"assists.0": None, "assists.3": {"a": 4}, "people.wearing": ["x"]})
    assert done == {"assists": [{"a": 2}, {"a": 4}], "people": {"wearing": ["x"]}}
    assert numbering.old("assists.0.a") == "assists.1.a"
    assert numbering.old("assists.2") == "assists.4"  # the first free number
    assert data["assists"] == [{"a": 1}, {"a": 2}]


def test_merging_adds_up_words_and_lets_what_is_taken_out_be() -> None:
    data = {"people": {"wearing": ["x", "y"]}, "assists": [{"a": 1}]}
    first = {"people.wearing": ["x", "y", "z"], "assists.0": None, "assists.1": {"a": 1}}
    both = merged(data, first, {"people.wearing": ["x"], "assists.0.a": 5, "assists.1.a": 7})
    assert both == {"people.wearing": ["x", "z"], "assists.0": None, "assists.1": {"a": 7}}
    assert clash({"a.b": 1}, {"a": None})
    assert clash({"a": "1 g"}, {"a": "2 g"})
    assert not clash({"a": ["x"]}, {"a": ["y"]})


def test_tidy_drops_what_changes_nothing_and_closes_gaps() -> None:
    data = {"assists": [{"a": 1}], "bath": {"water": "4 L"}}
    changes = {"bath.water": "4 L", "assists.2": {"a": 3}, "assists.1": None, "assists.0.b": None}
    assert tidy(data, changes) == {"assists.1": {"a": 3}}


def test_an_added_entry_is_told_as_one() -> None:
    assert tidy({"assists": []}, {"assists.0.a": 1, "assists.0.b": None, "assists.0.c": 3}) == {
        "assists.0": {"a": 1, "c": 3}
    }


def test_steps_in_words() -> None:
    data = {"bath": {"attended": False}, "people": {"wearing": ["apron", "cloth mask"]}}
    changes = {"bath.attended": True, "people.wearing": ["apron", "long sleeves"], "scale.resolution": "0.1 g"}
    assert list(steps_of(data, changes)) == [
        ("bath.attended", "no", "yes"),
        ("people.wearing", "cloth mask", "with long sleeves"),
        ("scale.resolution", "not stated", "0.1 g"),
    ]


@pytest.mark.parametrize(
    ("raw", "kind", "value", "towards", "wanted"),
    [
        ("2 g", "mass", 1.23456, "down", "1.23 g"),
        ("2 g", "mass", 1.23456, "up", "1.24 g"),
        ("2 g", "mass", 1.5000000001, "up", "1.5 g"),  # equal to nine digits is equal
        ("1 lb 2 oz", "mass", 28.349523125, "near", "1 oz"),  # one avoirdupois ounce, exactly
        ("195 °F", "temperature", 60.0, "down", "140 °F"),
        ("unknown", "volume", 0.25, "up", "250 mL"),
        ("unknown", "volume", 2.5, "up", "2.5 L"),
        ("3 g to 4 g", "mass", 1.0, "down", "1 g"),
        ("about 90 min", "time", 20.0, "up", "20 min"),
    ],
)
def test_amounts_in_the_unit_of_the_person(raw: str, kind: str, value: float, towards: Any, wanted: str) -> None:
    assert restated(raw, kind, value, towards) == wanted


def test_whole_steps_of_the_scale() -> None:
    assert restated("2 g", "mass", 1.57, "down", step=0.1) == "1.5 g"
    assert restated("2 g", "mass", 0.04, "down", step=0.1) == "0.04 g"  # less than one step: left to a stock solution


def test_little_of_a_litre_is_told_in_millilitres() -> None:
    assert restated("1 L", "volume", 0.0568, "down") == "56.8 mL"
    assert (
        restated("1 pint", "volume", 0.0568, "down", place="GB") == "0.0999 pint"
    )  # 568.26125 mL, Weights and Measures Act


def test_a_range_stays_a_range() -> None:
    assert scaled("180 g to 220 g", "mass", (180.0, 220.0), 0.5, "near") == "90 g to 110 g"


# --------------------------------------------------------------------------------------- usual doses


def test_a_usual_dose_of_a_solution_goes_by_its_density() -> None:
    """Ammonia is sold by mass. By hand, for 10 L of vat at 0.5 g/L: 5 g at 5 % is 100 g, at 0.88 g/mL 113.6 mL or more."""
    plan = read_plan(changed(base_plan("indigo-on-cotton"), {"bath.water": "10 L"}))
    bench = cast(Bench, SimpleNamespace(plan=plan, work=work_out(plan, knowledge()), k=knowledge()))
    (use,) = (use for use in knowledge().dye_classes["indigo"].assists if "ammonia" in use.substances)
    dose = usual_dose(bench, use, "ammonia", 0.0)
    assert dose is not None
    assert dose["strength"] == "5 %"
    assert 113.6 <= float(dose["amount"].removesuffix(" mL")) <= 120
