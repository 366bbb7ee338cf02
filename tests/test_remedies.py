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


def _topics(report: Report) -> dict[str, tuple[int, int]]:
    worst: dict[str, tuple[int, int]] = {}
    for finding in report.findings:
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
    after = checker.check(read_plan(tomllib.loads(amended(tomlkit.dumps(data), report.way_out))))
    before = _topics(report)
    worse = [topic for topic, grave in _topics(after).items() if topic not in before or grave < before[topic]]
    assert not worse, (seed, worse)
    assert after.verdict == report.way_out.verdict, seed
    assert bool(report.way_out.left) == (after.exit_status == 1), seed
    return seconds


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
