"""Plan and measures -> the closed, flat facts that rules look at."""

from __future__ import annotations

from functools import lru_cache

from advisor.fact import Fact
from advisor.fact_types import FACT_TYPES, Choice, vocabularies
from advisor.facts import bath, chemicals, dyes, goods, kit, people
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings


class FactError(Exception):
    """A fact does not fit its schema: a failure of the program, not of the plan."""


def build_facts(work: Workings, k: Knowledge) -> list[Fact]:
    """Every fact of a plan, in a fixed order; each number rounded once to 9 significant digits.

    Raises FactError when one does not fit the schema.
    """
    facts = [
        *goods.facts(work, k),
        *dyes.facts(work, k),
        *bath.facts(work, k),
        *kit.facts(work, k),
        *people.facts(work, k),
        *chemicals.facts(work, k),
    ]
    return [checked(fact) for fact in facts]


@lru_cache(maxsize=64)
def _accepted(fact_type: str) -> tuple[tuple[str, frozenset[str] | None], ...]:
    """The fields of a type, each with its words; None for a number."""
    words = {name: frozenset(vocabulary.tokens) for name, vocabulary in vocabularies().items()}
    return tuple(
        (name, words[spec.vocabulary] if isinstance(spec, Choice) else None)
        for name, spec in FACT_TYPES[fact_type].fields.items()
    )


def checked(fact: Fact) -> Fact:
    """The fact with rounded numbers, when it has exactly the fields and words of its type. Raises FactError."""
    schema = FACT_TYPES[fact.type]
    if fact.values.keys() != schema.fields.keys():
        odd = sorted(fact.values.keys() ^ schema.fields.keys())
        raise FactError(f"fact {fact.type} of {fact.subject}: fields missing or not declared: {', '.join(odd)}")
    values: dict[str, Interval | str] = {}
    for name, words in _accepted(fact.type):
        value = fact.values[name]
        if words is None:
            if not isinstance(value, Interval):
                raise FactError(f"fact {fact.type} of {fact.subject}: {name} is no number")
            values[name] = value.rounded()
        elif isinstance(value, str) and value in words:
            values[name] = value
        else:
            vocabulary = getattr(schema.fields[name], "vocabulary", "")
            raise FactError(f"fact {fact.type} of {fact.subject}: {name} is {value!r}, not in {vocabulary!r}")
    missing = [name for name in schema.texts if name not in fact.texts]
    if missing:
        raise FactError(f"fact {fact.type} of {fact.subject}: text {missing[0]!r} is missing")
    return Fact(fact.type, fact.subject, values, fact.texts, fact.inputs, fact.how, fact.because)
