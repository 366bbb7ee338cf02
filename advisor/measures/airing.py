"""How the place is aired: the plan's word, unless it cannot be true of a room."""

from __future__ import annotations

from typing import NamedTuple

from advisor.knowledge import Knowledge
from advisor.plan import Space
from advisor.plan_values import UNKNOWN


class Airing(NamedTuple):
    """`word` of the vocabulary of ventilation, the table's `ways` it may be, and the inputs that would settle it.

    `otherwise`: whether the plan said something that cannot be true of the room; None where the kind of place is
    not known.
    """

    word: str
    ways: tuple[str, ...]
    inputs: frozenset[str]
    otherwise: bool | None


def airing(space: Space, k: Knowledge) -> Airing:
    """How the place is aired. "outdoors" said of a room indoors counts as the table's `in_a_room`."""
    said = space.ventilation
    if said == UNKNOWN:
        return Airing(UNKNOWN, k.ventilation.ids, frozenset({"space.ventilation"}), False)
    inside = k.ventilation[said].in_a_room
    if not inside or (space.kind != UNKNOWN and k.spaces[space.kind].indoors == "no"):
        return Airing(said, (said,), frozenset(), False)
    if space.kind == UNKNOWN:
        family = next(name for name, ways in k.airing_families.items() if ways[0] == said)
        return Airing(family, (said, inside), frozenset({"space.kind"}), None)
    return Airing(inside, (inside,), frozenset(), True)
