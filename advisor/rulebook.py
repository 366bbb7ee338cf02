"""rules/checks/*.toml -> checked Rule objects.

A rule is data. Loading checks every field, type, word, alias, placeholder, source, limit and remedy
name, and names the file and the rule in its error. Conditions are single comparisons in Python's own
syntax; they are read with `ast` and never evaluated.
"""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from advisor.errors import AdvisorError
from advisor.fact_types import FACT_TYPES, UNKNOWN, Choice, FactType, Number, vocabularies
from advisor.knowledge import Knowledge, knowledge
from advisor.paths import rules_root, toml_files
from advisor.store import kept, pack, unpack
from advisor.toml_file import read_toml

Signal = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
Effect = Literal["stop", "change", "caution"]
Comparison = Literal[">", ">=", "<", "<=", "in"]
SIGNALS: tuple[Signal, ...] = get_args(Signal)  # gravest first, as the effects
EFFECTS: tuple[Effect, ...] = get_args(Effect)
VERSION = "1"

PLACEHOLDER = re.compile(r"\{(\w+)\.(\w+)\}")  # {alias.field} in message and do


class RuleError(AdvisorError):
    """A rule file is wrong; the message names the file, the rule and what is accepted."""


@dataclass(frozen=True, slots=True)
class Ref:
    """Another fact's field, or another field of the same fact."""

    alias: str
    field: str


@dataclass(frozen=True, slots=True)
class Condition:
    """One comparison on one field. For words, `operand` is the set of words and `op` is "in"."""

    alias: str
    field: str
    op: Comparison
    operand: float | frozenset[str] | Ref
    text: str


@dataclass(frozen=True, slots=True)
class Case:
    """A base plan with changes, for which the rule must fire, stay silent or ask."""

    plan: str
    change: Mapping[str, Any]


@dataclass(frozen=True)
class Cases:
    """For which plans a rule must fire, stay silent, or ask."""

    fires: tuple[Case, ...]
    silent: tuple[Case, ...]
    asks: tuple[Case, ...]


@dataclass(frozen=True)
class Rule:
    """One rule. `aliases` gives the fact types it joins, in order; a concluding rule has `concludes`."""

    id: str
    file: str
    topic: str
    signal: Signal
    effect: Effect
    aliases: Mapping[str, str]
    conditions: tuple[Condition, ...]
    title: str
    message: str
    reason: str
    gaps: str | None  # what the rule is known not to see
    do: tuple[str, ...]
    remedy: str | None
    no_remedy: str | None
    sources: tuple[str, ...]
    packed_cases: bytes  # a check needs none of them, and kept rules are read sooner without
    concludes: Mapping[str, str] | None

    @cached_property
    def cases(self) -> Cases:
        """The rule's own cases."""
        cases: Cases = unpack(self.packed_cases)
        return cases

    def own(self, alias: str) -> tuple[Condition, ...]:
        """The conditions that look at this alias alone."""
        return tuple(c for c in self.conditions if c.alias == alias and not self._joins(c))

    @property
    def joins(self) -> tuple[Condition, ...]:
        """The conditions that compare two aliases."""
        return tuple(c for c in self.conditions if self._joins(c))

    @staticmethod
    def _joins(condition: Condition) -> bool:
        return isinstance(condition.operand, Ref) and condition.operand.alias != condition.alias


@dataclass(frozen=True)
class Topic:
    """A topic of the closed list."""

    id: str
    family: str
    title: str


@dataclass(frozen=True)
class Rulebook:
    """All rules, in file order, with the topics and the digest of everything they rest on."""

    rules: tuple[Rule, ...]
    topics: Mapping[str, Topic]
    digest: str
    version: str = VERSION

    def rule(self, rule_id: str) -> Rule:
        """The rule with this id. Raises KeyError."""
        return self.by_id[rule_id]

    @cached_property
    def by_id(self) -> Mapping[str, Rule]:
        """The rules by id."""
        return {rule.id: rule for rule in self.rules}

    @property
    def findings_rules(self) -> tuple[Rule, ...]:
        """The rules that make findings."""
        return tuple(rule for rule in self.rules if rule.concludes is None)


class _CaseRow(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True)
    plan: str
    change: dict[str, Any] = {}


class _CasesRow(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True)
    fires: list[_CaseRow] = Field(min_length=1)
    silent: list[_CaseRow] = Field(min_length=1)
    asks: list[_CaseRow] = []


class _ConcludesRow(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True)
    exposure: str
    step: Literal["weigh", "dissolve", "dye", "rinse", "clean up"] | None = None


