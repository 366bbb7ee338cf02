"""Ways out by heat and time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.interval import Interval
from advisor.remedies.bench import Bench, classes_of_bath

NEARLY = 1.0  # degC under a limit that must not be reached


def lower_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A cooler bath: at or just under what the rule compares with."""
    part = b.fact("part")
    over_limit = any(condition.text.endswith("heat_limit") for condition in b.target.rule.conditions)
    begin = part.values["heat_limit_begin"] if part is not None and over_limit else None
    tops = [begin.low] if isinstance(begin, Interval) else []
    tops += [*b.bounds("temperature", ">"), *(bound - NEARLY for bound in b.bounds("temperature", ">="))]
    for top in dict.fromkeys(tops):
        if top < b.plan.bath.temperature.interval.high:
            yield {"bath.temperature": b.anew("bath.temperature", "temperature", top, "down")}


def raise_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A hotter bath, if need be over another source of heat."""
    lows = list(b.bounds("temperature", "<"))
    for low in dict.fromkeys((*lows, *(member.temperature.low for member in classes_of_bath(b)))):
        if low > b.plan.bath.temperature.interval.low:
            hotter = {"bath.temperature": b.anew("bath.temperature", "temperature", low, "up")}
            yield hotter
            yield from (hotter | {"bath.heat_source": source} for source in b.k.choices["bath.heat_source"][:1])


def longer_hold(b: Bench) -> Iterator[Mapping[str, Any]]:
    """The shortest time that a dye class of the bath wants."""
    least = max((member.hold.low for member in classes_of_bath(b)), default=0.0)
    if b.plan.bath.hold.interval.low < least:
        yield {"bath.hold": b.anew("bath.hold", "time", least, "up")}


def slower_rise(b: Bench) -> Iterator[Mapping[str, Any]]:
    """The heating rate that every dye class of the bath bears."""
    most = min((member.rise_limit.low for member in classes_of_bath(b)), default=0.0)
    if most > 0:
        yield {"bath.rise": b.anew("bath.rise", "heating rate", most, "down")}


def other_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A source of heat that is not used for food, or another kind."""
    heat = b.fields("heat")
    if "dye_only_stated" in heat and "sealed" not in heat:
        yield {"bath.heat_source_used_for_food": False}
    for source in b.k.choices["bath.heat_source"]:
        if source != b.plan.bath.heat_source:
            yield {"bath.heat_source": source}
            if b.plan.bath.heat_source_used_for_food is not None:
                yield {"bath.heat_source": source, "bath.heat_source_used_for_food": None}


def attend(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Somebody stays with the bath."""
    yield {"bath.attended": True}
