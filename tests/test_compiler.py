"""Rules -> engine definitions: the Kleene pairs, and the shapes that keep the engine's broken parts out of reach.

What the engine does with shapes it does not stand was found by experiment; each test here names the trap.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import FrozenInstanceError, replace
from pathlib import Path
from typing import Any

import pytest
from making import agreed_firings, kleene, made_fact, made_rules

import advisor.compiler as compiler
from advisor.compiler import (
    MOST_BUCKETS,
    MOST_CHILDREN,
    MOST_FIELDS,
    RULES_PER_BUCKET,
    TYPE_FIELD,
    CompileError,
    Program,
    bucket_field,
    check_schema,
    compile_rules,
    engine_fields,
    fnv,
    split_tokens,
)
from advisor.fact_types import FACT_TYPES, Choice, FactType, Number, Vocabulary, vocabularies
from advisor.rulebook import Condition, Rule

ALWAYS = ({"t": {"goods": "t"}}, {"$neq": {"t": {"goods": "t"}}})


def patterns(program: Program) -> Iterator[tuple[int, str, list[dict[str, Any]]]]:
    """Position, alias and members of every pattern of a program."""
    for definition in program.definitions.values():
        for position, pattern in enumerate(definition["all"]):
            ((alias, body),) = pattern.items()
            yield position, alias, body["$and"]


def one_field(name: str, spec: Number | Choice) -> Mapping[str, FactType]:
    return {"made": FactType("made for a test", {name: spec})}


# --- Kleene pairs -----------------------------------------------------------------------------------------

# where an interval lies against the limit 1, and for each comparison what must be the answer
_POSITIONS: Mapping[tuple[float, float], Mapping[str, str]] = {
    (0.2, 0.9): {">": "not", ">=": "not", "<": "must", "<=": "must"},  # below
    (0.2, 1.0): {">": "not", ">=": "may", "<": "may", "<=": "must"},  # touching from below
    (0.5, 2.0): {">": "may", ">=": "may", "<": "may", "<=": "may"},  # straddling
    (1.0, 1.0): {">": "not", ">=": "must", "<": "not", "<=": "must"},  # exactly at it
    (1.0, 2.0): {">": "may", ">=": "must", "<": "not", "<=": "may"},  # touching from above
    (1.1, 2.0): {">": "must", ">=": "must", "<": "not", "<=": "not"},  # above
}


@pytest.mark.parametrize("ends", _POSITIONS, ids=str)
@pytest.mark.parametrize("op", [">", ">=", "<", "<="])
def test_a_number_against_a_limit(op: str, ends: tuple[float, float], tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"dose": [f"share_owf {op} 1"]}])
    assert kleene(rules, [made_fact("dose", share_owf=ends)]) == {"r0": _POSITIONS[ends][op]}


def _against(left: tuple[float, float], op: str, right: tuple[float, float]) -> str:
    """By trying the ends: a comparison of two independent intervals is decided at their corners."""
    tests = {">": float.__gt__, ">=": float.__ge__, "<": float.__lt__, "<=": float.__le__}
    answers = {tests[op](float(a), float(b)) for a in left for b in right}
    return "must" if answers == {True} else "not" if answers == {False} else "may"


_ENDS = [(0.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.5, 1.5), (2.0, 3.0), (0.0, 3.0)]


@pytest.mark.parametrize("op", [">", ">=", "<", "<="])
def test_two_fields_of_one_fact_and_of_two_facts(op: str, tmp_path: Path) -> None:
    rules = made_rules(
        tmp_path,
        {
            "same-fact": {"part": [f"temperature {op} heat_limit"]},
            "to-the-earlier": {"part": [], "vessel": [f"heat_limit {op} part.temperature"]},
            "to-the-later": {"part": [f"temperature {op} vessel.heat_limit"], "vessel": []},
        },
    )
    for left, right in itertools.product(_ENDS, repeat=2):
        facts = [made_fact("part", temperature=left, heat_limit=right), made_fact("vessel", heat_limit=right)]
        expected = _against(left, op, right)
        assert kleene(rules, facts) == {
            "same-fact": expected,
            "to-the-earlier": _against(right, op, left),
            "to-the-later": expected,
        }, (left, right)


def test_words_families_and_unknown(tmp_path: Path) -> None:
    """A family name may be each of its members; 'unknown' may be any word; negation swaps must and not."""
    rules = made_rules(
        tmp_path,
        {
            "is": {"dye": ["dye_class == 'acid milling'"]},
            "is-not": {"dye": ["dye_class != 'acid milling'"]},
            "is-acid": {"dye": ["dye_class == 'acid'"]},
            "is-not-acid": {"dye": ["dye_class != 'acid'"]},
            "in": {"dye": ["dye_class in ['acid milling', 'vat']"]},
            "not-in": {"dye": ["dye_class not in ['acid milling', 'vat']"]},
        },
    )
    told = {
        token: [kleene(rules, [made_fact("dye", dye_class=token)])[r] for r in ("is", "is-acid", "in")]
        for token in ("acid milling", "acid levelling", "vat", "acid", "unknown")
    }
    assert told == {
        "acid milling": ["must", "must", "must"],
        "acid levelling": ["not", "must", "not"],
        "vat": ["not", "not", "must"],
        "acid": ["may", "must", "may"],
        "unknown": ["may", "may", "may"],
    }
    swapped = {"must": "not", "not": "must", "may": "may"}
    for token in vocabularies()["dye class"].tokens:
        answers = kleene(rules, [made_fact("dye", dye_class=token)])
        for plain, negated in (("is", "is-not"), ("is-acid", "is-not-acid"), ("in", "not-in")):
            assert answers[negated] == swapped[answers[plain]], token


def test_every_token_is_sorted_once_and_certain_is_the_smaller_set() -> None:
    vocabulary = Vocabulary(("a", "b", "c", "d"), {"ab": ("a", "b"), "bc": ("b", "c")})
    for size in (1, 2, 3):
        for wanted in map(frozenset, itertools.combinations(vocabulary.words, size)):
            must, never_must = split_tokens(vocabulary, wanted, certain=True)
            may, never = split_tokens(vocabulary, wanted, certain=False)
            assert {*must, *never_must} == {*may, *never} == set(vocabulary.tokens)
            assert set(must) <= set(may)
            assert "unknown" in may
            assert "unknown" not in must
    assert split_tokens(vocabulary, frozenset({"a", "b"}), certain=True)[0] == ["a", "b", "ab"]
    assert split_tokens(vocabulary, frozenset({"a", "b"}), certain=False)[0] == ["a", "b", "ab", "bc", "unknown"]


def test_all_conditions_must_hold_and_one_that_only_may_makes_the_rule_may(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"bath": ["water > 1", "attended == 'no'"]}])
    answers = {
        (water, attended): kleene(rules, [made_fact("bath", water=water, attended=attended)])["r0"]
        for water in ((0, 1), (0, 2), (2, 3))
        for attended in ("yes", "unknown", "no")
    }
    assert answers == {
        ((0, 1), "yes"): "not", ((0, 1), "unknown"): "not", ((0, 1), "no"): "not",
        ((0, 2), "yes"): "not", ((0, 2), "unknown"): "may", ((0, 2), "no"): "may",
        ((2, 3), "yes"): "not", ((2, 3), "unknown"): "may", ((2, 3), "no"): "must",
    }  # fmt: skip


# --- shapes the engine stands -----------------------------------------------------------------------------


def test_every_pattern_of_the_shipped_rules_has_a_sound_shape(checker: Any) -> None:
    _sound(compile_rules(checker.rulebook.rules))


def test_every_pattern_of_joining_rules_has_a_sound_shape(tmp_path: Path) -> None:
    rules = made_rules(
        tmp_path,
        [
            {"goods": ["dry_mass > vessel.dry_mass"], "vessel": ["material in ['glass', 'wood']", "fill > 1"]},
            {"goods": ["colour == 'dyed'"], "goods_2": ["dry_mass < goods.dry_mass", "colour != 'dyed'"]},
            {
                "goods": [],
                "part": ["take in ['none', 'stain']", "fibre not in ['wool', 'silk']", "share > goods.dyeable_share"],
            },
        ],
    )
    program = compile_rules(rules)
    _sound(program)
    assert any(members[-1] in ALWAYS for position, _, members in patterns(program) if position)


def _sound(program: Program) -> None:
    for position, _, members in patterns(program):
        assert list(members[0]) == [TYPE_FIELD], "the type comes first"
        assert next(iter(members[1])).startswith("bucket_"), "then the bucket"
        groups = [m for m in members if "$or" in m or "$and" in m]
        if any(True for m in members for _ in _joined(m)):
            assert position, "a first pattern has nothing to join with"
            assert groups == [], "a group beside a join is wrong in the engine"
            ((op, last),) = members[-1].items()
            always = last if op == "$neq" else members[-1]
            assert list(always) == [TYPE_FIELD], "a failing join in last place reads past its array"
            assert list(always[TYPE_FIELD].values()) == [TYPE_FIELD]
        text = repr(members)
        for forbidden in ("$nex", "$not", "$div", "$mt", "$imt", "$iany", "$iall", "$any", "$all", "'id'", "'sid'"):
            assert forbidden not in text, forbidden
        assert all(isinstance(n, float) for n in _numbers([m for m in members if "$ex" not in m])), "numbers are floats"
        joined = {field for m in members for field in _joined(m)}
        exists = {field for m in members if "$ex" in m for field in m["$ex"]}
        assert joined - {TYPE_FIELD} <= exists, "a joined field that is missing loses the whole fact"


def _numbers(value: Any) -> Iterator[float | int]:
    if isinstance(value, dict):
        for member in value.values():
            yield from _numbers(member)
    elif isinstance(value, list):
        for member in value:
            yield from _numbers(member)
    elif isinstance(value, (int, float)):
        yield value


def _joined(member: Mapping[str, Any]) -> Iterator[str]:
    for value in member.values():
        if isinstance(value, dict):
            for field, operand in value.items():
                if isinstance(operand, dict) and "$m" not in operand:
                    yield field
    if TYPE_FIELD in member and isinstance(member[TYPE_FIELD], dict):
        yield TYPE_FIELD


def test_both_sides_of_a_join_must_exist(tmp_path: Path) -> None:
    (rule,) = made_rules(tmp_path, [{"goods": ["dry_mass > vessel.dry_mass"], "vessel": []}])
    for definition in compile_rules([rule]).definitions.values():
        first, second = (next(iter(p.values()))["$and"] for p in definition["all"])
        assert any("$ex" in m for m in first)
        assert any("$ex" in m for m in second)


def test_a_join_written_out_by_hand(tmp_path: Path) -> None:
    """Both halves in full. The vessel comes first in one rule, the goods (of the same type) in the other."""
    rules = made_rules(
        tmp_path,
        {
            "other-type": {"vessel": ["lid == 'yes'"], "goods": ["dry_mass > vessel.dry_mass"]},
            "same-type": {"goods": [], "goods_2": ["dry_mass <= goods.dry_mass"]},
        },
    )
    goods, vessel = {"t": "goods"}, {"t": "vessel"}
    bucket = {"bucket_0": 1.0}
    lid_may = {"$neq": {"lid": "no"}}  # of yes, no and unknown only "no" is refused: one condition instead of two

    def exists(field: str) -> dict[str, dict[str, int]]:
        return {"$ex": {field: 1}}

    found = {name: definition["all"] for name, definition in compile_rules(rules).definitions.items()}
    assert found == {
        "other-type|certain|0": [
            {"vessel": {"$and": [vessel, bucket, {"lid": "yes"}, exists("dry_mass_hi")]}},
            {"goods": {"$and": [
                goods, bucket, exists("dry_mass_lo"), {"$gt": {"dry_mass_lo": {"vessel": "dry_mass_hi"}}},
                {"$neq": {"t": {"vessel": "t"}}},
            ]}},
        ],
        "other-type|possible|0": [
            {"vessel": {"$and": [vessel, bucket, lid_may, exists("dry_mass_lo")]}},
            {"goods": {"$and": [
                goods, bucket, exists("dry_mass_hi"), {"$gt": {"dry_mass_hi": {"vessel": "dry_mass_lo"}}},
                {"$neq": {"t": {"vessel": "t"}}},
            ]}},
        ],
        "same-type|certain|0": [
            {"goods": {"$and": [goods, bucket, exists("dry_mass_lo")]}},
            {"goods_2": {"$and": [
                goods, bucket, exists("dry_mass_hi"), {"$lte": {"dry_mass_hi": {"goods": "dry_mass_lo"}}},
                {"t": {"goods": "t"}},
            ]}},
        ],
        "same-type|possible|0": [
            {"goods": {"$and": [goods, bucket, exists("dry_mass_hi")]}},
            {"goods_2": {"$and": [
                goods, bucket, exists("dry_mass_lo"), {"$lte": {"dry_mass_lo": {"goods": "dry_mass_hi"}}},
                {"t": {"goods": "t"}},
            ]}},
        ],
    }  # fmt: skip


def test_a_choice_of_words_in_a_first_fact_is_one_group(tmp_path: Path) -> None:
    """Two of six words are one definition with a group of two; in the possible half "unknown" is a third."""
    program = compile_rules(made_rules(tmp_path, [{"dye": ["form in ['powder', 'paste']"]}]))
    found = {name: definition["all"] for name, definition in program.definitions.items()}
    head = [{"t": "dye"}, {"bucket_0": 1.0}]
    powder, paste, unknown = ({"form": word} for word in ("powder", "paste", "unknown"))
    assert found == {
        "r0|certain|0": [{"dye": {"$and": [*head, {"$or": [powder, paste]}]}}],
        "r0|possible|0": [{"dye": {"$and": [*head, {"$or": [powder, paste, unknown]}]}}],
    }
    with pytest.raises(FrozenInstanceError):
        program.definitions = {}  # type: ignore[misc]


def test_a_choice_of_words_in_a_later_fact_becomes_several_definitions(tmp_path: Path) -> None:
    """A group beside a join is wrong in the engine, so there is one definition for each word instead."""
    part = ["take in ['none', 'stain']", "kind in ['protein', 'cellulose']", "share <= goods.dyeable_share"]
    rules = made_rules(tmp_path, [{"goods": [], "part": part}])
    program = compile_rules(rules)
    assert len([name for name, (_, certain, _) in program.meaning.items() if certain]) == 4
    facts = [
        made_fact("goods"),
        made_fact("part", take="none", kind="protein"),
        made_fact("part", take="stain", kind="cellulose"),
        made_fact("part", take="full", kind="protein"),
    ]
    assert {f.facts for f in agreed_firings(rules, facts) if f.certain} == {(0, 1), (0, 2)}


def test_too_many_words_in_later_facts_are_refused(tmp_path: Path) -> None:
    words = list(vocabularies()["substance"].words)
    half = words[: len(words) // 2]
    conditions = [f"substance in {half}", "form in ['solid', 'liquid']", "strength > assist.strength"]
    rules = made_rules(tmp_path, {"wide-rule": {"assist": [], "substance": conditions}})
    with pytest.raises(CompileError, match=r"'wide-rule': too many combinations of words"):
        compile_rules(rules)


def test_sixty_four_definitions_of_one_half_are_the_most(tmp_path: Path) -> None:
    """8 x 8 and 16 x 4 words stand; 13 x 5, one more than 64, do not."""

    def rule(*sizes: int) -> dict[str, list[str]]:
        fields = {"substance": "substance", "role": "assist role", "form": "substance form"}
        conditions = []
        for (field, name), size in zip(fields.items(), sizes, strict=False):
            # the last words: together with "unknown", which may be any of them, one more in the possible half
            conditions.append(f"{field} in {list(vocabularies()[name].words[: size - 1])}")
        return {"assist": [], "substance": [*conditions, "strength > assist.strength"]}

    for sizes in ((8, 8), (16, 4)):
        (made,) = made_rules(tmp_path, [rule(*sizes)])
        names = [name for name in compile_rules([made]).definitions if "|possible|" in name]
        assert len(names) == 64, sizes
    with pytest.raises(CompileError, match="too many combinations of words"):
        compile_rules(made_rules(tmp_path, [rule(13, 5)]))


# --- limits -----------------------------------------------------------------------------------------------


def test_seventeen_facts_in_one_rule_are_refused(tmp_path: Path) -> None:
    """The engine fails from 17, and only when a fact comes."""
    sixteen: dict[str, list[str]] = {
        "gear": [],
        **{f"gear_{n}": [] for n in range(1, 9)},
        **{f"person_{n}": [] for n in range(7)},
    }
    assert len(sixteen) == 16
    compile_rules(made_rules(tmp_path, {"sixteen": sixteen}))
    with pytest.raises(CompileError, match=r"'seventeen': joins 17 facts; the engine stands 16"):
        compile_rules(made_rules(tmp_path, {"seventeen": {**sixteen, "bath": []}}))


def test_too_many_comparisons_with_other_facts_are_refused(tmp_path: Path) -> None:
    ratios = [n for n, s in FACT_TYPES["dose"].fields.items() if isinstance(s, Number) and s.unit == ""]
    texts = [f"{a} {op} dose.{b}" for op in (">=", "<=") for a in ratios for b in ratios]
    with pytest.raises(CompileError, match=r"'joiner': 26 comparisons with other facts"):
        compile_rules(made_rules(tmp_path, {"joiner": {"dose": [], "dose_2": texts[:26]}}))
    facts = [made_fact("dose"), made_fact("dose")]
    assert len(agreed_firings(made_rules(tmp_path, [{"dose": [], "dose_2": texts[:25]}]), facts)) == 4


def test_more_rules_on_one_type_than_the_buckets_hold_are_refused(tmp_path: Path) -> None:
    most = RULES_PER_BUCKET * MOST_BUCKETS // 2  # a rule is two patterns, certain and possible
    rules = made_rules(tmp_path, [{"dose": ["share_owf > 0"]}])
    program = compile_rules([_renamed(rules[0], n) for n in range(most)])
    assert program.buckets == {"dose": MOST_BUCKETS}
    with pytest.raises(CompileError, match="fact type 'dose': more than 960 patterns; split the type"):
        compile_rules([_renamed(rules[0], n) for n in range(most + 1)])


def test_the_thirty_first_pattern_of_a_type_opens_a_second_bucket(tmp_path: Path) -> None:
    """Fourteen plain rules are 28 patterns; one that joins, with two words in its possible half, is 3 more."""
    plain, join = made_rules(
        tmp_path, [{"part": ["share > 0"]}, {"goods": [], "part": ["take == 'none'", "share > goods.dyeable_share"]}]
    )
    rules = [_renamed(plain, n) for n in range(14)]
    assert compile_rules(rules).buckets == {"part": 1}
    assert compile_rules([*rules, _renamed(join, 14)]).buckets == {"part": 2, "goods": 1}


def _renamed(rule: Rule, number: int) -> Rule:
    return replace(rule, id=f"r{number}")


def test_too_many_different_conditions_under_one_node_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From 512 the engine loops for ever; words of two long lists reach that within one bucket."""
    words = list(vocabularies()["substance"].words)
    # every rule lists a third of the first and of the second substance: hundreds of different conditions
    rules = made_rules(
        tmp_path,
        [
            {"pair": [f"{field} in {words[start : start + 20]}", f"outcome == '{outcome}'"]}
            for field in ("first", "second")
            for start in (0, 20, 40)
            for outcome in ("dangerous", "wasteful")
        ],
    )
    compile_rules(rules)
    assert MOST_CHILDREN < 512
    monkeypatch.setattr(compiler, "MOST_CHILDREN", 100)  # so that a dozen rules will do
    with pytest.raises(CompileError, match="distinct conditions under"):
        compile_rules(rules)


