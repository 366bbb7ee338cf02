"""What is said whatever the rules find: the usual cautions, and where to ask."""

from __future__ import annotations

from advisor.fact_types import vocabularies
from advisor.facts.traits import dye_substances
from advisor.knowledge import Knowledge
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN

ANYWHERE = "international"


def cautions(plan: Plan, k: Knowledge) -> tuple[str, ...]:
    """The usual cautions of the dye classes and substances of a plan, each once.

    What only some of the classes that a dye may be of call for says which: "If it is vat dye: ...".
    """
    told: dict[str, None] = {}
    perhaps: dict[str, str] = {}  # the whole caution -> its text alone
    words = vocabularies()["dye class"].words
    for dye in plan.dyes:
        if dye.dye_class in words:
            told.update(dict.fromkeys(k.dye_classes[dye.dye_class].cautions))
        rows = [k.substances[substance] for substance in dye_substances(dye.dye_class, k)]
        for row in rows:
            for text in row.cautions:
                if all(text in other.cautions for other in rows):
                    told[text] = None
                else:
                    perhaps[f"If it is {row.label[0].lower()}{row.label[1:]}: {text}"] = text
    told.update(dict.fromkeys(whole for whole, text in perhaps.items() if text not in told))
    for assist in plan.assists or ():
        if assist.substance != UNKNOWN:
            label = k.substances[assist.substance].label
            told.update(dict.fromkeys(f"{label}: {text}" for text in k.substances[assist.substance].cautions))
    return tuple(told)


def pointers(plan: Plan, k: Knowledge) -> tuple[str, ...]:
    """Safety data sheets, local rules, poison information and emergency number of the place."""
    row = k.places[plan.place] if plan.place in k.places else k.places[ANYWHERE]
    basis = f" [{row.basis}]"
    told = [
        "The safety data sheet and label of each product come before everything said here.",
        f"{row.label}: emergency {row.emergency}; poison information {row.poison}.{basis}",
        f"Chemicals at work: {row.rules_at_work}. In schools: {row.rules_in_schools}. Waste water: {row.rules_on_waste_water}.{basis}",
        f"{row.local}",
        "This advisor points to rules and licensed practice; it replaces neither, and it is no legal advice.",
    ]
    if row.id == ANYWHERE and plan.place != UNKNOWN:
        told.insert(1, f"No entry for {plan.place!r}: look up the local emergency and poison numbers before you start.")
    return tuple(told)
