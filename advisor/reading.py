"""Reading the rulebook and the tables: what `advisor rules` and `advisor facts` show."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.cases import cases_of
from advisor.fact_types import FACT_TYPES, Choice, Number
from advisor.knowledge import Knowledge, fold_word, knowledge
from advisor.plan import InputError
from advisor.plan_values import LONGEST_TEXT
from advisor.quantities import format_interval
from advisor.rows import Named, Pair, Row, Uptake, Withdrawn
from advisor.rulebook import Case, Condition, Ref, Rule, Rulebook

_WORDS = {">": "is more than", ">=": "is at least", "<": "is less than", "<=": "is at most"}


@dataclass(frozen=True)
class Wanted:
    """Which rules to show; None or "" for any."""

    topic: str | None = None
    signal: str | None = None
    effect: str | None = None
    substance: str | None = None
    fibre: str | None = None
    search: str = ""


def chosen(rulebook: Rulebook, wanted: Wanted) -> list[Rule]:
    """The rules that fit. Raises InputError for a substance or a fibre that the tables do not know."""
    k, subjects = knowledge(), []
    if wanted.substance:
        subjects.append(_substance(wanted.substance, k))
    if wanted.fibre:
        subjects.append(_fibre(wanted.fibre, k))
    return [rule for rule in rulebook.rules if _fits(rule, wanted) and all(_names(rule, s) for s in subjects)]


def _fits(rule: Rule, wanted: Wanted) -> bool:
    if wanted.topic and rule.topic != wanted.topic:
        return False
    if wanted.signal and (rule.concludes or rule.signal != wanted.signal):
        return False
    if wanted.effect and (rule.concludes or rule.effect != wanted.effect):
        return False
    return wanted.search.casefold() in _all_text(rule).casefold()


@dataclass(frozen=True)
class _Subject:
    """What a rule may look for, as ids of each vocabulary, or speak of."""

    ids: Mapping[str, frozenset[str]]
    spoken: re.Pattern[str]


def _substance(word: str, k: Knowledge) -> _Subject:
    row = k.substances.find(word)
    if row is None:
        near = nearest(word, k.substances.words)
        raise InputError(
            f"{word!r} is no substance of the tables{near or '; `advisor facts substances` lists them'}",
            file="--substance",
        )
    return _Subject({"substance": frozenset((row.id,))}, _spoken([row]))


def _fibre(word: str, k: Knowledge) -> _Subject:
    """A fibre, with what holds for its family; or a family with all its fibres."""
    fibre, family = k.fibres.find(word), k.families.find(word)
    if fibre is not None:
        return _Subject({"fibre": frozenset((fibre.id,)), "family": frozenset((fibre.family,))}, _spoken([fibre]))
    if family is None:
        near = nearest(word, (*k.fibres.words, *k.families.words))
        raise InputError(
            f"{word!r} is no fibre of the tables{near or '; `advisor facts fibres` lists them'}", file="--fibre"
        )
    members = [row for row in k.fibres if row.family == family.id]
    ids = {"fibre": frozenset(row.id for row in members), "family": frozenset((family.id,))}
    return _Subject(ids, _spoken([family, *members]))


def _spoken(rows: Iterable[Named]) -> re.Pattern[str]:
    words = {fold_word(word) for row in rows for word in (row.id, row.title, *row.synonyms) if word}
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, sorted(words)))})s?(?!\w)")


def _names(rule: Rule, subject: _Subject) -> bool:
    """Whether a condition looks for the subject, or a text speaks of it."""
    for condition in rule.conditions:
        spec, operand = FACT_TYPES[rule.aliases[condition.alias]].fields[condition.field], condition.operand
        ids = subject.ids.get(spec.vocabulary, frozenset()) if isinstance(spec, Choice) else frozenset()
        if isinstance(operand, frozenset) and operand & ids:
            return True
    return subject.spoken.search(fold_word(_all_text(rule))) is not None


def nearest(word: str, words: Sequence[str]) -> str:
    """The end of a refusal: the word of these that comes nearest, if one does."""
    near = difflib.get_close_matches(fold_word(word)[:LONGEST_TEXT], words, n=1, cutoff=0.6)
    return f"; did you mean {near[0]!r}?" if near else ""


def _all_text(rule: Rule) -> str:
    return " ".join((rule.id, rule.topic, rule.title, rule.message, rule.reason, rule.gaps or "", *rule.do))


def withdrawn_words(name: str, withdrawn: Mapping[str, Withdrawn]) -> str:
    """What became of the id of a rule or topic if it was withdrawn; "" for any other word."""
    gone = withdrawn.get(name)
    if gone is None:
        return ""
    instead = f"In its place: {', '.join(gone.instead)}." if gone.instead else "Nothing took its place."
    return f"{name!r} was withdrawn on {gone.on}. {gone.why} {instead}"


def condition_words(rule: Rule, condition: Condition) -> str:
    """A condition as a sentence."""
    spec = FACT_TYPES[rule.aliases[condition.alias]].fields[condition.field]
    name = f"{condition.alias}: {condition.field.replace('_', ' ')}"
    operand = condition.operand
    if isinstance(operand, frozenset):
        words = sorted(operand)
        return f"{name} is {' or '.join(words)}" if len(words) <= 6 else f"{name} ({condition.text})"
    assert isinstance(spec, Number)
    if isinstance(operand, Ref):
        whose = "" if operand.alias == condition.alias else f"{operand.alias}'s "
        return f"{name} {_WORDS[condition.op]} {whose}{operand.field.replace('_', ' ')}"
    limit = f" ({condition.text.split('limit.')[1]})" if "limit." in condition.text else ""
    return f"{name} {_WORDS[condition.op]} {format_number(operand, spec.unit)}{limit}"


def format_number(value: float, unit: str) -> str:
    """A number with its unit."""
    from advisor.interval import Interval

    return format_interval(Interval.point(value), unit)


def rule_data(rule: Rule, k: Knowledge) -> dict[str, Any]:
    """A rule as plain data."""
    data: dict[str, Any] = {"id": rule.id, "file": rule.file}
    if rule.concludes is None:
        data |= {"topic": rule.topic, "signal": rule.signal, "effect": rule.effect}
    else:
        data |= {"concludes": dict(rule.concludes)}
    return data | {
        "title": rule.title,
        "message": rule.message,
        "reason": rule.reason,
        "gaps": rule.gaps,
        "when": [condition_words(rule, condition) for condition in rule.conditions],
        "do": list(rule.do),
        "remedy": rule.remedy,
        "no_remedy": rule.no_remedy,
        "sources": [{"id": s, "basis": k.source(s).basis, "text": k.source(s).text} for s in rule.sources],
        "cases": {
            "fires": [_case(case) for case in rule.cases.fires],
            "silent": [_case(case) for case in rule.cases.silent],
            "asks": [_case(case) for case in rule.cases.asks],
        },
    }


def _case(case: Case) -> dict[str, Any]:
    return {"plan": case.plan, "change": dict(case.change)}


def rules_data(rulebook: Rulebook, rules: Iterable[Rule], k: Knowledge) -> dict[str, Any]:
    """Rules with their counts."""
    rules = list(rules)
    return {
        "rules": [rule_data(rule, k) for rule in rules],
        "counts": {
            "rules": len(rules),
            "finding": sum(rule.concludes is None for rule in rules),
            "concluding": sum(rule.concludes is not None for rule in rules),
            "by_topic": dict(Counter(rule.topic for rule in rules if rule.topic)),
            "by_effect": dict(Counter(rule.effect for rule in rules if rule.concludes is None)),
            "cases": sum(1 for rule in rules for _ in cases_of(rule)),
        },
        "rulebook": {"version": rulebook.version, "digest": rulebook.digest},
    }


def tables(k: Knowledge) -> Mapping[str, tuple[Row, ...]]:
    """The tables by the names `advisor facts` takes."""
    return {
        "fibres": k.fibres.rows,
        "families": k.families.rows,
        "dye-classes": k.dye_classes.rows,
        "uptake": tuple(k.uptake.values()),
        "substances": k.substances.rows,
        "contents": k.contents.rows,
        "pairs": k.pairs,
        "materials": k.materials.rows,
        "heat-sources": k.heat_sources.rows,
        "gear": k.gear.rows,
        "exposures": k.exposures.rows,
        "people": k.people.rows,
        "spaces": k.spaces.rows,
        "ventilation": k.ventilation.rows,
        "drains": k.drains.rows,
        "leftovers": k.leftovers.rows,
        "finishes": k.finishes.rows,
        "places": k.places.rows,
        "limits": tuple(k.limits.values()),
        "class-limits": k.class_limit_rows,
        "needs": k.needs.rows,
        "duties": k.duties,
        "pictograms": k.pictograms,
        "labels": (*k.label_codes, *k.goods_words),
        "sources": tuple(k.sources.values()),
    }


def facts_data(name: str, k: Knowledge, *, row_id: str | None = None, search: str = "") -> dict[str, Any]:
    """Rows of a table as plain data, with counts and the bases of what they hold.

    Raises KeyError for an unknown table.
    """
    meant = None if row_id is None else _meant(row_id, k, two_keys=name in ("uptake", "pairs"))
    rows = [row for row in tables(k)[name] if _row_fits(row, meant, search)]
    bases = Counter(basis for row in rows for basis in _bases(row))
    hazards = Counter(h.basis for row in rows for h in getattr(row, "hazards", ()))
    data: dict[str, Any] = {
        "table": name,
        "count": len(rows),
        "bases": dict(bases),
        "rows": [row.model_dump(mode="json", exclude_none=True) for row in rows],
    }
    if hazards:
        data["hazards"] = {
            "count": hazards.total(),
            "published_share": round(hazards["published"] / hazards.total(), 3),
        }
    return data


def _row_fits(row: Row, meant: frozenset[str] | None, search: str) -> bool:
    if meant is not None and meant.isdisjoint(fold_word(word) for word in words_of(row)):
        return False
    return search.casefold() in str(row.model_dump()).casefold()


def _meant(word: str, k: Knowledge, *, two_keys: bool) -> frozenset[str]:
    """The word, and in the tables of two keys all they may call what it stands for: family, group, role; folded."""
    found = {word}
    if two_keys:
        if (fibre := k.fibres.find(word)) is not None:
            found.add(fibre.family)
        if (family := k.families.find(word)) is not None:
            found.add(family.id)
        if (dye_class := k.dye_classes.find(word)) is not None:
            found |= {dye_class.id, dye_class.substance}
        if (substance := k.substances.find(word)) is not None:
            found |= {substance.id, *substance.roles, *substance.reactivity_groups}
        found.update(k.dye_class_families.get(fold_word(word).replace(" ", "-"), ()))
    return frozenset(map(fold_word, found))


def words_of(row: Row) -> tuple[str, ...]:
    """The words by which a row is found; in the tables of two keys, both of them."""
    match row:
        case Uptake():
            return row.family, row.dye_class
        case Pair():
            return row.a, row.b
        case Named():
            return tuple(word for word in (row.id, row.title, *row.synonyms) if word)
    return tuple(str(getattr(row, key)) for key in ("id", "code", "title") if hasattr(row, key))


def entry_words(name: str, k: Knowledge) -> tuple[str, ...]:
    """Every word by which an entry of a table may be asked for."""
    own = (word for row in tables(k)[name] for word in words_of(row))
    keys = {"uptake": (k.fibres, k.families, k.dye_classes), "pairs": (k.substances,)}.get(name, ())
    return (*own, *(word for table in keys for word in table.words))


def _bases(value: Any) -> Iterable[str]:
    if isinstance(value, Row):
        if hasattr(value, "basis"):
            yield value.basis
        for name in type(value).model_fields:
            yield from _bases(getattr(value, name))
    elif isinstance(value, tuple):
        for member in value:
            yield from _bases(member)