_RuleId = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]


class _RuleRow(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True)
    id: _RuleId
    topic: str | None = None
    signal: Signal | None = None
    effect: Effect | None = None
    when: dict[str, list[str]] = Field(min_length=1)
    concludes: _ConcludesRow | None = None
    title: str = Field(min_length=1, max_length=90)
    message: str = ""
    reason: str = Field(min_length=1)
    gaps: Annotated[str, Field(min_length=1)] | None = None
    do: list[str] = []
    remedy: str | None = None
    no_remedy: str | None = None
    no_asks: str | None = None
    sources: list[str] = Field(min_length=1)
    cases: _CasesRow


def load_rules(folder: Traversable, k: Knowledge, *, counted: bool = False) -> tuple[Rule, ...]:
    """Read all rule files of a folder; `counted` ones must end with their count of rows. Raises RuleError."""
    topics = load_topics()
    rules: list[Rule] = []
    for file in toml_files(folder):
        for row in _rows_of(file, counted):
            rules.append(_Reader(file.name, row, k, topics).rule())
    return tuple(rules)


def _rows_of(file: Traversable, counted: bool) -> Iterator[_RuleRow]:
    data = read_toml(file, RuleError, counted=counted)
    unknown = sorted(set(data) - {"rule"})
    if unknown or not isinstance(data.get("rule"), list):
        raise RuleError(
            f"{file.name}: accepted at the top level: [[rule]] only; found {', '.join(unknown) or 'no rule'}"
        )
    for number, item in enumerate(data["rule"], start=1):
        try:
            yield _RuleRow.model_validate(item)
        except ValidationError as error:
            first = error.errors()[0]
            name = item.get("id", f"number {number}") if isinstance(item, dict) else f"number {number}"
            where = ".".join(str(part) for part in first["loc"])
            accepted = f"; accepted: {', '.join(_RuleRow.model_fields)}" if first["type"] == "extra_forbidden" else ""
            raise RuleError(f"{file.name}: rule {name!r}: {where}: {first['msg']}{accepted}") from None


