"""Plan and measures -> the closed, flat facts that rules look at."""

from __future__ import annotations

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


def checked(fact: Fact) -> Fact:
    """The fact with rounded numbers, when it has exactly the fields and words of its type. Raises FactError."""
    schema = FACT_TYPES[fact.type]
    if fact.values.keys() != schema.fields.keys():
        odd = sorted(fact.values.keys() ^ schema.fields.keys())
        raise FactError(f"fact {fact.type} of {fact.subject}: fields missing or not declared: {', '.join(odd)}")
    values: dict[str, Interval | str] = {}
    words = vocabularies()
    for name, spec in schema.fields.items():
        value = fact.values[name]
        if isinstance(spec, Choice):
            if value not in words[spec.vocabulary] or not isinstance(value, str):
                raise FactError(f"fact {fact.type} of {fact.subject}: {name} is {value!r}, not in {spec.vocabulary!r}")
            values[name] = value
        elif isinstance(value, Interval):
            values[name] = value.rounded()
        else:
            raise FactError(f"fact {fact.type} of {fact.subject}: {name} is no number")
    missing = [name for name in schema.texts if name not in fact.texts]
    if missing:
        raise FactError(f"fact {fact.type} of {fact.subject}: text {missing[0]!r} is missing")
    return Fact(fact.type, fact.subject, values, fact.texts, fact.inputs, fact.how, fact.because)
