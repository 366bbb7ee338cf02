"""Rules -> the subset of durable-rules definitions that was found sound.

Each rule becomes Kleene pairs: `certain` (all conditions must hold) and `possible` (all may hold). What a
rule author could reach in the engine that crashes, hangs or is silently wrong is kept out here:

- every pattern starts with its type, then a bucket, so that no node of the network gets more satisfied or
  more total children than the engine stands;
- a pattern that compares with an earlier one has `$ex` on both sides, no groups, and ends with an
  always-true join (a failing join in last place reads past its array);
- numbers are floats on both sides, words are compared for equality only;
- a choice between words is `$or` of constants, but several definitions where the pattern compares with another fact.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from advisor.encoding import encode
from advisor.fact_types import FACT_TYPES, Choice, FactType, Number, Vocabulary, vocabularies
from advisor.rulebook import Comparison, Condition, Ref, Rule

TYPE_FIELD = "t"
CANARY, END = "_canary", "_end"  # markers that the engine must answer, first and last in every session
# engine: 64 satisfied nodes wait for one fact at most, else its rules are lost (loudly, error 303). Waiting at
# worst: every other bucket and every pattern of this one. Joins always count as satisfied.
RULES_PER_BUCKET = 30
MOST_BUCKETS = 32
MOST_CHILDREN = 400  # engine: 512 distinct conditions under one node loop for ever
MOST_VARIANTS = 64  # definitions of one half of a rule; each takes places in the buckets
MOST_PATTERNS = 16
MOST_JOINS = 25
MOST_FIELDS = 240
RESERVED_FIELDS = frozenset({"id", "sid", TYPE_FIELD})
_BUCKET = "bucket_"
MIRRORED: Mapping[str, Comparison] = {">": "<", ">=": "<=", "<": ">", "<=": ">="}
ENGINE_OP = {">": "$gt", ">=": "$gte", "<": "$lt", "<=": "$lte"}

Pattern = dict[str, Any]


class CompileError(Exception):
    """A rule or the schema cannot be compiled to what the engine does right."""


@dataclass(frozen=True)
class Program:
    """Definitions for the engine, and what each of their names stands for."""

    definitions: Mapping[str, Mapping[str, Any]]
    meaning: Mapping[str, tuple[str, bool, tuple[str, ...]]]  # name -> rule id, certain, aliases in rule order
    buckets: Mapping[str, int]
    fields: Mapping[str, tuple[str, ...]]  # type -> the fields that rules look at; the engine is given no others

    @cached_property
    def text(self) -> str:
        """The definitions as the engine reads them, between the two markers."""
        definitions: dict[str, Any] = {CANARY: {"all": [{"m": {TYPE_FIELD: CANARY}}]}}
        definitions.update(self.definitions)
        definitions[END] = {"all": [{"m": {TYPE_FIELD: END}}]}
        return encode(definitions)


def fnv(text: str) -> int:
    """The engine's 32-bit hash of a field name or id (FNV-1a on signed characters)."""
    value = 2166136261
    for byte in text.encode("utf-8", "surrogatepass"):
        value = ((value ^ (byte | 0xFFFFFF00 if byte > 127 else byte)) * 16777619) & 0xFFFFFFFF
    return value


def engine_fields(fact_type: FactType) -> Iterator[str]:
    """The field names a fact of this type has in the engine."""
    for name, spec in fact_type.fields.items():
        if isinstance(spec, Number):
            yield from (f"{name}_lo", f"{name}_hi")
        else:
            yield name


def bucket_field(number: int) -> str:
    """The field that is 1.0 on every fact and spreads the rules of one type over several nodes."""
    return f"{_BUCKET}{number}"


def check_schema(types: Mapping[str, FactType]) -> None:
    """Refuse a schema whose names the engine would mix up. Raises CompileError."""
    hashes: dict[int, str] = {}
    names: set[str] = {TYPE_FIELD, *(bucket_field(n) for n in range(MOST_BUCKETS))}
    for type_name, fact_type in types.items():
        if type_name.startswith(("_", "$")):
            raise CompileError(f"fact type {type_name!r}: a type may not start with '_' or '$'")
        own = list(engine_fields(fact_type))
        if len(own) + MOST_BUCKETS > MOST_FIELDS:
            raise CompileError(
                f"fact type {type_name!r}: {len(own)} fields; the engine stands {MOST_FIELDS - MOST_BUCKETS}"
            )
        if len(set(own)) != len(own):
            raise CompileError(f"fact type {type_name!r}: two fields share one name in the engine")
        for field in own:
            if field in RESERVED_FIELDS or field.startswith(("$", _BUCKET)) or "." in field:
                raise CompileError(f"fact type {type_name!r}: field name {field!r} is reserved by the engine")
            names.add(field)
    for name in sorted(names):
        clash = hashes.setdefault(fnv(name), name)
        if clash != name:
            raise CompileError(f"field names {clash!r} and {name!r} have the same hash in the engine; rename one")