class _Reader:
    """Checks one row against the schema and the tables."""

    def __init__(self, file: str, row: _RuleRow, k: Knowledge, topics: Mapping[str, Topic]) -> None:
        self.file, self.row, self.k, self.topics = file, row, k, topics
        self.aliases = {alias: self._type_of(alias) for alias in row.when}

    def rule(self) -> Rule:
        row = self.row
        if row.concludes is None:
            missing = [n for n in ("topic", "signal", "effect", "message") if not getattr(row, n)]
            if missing:
                raise self._error(f"{missing[0]} is missing")
            if not row.do:
                raise self._error("do is missing: say what to do instead")
            if row.topic not in self.topics:
                raise self._error(f"topic {row.topic!r} is not in the closed list of topics.toml")
        else:
            if "hazard" in self.aliases.values():
                raise self._error("a rule that concludes a hazard must not read hazards")
            if row.concludes.exposure not in self.k.exposures:
                raise self._error(f"concludes.exposure {row.concludes.exposure!r} is not an exposure of gear.toml")
        if row.remedy is not None and row.remedy not in self.k.ways_out:
            raise self._error(f"remedy {row.remedy!r} is not known; accepted: {', '.join(self.k.ways_out.ids)}")
        for source in row.sources:
            if source not in self.k.sources:
                raise self._error(f"source {source!r} is not in sources.toml")
        conditions = tuple(self._condition(alias, text) for alias, texts in row.when.items() for text in texts)
        for text in (row.message, *row.do):
            self._check_placeholders(text)
        for name, text in (("title", row.title), ("reason", row.reason), ("gaps", row.gaps or "")):
            if "{" in text or "}" in text:
                raise self._error(f"{name}: holds no placeholders; put {{alias.field}} into message or do")
        return Rule(
            id=row.id,
            file=self.file,
            topic=row.topic or "",
            signal=row.signal or "NOTICE",
            effect=row.effect or "caution",
            aliases=self.aliases,
            conditions=conditions,
            title=row.title,
            message=row.message,
            reason=row.reason,
            gaps=row.gaps,
            do=tuple(row.do),
            remedy=row.remedy,
            no_remedy=row.no_remedy,
            sources=tuple(row.sources),
            packed_cases=pack(Cases(_cases(row.cases.fires), _cases(row.cases.silent), _cases(row.cases.asks))),
            concludes=row.concludes.model_dump(exclude_none=True) if row.concludes else None,
        )

    def _error(self, message: str) -> RuleError:
        return RuleError(f"{self.file}: rule {self.row.id!r}: {message}")

    def _type_of(self, alias: str) -> str:
        fact_type = re.sub(r"_[0-9]$", "", alias)
        if fact_type not in FACT_TYPES:
            raise self._error(f"when.{alias}: no such fact; accepted: {', '.join(FACT_TYPES)}")
        return fact_type

    def _schema(self, alias: str) -> FactType:
        return FACT_TYPES[self.aliases[alias]]

    def _field(self, alias: str, name: str, text: str) -> Number | Choice:
        fields = self._schema(alias).fields
        if name not in fields:
            raise self._error(f"{text!r}: {alias} has no field {name!r}; accepted: {', '.join(fields)}")
        return fields[name]

    def _condition(self, alias: str, text: str) -> Condition:
        try:
            tree = ast.parse(text, mode="eval").body
        except (SyntaxError, ValueError, RecursionError, MemoryError):
            raise self._error(f"{text!r} is not a comparison such as 'field > 1'") from None
        if not isinstance(tree, ast.Compare) or len(tree.ops) != 1 or not isinstance(tree.left, ast.Name):
            raise self._error(f"{text!r}: write one comparison with the field on the left, such as 'field > 1'")
        name = tree.left.id
        spec = self._field(alias, name, text)
        op, right = tree.ops[0], tree.comparators[0]
        if isinstance(spec, Choice):
            return Condition(alias, name, "in", self._words(spec, op, right, text), text)
        symbols: dict[type[ast.cmpop], Comparison] = {
            ast.Gt: ">", ast.GtE: ">=", ast.Lt: "<", ast.LtE: "<=",
        }  # fmt: skip
        symbol = symbols.get(type(op))
        if symbol is None:
            raise self._error(f"{text!r}: a number is compared with >, >=, < or <=")
        return Condition(alias, name, symbol, self._operand(alias, spec, right, text), text)

    def _words(self, spec: Choice, op: ast.cmpop, right: ast.expr, text: str) -> frozenset[str]:
        try:
            value = ast.literal_eval(right)
        except (ValueError, TypeError, SyntaxError, RecursionError, MemoryError):
            raise self._error(f"{text!r}: a word is compared with quoted words") from None
        match op:
            case ast.Eq() | ast.NotEq() if isinstance(value, str):
                words = {value}
            case ast.In() | ast.NotIn() if isinstance(value, list) and value and all(isinstance(w, str) for w in value):
                words = set(value)
            case _:
                raise self._error(f"{text!r}: accepted for words: == 'word', != 'word', in ['word', ...], not in [...]")
        vocabulary = vocabularies()[spec.vocabulary]
        wanted: set[str] = set()
        for word in words:
            if word == UNKNOWN:
                raise self._error(
                    f"{text!r}: a rule cannot ask for 'unknown'; what is unknown makes a question by itself"
                )
            if word not in vocabulary.words and word not in vocabulary.families:
                raise self._error(
                    f"{text!r}: {word!r} is not in the vocabulary {spec.vocabulary!r}: {', '.join(vocabulary.words)}"
                )
            wanted |= vocabulary.may_be(word)
        if isinstance(op, (ast.NotEq, ast.NotIn)):
            wanted = set(vocabulary.words) - wanted
        if not wanted or wanted == set(vocabulary.words):
            raise self._error(f"{text!r}: holds for {'no' if not wanted else 'every'} word, so it decides nothing")
        return frozenset(wanted)

    def _operand(self, alias: str, spec: Number, right: ast.expr, text: str) -> float | Ref:
        match right:
            case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
                if value not in (0, 1):
                    raise self._error(
                        f"{text!r}: a number other than 0 and 1 belongs in limits.toml, with unit and source"
                    )
                return float(value)
            case ast.Name(id=name):
                return self._same_unit(spec, Ref(alias, name), text)
            case ast.Attribute(value=ast.Name(id="limit"), attr=name):
                return self._limit(spec, name, text)
            case ast.Attribute(value=ast.Name(id=other), attr=name) if other in self.aliases:
                return self._same_unit(spec, Ref(other, name), text)
        raise self._error(f"{text!r}: on the right: 0, 1, limit.NAME, a field, or other.field")

    def _limit(self, spec: Number, name: str, text: str) -> float:
        limit = self.k.limits.get(name)
        if limit is None:
            raise self._error(f"{text!r}: limit {name!r} is not in limits.toml")
        figure = limit.figure
        if figure.low != figure.high:
            raise self._error(f"{text!r}: limit {name!r} is a range; a rule compares with one number")
        if figure.unit != spec.unit and not (spec.unit == "" and figure.unit == "ratio"):
            raise self._error(f"{text!r}: limit {name!r} is in {figure.unit!r}, the field in {spec.unit or 'ratio'!r}")
        return figure.low

    def _same_unit(self, spec: Number, ref: Ref, text: str) -> Ref:
        other = self._field(ref.alias, ref.field, text)
        if not isinstance(other, Number) or other.unit != spec.unit:
            raise self._error(f"{text!r}: the two fields are not in the same unit")
        return ref

    def _check_placeholders(self, text: str) -> None:
        for alias, field in PLACEHOLDER.findall(text):
            name = f"{alias}.{field}"
            if alias == "limit" and field in self.k.limits:
                continue
            if alias not in self.aliases:
                raise self._error(f"placeholder {{{name}}}: no such alias; accepted: {', '.join(self.aliases)}, limit")
            schema = self._schema(alias)
            if field not in schema.fields and field not in schema.texts:
                raise self._error(
                    f"placeholder {{{name}}}: {alias} has no {field!r}; accepted: {', '.join((*schema.texts, *schema.fields))}"
                )
        rest = PLACEHOLDER.sub("", text)
        if "{" in rest or "}" in rest:
            raise self._error(f"{text!r}: a placeholder is written {{alias.field}}, with no more inside the braces")


