"""Fields of the facts that no rule reads: each with its reason, as tests/test_limit_edges.py has for the limits."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from advisor.fact_types import BATH_SIDES, FACT_TYPES, HARMS, TRAITS, trait_field
from advisor.rulebook import Ref, rulebook

_TRAIT = "the traits go together: a studio's rule may ask for any of them wherever it asks for one"
_SIDE = "the sides of the bath go together, beside whatever they may harm"
_RESISTANCE = "what a material stands goes together, for pots as for tools"
_HARM = "one field for each harm of families.toml"
_STEP = "read by advisor/handouts.py: gear by the step of the work"
_VAPOUR = "one field for each vapour that is reckoned; a studio may set a line of its own for one of them"

GROUPS: Mapping[str, tuple[tuple[str, ...], str]] = {
    "traits": (tuple(trait_field(trait) for trait in TRAITS), _TRAIT),
    "sides": (tuple(BATH_SIDES), _SIDE),
    "resistance": (("with_salt", "with_reducing", "metal_ions"), _RESISTANCE),
    "harms": (tuple(f"harmed_by_{trait_field(harm)}" for harm in HARMS), _HARM),
    "steps": (("at_weigh", "at_dissolve", "at_dye", "at_rinse", "at_clean_up"), _STEP),
    "vapours": (("air_formic", "air_ammonia"), _VAPOUR),
}
# What else is kept for a studio's own rules (--rules DIR), which can use no field that is not here.
KEPT: Mapping[str, str] = {
    "goods.dry_mass": "how large a lot may be",
    "part.stirring": "goes with harmed_by_agitation: what felts or frays when stirred",
    "dose.share_of_usual_deep": "goes with share_of_usual_pale; the way out 'reduce-dye' knows it",
    "dose.all_maxima_stated": "no bath without the maker's maximum of each dye",
    "dye.substance": "joins a dye with what is known of its substance",
    "assist.share_owf": "recipes for alum, tannin and the like are given on the weight of goods",
    "bath.alkalinity": "a studio's own water",
    "bath.fastest_rise": "what the heat source can do, against the rise a level dyeing stands",
    "heat.food_appliance": "no kitchen appliance of any kind",
    "handling.substance": "joins a step of the work with what is known of the substance",
    "space.volume": "rooms that are too small",
    "aftercare.temperature": "goes with the limit drain_temperature: no hot liquor down a plastic pipe",
    "substance.form": "liquids, or solutions, of a kind",
}


def read_by_rules() -> Iterator[str]:
    """Every field that a condition or a message of a rule reads, as "type.field"."""
    for rule in rulebook().rules:
        for condition in rule.conditions:
            yield f"{rule.aliases[condition.alias]}.{condition.field}"
            if isinstance(condition.operand, Ref) and condition.operand.alias in rule.aliases:
                yield f"{rule.aliases[condition.operand.alias]}.{condition.operand.field}"
        for alias, field in re.findall(r"{(\w+)\.(\w+)}", " ".join((rule.message, *rule.do))):
            if alias in rule.aliases:
                yield f"{rule.aliases[alias]}.{field}"


def test_every_field_is_read_or_kept_for_a_reason() -> None:
    read = set(read_by_rules())
    unread = {f"{name}.{field}" for name, kind in FACT_TYPES.items() for field in kind.fields} - read
    grouped = {field for fields, _ in GROUPS.values() for field in fields}
    assert {name for name in unread if name.split(".")[1] not in grouped} == KEPT.keys()


def test_every_text_is_read() -> None:
    """But the names, which the report shows of any fact."""
    read = set(read_by_rules())
    assert not {f"{t}.{text}" for t, kind in FACT_TYPES.items() for text in kind.texts if text != "name"} - read


def test_no_group_is_kept_for_nothing() -> None:
    fields = {field for kind in FACT_TYPES.values() for field in kind.fields}
    for name, (members, reason) in GROUPS.items():
        assert set(members) <= fields, name
        assert reason