def dose_rule(folder: Path, count: int, field: str = "share_owf", **joined: list[str]) -> Rule:
    """A rule of so many conditions on the dose, each two different ones in the engine: on the low and the high end."""
    (rule,) = made_rules(folder, [{"dose": [], **joined}])
    limits = tuple(Condition("dose", field, ">", float(n), "made") for n in range(count))
    return replace(rule, conditions=(*limits, *rule.conditions))


def test_four_hundred_different_conditions_under_one_node_are_the_most(tmp_path: Path) -> None:
    """By hand: a join of two doses has 7 (four fields that exist, two comparisons, the one that is always true)."""
    compile_rules([dose_rule(tmp_path, 200)])
    join = ["share_owf > dose.share_owf_dyeable"]
    compile_rules([dose_rule(tmp_path, 196, dose_2=join)])
    with pytest.raises(CompileError, match=r"401 distinct conditions under .*; accepted: 400"):
        compile_rules([dose_rule(tmp_path, 197, dose_2=join)])


def test_conditions_are_counted_for_each_node_alone(tmp_path: Path) -> None:
    """Two buckets of one type with 300 different conditions each."""
    one = dose_rule(tmp_path, 150)
    rules = [_renamed(one, n) for n in range(RULES_PER_BUCKET // 2)]
    program = compile_rules([*rules, _renamed(dose_rule(tmp_path, 150, "dry_mass"), len(rules))])
    assert program.buckets == {"dose": 2}


def test_no_name_of_the_schema_shares_a_hash_with_another() -> None:
    check_schema(FACT_TYPES)


@pytest.mark.parametrize(("text", "value"), [("", 0x811C9DC5), ("a", 0xE40C292C), ("foobar", 0xBF9CF968)])
def test_the_hash_of_plain_text_is_the_published_one(text: str, value: int) -> None:
    """Test vectors of FNV-1a, 32 bits: IETF draft-eastlake-fnv, from memory."""
    assert fnv(text) == value


@pytest.mark.parametrize("text", ["\x7f", "\x80", "é", "°C", "ÿ", "日"])
def test_the_hash_of_other_text_takes_bytes_as_signed(text: str) -> None:
    """As C does where char is signed: a byte from 128 on is widened with ones. Here by Python's own signed bytes."""
    value = 0x811C9DC5
    for byte in text.encode():
        signed = int.from_bytes([byte], "big", signed=True)
        value = ((value ^ signed) % 2**32) * 0x01000193 % 2**32
    assert fnv(text) == value


def test_field_names_with_one_hash_are_refused() -> None:
    """'glbvs' and 'yacxa' have one FNV-1a hash: a rule on one would fire on the other."""
    assert fnv("glbvs") == fnv("yacxa")
    numbers = {"made": FactType("made", {"glbvs": Number("g", ""), "yacxa": Number("g", "")})}
    with pytest.raises(CompileError, match="'glbvs_hi' and 'yacxa_hi' have the same hash"):
        check_schema(numbers)
    words = {"made": FactType("made", {"glbvs": Choice("yes/no", ""), "yacxa": Choice("yes/no", "")})}
    with pytest.raises(CompileError, match="'glbvs' and 'yacxa' have the same hash"):
        check_schema(words)
    with pytest.raises(CompileError, match="same hash"):
        check_schema(
            {
                "one": FactType("made", {"glbvs": Choice("yes/no", "")}),
                "two": FactType("made", {"yacxa": Choice("yes/no", "")}),
            }
        )


@pytest.mark.parametrize("name", ["id", "sid", "t", "$s", "$ex", "a.b"])
def test_names_the_engine_uses_itself_are_refused(name: str) -> None:
    with pytest.raises(CompileError, match="reserved"):
        check_schema(one_field(name, Choice("yes/no", "")))


@pytest.mark.parametrize("name", ["_made", "$made"])
def test_types_that_would_meet_the_canary_are_refused(name: str) -> None:
    with pytest.raises(CompileError, match="may not start with"):
        check_schema({name: FactType("made", {})})


def test_a_number_and_a_word_that_would_share_a_name_are_refused() -> None:
    with pytest.raises(CompileError, match="share one name"):
        check_schema({"made": FactType("made", {"mass": Number("g", ""), "mass_lo": Choice("yes/no", "")})})


def test_a_name_of_a_bucket_is_refused() -> None:
    with pytest.raises(CompileError, match="reserved"):
        check_schema(one_field(bucket_field(0), Choice("yes/no", "")))


def test_a_type_with_more_fields_than_the_engine_stands_is_refused() -> None:
    """The engine refuses from 254 fields, with its own two and the buckets counted."""
    fields = {f"field_{n}": Choice("yes/no", "") for n in range(MOST_FIELDS - MOST_BUCKETS + 1)}
    with pytest.raises(CompileError, match="209 fields; the engine stands 208"):
        check_schema({"made": FactType("made", fields)})
    del fields["field_0"]
    check_schema({"made": FactType("made", fields)})


def test_no_alias_shares_a_hash_with_another() -> None:
    aliases = [f"{name}{tail}" for name in FACT_TYPES for tail in ("", *(f"_{n}" for n in range(10)))]
    assert len({fnv(alias) for alias in aliases}) == len(aliases)


def test_no_word_of_a_vocabulary_is_longer_than_the_engine_compares() -> None:
    """From 65,536 bytes equality is wrong in the engine."""
    longest = max((len(word.encode()), word) for v in vocabularies().values() for word in v.tokens)
    assert longest[0] < 1000, longest


def test_engine_fields_of_a_type() -> None:
    made = FactType("made", {"mass": Number("g", ""), "kind": Choice("yes/no", "")})
    assert list(engine_fields(made)) == ["mass_lo", "mass_hi", "kind"]