def _cases(rows: list[_CaseRow]) -> tuple[Case, ...]:
    return tuple(Case(row.plan, row.change) for row in rows)


@lru_cache(maxsize=1)
def load_topics() -> Mapping[str, Topic]:
    """The closed list of topics. Raises RuleError when the table is missing or wrong."""
    data = read_toml(rules_root() / "knowledge" / "topics.toml", RuleError)
    try:
        return {row["id"]: Topic(row["id"], row["family"], row["title"]) for row in data["topic"]}
    except KeyError as error:
        raise RuleError(f"topics.toml: {error} is missing; each [[topic]] has id, family and title") from None
    except TypeError as error:
        raise RuleError(f"topics.toml: cannot be read: {error}") from None


def make_rulebook(*extra: Path) -> Rulebook:
    """The rulebook that ships with the advisor, and the rules of further folders.

    Raises RuleError; an id that is already taken, or was withdrawn, is an error.
    """
    folders: list[Traversable] = [rules_root() / "checks", *extra]
    rules: list[Rule] = []
    taken: dict[str, str] = {}  # id -> file
    for folder in folders:
        if not folder.is_dir():
            raise RuleError(f"{folder}: no such folder of rules")
        found = load_rules(folder, knowledge(), counted=folder is folders[0])
        if not found:
            raise RuleError(f"{folder}: no rule in this folder")
        for rule in found:
            place = f"{'rules/checks' if folder is folders[0] else folder}/{rule.file}"
            if rule.id in taken:
                raise RuleError(f"{place}: rule {rule.id!r}: this id is already taken by {taken[rule.id]}")
            taken[rule.id] = place
        rules.extend(found)
    _check_withdrawn(taken, load_topics(), knowledge())
    return Rulebook(tuple(rules), load_topics(), _digest(folders))


def _check_withdrawn(taken: Mapping[str, str], topics: Mapping[str, Topic], k: Knowledge) -> None:
    """An id stays with what it once meant: it is never given again, and leads to what took its place."""
    for gone in k.withdrawn_rules.values():
        if gone.id in taken:
            raise RuleError(f"{taken[gone.id]}: rule {gone.id!r}: this id was withdrawn on {gone.on}; take another")
    for gone in k.withdrawn_topics.values():
        if gone.id in topics:
            raise RuleError(f"topics.toml: topic {gone.id!r}: this id was withdrawn on {gone.on}; take another")
    known = {*taken, *topics, *k.withdrawn_rules, *k.withdrawn_topics}
    for gone in (*k.withdrawn_rules.values(), *k.withdrawn_topics.values()):
        for name in gone.instead:
            if name not in known:
                raise RuleError(f"withdrawn.toml: {gone.id!r}: instead: {name!r} is no rule and no topic")


def _digest(folders: list[Traversable]) -> str:
    seal = hashlib.sha256()
    for folder in (rules_root() / "knowledge", *folders):
        for file in toml_files(folder):
            seal.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return "sha256:" + seal.hexdigest()


@lru_cache(maxsize=1)
def rulebook() -> Rulebook:
    """The shipped rulebook, loaded once."""
    return kept("rulebook", make_rulebook)
