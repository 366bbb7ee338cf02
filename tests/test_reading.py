"""What `advisor rules` and `advisor facts` show: conditions in words, filters, counts and bases."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from advisor.knowledge import knowledge
from advisor.reading import (
    Wanted,
    chosen,
    condition_words,
    facts_data,
    format_number,
    rule_data,
    rules_data,
    tables,
)
from advisor.rulebook import Rule, rulebook

BOOK, K = rulebook(), knowledge()
BASES = {"published", "from memory", "common practice"}


def rule(rule_id: str) -> Rule:
    return next(rule for rule in BOOK.rules if rule.id == rule_id)


def test_a_condition_in_words() -> None:
    told = [condition_words(rule("dose-over-maximum"), c) for c in rule("dose-over-maximum").conditions]
    assert any("share of maximum is more than 1" in line for line in told), told
    assert all("_" not in line.split("(")[0] for line in told)


@pytest.mark.parametrize("each", BOOK.rules, ids=lambda rule: rule.id)
def test_every_condition_has_words(each: Rule) -> None:
    for condition in each.conditions:
        told = condition_words(each, condition)
        assert told.startswith(f"{condition.alias}: {condition.field.replace('_', ' ')} ")
        assert re.search(r" is (more than|at least|less than|at most)? ?\S|\(", told), told


def test_numbers_carry_their_unit() -> None:
    assert format_number(1.5, "%") == "1.5 %"
    assert format_number(88.0, "degC") == "88 °C"


def test_no_filter_gives_every_rule() -> None:
    assert chosen(BOOK, Wanted()) == list(BOOK.rules)


def test_filters_join() -> None:
    both = chosen(BOOK, Wanted(topic="gear-missing", effect="change"))
    assert both
    assert [rule for rule in chosen(BOOK, Wanted(topic="gear-missing")) if rule.effect == "change"] == both
    assert {r.topic for r in both} == {"gear-missing"}
    assert {r.effect for r in both} == {"change"}
    assert chosen(BOOK, Wanted(topic="gear-missing", search="xyzzy")) == []


@pytest.mark.parametrize("wanted", [Wanted(signal="CAUTION"), Wanted(effect="caution")])
def test_a_concluding_rule_has_no_grade(wanted: Wanted) -> None:
    assert all(rule.concludes is None for rule in chosen(BOOK, wanted))


def test_a_substance_is_found_in_conditions_and_in_texts() -> None:
    found = {rule.id for rule in chosen(BOOK, Wanted(substance="sodium hypochlorite bleach"))}
    looked_at = {
        rule.id
        for rule in BOOK.rules
        for c in rule.conditions
        if isinstance(c.operand, frozenset) and "sodium hypochlorite bleach" in c.operand and len(c.operand) < 5
    }
    assert looked_at <= found
    assert len(found) < len(BOOK.rules)


def test_counts_add_up() -> None:
    data = rules_data(BOOK, BOOK.rules, K)
    counts = data["counts"]
    assert counts["rules"] == counts["finding"] + counts["concluding"] == len(BOOK.rules) >= 70
    assert sum(counts["by_effect"].values()) == counts["finding"]
    assert counts["by_topic"] == dict(Counter(rule.topic for rule in BOOK.rules if rule.topic))
    assert counts["cases"] == sum(len(c) for r in data["rules"] for c in r["cases"].values())
    assert data["rulebook"] == {"version": BOOK.version, "digest": BOOK.digest}


@pytest.mark.parametrize("each", BOOK.rules, ids=lambda rule: rule.id)
def test_every_rule_shows_its_reason_and_its_sources(each: Rule) -> None:
    data = rule_data(each, K)
    assert data["reason"]
    assert data["when"]
    assert data["sources"]
    assert {source["basis"] for source in data["sources"]} <= BASES
    assert all(source["text"] for source in data["sources"])
    assert ("concludes" in data) != ("signal" in data)


@pytest.mark.parametrize("name", list(tables(K)))
def test_every_table_can_be_read(name: str) -> None:
    data = facts_data(name, K)
    assert data["count"] == len(data["rows"]) == len(tables(K)[name]) > 0
    assert set(data["bases"]) <= BASES
    if name not in ("labels",):
        assert data["bases"], "nothing in the table says where it comes from"


def test_an_entry_is_found_by_id_code_or_synonym_in_any_case() -> None:
    for table, word, expected in (
        ("substances", "CITRIC ACID", "citric acid"),
        ("substances", "sodium carbonate", "soda ash"),
        ("places", "gb", "GB"),
        ("fibres", "Pure Linen", "flax"),
    ):
        rows = facts_data(table, K, row_id=word)["rows"]
        assert expected in [row["id"] for row in rows], (table, word)
        assert rows == facts_data(table, K, row_id=f" {word.replace(' ', '  ')} ")["rows"]
    assert facts_data("dye-classes", K, row_id="fibre reactive cold")["count"] == 1
    assert facts_data("substances", K, row_id="citric")["count"] == 0


def test_a_table_of_two_keys_is_found_by_either_and_by_what_stands_for_it() -> None:
    wool = facts_data("uptake", K, row_id="Wool")["rows"]
    assert wool == [row for row in facts_data("uptake", K)["rows"] if row["family"] == "keratin"] != []
    assert facts_data("uptake", K, row_id="keratin")["rows"] == wool
    assert {row["dye_class"] for row in facts_data("uptake", K, row_id="acid")["rows"]} == {
        *K.dye_class_families["acid"]
    }
    bleach = facts_data("pairs", K, row_id="bleach")["rows"]
    assert any("sodium hypochlorite bleach" in (row["a"], row["b"]) for row in bleach)
    assert len(bleach) < len(K.pairs)
    assert facts_data("pairs", K, row_id="wool")["count"] == 0


def test_an_unknown_table_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        facts_data("xyzzy", K)


def test_hazards_are_counted_with_their_published_share() -> None:
    hazards = facts_data("substances", K)["hazards"]
    assert hazards["count"] > 50
    assert 0 <= hazards["published_share"] <= 1
