"""Pairs of substances: the published chart, no silent gaps, what each pair does in a plan, and hazards by strength."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from making import made_checker

from advisor.cases import base_plan, changed
from advisor.facts.chemicals import look_up
from advisor.facts.traits import trait_words
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.plan import read_plan
from advisor.rows import Pair
from advisor.rulebook import Rule, rulebook

K = knowledge()
PAIRS = list(combinations(K.substances.ids, 2))
GROUPS = {int(g.split()[0]): g for row in K.substances for g in row.reactivity_groups if g[0].isdigit()}

# Hatayama and others, A Method for Determining the Compatibility of Hazardous Wastes, EPA-600/2-80-076 (1980), the
# chart: every field for the groups that stand in substances.toml, seen in a transcription; empty fields are left out.
# Groups 1 to 17 were seen in a university's reproduction as well. 104 with 105 is from memory.
CHART = """
2-3 H,G  1-4 H  2-4 H,F  3-4 H,P  1-6 H  2-6 H,GT  1-10 H  2-10 H  3-10 H  1-11 GT,GF  2-11 GT,GF  3-11 GT,GF
1-13 H  2-13 H,F  10-13 H  2-16 H,F  1-19 H  2-19 H,F  10-19 H  11-19 H  1-24 S  2-24 S  3-24 S  6-24 S  10-24 S
2-27 H,F,GT  10-27 H,E  1-31 H  2-31 H,F  1-33 GT,GF  2-33 H,F,GF  3-33 GT  1-101 H,G  2-101 H,F,GT
1-104 H,GT  3-104 H,GT  4-104 H,F  6-104 H,F,GT  11-104 H,GT,E  13-104 H,F  16-104 H,F  19-104 H,F  27-104 H,E
31-104 H,F  33-104 H,F,GT  101-104 H,F,G
1-105 H,GF  2-105 H,F,GT  3-105 H,GF  4-105 H,F,GF  6-105 H,GF  11-105 H,GT  16-105 H,F,E  19-105 H,GF  27-105 H,E
31-105 H,GF  101-105 H,GF  104-105 H,F,E
"""


def _chart() -> dict[tuple[int, int], frozenset[str]]:
    fields = re.findall(r"(\d+)-(\d+) (\S+)", CHART)
    return {(int(a), int(b)): frozenset(re.findall("G[TF]|[HFGEPSU]", codes)) for a, b, codes in fields}


def _row(a: str, b: str) -> Pair:
    return next(row for row in K.pairs if {row.a, row.b} == {a, b} and (a == b) == (row.a == row.b))


@pytest.mark.parametrize(("one", "other"), list(combinations(sorted(GROUPS), 2)))
def test_group_by_group_the_codes_are_those_of_the_published_chart(one: int, other: int) -> None:
    row = _row(GROUPS[one], GROUPS[other])
    assert frozenset(row.codes) == _chart().get((one, other), frozenset())
    assert row.source.startswith("epa/600-2-80-076")


def test_a_field_of_the_chart_that_burns_poisons_or_explodes_is_only_milder_with_a_reason() -> None:
    mild = {
        pair
        for pair, codes in _chart().items()
        if codes & {"GT", "GF", "F", "E"} and _row(GROUPS[pair[0]], GROUPS[pair[1]]).outcome != "dangerous"
    }
    # The chart's group 105 means metals and hydrides - from memory of the report's list of members.
    assert mild == {(4, 105), (6, 105), (11, 105), (16, 105), (19, 105), (31, 105), (101, 105)}


def test_every_pair_of_substances_meets_a_row() -> None:
    for one, other in PAIRS:
        found = look_up(K, one, other)
        assert {found.first, found.second} == {one, other}
        assert look_up(K, other, one) == found
        names = [{s, *K.substances[s].roles, *K.substances[s].reactivity_groups} for s in (found.first, found.second)]
        assert found.row.a in names[0]
        assert found.row.b in names[1]


def test_a_pair_without_a_row_is_an_error_and_not_a_pass() -> None:
    class Bare:
        substances = K.substances
        pairs: tuple[Pair, ...] = ()

    with pytest.raises(KeyError, match="salt"):
        look_up(Bare(), "salt", "urea")


def test_every_substance_stands_in_a_group() -> None:
    assert [row.id for row in K.substances if not row.reactivity_groups] == []


def test_the_row_that_names_most_wins() -> None:
    assert look_up(K, "hydrogen peroxide", "sodium hydrosulfite").row.product == "steam"
    assert look_up(K, "sodium thiosulfate", "sodium hypochlorite bleach").row.outcome == "wasteful"
    assert look_up(K, "white vinegar", "acid dye").row.b == "acid dye"


DYES = [row.id for row in K.substances if row.roles[0] == "dye"]
ACIDS = [row.id for row in K.substances if "acid" in row.roles]


@pytest.mark.parametrize("dye", sorted(set(DYES) - {"sulphur dye"}))
@pytest.mark.parametrize("acid", ["white vinegar", "acetic acid", "citric acid", "formic acid"])
def test_the_azo_group_of_the_chart_does_not_fire_for_dyes_in_acid(dye: str, acid: str) -> None:
    # The chart's group 8 (azo, diazo, hydrazine) gives heat and gas with acid; it means reactive diazo compounds.
    assert look_up(K, dye, acid).row.outcome in ("harmless", "looked at")


def test_no_substance_is_put_into_the_azo_group() -> None:
    assert 8 not in GROUPS


@pytest.mark.parametrize("acid", ACIDS)
def test_bleach_and_any_acid(acid: str) -> None:
    # CDC, Morbidity and Mortality Weekly Report 1991: bleach with acid chlorine, with ammonia chloramines - published.
    row = look_up(K, "sodium hypochlorite bleach", acid).row
    assert row.outcome == "dangerous"
    assert "chloramine" in row.product if acid.startswith("ammonium") else row.product == "chlorine"


@pytest.mark.parametrize(
    ("one", "other", "gas"),
    [
        ("sodium hypochlorite bleach", "ammonia", "chloramines"),  # CDC MMWR 1991 - published
        ("sodium hypochlorite bleach", "alum", "chlorine"),  # textbook - from memory
        ("sodium hydrosulfite", "citric acid", "sulfur dioxide"),  # ICSC 1717 - published
        ("sodium metabisulfite", "white vinegar", "sulfur dioxide"),  # ICSC 1461 - published
        ("sodium sulfide", "white vinegar", "hydrogen sulfide"),  # 40 CFR 265 Appendix V, group 5 - published
        ("sulphur dye", "formic acid", "hydrogen sulfide"),  # as above
        ("potassium ferricyanide", "sulfuric acid", "hydrogen cyanide"),  # textbook - from memory
        ("sodium nitrite", "citric acid", "nitrogen oxides"),  # textbook - from memory
        ("sodium hydroxide", "ammonium sulfate", "ammonia"),  # textbook - from memory
        # A solution of alum stands near pH 3.3, the pKa of nitrous acid; bisulfite and thiosulfate fall apart below
        # about 4 - from memory.
        ("sodium hydrosulfite", "chrome alum", "sulfur dioxide"),
        ("sodium metabisulfite", "alum", "sulfur dioxide"),
        ("sodium metabisulfite", "iron(II) sulfate", "sulfur dioxide"),
        ("sodium thiosulfate", "alum", "sulfur dioxide"),
        ("sodium nitrite", "alum", "nitrogen oxides"),
        ("sodium nitrite", "iron(III) chloride", "nitrogen oxides"),
        ("chrome alum", "sodium hypochlorite bleach", "chromium(VI)"),  # textbook - from memory
    ],
)
def test_what_comes_off(one: str, other: str, gas: str) -> None:
    row = look_up(K, one, other).row
    assert (row.outcome, row.product) == ("dangerous", gas)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        # What dye recipes put together - common practice, no source.
        ("sodium hydroxide", "sodium hydrosulfite"),
        ("sodium hydrosulfite", "indigo dye"),
        ("sodium hydroxide", "vat dye"),
        ("soda ash", "reactive dye"),
        ("soda ash", "salt"),
        ("urea", "reactive dye"),
        ("alum", "cream of tartar"),
        ("alum", "natural dye"),
        ("tannic acid", "alum"),
        ("ammonium sulfate", "metal-complex dye"),
        ("dye carrier", "disperse dye"),
        ("dye carrier", "citric acid"),
        ("sulphur dye", "soda ash"),
        ("sulphur dye", "thiourea dioxide"),
        ("hydrogen peroxide", "soda ash"),
        ("tin(II) chloride", "cream of tartar"),
    ],
)
def test_what_belongs_together_raises_no_alarm(one: str, other: str) -> None:
    assert look_up(K, one, other).row.outcome in ("harmless", "looked at")


def _speaks(rule: Rule, first: str, second: str, outcome: str, together: str) -> bool:
    value = {"first": first, "second": second, "outcome": outcome, "together": together}
    return all(isinstance(c.operand, frozenset) and value[c.field] in c.operand for c in rule.conditions)


@pytest.mark.parametrize("together", ["yes", "no"])
def test_each_dangerous_pair_belongs_to_exactly_one_rule(together: str) -> None:
    rules = [rule for rule in rulebook().findings_rules if set(rule.aliases.values()) == {"pair"}]
    for one, other in PAIRS:
        met = look_up(K, one, other)
        told = [r.id for r in rules if _speaks(r, met.first, met.second, met.row.outcome, together)]
        if met.row.outcome == "dangerous":
            assert len(told) == 1, f"{one} + {other}: {told}"
        else:
            assert len(told) <= 1, f"{one} + {other}: {told}"


CHECKER = made_checker([r for r in rulebook().rules if r.file == "chemicals.toml"])


def _told(plan: str, **change: object) -> set[str]:
    data = changed(base_plan(plan), {path.replace("__", "."): value for path, value in change.items()})
    return {finding.rule for finding in CHECKER.check(read_plan(data)).findings}


def test_leftovers_in_the_pot_meet_the_bath() -> None:
    assert "bleach-and-acid" in _told("acid-on-nylon", bath__before=["bleach"])
    assert "bleach-and-acid" not in _told("acid-on-nylon", space__chemicals=["bleach"])
    assert "bleach-and-acid-in-the-room" in _told("acid-on-nylon", space__chemicals=["bleach"])
    assert "bleach-and-acid-in-the-room" in _told("direct-on-cotton", space__chemicals=["bleach", "vinegar"])


def test_two_leftovers_meet_each_other() -> None:
    assert "bleach-and-ammonia" in _told("direct-on-cotton", bath__before=["bleach", "ammonia"])


def test_an_unknown_class_asks_about_sulphide_in_acid_and_a_known_family_does_not() -> None:
    def asked(dye_class: str) -> set[str]:
        data = changed(base_plan("acid-on-nylon"), {"dyes.0.class": dye_class})
        return {topic for q in CHECKER.check(read_plan(data)).questions for topic in q.settles}

    assert "incompatible-pair" in asked("unknown")
    assert "incompatible-pair" not in asked("acid")


def test_two_unknown_chemicals_ask() -> None:
    unknown = {"substance": "unknown", "amount": "5 g"}
    data = changed(base_plan("direct-on-cotton"), {"assists": [unknown, unknown]})
    report = CHECKER.check(read_plan(data))
    assert report.verdict == "cannot tell"
    assert {"assists.0.substance", "assists.1.substance"} <= {q.field for q in report.questions}


def _trait(substance: str, percent: float, trait: str) -> str:
    words, _ = trait_words([substance], Interval.point(percent), K, "assists.0.strength")
    return words[trait]


@pytest.mark.parametrize(
    ("substance", "percent", "trait", "answer"),
    [
        # Acetic acid: corrosive from 25 % (Annex VI of Regulation (EC) No 1272/2008) - from memory; from 90 % seen in a
        # safety data sheet; vinegar of 4 to 10 % - FDA CPG 525.825.
        ("white vinegar", 5, "corrosive", "no"),
        ("acetic acid", 5, "corrosive", "no"),
        ("acetic acid", 24.9, "corrosive", "no"),
        ("acetic acid", 25, "corrosive", "yes"),
        ("acetic acid", 30, "corrosive", "yes"),
        ("acetic acid", 80, "corrosive", "yes"),
        ("acetic acid", 80, "flammable", "no"),
        ("acetic acid", 95, "flammable", "yes"),
        # Hydrogen peroxide 8 to under 35 % - GisChem, German statutory accident insurers, published.
        ("hydrogen peroxide", 3, "oxidiser", "no"),
        ("hydrogen peroxide", 3, "irritant", "no"),
        ("hydrogen peroxide", 7.9, "oxidiser", "no"),
        ("hydrogen peroxide", 8, "oxidiser", "yes"),
        ("hydrogen peroxide", 35, "oxidiser", "yes"),
        ("hydrogen peroxide", 35, "irritant", "yes"),
        ("hydrogen peroxide", 35, "corrosive", "no"),
        ("hydrogen peroxide", 50, "corrosive", "yes"),
        # Sodium hydroxide limits 0.5, 2 and 5 % - producers' statement of the entry 011-002-00-6, published.
        ("sodium hydroxide", 1, "corrosive", "no"),
        ("sodium hydroxide", 2, "corrosive", "yes"),
        ("sodium hydroxide", 100, "corrosive", "yes"),
        # Sodium hypochlorite from 5 % - Safe Work Australia HCIS, published.
        ("sodium hypochlorite bleach", 4.9, "corrosive", "no"),
        ("sodium hypochlorite bleach", 5, "corrosive", "yes"),
        # Ammonia from 10 % - ICSC 0215, published.
        ("ammonia", 9.9, "corrosive", "no"),
        ("ammonia", 25, "corrosive", "yes"),
    ],
)
def test_hazards_go_by_strength(substance: str, percent: float, trait: str, answer: str) -> None:
    assert _trait(substance, percent, trait) == answer


def test_a_band_inside_an_open_strength_may_hold() -> None:
    """Acetic acid is an irritant from 10 to 25 % (CLP annex VI, from memory): at 1 to 50 % it may be, not "no"."""
    words, inputs = trait_words(["acetic acid"], Interval(1.0, 50.0), K, "assists.0.strength")
    assert words["irritant"] == "unknown"
    assert inputs["irritant"] == {"assists.0.strength"}


def test_a_strength_that_is_not_known_is_no_pass() -> None:
    words, inputs = trait_words(["acetic acid"], Interval(10.0, 100.0), K, "assists.0.strength")
    assert words["corrosive"] == "unknown"
    assert inputs["corrosive"] == {"assists.0.strength"}


@pytest.mark.parametrize(
    ("substance", "codes"),
    [
        # Safety data sheet for potassium dichromate of 10 April 2015, index 024-002-00-6 - published.
        ("potassium dichromate", {"H272", "H301", "H314", "H317", "H330", "H334", "H340", "H350", "H360FD", "H410"}),
        ("copper(II) sulfate", {"H302", "H318", "H410"}),  # ICSC 1416 - published
        ("oxalic acid", {"H302", "H314", "H335"}),  # ICSC 0707 - published
        ("sodium hydrosulfite", {"H251", "H302", "EUH031"}),  # ICSC 1717 and a safety data sheet of 2005 - published
        ("tin(II) chloride", {"H290", "H302", "H314", "H317"}),  # safety data sheet of 12 October 2020 - published
        ("calcium hydroxide", {"H315", "H318", "H335"}),  # safety data sheet, October 2013 - published
        ("sodium nitrite", {"H272", "H301", "H400"}),  # safety data sheet, index 007-010-00-4, 2014 - published
    ],
)
def test_hazards_seen_in_a_document_say_so(substance: str, codes: set[str]) -> None:
    seen = {h.code for h in K.substances[substance].hazards if h.basis == "published"}
    assert codes <= seen


def test_the_two_scales_of_signal_words_are_never_mixed() -> None:
    # A finding has the capitals of ANSI Z535, a substance the words of GHS; no text of a rule carries either.
    ghs: set[str] = {row.ghs_signal_word for row in K.substances}
    assert ghs <= {"Danger", "Warning", "none", "depends on product"}
    for rule in (r for r in rulebook().findings_rules if r.file == "chemicals.toml"):
        assert rule.signal not in ghs
        for text in (rule.title, rule.message, rule.reason, *rule.do):
            assert not re.search(r"\b(DANGER|WARNING|CAUTION|NOTICE|Danger|Warning)\b", text), rule.id


def test_the_hazard_text_follows_the_strength_and_tells_what_was_not_seen() -> None:
    def text(strength: str) -> str:
        change = {"assists.0": {"substance": "acetic acid", "amount": "2 mL", "strength": strength}}
        report = CHECKER.check(read_plan(changed(base_plan("acid-on-nylon"), change)))
        return next(f.message for f in report.findings if f.rule == "concentrated-acid")

    assert "H226" not in text("30 %")
    assert "H314 Causes severe skin burns and eye damage (from memory)" in text("30 %")
    assert "H226" in text("95 %")


def test_gear_is_told_for_all_five_steps_of_what_is_corrosive_toxic_or_sensitising() -> None:
    grave = {"corrosive", "toxic", "skin sensitiser", "lung sensitiser", "cancer hazard"}
    for row in K.substances:
        if grave & set(row.traits):
            assert {need.step for need in row.gear} == {"weigh", "dissolve", "dye", "rinse", "clean up"}, row.id


def test_well_made_plans_get_no_certain_alarm_from_the_chemicals() -> None:
    # Good practice - common practice, no source.
    quiet = (
        "acid-on-nylon acid-on-wool all-purpose-on-blend basic-on-acrylic direct-on-cotton disperse-on-acetate "
        "hot-reactive-on-cotton metal-complex-on-wool milling-on-wool mordant-on-wool pigment-on-cotton "
        "reactive-on-cotton sulphur-on-cotton"
    )
    for plan in quiet.split():
        assert _told(plan) == set(), plan
    assert _told("vat-on-cotton") == _told("indigo-on-cotton") == {"lye-into-water", "damp-hydrosulfite"}
    assert _told("disperse-on-polyester") == {"dye-carrier-toxic"}
