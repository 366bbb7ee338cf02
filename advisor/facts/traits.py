"""The traits of substances as yes, no or unknown, with concentration counted."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.fact_types import TRAITS, trait_field
from advisor.facts.answers import one_of, yes_no
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.plan_values import UNKNOWN
from advisor.rows import Substance

# which GHS hazard statements stand behind a trait (UN GHS, Annex 3); their concentration bands decide then
STATEMENTS = {
    "corrosive": frozenset({"H314"}),
    "irritant": frozenset({"H315", "H318", "H319", "H335"}),
    "skin sensitiser": frozenset({"H317"}),
    "lung sensitiser": frozenset({"H334"}),
    "toxic": frozenset({"H300", "H301", "H310", "H311", "H330", "H331", "H370", "H372"}),
    "cancer hazard": frozenset({"H350", "H351", "H340", "H341"}),
    "reproductive hazard": frozenset({"H360", "H361", "H362"}),
    "oxidiser": frozenset({"H270", "H271", "H272"}),
    "flammable": frozenset({"H224", "H225", "H226", "H228"}),
    "self-heating": frozenset({"H251", "H252"}),
}
FIELDS = {trait_field(trait): trait for trait in TRAITS}


def dye_substances(dye_class: str, k: Knowledge) -> tuple[str, ...]:
    """The rows of the substance table a dye of this class may be."""
    return tuple(dict.fromkeys(member.substance for member in k.members(dye_class)))


def trait_words(
    substances: Sequence[str], strength: Interval | None, k: Knowledge, *paths: str
) -> tuple[dict[str, str], dict[str, frozenset[str]]]:
    """Each trait of a substance that may be any of several, at a strength in % (None: as sold)."""
    words = {}
    for name, trait in FIELDS.items():
        answers = [_has(k.substances[s], trait, strength) for s in substances]
        words[name] = one_of(set(answers))
    unsure = frozenset(paths)
    return words, {name: unsure for name, word in words.items() if word == UNKNOWN}


def _has(substance: Substance, trait: str, strength: Interval | None) -> str:
    listed = trait in substance.traits
    statements = [h for h in substance.hazards if h.code[:4] in STATEMENTS.get(trait, frozenset())]
    if strength is None or not statements or "dye" in substance.roles:
        return "yes" if listed else "no"
    reached = [h.holds_at(strength) for h in statements]
    return "yes" if True in reached else yes_no(None if None in reached else False)