def compile_rules(rules: Sequence[Rule]) -> Program:
    """Compile rules to one program. Raises CompileError with the rule's id."""
    check_schema(FACT_TYPES)
    definitions: dict[str, dict[str, Any]] = {}
    meaning: dict[str, tuple[str, bool, tuple[str, ...]]] = {}
    buckets = _Buckets()
    for rule in rules:
        if len(rule.aliases) > MOST_PATTERNS:
            raise CompileError(f"rule {rule.id!r}: joins {len(rule.aliases)} facts; the engine stands {MOST_PATTERNS}")
        for certain in (True, False):
            for number, patterns in enumerate(_variants(rule, certain, buckets)):
                name = f"{rule.id}|{'certain' if certain else 'possible'}|{number}"
                definitions[name] = {"all": patterns}
                meaning[name] = (rule.id, certain, tuple(rule.aliases))
    _check_children(definitions)
    return Program(definitions, meaning, buckets.used(), _fields(rules))


def _fields(rules: Sequence[Rule]) -> dict[str, tuple[str, ...]]:
    used: dict[str, set[str]] = {fact_type: set() for rule in rules for fact_type in rule.aliases.values()}
    for rule in rules:
        for condition in rule.conditions:
            used[rule.aliases[condition.alias]].add(condition.field)
            if isinstance(condition.operand, Ref):
                used[rule.aliases[condition.operand.alias]].add(condition.operand.field)
    return {fact_type: tuple(sorted(names)) for fact_type, names in used.items()}


