"""The second opinion: Kleene logic in plain Python, against tables written out by hand."""

from __future__ import annotations

import ast
import inspect
import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import by_evaluator, made_fact, made_rules, nothing

import advisor.evaluator as evaluator_module
from advisor.evaluator import FALSE, MAYBE, TRUE, Evaluator, among, compare, condition_test
from advisor.fact import Fact, Firing
from advisor.fact_types import Vocabulary
from advisor.interval import Interval
from advisor.rulebook import Condition, Ref

_TABLE = [
    # left, right, then > >= < <=
    ((0, 1), (2, 3), FALSE, FALSE, TRUE, TRUE),
    ((0, 1), (1, 3), FALSE, MAYBE, MAYBE, TRUE),
    ((0, 2), (1, 3), MAYBE, MAYBE, MAYBE, MAYBE),
    ((1, 1), (1, 1), FALSE, TRUE, FALSE, TRUE),
    ((1, 3), (1, 1), MAYBE, TRUE, FALSE, MAYBE),
    ((1, 3), (0, 1), MAYBE, TRUE, FALSE, MAYBE),
    ((2, 3), (0, 1), TRUE, TRUE, FALSE, FALSE),
    ((0, 3), (1, 2), MAYBE, MAYBE, MAYBE, MAYBE),
]


@pytest.mark.parametrize(("left", "right", "gt", "ge", "lt", "le"), _TABLE)
def test_comparison_of_intervals(
    left: tuple[float, float], right: tuple[float, float], gt: int, ge: int, lt: int, le: int
) -> None:
    a, b = Interval(*left), Interval(*right)
    assert [compare(op, a, b) for op in (">", ">=", "<", "<=")] == [gt, ge, lt, le]
    assert [compare(op, b, a) for op in ("<", "<=", ">", ">=")] == [gt, ge, lt, le]  # mirrored


ends = st.tuples(st.integers(-3, 3), st.integers(-3, 3)).map(lambda t: Interval(float(min(t)), float(max(t))))


@given(ends, ends, st.sampled_from([">", ">=", "<", "<="]))
def test_must_and_may_against_every_pair_of_values(a: Interval, b: Interval, op: str) -> None:
    """On whole ends the corners decide, so trying each whole value of both is complete."""
    tests = {">": float.__gt__, ">=": float.__ge__, "<": float.__lt__, "<=": float.__le__}
    values = [[float(v) for v in range(int(i.low), int(i.high) + 1)] for i in (a, b)]
    answers = {tests[op](x, y) for x, y in itertools.product(*values)}
    expected = TRUE if answers == {True} else FALSE if answers == {False} else MAYBE
    assert compare(op, a, b) == expected


def test_words_among_words() -> None:
    vocabulary = Vocabulary(("a", "b", "c"), {"ab": ("a", "b")})
    told = {(t, w): among(vocabulary, t, frozenset(w)) for t in vocabulary.tokens for w in ("a", "ab", "c", "ac")}
    assert told == {
        ("a", "a"): TRUE, ("a", "ab"): TRUE, ("a", "c"): FALSE, ("a", "ac"): TRUE,
        ("b", "a"): FALSE, ("b", "ab"): TRUE, ("b", "c"): FALSE, ("b", "ac"): FALSE,
        ("c", "a"): FALSE, ("c", "ab"): FALSE, ("c", "c"): TRUE, ("c", "ac"): TRUE,
        ("ab", "a"): MAYBE, ("ab", "ab"): TRUE, ("ab", "c"): FALSE, ("ab", "ac"): MAYBE,
        ("unknown", "a"): MAYBE, ("unknown", "ab"): MAYBE, ("unknown", "c"): MAYBE, ("unknown", "ac"): MAYBE,
    }  # fmt: skip


