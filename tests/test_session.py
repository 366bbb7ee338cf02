"""Sessions: reading, what follows for the baths, and the check of the class."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.facts.session import group_limit
from advisor.knowledge import knowledge
from advisor.plan import InputError, load_plan, read_plan
from advisor.session import Session, load_session, plan_for, read_session
from advisor.session_check import SessionReport, check_session

EXAMPLES = Path(__file__).resolve().parents[1] / "examples" / "sessions"
EVENING, SCHOOL = "sessions/evening-class", "sessions/school-group"


def session(base: str = EVENING, **change: Any) -> Session:
    """A base session with dotted changes, dots written as two underscores."""
    return read_session(changed(base_plan(base), {path.replace("__", "."): value for path, value in change.items()}))


def checked(checker: Checker, base: str = EVENING, **change: Any) -> SessionReport:
    return check_session(session(base, **change), checker)


# --- reading ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        ("learners.number", "many", "accepted: 12, '10 to 14', or 'unknown'"),
        ("learners.number", -1, "accepted: 12"),
        ("learners.number", "14 to 10", "the smaller number first"),
        ("learners.number", 501, "0 to 500"),
        ("learners.number", True, "accepted: 12"),
        ("learners.ages", "youngsters", "accepted: 14, [13, 14, 16]"),
        ("learners.ages", "15 to 13", "the lower one first"),
        ("learners.ages", [13, 130], "no ages in years"),
        ("learners.ages", [], "are no ages"),
        ("learners.needs", ["asthmaa"], "is not a known need; accepted: child"),
        ("learners.needs", "asthma", "expected a list of words"),
        ("learners.number_of", 3, "unknown key"),
        ("supervisors.names", [""], "expected a list of names"),
        ("supervisors.names", ["x" * 201], "up to 200"),
        ("date", "next Tuesday", "accepted: 2027-03-14"),
        ("place", "Britain", "ISO 3166-1"),
        ("language", "latin", "Accepted: de, en, es"),
        ("room.kind", "attic", "is not a known space"),
        ("room.eyewash", "puddle", "Accepted: plumbed, bottle, none"),
        ("room.telephone", "perhaps", "expected true, false or 'unknown'"),
        ("stations.0.powder", "nobody", "adult before class"),
        ("stations.0.plan", "none.toml", "cannot be read"),
        ("stations.0.plan", 3, "expected the path of a plan file"),
        ("stations", [], "is empty; a session needs at least one [[stations]]"),
        ("title", "x" * 10_000, "accepted: up to 500"),
    ],
)
def test_an_error_names_file_path_value_and_what_is_accepted(path: str, value: object, told: str) -> None:
    data = changed(base_plan(EVENING), {path: value})
    with pytest.raises(InputError) as error:
        read_session(data, file="evening.toml")
    assert error.value.file == "evening.toml"
    assert error.value.field == path
    assert told in str(error.value)


def test_a_station_without_a_plan() -> None:
    with pytest.raises(InputError) as error:
        read_session({"stations": [{}]})
    told = "is missing; accepted: the path of a plan file, or a table with the plan"
    assert (error.value.field, error.value.detail) == ("stations.0.plan", told)


def test_what_is_wrong_in_a_plan_names_that_plan(tmp_path: Path) -> None:
    (tmp_path / "bath.toml").write_text(
        '[[goods]]\nfibres = "100% wolo"\n[[dyes]]\nclass = "acid levelling"\n', encoding="utf-8"
    )
    (tmp_path / "s.toml").write_text('[[stations]]\nname = "a"\nplan = "bath.toml"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"bath\.toml: goods\.0\.fibres"):
        load_session(tmp_path / "s.toml")


def test_a_plan_is_found_from_the_session_file_wherever_the_program_runs(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    loaded = load_session(EXAMPLES / "school-shirts.toml")
    assert loaded.stations[0].plan.plan.title == "Class shirts, sea blue"
    assert loaded.stations[0].plan.file == "../class-shirts-blue.toml"


@pytest.mark.parametrize(
    ("ages", "youngest", "children", "teenagers", "minors"),
    [
        (12, 12, True, False, True),
        (13, 13, False, True, True),
        (17, 17, False, True, True),
        (18, 18, False, False, False),
        ("adults", 18, False, False, False),
        ("18 and over", 18, False, False, False),
        ("16+", 16, False, True, True),
        ([9, 40], 9, True, False, True),
        ("9 to 40", 9, True, True, True),
        ("unknown", 0, None, None, None),
    ],
)
def test_ages(
    ages: object, youngest: float, children: bool | None, teenagers: bool | None, minors: bool | None
) -> None:
    made = session(learners__ages=ages)
    assert made.learners.ages.youngest.low == youngest
    assert (made.children, made.teenagers, made.minors) == (children, teenagers, minors)


def test_words_are_found_by_synonyms_and_the_area_takes_its_unit() -> None:
    made = session(learners__needs=["pregnancy", "Wheelchair", "pregnant"], room__floor_area="60 m²")
    assert made.learners.needs == ("pregnant", "wheelchair user")
    assert made.room.floor_area.interval.low == 60


# --- what follows for a bath --------------------------------------------------------------------------------


def test_the_class_goes_into_the_plan_of_each_bath() -> None:
    made = session(SCHOOL, learners__needs=["asthma", "wheelchair user"], place="NZ")
    plan = plan_for(made, made.stations[0])
    assert plan.people.present == ("asthma", "teenager")
    assert plan.place == made.stations[0].plan.plan.place  # what the plan states stays


def test_room_and_country_fill_in_what_the_plan_leaves_open() -> None:
    change = {
        "place": "NZ",
        "room__ventilation": "fan to outdoors",
        "room__volume": "90 m^3",
        "room__food_or_drink": True,
    }
    made = session(**change, stations__0__plan__space="unknown", stations__0__plan__place="unknown")
    plan = plan_for(made, made.stations[0])
    assert (plan.place, plan.space.kind, plan.space.ventilation) == ("NZ", "laundry room", "fan to outdoors")
    assert plan.space.volume.interval.low == 90
    assert plan.space.food_out is True


def test_the_figures_of_a_bath_stay_those_of_its_plan(checker: Checker) -> None:
    report = check_session(load_session(EXAMPLES / "school-shirts.toml"), checker)
    alone = checker.check(load_plan(EXAMPLES.parent / "class-shirts-blue.toml"))
    assert report.stations[0].report.measures == alone.measures


# --- numbers and chemicals -----------------------------------------------------------------------------------


def rules_of(report: SessionReport) -> set[str]:
    return {finding.rule for finding in report.findings}


def test_more_learners_at_the_stations_than_come_must_be_put_right_or_explained(checker: Checker) -> None:
    """Eight come, five stations count on five each: one of the numbers is wrong, unless the groups go round."""
    data = base_plan(SCHOOL)
    data["stations"] = [{**data["stations"][0], "name": f"bath {n}", "learners": 5, "gear_sets": 6} for n in range(5)]
    data["supervisors"]["number"] = 5
    data["room"]["floor_area"] = 200
    report = check_session(read_session(data), checker)
    assert rules_of(report) == {"class-more-places-than-learners"}
    assert report.exit_status == 1
    data["learners"]["in_turn"] = True
    assert rules_of(check_session(read_session(data), checker)) == set()
    data["learners"] |= {"in_turn": False, "number": 24}  # one place is left
    assert rules_of(check_session(read_session(data), checker)) == {"class-places-left"}


FORMIC = {"substance": "formic acid", "amount": "5 mL", "strength": "85 %"}


@pytest.mark.parametrize("strong", ["learners", "adult"])
def test_strong_formic_acid_is_nothing_for_a_class_whoever_handles_it(strong: str, checker: Checker) -> None:
    report = checked(checker, stations__0__plan__assists=[FORMIC], stations__0__strong=strong)
    assert report.exit_status == 1
    assert "class-chemical-not-for-class" in rules_of(report)
    assert ("class-learners-handle-strong" in rules_of(report)) is (strong == "learners")


def test_what_its_row_says_is_not_for_a_class_is_marked_so() -> None:
    """The sentence that people read and the mark that rules read are one."""
    for row in knowledge().substances:
        said = re.search(r"\b[Nn]ot (?:for|in|a dye for) (?:a \w+ or )?a class", " ".join(row.cautions))
        assert row.not_for_class is bool(said), row.id


# --- the check ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("base", [EVENING, SCHOOL])
def test_the_class_of_the_base_sessions_has_nothing_amiss(base: str, checker: Checker) -> None:
    report = checked(checker, base)
    assert report.findings == ()
    assert report.questions == ()


def test_the_worst_verdict_holds(checker: Checker) -> None:
    assert checked(checker).verdict == "ready"
    assert checked(checker, learners__ages="unknown").verdict == "cannot tell"
    assert checked(checker, stations__0__plan__space__chemicals="unknown").verdict == "ready with cautions"
    assert checked(checker, stations__1__plan__dyes__0__maximum="unknown").verdict == "cannot tell"
    assert checked(checker, room__soap=False).verdict == "ready with cautions"
    assert checked(checker, room__exits_clear=False).verdict == "change first"
    assert checked(checker, stations__0__plan__vessel__used_for_food=True).verdict in ("do not start", "change first")
    assert checked(checker, SCHOOL, stations__0__powder="learners").verdict == "do not start"


def test_children_at_a_bath_change_the_answer_of_the_bath_itself(checker: Checker) -> None:
    """The plan alone is ready; its dry reactive dye is not for a room with children, and dissolved needs care."""
    ages = "8 to 11"
    grown, before = checked(checker), checked(checker, SCHOOL, learners__ages=ages)
    during = checked(checker, SCHOOL, learners__ages=ages, stations__1__powder="adult in class")
    assert grown.stations[1].report.exit_status == 0
    assert during.stations[1].report.exit_status == 1
    assert before.stations[1].report.exit_status == 0
    rules = {finding.rule for finding in before.stations[1].report.findings}
    assert "child-dissolved-before" in rules
    assert "child-supervision" not in rules


def test_learners_are_not_away_from_powder_that_is_weighed_in_class(checker: Checker) -> None:
    """The adult opens the dye before class; the borax dusts too, and nobody says who opens it."""
    change = {"learners__ages": "8 to 11", "stations__1__plan__assists__2": {"substance": "borax", "amount": "5 g"}}
    report = checked(checker, SCHOOL, **change).stations[1].report
    assert "child-supervision" in {finding.rule for finding in report.findings}


def test_who_is_at_risk_by_the_plan_itself_is_not_taken_away_from_the_powder(checker: Checker) -> None:
    """Learners come in later; the person of the plan who weighs does not."""
    powder = {"stations__1__powder": "adult before class", "stations__1__plan__people__present": ["pregnant"]}
    report = checked(checker, SCHOOL, **powder).stations[1].report
    assert "person-at-risk" in {finding.rule for finding in report.findings}


FREE = frozenset({"title", "date", "time", "place", "venue"})  # nothing is decided by these


def leaves(data: Any, path: str = "") -> list[str]:
    if isinstance(data, dict):
        return [leaf for key, member in data.items() for leaf in leaves(member, f"{path}{key}.")]
    if isinstance(data, list) and data and isinstance(data[0], dict):
        return [leaf for number, member in enumerate(data) for leaf in leaves(member, f"{path}{number}.")]
    return [path.rstrip(".")]


@pytest.mark.parametrize(
    "path",
    [
        leaf
        for leaf in leaves(base_plan(SCHOOL))
        if leaf not in FREE and ".plan." not in leaf and not leaf.endswith(".name")
    ],
)
def test_what_is_unknown_is_asked_and_never_makes_ready(path: str, checker: Checker) -> None:
    report = check_session(read_session(changed(base_plan(SCHOOL), {path: "unknown"})), checker)
    asked = {question.field for question in report.questions}
    if path == "learners.needs":
        assert "class-needs-not-stated" in {finding.rule for finding in report.findings}
    elif path == "room.floor_area" or path in (
        "stations.0.hot",
        "stations.0.strong",
        "stations.1.hot",
        "stations.1.strong",
    ):
        # no area: no rule; who is at a bath matters where it is hot or holds something strong
        assert asked <= {path}
    else:
        assert path in asked, asked
        assert all(question.ask.endswith("?") or "Write []" in question.ask for question in report.questions)


def test_a_question_about_a_plan_is_put_in_the_words_of_the_plan(checker: Checker) -> None:
    report = checked(checker, stations__0__adults=0, stations__0__plan__bath__heat_source="unknown")
    asks = {question.field: question.ask for question in report.questions}
    assert asks["stations.0.plan.bath.heat_source"] == "wool: What heats the bath? Write none for a cold one."


@pytest.mark.parametrize(
    ("age", "most"),
    # NSPCC, Recommended adult to child ratios, 2023 (seen): 1 to 6 at 4-8, 1 to 8 at 9-12, 1 to 10 at 13-18;
    # for grown learners 12: common practice, no source
    [(6, 6), (8, 6), (9, 8), (12, 8), (13, 10), (17, 10), (18, 12), (60, 12)],
)
def test_supervision_by_age(age: int, most: float, checker: Checker) -> None:
    made = session(SCHOOL, learners__ages=age)
    limit = group_limit(made, "learners_per_adult", knowledge())
    assert (limit.low, limit.high) == (most, most)
    for number, fires in ((2 * most, False), (2 * most + 1, True)):
        report = checked(checker, SCHOOL, learners__ages=age, learners__number=int(number))
        assert ("class-unsupervised" in {f.rule for f in report.findings}) is fires


def test_the_limits_are_honest_about_their_sources() -> None:
    """Only what was seen in a document is called published, and every figure has a unit and a source."""
    limits = knowledge().class_limits
    published = {name for name, figure in limits.items() if figure.basis == "published"}
    assert {
        name for name in limits if name.startswith("learners_per_adult") and name != "learners_per_adult_adult"
    } <= published
    assert not any("station" in name or "warmest" in name for name in published)
    assert all(figure.unit and figure.source in knowledge().sources for figure in limits.values())


def test_every_question_about_a_class_has_its_words() -> None:
    fields = [leaf for leaf in leaves(base_plan(SCHOOL)) if ".plan." not in leaf]
    decided = [f for f in fields if f not in FREE - {"date"} and not f.endswith(".name")]
    assert [field for field in decided if knowledge().question(field).startswith("Please state")] == []


def test_a_session_can_be_given_as_data_with_plans_in_it(checker: Checker) -> None:
    plan = read_plan(base_plan("acid-on-wool"))
    made = read_session({"stations": [{"name": "a", "plan": plan}]})
    report = check_session(made, checker)
    assert report.verdict in ("cannot tell", "change first")
    assert not report.ready