class _Buckets:
    """Hands out buckets of each type, a fixed number of patterns to each."""

    def __init__(self) -> None:
        self._patterns: dict[str, int] = {}

    def next(self, fact_type: str) -> int:
        count = self._patterns.get(fact_type, 0)
        self._patterns[fact_type] = count + 1
        bucket = count // RULES_PER_BUCKET
        if bucket >= MOST_BUCKETS:
            raise CompileError(
                f"fact type {fact_type!r}: more than {MOST_BUCKETS * RULES_PER_BUCKET} patterns; split the type"
            )
        return bucket

    def used(self) -> dict[str, int]:
        return {name: (count - 1) // RULES_PER_BUCKET + 1 for name, count in self._patterns.items()}


def _variants(rule: Rule, certain: bool, buckets: _Buckets) -> Iterator[list[dict[str, Any]]]:
    """The definitions one half of a rule needs: one, times the words to choose from in patterns that join."""
    order = list(rule.aliases)
    joins, exists = _joins(rule, order, certain)
    per_alias: list[list[list[Pattern]]] = []
    for alias in order:
        choices: list[list[Pattern]] = [[]]
        for condition in rule.own(alias):
            alternatives = list(_atoms(rule, condition, certain, grouped=not joins[alias]))
            choices = [done + more for done in choices for more in alternatives]
        per_alias.append(choices)
    if math.prod(len(choices) for choices in per_alias) > MOST_VARIANTS:
        raise CompileError(
            f"rule {rule.id!r}: too many combinations of words in later facts; put that fact first in 'when'"
        )
    for combination in itertools.product(*per_alias):
        patterns: list[dict[str, Any]] = []
        for alias, constants in zip(order, combination, strict=True):
            fact_type = rule.aliases[alias]
            members: list[Pattern] = [{TYPE_FIELD: fact_type}, {bucket_field(buckets.next(fact_type)): 1.0}, *constants]
            members += [{"$ex": {name: 1}} for name in sorted(exists[alias])]
            if joins[alias]:
                members += joins[alias]
                first = order[0]
                always = {TYPE_FIELD: {first: TYPE_FIELD}}
                members.append(always if rule.aliases[first] == fact_type else {"$neq": always})
            patterns.append({alias: {"$and": members}})
        yield patterns


def _atoms(rule: Rule, condition: Condition, certain: bool, *, grouped: bool) -> Iterator[list[Pattern]]:
    """The alternatives of one condition on one fact, each a list of engine conditions."""
    name = condition.field
    if condition.op == "in":
        assert isinstance(condition.operand, frozenset)
        yield from _word_atoms(rule, condition.alias, name, condition.operand, certain, grouped)
        return
    greater = condition.op in (">", ">=")
    own_end = "lo" if greater == certain else "hi"
    if isinstance(condition.operand, Ref):
        other_end = "hi" if own_end == "lo" else "lo"
        yield [{ENGINE_OP[condition.op]: {f"{name}_{own_end}": {"$m": f"{condition.operand.field}_{other_end}"}}}]
    else:
        assert isinstance(condition.operand, float)
        yield [{ENGINE_OP[condition.op]: {f"{name}_{own_end}": condition.operand}}]


def _word_atoms(
    rule: Rule, alias: str, name: str, wanted: frozenset[str], certain: bool, grouped: bool
) -> Iterator[list[Pattern]]:
    spec = FACT_TYPES[rule.aliases[alias]].fields[name]
    assert isinstance(spec, Choice)
    accepted, refused = split_tokens(vocabularies()[spec.vocabulary], wanted, certain)
    if len(refused) < len(accepted):
        yield [{"$neq": {name: token}} for token in refused]
    elif grouped and len(accepted) > 1:
        yield [{"$or": [{name: token} for token in accepted]}]
    else:
        for token in accepted:
            yield [{name: token}]


def split_tokens(vocabulary: Vocabulary, wanted: frozenset[str], certain: bool) -> tuple[list[str], list[str]]:
    """The tokens for which the condition must (or, not `certain`, may) hold, and the others."""
    accepted: list[str] = []
    refused: list[str] = []
    for token in vocabulary.tokens:
        may_be = vocabulary.may_be(token)
        holds = may_be <= wanted if certain else bool(may_be & wanted)
        (accepted if holds else refused).append(token)
    return accepted, refused


def _joins(rule: Rule, order: Sequence[str], certain: bool) -> tuple[dict[str, list[Pattern]], dict[str, set[str]]]:
    """For each alias: its comparisons with earlier aliases, and the fields that take part in one."""
    joins: dict[str, list[Pattern]] = {alias: [] for alias in order}
    exists: dict[str, set[str]] = {alias: set() for alias in order}
    for condition in rule.joins:
        assert isinstance(condition.operand, Ref)
        later, earlier, op = (
            (condition.alias, condition.field),
            (condition.operand.alias, condition.operand.field),
            condition.op,
        )
        if order.index(later[0]) < order.index(earlier[0]):
            later, earlier, op = earlier, later, MIRRORED[op]
        end = "lo" if (op in (">", ">=")) == certain else "hi"
        mine, theirs = f"{later[1]}_{end}", f"{earlier[1]}_{'hi' if end == 'lo' else 'lo'}"
        joins[later[0]].append({ENGINE_OP[op]: {mine: {earlier[0]: theirs}}})
        exists[later[0]].add(mine)
        exists[earlier[0]].add(theirs)
    for alias in order:
        if len(joins[alias]) > MOST_JOINS:
            raise CompileError(
                f"rule {rule.id!r}: {len(joins[alias])} comparisons with other facts; the engine stands {MOST_JOINS}"
            )
    return joins, exists


def _check_children(definitions: Mapping[str, Mapping[str, Any]]) -> None:
    """Count distinct conditions under each bucket; the engine loops for ever from 512."""
    children: dict[str, set[str]] = {}
    for definition in definitions.values():
        for pattern in definition["all"]:
            (members,) = (body["$and"] for body in pattern.values())
            node = repr(members[:2])
            children.setdefault(node, set()).update(repr(c) for c in _flat(members[2:]))
    for node, conditions in children.items():
        if len(conditions) > MOST_CHILDREN:
            raise CompileError(f"{len(conditions)} distinct conditions under {node}; accepted: {MOST_CHILDREN}")


def _flat(members: Iterable[Pattern]) -> Iterator[Pattern]:
    for member in members:
        yield from member.get("$or", (member,))
