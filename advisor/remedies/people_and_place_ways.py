"""Ways out by who is there, what is worn, the room, and where things go afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.remedies.bench import Bench, number_in
from advisor.remedies.changes import value_at

NO_SEWER = ("septic", "ground")  # drains of a house that has no other


def add_gear(b: Bench) -> Iterator[Mapping[str, Any]]:
    """One more piece of gear worn: what is lacking, or what stops the exposure."""
    wearing = value_at(b.data, "people.wearing")
    if not isinstance(wearing, list):
        return
    worn = set(b.plan.people.wearing or ())
    lacking = [str(f.values["kind"]) for f in b.target.facts.values() if f.type == "gear" and f.values["worn"] == "no"]
    protection = b.fact("protection") or b.fact("hazard")
    exposure = None if protection is None else protection.values["exposure"]
    stops = [gear.id for gear in b.k.gear if exposure in gear.protects]
    order = b.k.choices["people.wearing"]
    for gear in sorted(
        dict.fromkeys(lacking or stops), key=lambda g: (order.index(g) if g in order else len(order), g)
    ):
        if gear not in worn:
            yield {"people.wearing": [*wearing, gear]}


def keep_away(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Without the kinds of people or animals that the finding is about; away from the powder, where that is enough."""
    present = value_at(b.data, "people.present")
    if not isinstance(present, list):
        return
    kinds = {f.values["kind"] for f in b.target.facts.values() if f.type == "person"}
    rows = [b.k.people.find(word) if isinstance(word, str) else None for word in present]
    if kinds:
        if "at_powder" in b.fields("person"):
            away = b.plan.people.away_from_powder or ()
            yield {"people.away_from_powder": sorted({*away, *map(str, kinds)})}
        yield {
            "people.present": [
                word for word, row in zip(present, rows, strict=True) if row is None or row.id not in kinds
            ]
        }


def other_space(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Another kind of room, without food out, or outdoors."""
    for kind in b.k.choices["space.kind"]:
        if kind != b.plan.space.kind:
            yield {"space.kind": kind}
            yield {"space.kind": kind, "space.food_out": False}
            if kind == "outdoors":
                yield {"space.kind": kind, "space.ventilation": "outdoors"}


def better_air(b: Bench) -> Iterator[Mapping[str, Any]]:
    """More air in the same room, or the open air."""
    for ventilation in b.k.choices["space.ventilation"]:
        if ventilation != b.plan.space.ventilation:
            yield {"space.ventilation": ventilation}
    yield {"space.kind": "outdoors", "space.ventilation": "outdoors"}


def remove_food(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Food and drink put away."""
    yield {"space.food_out": False}


def other_drain(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Poured away elsewhere: where the house has its own tank or ground there is seldom a sewer, so that comes last."""
    drains = b.k.choices["aftercare.drain"]
    for drain in sorted(drains, key=lambda d: b.plan.aftercare.drain in NO_SEWER and d == "sewer"):
        if drain != b.plan.aftercare.drain:
            yield {"aftercare.drain": drain}


def other_container(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Stock labelled and out of reach, and leftovers kept or treated in another way."""
    if b.fact("storage") is not None:
        yield from (
            {f"storage.{name}": True} for name in ("stock_labelled", "out_of_reach") if name in b.fields("storage")
        )
    for leftover in b.k.choices["aftercare.leftover"]:
        if leftover != b.plan.aftercare.leftover:
            yield {"aftercare.leftover": leftover}


def read_sheet(b: Bench) -> Iterator[Mapping[str, Any]]:
    """The safety data sheet read: of this dye, then of all."""
    dye = b.fact("dye")
    unread = [n for n, d in enumerate(b.plan.dyes) if d.safety_data_sheet != "read"]
    number = None if dye is None else number_in(dye.subject)
    yield {f"dyes.{n}.safety_data_sheet": "read" for n in ([number] if number is not None else unread)}
    yield {f"dyes.{n}.safety_data_sheet": "read" for n in unread}
