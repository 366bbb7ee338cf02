"""Screening: labels of many languages with answer and share, equality with `check`, ranking, matching, trials.

The expected answers follow the uptake table (trade knowledge and the books it names); the translations of fibre
names are those of the tables of labels. Labels are our own wording.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import advisor
from advisor.cli import main
from advisor.facts import build_facts
from advisor.findings import Report
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.plan import InputError, Plan, read_plan
from advisor.render.screen import answered_data, identify_lines, match_lines
from advisor.rulebook import rulebook
from advisor.screening import Answer, Screened, screen
from advisor.screening.answer import ANSWERS, goods_of, judge, judge_all
from advisor.screening.item import Answered, answer_label
from advisor.screening.tables import screen_tables

ACID, REACTIVE, DIRECT, DISPERSE = "acid levelling", "fibre-reactive cold", "direct", "disperse"
TAKES: Answer = "takes dye"
PART: Answer = "takes dye in part"
STAINS: Answer = "stains only"
UNDYED: Answer = "stays undyed"
HARMED: Answer = "harmed"
UNSURE: Answer = "cannot tell"


def one(label: str, dye_class: str = "", **more: Any) -> Screened:
    return screen(label, dye_class=dye_class, **more)[0]


# ------------------------------------------------------------------------------- labels held against answers

LABELS: list[tuple[str, str, Answer, tuple[float, float]]] = [
    ("100% cotton", DIRECT, TAKES, (100, 100)),
    ("100% cotton", ACID, STAINS, (0, 0)),
    ("75% wool, 25% nylon", ACID, TAKES, (100, 100)),
    ("80% nylon, 20% elastane", ACID, PART, (80, 80)),
    ("95% cotton, 5% elastane", REACTIVE, TAKES, (95, 95)),
    ("94% cotton, 6% elastane", REACTIVE, PART, (94, 94)),
    ("65% polyester, 35% cotton", DIRECT, PART, (35, 35)),
    ("100% polyester", ACID, UNDYED, (0, 0)),
    ("100% polyester", DISPERSE, TAKES, (100, 100)),
    ("96% polyester, 4% cotton", DIRECT, UNDYED, (4, 4)),
    ("60% polyester, 40% cotton", ACID, UNDYED, (0, 0)),
    ("60% cotton, 40% polyester", ACID, STAINS, (0, 0)),
    ("100% wool", REACTIVE, HARMED, (0, 0)),
    ("94% cotton, 6% wool", REACTIVE, HARMED, (94, 94)),
    ("95% cotton, 5% wool", REACTIVE, TAKES, (95, 95)),
    ("100% silk", DIRECT, PART, (100, 100)),
    ("60% cotton, 40% silk", DIRECT, PART, (100, 100)),
    ("100% acetate", "vat", HARMED, (0, 0)),
    ("100% Baumwolle", REACTIVE, TAKES, (100, 100)),
    ("80 % Schurwolle, 20 % Polyamid", ACID, TAKES, (100, 100)),
    ("62,5 % Baumwolle, 37,5 % Polyester", DIRECT, PART, (62.5, 62.5)),
    ("Oberstoff: 100 % Polyester; Futter: 100 % Viskose", DIRECT, PART, (0, 100)),
    ("70% laine, 30% polyamide", ACID, TAKES, (100, 100)),
    ("100% soie", ACID, TAKES, (100, 100)),
    ("55% lin, 45% viscose", DIRECT, TAKES, (100, 100)),
    ("100% lana", ACID, TAKES, (100, 100)),
    ("50% algodón 50% poliéster", REACTIVE, PART, (50, 50)),
    ("100% seta", ACID, TAKES, (100, 100)),
    ("60% cotone 40% poliammide", DIRECT, PART, (100, 100)),
    ("100% wol", ACID, TAKES, (100, 100)),
    ("85% katoen, 15% elastaan", DIRECT, PART, (85, 85)),
    ("100% wełna", ACID, TAKES, (100, 100)),
    ("70% bawełna, 30% poliester", DIRECT, PART, (70, 70)),
    ("100% algodão", DIRECT, TAKES, (100, 100)),
    ("100% ull", ACID, TAKES, (100, 100)),
    ("90% bomull 10% polyester", DIRECT, PART, (90, 90)),
    ("100% uld", ACID, TAKES, (100, 100)),
    ("100% bomuld", DIRECT, TAKES, (100, 100)),
    ("100% villa", ACID, TAKES, (100, 100)),
    ("100% puuvilla", DIRECT, TAKES, (100, 100)),
    ("100% bavlna", DIRECT, TAKES, (100, 100)),
    ("100% vlna", ACID, TAKES, (100, 100)),
    ("100% pamut", DIRECT, TAKES, (100, 100)),
    ("100% gyapjú", ACID, TAKES, (100, 100)),
    ("100% bumbac", DIRECT, TAKES, (100, 100)),
    ("100% lână", ACID, TAKES, (100, 100)),
    ("100% βαμβάκι", DIRECT, TAKES, (100, 100)),
    ("100% μαλλί", ACID, TAKES, (100, 100)),
    ("綿 100%", DIRECT, TAKES, (100, 100)),
    ("毛 70% ナイロン 30%", ACID, TAKES, (100, 100)),
    ("ポリエステル65% 綿35%", DIRECT, PART, (35, 35)),
    ("羊毛 100%", ACID, TAKES, (100, 100)),
    ("棉 60% 聚酯纤维 40%", DIRECT, PART, (60, 60)),
    ("Cotton 綿 80% / Polyester 20%", DIRECT, PART, (80, 80)),
    ("8O% cotton 2O% polyester", DIRECT, PART, (80, 80)),
    ("cotton..80 polyester 20", DIRECT, PART, (80, 80)),
    ("cotton", DIRECT, TAKES, (100, 100)),
    ("cotton and viscose", DIRECT, TAKES, (100, 100)),
    ("cotton, polyester", DIRECT, UNSURE, (0, 100)),
    ("polycotton", DIRECT, UNSURE, (0, 100)),
    ("95% cotton, 5% other fibres", DIRECT, TAKES, (95, 100)),
    ("90% cotton, 10% other fibres", DIRECT, UNSURE, (90, 100)),
    ("at least 85 % wool", ACID, UNSURE, (85, 100)),
    ("60% cotton", DIRECT, UNSURE, (60, 100)),
    ("60% polyester", DISPERSE, UNSURE, (60, 100)),
    ("shell: 100% wool; lining: 100% acetate", REACTIVE, HARMED, (0, 0)),
    ("shell: 100% wool; lining: 100% silk", ACID, TAKES, (100, 100)),
    ("satin", ACID, UNSURE, (0, 100)),
    ("bamboo", DIRECT, UNSURE, (100, 100)),
    ("bamboo", ACID, UNSURE, (0, 0)),
    ("microfibre", DISPERSE, UNSURE, (0, 100)),
    ("power mesh", ACID, UNSURE, (0, 100)),
    ("polar fleece", DIRECT, UNSURE, (0, 100)),
    ("ready to dye", DIRECT, UNSURE, (0, 100)),
    ("100% cotton, water repellent", DIRECT, UNSURE, (100, 100)),
    ("100% polyester, water repellent", ACID, UNDYED, (0, 0)),
    ("70% wool, 30% nylon", "acid", TAKES, (100, 100)),
    ("100% elastane", "acid", UNSURE, (0, 100)),
]  # fmt: skip


@pytest.mark.parametrize(("label", "dye_class", "answer", "share"), LABELS)
def test_labels_get_their_answer_and_share(
    label: str, dye_class: str, answer: Answer, share: tuple[float, float]
) -> None:
    got = one(label, dye_class)
    assert got.answer == answer
    assert got.dyeable_share == Interval(*share)


BEST = [
    ("100% cotton", TAKES, "direct"),
    ("100% wool", TAKES, "acid levelling"),
    ("100% acrylic", TAKES, "basic"),
    ("100% acetate", TAKES, "disperse"),
    ("100% polypropylene", STAINS, "disperse"),  # pigment holds on it as a film, which is no dyeing
    ("100% glass", UNDYED, ""),
    ("100% alginate", HARMED, ""),
    ("satin", UNSURE, ""),
]


@pytest.mark.parametrize(("label", "answer", "best"), BEST)
def test_without_a_class_the_answer_is_that_of_the_best_dye(label: str, answer: Answer, best: str) -> None:
    got = one(label).answered
    assert got.answer == answer == got.classes[0].answer
    assert got.chosen is got.classes[0]
    assert not best or got.best == best


def test_classes_stand_by_answer_then_by_uptake_ease_and_mildness() -> None:
    classes = one("60% cotton, 40% silk").answered.classes
    assert len(classes) == len(knowledge().dye_classes)
    plain = [c for c in classes if not c.surface and not c.too_hot]
    assert plain == sorted(plain, key=lambda c: (ANSWERS.index(c.answer), -(c.score or 0)))
    for c in classes:
        assert c.uptake is not None
        assert c.ease is not None
        assert c.mildness is not None
        assert c.score == pytest.approx(c.uptake * c.ease * c.mildness)
    assert classes[-1].surface


def test_a_bath_too_hot_for_the_fibre_stands_below_one_it_stands() -> None:
    classes = judge_all(goods_of(one("100% chlorofibre").answered.composition))  # type: ignore[arg-type]
    disperse = next(c for c in classes if c.dye_class == DISPERSE)
    assert disperse.too_hot
    assert disperse.answer == PART
    assert classes.index(disperse) > 0


@pytest.mark.parametrize(
    "label",
    ["dyed black 100% wool", "black wool", "navy 100% cotton", "solution dyed acrylic", "100% schwarze Wolle schwarz",
     "garment-dyed cotton"],
)  # fmt: skip
def test_a_label_that_names_a_colour_says_the_goods_have_one(label: str) -> None:
    answered = one(label).answered
    assert answered.colour == "dyed"
    assert "It has a colour already" in answered.why
    assert answered.trial is not None
    assert answered.trial.plan["goods"][0]["colour"] == "dyed"


@pytest.mark.parametrize("label", ["undyed wool", "100% cotton, not dyed", "wool, ready to dye", "white wool", "wool"])
def test_a_label_that_names_no_colour_does_not(label: str) -> None:
    assert "has a colour" not in one(label).answered.why


def test_the_colour_stated_beside_the_label_goes_first() -> None:
    assert "has a colour" not in one("wool for black coats", colour="undyed").answered.why


@pytest.mark.parametrize("label", ["solution dyed acrylic", "100% spun-dyed polyester"])
def test_a_colour_put_in_at_spinning_is_asked_about(label: str) -> None:
    assert "when it was spun" in one(label).answered.ask


@pytest.mark.parametrize("label", ["100% asbestos", "asbestos curtain", "95% nylon, 5% asbestos", "wool, asbestos"])
@pytest.mark.parametrize("dye_class", ["", ACID])
def test_goods_not_to_be_handled_get_no_dye_no_swatch_and_no_trial(label: str, dye_class: str) -> None:
    screening = screen(label, dye_class=dye_class, match=True)
    answered = screening[0].answered
    assert answered.answer == "do not handle"
    assert answered.trial is None
    assert not answered.classes
    assert "do not cut, soak, shake or wash" in answered.why
    assert screening.exit_status == 1
    assert screening.match is not None
    assert screening.match.alike is False


def test_goods_free_of_asbestos_may_be_handled() -> None:
    assert one("100% cotton, asbestos free").answer == TAKES


def test_the_rule_that_stops_check_stops_screening_too() -> None:
    told = {fibre.id for fibre in knowledge().fibres if fibre.do_not_handle}
    rule = next(rule for rule in rulebook().rules if rule.id == "fibre-unsuitable-asbestos")
    assert frozenset(told) in [condition.operand for condition in rule.conditions if condition.field == "fibre"]


@pytest.mark.parametrize("format_", ["terminal", "csv", "json", "jsonl", "html"])
def test_nothing_tells_how_to_try_goods_that_are_not_to_be_handled(
    format_: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["screen", "asbestos curtain", "--format", format_]) == 1
    out = capsys.readouterr().out
    assert "Keep people away" in " ".join(out.split())
    assert "Buy" not in out
    assert "Swatch" not in out


def test_no_trial_plan_is_written_for_goods_not_to_be_handled(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = tmp_path / "trial.toml"
    assert main(["screen", "100% asbestos", "--trial", str(plan)]) == 2
    assert "Do not handle asbestos" in " ".join(capsys.readouterr().err.split())
    assert not plan.exists()


def test_a_colour_in_the_label_tells_items_apart() -> None:
    match = screen(["black wool", "wool"], match=True).match
    assert match is not None
    assert match.alike is not True


# ------------------------------------------------------------------------------- the same as check


def test_every_fibre_with_every_class_takes_as_the_facts_of_check_say() -> None:
    by_take = {
        "full": "takes dye",
        "partial": "takes dye in part",
        "stain": "stains only",
        "none": "stays undyed",
        "damage": "harmed",
    }
    k = knowledge()
    fibres = list(k.fibres.ids)
    half = len(fibres) // 2
    for ids in (fibres[:half], fibres[half:]):
        plan = read_plan(
            {
                "goods": [{"name": fibre, "fibres": {fibre: 100}, "dry_mass": "10 g"} for fibre in ids],
                "dyes": [{"class": name} for name in k.dye_classes.ids],
            }
        )
        work = work_out(plan, k)
        for fact in build_facts(work, k):
            if fact.type == "part":
                answered = answer_label(f"100% {fact.values['fibre']}", str(fact.values["dye_class"]))
                if k.fibres[str(fact.values["fibre"])].do_not_handle:
                    assert answered.answer == "do not handle"
                    continue
                assert answered.chosen is not None
                assert answered.chosen.answer == by_take[str(fact.values["take"])], fact.values
        for name in k.dye_classes.ids:
            shares = [judge(goods_of(read.fibres), name).share for read in plan.goods]
            for share, fact in zip(
                shares, (f for f in build_facts(_with(plan, name), k) if f.type == "goods"), strict=True
            ):
                assert share == fact.values["dyeable_share"]


def _with(plan: Plan, dye_class: str) -> Any:
    alone = plan.model_copy(update={"dyes": (plan.dyes[0].model_copy(update={"dye_class": dye_class}),)})
    return work_out(alone, knowledge())


_TOPIC: dict[Answer, set[str]] = {
    TAKES: set(),
    "do not handle": {"fibre-unsuitable"},
    PART: {"fibre-partly-dyes"},
    STAINS: {"fibre-stains-only"},
    UNDYED: {"fibre-unsuitable"},
    HARMED: {"fibre-harmed"},
}


def _pairs() -> list[tuple[str, str]]:
    k = knowledge()
    first: dict[tuple[str, str], tuple[str, str]] = {}
    for fibre in k.fibres:
        for name in k.dye_classes.ids:
            first.setdefault((fibre.family, name), (fibre.id, name))
    return sorted(first.values())


@pytest.mark.parametrize("pair", _pairs(), ids=" with ".join)
def test_the_rules_of_check_say_the_same_of_every_pair(
    pair: tuple[str, str], base: Callable[..., Plan], checker: Any
) -> None:
    fibre, dye_class = pair
    plan = base("acid-on-nylon", {"goods.0.fibres": {fibre: 100}, "dyes.0.class": dye_class, "assists": []})
    report: Report = checker.check(plan)
    rules = {
        "fibre-partly-dyes-pale",
        "fibre-stains-only",
        "fibre-unsuitable",
        "fibre-unsuitable-asbestos",
        "fibre-harmed",
    }
    found = {f.topic for f in report.findings if f.rule in rules}
    assert found == _TOPIC[answer_label(f"100% {fibre}", dye_class).answer]


BLENDS = st.lists(st.sampled_from(knowledge().fibres.ids), min_size=1, max_size=4, unique=True)


@given(BLENDS, st.data(), st.sampled_from(knowledge().dye_classes.ids))
@settings(max_examples=60, deadline=None)
def test_the_share_of_any_blend_is_that_of_check(fibres: list[str], data: st.DataObject, dye_class: str) -> None:
    cuts = sorted(
        data.draw(st.lists(st.integers(1, 99), min_size=len(fibres) - 1, max_size=len(fibres) - 1, unique=True))
    )
    shares = [b - a for a, b in zip([0, *cuts], [*cuts, 100], strict=True)]
    table: dict[str, float | str] = dict(zip(fibres, map(float, shares), strict=True))
    plan = read_plan({"goods": [{"fibres": table, "dry_mass": "10 g"}], "dyes": [{"class": dye_class}]})
    got = judge(goods_of(plan.goods[0].fibres), dye_class)
    work = work_out(plan, knowledge())
    assert got.share == Interval(work.goods.dyeable_share.low, work.goods.dyeable_share.high)
    assert got.answer in ANSWERS
    harmed = any(
        knowledge().uptake[knowledge().fibres[f].family, dye_class].take == "damage" and share > 5
        for f, share in zip(fibres, shares, strict=True)
    )
    assert (got.answer == HARMED) == harmed
    if got.answer == TAKES:
        assert got.share.low >= 95
    if got.answer in (STAINS, UNDYED):
        assert got.share.high <= 5


@given(st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_any_text_gets_an_answer_or_one_clear_error(text: str) -> None:
    try:
        got = one(text)
    except InputError:
        return
    assert got.answer in ANSWERS
    assert json.dumps(answered_data(got.answered), allow_nan=False)
    plan = got.answered.trial
    assert plan is not None
    read_plan(plan.plan)


@given(st.floats(0, 100, allow_nan=False), st.sampled_from(knowledge().dye_classes.ids))
@settings(max_examples=60, deadline=None)
def test_more_of_a_dyeable_fibre_never_lowers_the_share(percent: float, dye_class: str) -> None:
    percent = round(percent, 1)
    low = one(f"{percent:g}% cotton, {100 - percent:g}% polyester", dye_class).dyeable_share
    more = min(100.0, percent + 1)
    high = one(f"{more:g}% cotton, {100 - more:g}% polyester", dye_class).dyeable_share
    assert low is not None
    assert high is not None
    takes = {f: knowledge().uptake[f, dye_class].take in ("full", "partial") for f in ("seed cellulose", "polyester")}
    if takes["seed cellulose"] and not takes["polyester"]:
        assert high.low >= low.low - 1e-9


# ------------------------------------------------------------------------------- what else is said

VAGUE = ("power mesh", "microfibre", "satin", "jersey", "bamboo", "vegan silk", "dyeable", "ready to dye", "coated")


@pytest.mark.parametrize("word", VAGUE)
def test_vague_words_are_never_an_answer_and_always_a_question(word: str) -> None:
    for dye_class in knowledge().dye_classes.ids:
        got = one(word, dye_class)
        assert got.answer == UNSURE
        assert got.answered.ask
        assert got.answered.confidence == "assumed"
        data = answered_data(got.answered)
        assert data["dyeable_share"]["value"] is None


def test_vague_words_name_what_they_mostly_stand_for() -> None:
    assert {"silk", "acetate"} <= set(one("satin").answered.likely)
    assert "viscose" in one("bamboo").answered.why
    assert one("bamboo", DIRECT).dyeable_share == Interval(100, 100)  # viscose, lyocell and modal all take it


def test_repaired_readings_say_so() -> None:
    got = one("8O% cotton 20% polyester", DIRECT).answered
    assert got.confidence == "read with repair"
    assert got.notes == ("Read '8O%' as 80 %.",)


def test_what_stays_undyed_is_named_with_the_small_parts() -> None:
    got = one("65% polyester, 35% cotton", DIRECT).answered
    assert got.undyed == ("polyester (PET) (65 %)",) or got.undyed[0].startswith("polyester")
    assert "sewing thread" in got.small_parts  # mostly polyester (common practice, no source)
    assert not any("sewing thread" in part for part in one("polyester", DISPERSE).answered.small_parts)


def test_colour_and_finish_are_told() -> None:
    assert "colour already" in one("100% wool", ACID, colour="navy").answered.why
    assert "colour already" not in one("100% wool", ACID, colour="écru").answered.why
    superwash = one("100% wool superwash", ACID).answered
    assert superwash.finishes == ("shrink-resist",)
    assert superwash.answer == TAKES


def test_the_heat_the_goods_stand_is_that_of_the_tenderest_fibre() -> None:
    chosen = one("80% polyester, 20% acetate", DISPERSE).answered.chosen
    assert chosen is not None
    assert chosen.fibre_heat == knowledge().families["acetate"].heat_limit.interval


def test_nothing_shown_calls_goods_safe() -> None:
    shown = [line for title, lines in identify_lines() for line in (title, *lines)]
    for label, dye_class, _, _ in LABELS:
        answered = one(label, dye_class).answered
        shown += [json.dumps(answered_data(answered), ensure_ascii=False)]
    assert not [line for line in shown if re.search(r"\bsaf(e|er|est|ely)\b", line, re.IGNORECASE)]


# ------------------------------------------------------------------------------- trials


@pytest.mark.parametrize(("label", "dye_class"), [(label, c) for label, c, _, _ in LABELS][::4])
def test_the_swatch_plan_is_a_plan_of_check_with_the_same_fibres(label: str, dye_class: str, tmp_path: Path) -> None:
    path = tmp_path / "trial.toml"
    assert main(["screen", label, "--dye-class", dye_class, "--trial", str(path), "--output", str(tmp_path / "o")]) in (
        0,
        3,
    )
    plan = advisor.load_plan(path)
    mine = one(label, dye_class).answered.composition
    assert mine is not None
    if mine.known and len(mine.parts) == 1:
        assert {(c.fibre, c.share) for c in plan.goods[0].fibres.components()} == {
            (c.fibre, c.share) for c in mine.components()
        }
    assert plan.goods[0].finishes is None
    assert plan.assists is None
    assert plan.dyes[0].dye_class == dye_class


def test_check_takes_a_trial_plan_and_asks_for_the_rest(tmp_path: Path) -> None:
    trial = one("75% wool, 25% nylon", ACID).answered.trial
    assert trial is not None
    report = advisor.check(trial.plan)
    assert report.verdict == "cannot tell"
    assert report.questions


def test_how_much_to_buy_is_worked_out_from_the_table() -> None:
    trial = one("100% cotton", DIRECT).answered.trial
    assert trial is not None
    # three swatches of 10 g; 10 g of cloth of 100 to 300 g/m² is a square of 18 to 32 cm (arithmetic)
    assert trial.buy == 30
    assert trial.side.low == pytest.approx(18.26, abs=0.01)
    assert trial.side.high == pytest.approx(31.62, abs=0.01)
    assert trial.dye == pytest.approx(0.1)


def test_hazardous_home_trials_carry_their_cautions() -> None:
    trials = {
        trial.kind: trial for trial in screen_tables().trials if trial.kind in ("burn", "bleach", "solvent", "heat")
    }
    assert set(trials) == {"burn", "bleach", "solvent", "heat"}
    for trial in trials.values():
        cautions = " ".join(trial.cautions)
        assert trial.who == "adult"
        assert "Never with children" in cautions
        assert "umes" in cautions
        assert trial.can_tell
        assert trial.cannot_tell
    assert any(trial.kind == "float" for trial in screen_tables().trials)
    # the mixing hazard of bleach: CDC, Morbidity and Mortality Weekly Report 1991
    assert "chlorine gas" in " ".join(trials["bleach"].cautions)
    assert {"ISO/TR 11827", "AATCC TM20", "ISO 1833"} <= {row.id for row in screen_tables().laboratories}


def test_every_dye_class_has_grades_between_nothing_and_one() -> None:
    for name in knowledge().dye_classes.ids:
        grade = screen_tables().grades[name]
        assert 0 < grade.ease.low <= 1
        assert 0 < grade.mildness.low <= 1
        assert grade.surface == (name == "pigment")


# ------------------------------------------------------------------------------- matching

MATCHES = [
    (["100% wool", "wool"], True, ""),
    (["100% wool", "75% wool, 25% nylon"], False, "nylon"),
    (["80% cotton, 20% polyester", "60% cotton, 40% polyester"], False, "Another blend"),
    (["80% cotton, 20% polyester", "78% cotton, 22% polyester"], True, ""),
    (["100% wool", "100% wool superwash"], False, "shrink-resist"),
    (["100% wool", "100% alpaca"], None, "own speed"),
    (["100% cotton", "satin"], None, "not known"),
    (["100% cotton", "100% polyester"], False, "stays undyed"),
]


@pytest.mark.parametrize(("labels", "alike", "why"), MATCHES)
def test_what_will_not_match_in_one_bath_is_said_with_the_reason(
    labels: list[str], alike: bool | None, why: str
) -> None:
    match = screen(labels, match=True).match
    assert match is not None
    assert match.alike is alike
    assert why in " ".join(match_lines(match))


def test_an_old_colour_does_not_match_undyed_goods() -> None:
    items = [{"fibres": "100% wool", "colour": "white"}, {"fibres": "100% wool", "colour": "blue", "name": "old shawl"}]
    match = screen(items, match=True).match
    assert match is not None
    assert match.alike is False
    assert any("old shawl" in line for line in match_lines(match))


# ------------------------------------------------------------------------------- interface


def test_items_keep_order_names_and_status() -> None:
    done = advisor.screen(
        ["cotton", {"name": "lace", "fibres": "nylon", "dye_class": "acid"}, "satin"], dye_class="direct"
    )
    assert [i.name for i in done] == ["item 1", "lace", "item 3"]
    assert [i.item.dye_class for i in done] == ["direct", "acid", "direct"]
    assert done.exit_status == 3
    assert advisor.screen("cotton").exit_status == 0


@pytest.mark.parametrize(
    ("labels", "dye_class", "wanted"),
    [
        ("130% cotton", "", "0 to 100 %"),
        ("80% cotton 40% wool", "", "120 %"),
        ("", "", "empty"),
        ("cotton", "dirct", "did you mean 'direct'"),
        ("cotton", "zzzqq", "'zzzqq' is no dye class. Accepted: acid levelling, "),
        ("cotton", "reactive", "did you mean 'fibre-reactive cold' or 'fibre-reactive hot' or 'fibre-reactive'?"),
        ([{"name": "x"}], "", "fibres is missing"),
        ([{"fibres": "cotton", "colr": "x"}], "", "unknown key 'colr'"),
        ([3], "", "expected label text"),
    ],
)
def test_bad_input_is_one_clear_error(labels: Any, dye_class: str, wanted: str) -> None:
    with pytest.raises(InputError, match=re.escape(wanted)):
        advisor.screen(labels, dye_class=dye_class)


def test_json_has_the_fields_of_the_design(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["screen", "75% wool, 25% nylon", "satin", "--format", "json", "--match", "--identify"]) == 3
    data = json.loads(capsys.readouterr().out)
    first, second = data["items"]
    assert {"name", "fibres", "answer", "dyeable_share", "dye_classes", "why", "ask", "trial"} <= set(first)
    assert first["dyeable_share"] == {"value": 100.0, "low": 100.0, "high": 100.0, "unit": "%"}
    assert {"id", "answer", "dyeable_share"} <= set(first["dye_classes"][0])
    assert second["dyeable_share"]["value"] is None
    assert data["match"]["alike"] is None
    assert len(data["identify"]["trials"]) == len(screen_tables().trials)
    read_plan(first["trial"]["plan"])


def test_the_terminal_view_reads_at_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["screen", "75% wool, 25% nylon", "a very long label of satin " * 6, "--match"]) == 3
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    for words in (
        "TAKES DYE",
        "CANNOT TELL",
        "uptake × ease × mildness",
        "Never with children",
        "Swatch",
        "Heat",
        "ISO/TR 11827",
    ):
        assert words in " ".join(out.split())


def test_html_is_one_page_and_escapes_what_it_shows(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["screen", "<script>alert(1)</script> cotton", "--format", "html", "--identify"]) in (0, 3)
    out = capsys.readouterr().out
    assert "<script>" not in out
    assert "&lt;script&gt;" in out
    assert not re.search(r"(src|href)=", out)
    assert "Never with children" in out


def test_control_characters_never_reach_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    main(["screen", "cotton \x1b[31m red \x9b1m"])
    shown = capsys.readouterr().out
    assert "\x1b" not in shown
    assert "\x9b" not in shown


def test_a_label_that_could_not_be_read_has_no_trial() -> None:
    from advisor.screening.item import unreadable

    got: Answered = unreadable("x", "wrong")
    assert got.trial is None
    assert answered_data(got)["dyeable_share"] == {"value": None, "low": 0.0, "high": 100.0, "unit": "%"}


def test_the_trial_file_names_item_and_use(tmp_path: Path) -> None:
    path = tmp_path / "t.toml"
    main(["screen", "cotton", "--trial", str(path), "--use", "stage curtain", "--output", str(tmp_path / "o")])
    assert tomllib.loads(path.read_text(encoding="utf-8"))["title"] == "Swatch trial: item 1, for stage curtain"
    assert main(["screen", "cotton", "silk", "--trial", str(path)]) == 2
    assert main(["screen", "cotton", "--trial", str(path), "--output", str(tmp_path / "p")]) == 2  # exists already