def test_one_condition_on_one_fact() -> None:
    fact = made_fact("dye", share_owf=(0, 2), maximum=1, form="powder")
    assert condition_test(Condition("dye", "share_owf", ">", 1.0, ""), "dye")(fact) == MAYBE
    assert condition_test(Condition("dye", "share_owf", ">", Ref("dye", "maximum"), ""), "dye")(fact) == MAYBE
    assert condition_test(Condition("dye", "share_owf", ">=", 0.0, ""), "dye")(fact) == TRUE
    assert condition_test(Condition("dye", "form", "in", frozenset({"paste"}), ""), "dye")(fact) == FALSE


def test_a_word_outside_the_vocabulary_is_an_error_and_never_a_silent_no() -> None:
    odd = Fact("dye", "made", {**made_fact("dye").values, "form": "sludge"})
    with pytest.raises(KeyError):
        condition_test(Condition("dye", "form", "in", frozenset({"paste"}), ""), "dye")(odd)


def test_a_rule_is_as_sure_as_its_least_sure_condition(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"goods": ["dry_mass > 0"], "vessel": ["dry_mass > goods.dry_mass", "lid == 'yes'"]}])
    goods = made_fact("goods", dry_mass=1)
    for mass, lid, expected in (
        (2, "yes", {True, False}), (2, "unknown", {False}), ((0, 2), "yes", {False}),
        (1, "yes", set()), (2, "no", set()),
    ):  # fmt: skip
        firings = by_evaluator(rules, [goods, made_fact("vessel", dry_mass=mass, lid=lid)])
        assert {f.certain for f in firings} == expected, (mass, lid)


def test_the_order_of_conditions_does_not_matter(tmp_path: Path) -> None:
    """One condition that may hold beside one that must is "may", whichever is read first."""
    may, must = "share_owf > 1", "all_maxima_stated == 'yes'"
    rules = made_rules(tmp_path, [{"dose": [may, must]}, {"dose": [must, may]}])
    firings = by_evaluator(rules, [made_fact("dose", share_owf=(0, 2), all_maxima_stated="yes")])
    assert firings == [Firing("r0", False, (0,)), Firing("r1", False, (0,))]


def test_firings_name_the_facts_in_the_order_of_the_aliases(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"vessel": [], "goods": []}])
    firings = by_evaluator(rules, [made_fact("goods"), made_fact("vessel")])
    assert set(firings) == {Firing("r0", True, (1, 0)), Firing("r0", False, (1, 0))}


def test_facts_that_a_rule_does_not_ask_for_are_no_hindrance(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"vessel": []}, {"goods": [], "vessel": []}])
    firings = by_evaluator(rules, [made_fact("bath"), made_fact("vessel")])
    assert set(firings) == {Firing("r0", True, (1,)), Firing("r0", False, (1,))}, "no goods, so no second rule"


def test_a_fact_is_never_both_of_two_aliases(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"goods": [], "goods_2": []}])
    assert by_evaluator(rules, [made_fact("goods")]) == []
    assert len(by_evaluator(rules, [made_fact("goods"), made_fact("goods")])) == 4


def test_concluded_facts_are_read_in_a_second_pass(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"dose": ["share_owf > 0"]}, {"hazard": [], "dose": []}])
    evaluator = Evaluator(rules)
    dose = made_fact("dose", share_owf=1)
    assert {f.rule for f in evaluator.run([dose], nothing)} == {"r0"}
    assert {f.rule for f in evaluator.run([dose], lambda firings: [made_fact("hazard")] if firings else [])} == {
        "r0",
        "r1",
    }
    assert {f.rule for f in evaluator.run([dose], nothing)} == {"r0"}, "nothing is left over from the run before"


def test_the_evaluator_knows_nothing_of_the_compiler_and_the_engine() -> None:
    """Two opinions from one source would be one opinion."""
    tree = ast.parse(inspect.getsource(evaluator_module))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    assert not {m for m in imported if m and ("compiler" in m or "engine" in m or "durable" in m)}
