"""The same rules, read once more in plain Python: the second opinion of every check.

Nothing here knows how the engine's definitions are made; it works on the Rule objects and the facts'
intervals and words themselves. A difference between the two is a failure of the program.
"""

from __future__ import annotations

import itertools
import operator
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache

from advisor.fact import Fact, Firing
from advisor.fact_types import FACT_TYPES, Choice, Vocabulary, vocabularies
from advisor.interval import Interval
from advisor.rulebook import Condition, Ref, Rule

# how far a condition holds: it must not, it may, it must
FALSE, MAYBE, TRUE = 0, 1, 2
CONCLUDED = "hazard"  # the fact type that rules conclude
Test = Callable[[Fact], int]
JoinTest = Callable[[Sequence[Fact]], int]

_OPERATORS = {">": operator.gt, ">=": operator.ge, "<": operator.lt, "<=": operator.le}


def compare(op: str, left: Interval, right: Interval) -> int:
    """How far `left op right` holds for intervals, in Kleene logic."""
    test = _OPERATORS[op]
    if op in (">", ">="):
        must, may = test(left.low, right.high), test(left.high, right.low)
    else:
        must, may = test(left.high, right.low), test(left.low, right.high)
    return TRUE if must else MAYBE if may else FALSE


def among(vocabulary: Vocabulary, token: str, wanted: frozenset[str]) -> int:
    """How far a word is among the wanted ones, when the token may stand for several."""
    possible = vocabulary.may_be(token)
    if possible <= wanted:
        return TRUE
    return MAYBE if possible & wanted else FALSE


@lru_cache(maxsize=2048)
def _answers(vocabulary_name: str, wanted: frozenset[str]) -> Mapping[str, int]:
    vocabulary = vocabularies()[vocabulary_name]
    return {token: among(vocabulary, token, wanted) for token in vocabulary.tokens}


@lru_cache(maxsize=4096)
def condition_test(condition: Condition, fact_type: str) -> Test:
    """The test of a condition that looks at one fact only."""
    name, operand = condition.field, condition.operand
    if isinstance(operand, frozenset):
        spec = FACT_TYPES[fact_type].fields[name]
        assert isinstance(spec, Choice)
        answers = _answers(spec.vocabulary, operand)
        return lambda fact: answers[fact.values[name]]  # type: ignore[index]
    if isinstance(operand, Ref):
        other = operand.field
        return lambda fact: compare(condition.op, fact.values[name], fact.values[other])  # type: ignore[arg-type]
    limit = Interval.point(operand)
    return lambda fact: compare(condition.op, fact.values[name], limit)  # type: ignore[arg-type]


class _Reading:
    """One rule, ready to run."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self.types = list(rule.aliases.values())
        self.needs = frozenset(self.types)
        self.own = [[condition_test(c, t) for c in rule.own(alias)] for alias, t in rule.aliases.items()]
        self.joins = [self._join(condition) for condition in rule.joins]

    def _join(self, condition: Condition) -> JoinTest:
        order = list(self.rule.aliases)
        assert isinstance(condition.operand, Ref)
        left, right = order.index(condition.alias), order.index(condition.operand.alias)
        name, other = condition.field, condition.operand.field
        return lambda facts: compare(condition.op, facts[left].values[name], facts[right].values[other])  # type: ignore[arg-type]

    def matches(self, by_type: Mapping[str, list[tuple[int, Fact]]]) -> list[Firing]:
        if not self.needs <= by_type.keys():
            return []
        columns: list[list[tuple[int, Fact, int]]] = []
        for fact_type, tests in zip(self.types, self.own, strict=True):
            column = []
            for index, fact in by_type[fact_type]:
                if holds := _all_of(tests, fact):
                    column.append((index, fact, holds))
            if not column:
                return []
            columns.append(column)
        firings = []
        for row in itertools.product(*columns):
            indexes = tuple(index for index, _, _ in row)
            if len(set(indexes)) != len(indexes):
                continue
            holds = min(h for _, _, h in row)
            if self.joins and holds:
                facts = [fact for _, fact, _ in row]
                holds = min(holds, *(join(facts) for join in self.joins))
            if holds:
                firings.append(Firing(self.rule.id, False, indexes))
            if holds == TRUE:
                firings.append(Firing(self.rule.id, True, indexes))
        return firings


def _all_of(tests: Sequence[Test], fact: Fact) -> int:
    """How far all the tests hold for a fact: as far as the least of them."""
    least = TRUE
    for test in tests:
        holds = test(fact)
        if not holds:
            return FALSE
        if holds < least:
            least = holds
    return least


class Evaluator:
    """Evaluates rules over facts. Free of state between runs."""

    def __init__(self, rules: Sequence[Rule]) -> None:
        readings = [_Reading(rule) for rule in rules]
        self._first = [reading for reading in readings if CONCLUDED not in reading.types]
        self._then = [reading for reading in readings if CONCLUDED in reading.types]

    def run(self, facts: Sequence[Fact], conclude: Callable[[list[Firing]], Sequence[Fact]]) -> list[Firing]:
        """Every firing over the facts and over those that `conclude` makes; the same answer as Engine.run."""
        by_type: dict[str, list[tuple[int, Fact]]] = {}
        for index, fact in enumerate(facts):
            by_type.setdefault(fact.type, []).append((index, fact))
        firings = [firing for reading in self._first for firing in reading.matches(by_type)]
        for index, fact in enumerate(conclude(firings), start=len(facts)):
            by_type.setdefault(fact.type, []).append((index, fact))
        return firings + [firing for reading in self._then for firing in reading.matches(by_type)]
