"""The swatch trial of an item: how much to buy, and a plan of the trial that `advisor check` reads."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from advisor.composition import FULL, UNKNOWN, Composition
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.labels import LabelError, read_label
from advisor.plan_values import LONGEST_TEXT, clean
from advisor.screening.answer import ClassAnswer
from advisor.screening.tables import screen_tables

_GRAMS_PER_KG = 1000.0
_CM_PER_M = 100.0


@dataclass(frozen=True, slots=True)
class Trial:
    """A swatch trial. `swatch`, `buy` and `dye` in g; `side` of a square of cloth of one swatch, in cm."""

    composition: Composition
    text: str
    chosen: ClassAnswer
    colour: str
    swatch: float
    buy: float
    side: Interval
    dye: float

    @property
    def plan(self) -> dict[str, Any]:
        """The trial as plan data. What nobody said stands there as "unknown"."""
        return _plan(self)

    @property
    def words(self) -> str:
        """The trial in a few sentences."""
        sides = f"{self.side.low:.0f} to {self.side.high:.0f} cm"
        washes = screen_tables().swatch["washes"].low
        return (
            f"Buy {self.buy:g} g: a swatch of {self.swatch:g} g to dye, one for a second try, one to keep undyed. "
            f"In cloth a swatch is a square of {sides}. Dye it with {self.dye:g} g of "
            f"{self.chosen.dye_class} dye, seams and thread included, wash it {washes:g} times, dry it, and compare."
        )


def swatch_trial(composition: Composition, text: str, chosen: ClassAnswer, colour: str) -> Trial:
    """The trial for goods and a dye class."""
    figures = screen_tables().swatch
    piece, cloth, depth = figures["piece"].low, figures["cloth"], figures["depth"].low
    square = Interval(piece / cloth.high, piece / cloth.low)  # m²
    return Trial(
        composition=composition,
        text=text,
        chosen=chosen,
        colour=colour,
        swatch=piece,
        buy=piece * figures["pieces"].low,
        side=Interval(math.sqrt(square.low) * _CM_PER_M, math.sqrt(square.high) * _CM_PER_M),
        dye=piece * depth / FULL,
    )


def _plan(trial: Trial) -> dict[str, Any]:
    k, chosen, piece = knowledge(), trial.chosen, trial.swatch
    depth = screen_tables().swatch["depth"].low
    water = piece / _GRAMS_PER_KG * k.limits["liquor_ratio_plan"].figure.low
    bath: dict[str, Any] = {"water": f"{water:g} L", "temperature": UNKNOWN, "hold": UNKNOWN, "shade": "even"}
    if chosen.dye_class in k.dye_classes:
        row = k.dye_classes[chosen.dye_class]
        # as hot as the class likes, but no hotter than the tenderest fibre stands
        heat = min(row.temperature.high, max(row.temperature.low, chosen.fibre_heat.low))
        bath |= {"temperature": f"{heat:g} degC", "hold": f"{row.hold.high:g} min"}
    return {
        "title": "Swatch trial",
        "goods": [
            {
                "name": "swatch",
                "fibres": _fibres(trial.composition, trial.text),
                "dry_mass": f"{piece:g} g",
                "colour": trial.colour,
                "finishes": UNKNOWN,
                "trims": UNKNOWN,
            }
        ],
        "dyes": [
            {
                "name": "trial dye",
                "class": chosen.dye_class,
                "form": UNKNOWN,
                "amount": f"{depth:g} %",
                "maximum": UNKNOWN,
                "safety_data_sheet": UNKNOWN,
                "contains": UNKNOWN,
            }
        ],
        "assists": UNKNOWN,
        "bath": bath,
    }


def _fibres(composition: Composition, text: str) -> str:
    """The label as a plan takes it: as written where a strict reading agrees, else as shares, else unknown."""
    try:
        strict = read_label(text, strict=True)
    except LabelError:
        strict = None
    if strict is not None and strict.parts == composition.parts and len(text) <= LONGEST_TEXT:
        return clean(text)
    components = composition.components()
    if any(c.fibre == UNKNOWN or not c.share.exact for c in components):
        return UNKNOWN
    return ", ".join(f"{c.share.low:g}% {c.fibre}" for c in components)


def named_plan(trial: Trial, name: str, use: str = "") -> dict[str, Any]:
    """The trial's plan with the item's own name in it."""
    goods = {**trial.plan["goods"][0], "name": clean(name)[:LONGEST_TEXT]}
    title = f"Swatch trial: {clean(name)}" + (f", for {clean(use)}" if use else "")
    return {**trial.plan, "title": title[:LONGEST_TEXT], "goods": [goods]}


def plan_toml(plan: Mapping[str, Any]) -> str:
    """The plan as a TOML file. JSON strings without control characters are TOML strings."""
    lines = [f"{key} = {_text(value)}" for key, value in plan.items() if isinstance(value, str)]
    for key, value in plan.items():
        if isinstance(value, list):
            for entry in value:
                lines += ["", f"[[{key}]]", *(f"{name} = {_text(word)}" for name, word in entry.items())]
        elif isinstance(value, Mapping):
            lines += ["", f"[{key}]", *(f"{name} = {_text(word)}" for name, word in value.items())]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    return json.dumps(clean(value), ensure_ascii=False)
