"""Random but valid plan data: every vocabulary, exact and wide values, unknowns, and sections left out.

`random_plan(random.Random(seed))` gives plain data for advisor.plan.read_plan; the same seed gives the same plan.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Any

from advisor.fact_types import UNKNOWN, vocabularies
from advisor.knowledge import knowledge

LEFT_OUT = object()
Make = Callable[[random.Random], Any]


def random_plan(chance: random.Random) -> dict[str, Any]:
    """Plan data that reads without an input error; small to middling, with much left open now and then."""
    openness = chance.choice((0.0, 0.1, 0.1, 0.3, 0.8))  # how much of a plan is unknown or left out

    def section(**fields: Make) -> dict[str, Any]:
        made = {name: _open(chance, openness, make) for name, make in fields.items()}
        return {name: value for name, value in made.items() if value is not LEFT_OUT}

    def several(least: int, most: int, make: Callable[[], dict[str, Any]]) -> list[dict[str, Any]]:
        return [make() for _ in range(chance.choice((least, 1, 1, 2, most)))]

    plan: dict[str, Any] = {
        "title": "made at random",
        "goods": several(1, 2, lambda: _goods(section)),
        "dyes": several(1, 3, lambda: _dye(section)),
    }
    further: dict[str, Make] = {
        "place": _one_of(*(place for place in knowledge().places.ids if len(place) == 2)),
        "assists": lambda c: several(0, 3, lambda: _assist(section)),
        "bath": lambda c: _bath(section),
        "vessel": lambda c: _vessel(section),
        "utensils": lambda c: several(0, 2, lambda: _utensil(section)),
        "scale": lambda c: section(resolution=_one_of("0.01 g", "0.1 g", "1 g", "5 g")),
        "people": lambda c: section(
            wearing=_some("gear"), present=_some("person", 3), away_from_powder=_some("person", 2)
        ),
        "space": lambda c: _space(section),
        "aftercare": lambda c: section(
            rinse_water=_amount((1, 40), "L"), drain=_word("drain"), leftover=_word("leftover")
        ),
        "storage": lambda c: section(stock_labelled=_yes_no, out_of_reach=_yes_no),
    }
    for name, make in further.items():
        if chance.random() >= openness / 2:
            plan[name] = make(chance)
    return plan


Section = Callable[..., dict[str, Any]]

# free words that a plan may hold: plain, chemical, misspelt though still to be read, and one that leaves all open
_CONTENTS = (
    "chromium", "cobalt", "copper", "benzidine", "nothing else", "nickel complex", "potassium dichromate",
    "CHROME mordant", "copper phthalocyanine", "coppery lustre", "chromiumm", "o-tolidine", "Kupfer", UNKNOWN,
)  # fmt: skip


def _open(chance: random.Random, openness: float, make: Make) -> Any:
    if chance.random() < openness:
        return chance.choice((LEFT_OUT, UNKNOWN))
    return make(chance)


def _one_of(*values: Any) -> Make:
    return lambda chance: chance.choice(values)


def _word(vocabulary: str) -> Make:
    return lambda chance: chance.choice(vocabularies()[vocabulary].words)


def _token(vocabulary: str) -> Make:
    return lambda chance: chance.choice(vocabularies()[vocabulary].tokens)


def _some(vocabulary: str, most: int = 8) -> Make:
    words: Sequence[str] = vocabularies()[vocabulary].words
    return lambda chance: chance.sample(words, chance.randint(0, min(most, len(words))))


_yes_no = _one_of(True, False)


def _amount(span: tuple[float, float], *units: str, most: float = 1e9) -> Make:
    """An amount in one of the units: exact, a range up to `most`, a plus-minus or an 'about'."""

    def make(chance: random.Random) -> str:
        low, high = span
        value = float(f"{low + (high - low) * chance.random() ** 2:.3g}")  # small amounts are the usual ones
        unit = chance.choice(units)
        return chance.choice(
            (
                f"{value:g} {unit}",
                f"{value:g} {unit}",
                f"{value:g} {unit} to {min(most, value * chance.choice((1.1, 2, 10))):g} {unit}",
                f"about {value:g} {unit}",
                f"{value:g} {unit} ± {value / 20:.3g} {unit}",
            )
        )

    return make


def _either(*makes: Make) -> Make:
    return lambda chance: chance.choice(makes)(chance)


def _temperature(chance: random.Random) -> str:
    value = chance.choice((15, 20, 40, 60, 80, 88, 95, 100, 130))
    return chance.choice(
        (f"{value} degC", f"{value} degC", f"{value * 9 / 5 + 32:g} degF", f"{value - 5} degC to {value + 5} degC")
    )


def _fibres(chance: random.Random) -> Any:
    words = chance.sample(list(knowledge().fibres.ids), 3)
    first = chance.choice((50, 60, 80, 95))
    return chance.choice(
        (
            {words[0]: 100},
            {words[0]: first, words[1]: 100 - first},
            {words[0]: 50, words[1]: 30, words[2]: 20},
            chance.choice(
                (
                    "100% nylon",
                    "100% wool",
                    "100% cotton",
                    "100% silk",
                    "75% wool, 25% nylon",
                    "65% polyester 35% cotton",
                )
            ),
        )
    )


def _goods(section: Section) -> dict[str, Any]:
    return section(
        name=_one_of("curtain", "ribbon", "shirts"),
        fibres=_fibres,
        dry_mass=_amount((5, 2000), "g"),
        colour=_one_of("undyed", "dyed"),
        finishes=_some("finish", 2),
        next_to_skin=_yes_no,
        trims=lambda c: c.sample(
            ["polyester sewing thread", "nylon zip", "cotton label", "metal studs"], c.randint(0, 2)
        ),
    )


def _dye(section: Section) -> dict[str, Any]:
    return section(
        name=_one_of("slate", "rust", "moss"),
        **{"class": _token("dye class")},
        form=_word("dye form"),
        amount=_either(
            _amount((0.1, 60), "g"), _amount((0.1, 8), "%"), _amount((0.5, 6), "tsp"), _amount((1, 300), "mL")
        ),
        strength=_amount((0.5, 40), "%", most=100),
        maximum=_amount((0.5, 8), "%"),
        safety_data_sheet=_word("sheet"),
        contains=lambda c: c.sample(_CONTENTS, c.randint(0, 2)),
        old_stock=_yes_no,
    )


def _assist(section: Section) -> dict[str, Any]:
    return section(
        substance=_word("substance"),
        amount=_either(
            _amount((0.5, 300), "g"), _amount((1, 500), "mL"), _amount((1, 60), "%"), _amount((0.5, 4), "tbsp")
        ),
        strength=_amount((1, 90), "%", most=100),
    )


def _bath(section: Section) -> dict[str, Any]:
    return section(
        water=_amount((0.5, 60), "L"),
        temperature=_temperature,
        hold=_amount((1, 180), "min"),
        rise=_amount((0.2, 6), "delta_degC/min"),
        heat_source=_word("heat source"),
        heat_source_used_for_food=_yes_no,
        attended=_yes_no,
        stirring=_yes_no,
        alkalinity=_amount((1, 100), "mg/L"),
        shade=_word("shade"),
        altitude=_amount((1, 600), "m"),
        before=_some("substance", 2),
    )


def _vessel(section: Section) -> dict[str, Any]:
    return section(
        material=_word("material"),
        capacity=_amount((0.5, 60), "L"),
        condition=_word("condition"),
        used_for_food=_yes_no,
        lid=_yes_no,
        empty_mass=_amount((100, 6000), "g"),
    )


def _utensil(section: Section) -> dict[str, Any]:
    return section(name=_one_of("tongs", "spoon"), material=_word("material"), used_for_food=_yes_no)


def _space(section: Section) -> dict[str, Any]:
    return section(
        kind=_word("space"),
        volume=_amount((4, 200), "m^3"),
        ventilation=_word("ventilation"),
        food_out=_yes_no,
        chemicals=_some("substance", 2),
    )
