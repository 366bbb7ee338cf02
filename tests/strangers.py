"""Good plans as a stranger would write them who has read only the description of a plan file.

Two lots: a nylon ribbon in an acid bath and a cotton lot in a cold reactive bath. What a person may well leave
out is left out here by turns; the numbers are common practice, no source.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from advisor.cases import changed
from advisor.plan import Plan, models_in

Data = dict[str, Any]
FULL_GEAR = [
    "nitrile gloves",
    "half-mask respirator P100",
    "splash goggles",
    "apron",
    "long sleeves",
    "closed shoes",
    "heat-resistant gloves",
]

NYLON: Data = {
    "title": "Hat band, slate",
    "place": "GB",
    "goods": [
        {
            "name": "hat band",
            "fibres": "100% nylon",
            "dry_mass": "100 g",
            "colour": "undyed",
            "finishes": [],
            "next_to_skin": True,
            "trims": [],
        }
    ],
    "dyes": [
        {
            "name": "slate",
            "class": "acid levelling",
            "form": "powder",
            "amount": "1 g",
            "maximum": "1.5 %",
            "safety_data_sheet": "read",
            "contains": [],
        }
    ],
    "assists": [{"substance": "white vinegar", "amount": "30 mL", "strength": "5 %"}],
    "bath": {
        "water": "4 L",
        "temperature": "88 degC",
        "hold": "30 min",
        "rise": "1.5 delta_degC/min",
        "heat_source": "electric hob",
        "attended": True,
        "stirring": True,
        "alkalinity": "150 mg/L",
        "shade": "even",
    },
    "vessel": {
        "material": "stainless steel",
        "capacity": "8 L",
        "condition": "sound",
        "used_for_food": False,
        "lid": True,
    },
    "utensils": [{"name": "tongs", "material": "stainless steel", "used_for_food": False}],
    "scale": {"resolution": "0.1 g"},
    "people": {"wearing": FULL_GEAR, "present": []},
    "space": {"kind": "laundry room", "volume": "20 m^3", "ventilation": "window open", "food_out": False},
    "aftercare": {"rinse_water": "4 L", "drain": "sewer", "leftover": "none"},
}

COTTON: Data = changed(
    NYLON,
    {
        "title": "Aprons, sea blue",
        "goods.0.name": "aprons",
        "goods.0.fibres": "100% cotton",
        "goods.0.dry_mass": "400 g",
        "dyes.0.name": "sea blue",
        "dyes.0.class": "fibre-reactive cold",
        "dyes.0.amount": "8 g",
        "dyes.0.maximum": "4 %",
        "assists": [{"substance": "salt", "amount": "400 g"}, {"substance": "soda ash", "amount": "80 g"}],
        "bath.water": "8 L",
        "bath.temperature": "40 degC",
        "bath.hold": "60 min",
        "bath.heat_source": "none",
        "vessel.capacity": "12 L",
        "aftercare.rinse_water": "8 L",
    },
)

# what a person leaves out who still tells everything that decides
SELDOM_SAID = (
    "title",
    "place",
    "goods.0.next_to_skin",
    "dyes.0.contains",
    "bath.rise",
    "bath.alkalinity",
    "bath.stirring",
    "vessel.lid",
    "space.volume",
    "aftercare.rinse_water",
    "scale",
)


def without(data: Mapping[str, Any], *paths: str) -> Data:
    """The plan with keys left out."""
    result: Any = copy.deepcopy(dict(data))
    for path in paths:
        *steps, last = path.split(".")
        node = result
        for step in steps:
            node = node[int(step) if step.isdigit() else step]
        del node[last]
    return dict(result)


def keys(data: Mapping[str, Any], above: str = "") -> Iterator[str]:
    """Every key path of a plan, tables and lists of tables included."""
    for key, value in data.items():
        path = f"{above}{key}"
        yield path
        if isinstance(value, dict):
            yield from keys(value, f"{path}.")
        elif isinstance(value, list):
            for number, item in enumerate(value):
                if isinstance(item, dict):
                    yield from keys(item, f"{path}.{number}.")


def inputs(model: type[BaseModel] = Plan, above: str = "") -> Iterator[str]:
    """Every key path that a plan may have a value at, entries of lists without their number."""
    for name, field in model.model_fields.items():
        path = f"{above}{field.alias or name}"
        inner = next(models_in(field.annotation), None)
        yield from (path,) if inner is None else inputs(inner, f"{path}.")


def stated(data: Mapping[str, Any]) -> set[str]:
    """The key paths of a plan, entries of lists without their number."""
    return {re.sub(r"\.\d+", "", path) for path in keys(data)}


def is_leaf(data: Mapping[str, Any], path: str) -> bool:
    """Whether a key holds a value and no table or list of tables."""
    node: Any = data
    for step in path.split("."):
        node = node[int(step) if step.isdigit() else step]
    return not isinstance(node, dict) and not (isinstance(node, list) and node and isinstance(node[0], dict))
