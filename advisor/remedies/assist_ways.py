"""Ways out by the chemicals beside the dye: less, more, one added, one left out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from advisor.interval import Interval
from advisor.plan_values import UNKNOWN
from advisor.remedies.bench import Bench, classes_of_bath, number_in
from advisor.remedies.changes import value_at
from advisor.remedies.dosing import FACTORS, dosed, in_place, scale_assist, usual_doses


def _concerned(b: Bench) -> list[int]:
    """The numbers of the assists that the finding is about."""
    assist, need = b.fact("assist"), b.fact("need")
    if assist is not None:
        number = number_in(assist.subject)
        return [] if number is None else [number]
    if need is not None and isinstance(need.values["role"], str):
        return dosed(b, need.values["role"])
    acid = b.work.liquor.acid.high
    alkali = b.work.liquor.alkali.high
    if acid > 0 and (alkali <= 0 or b.work.liquor.ph.middle < 7):
        return dosed(b, "acid", "mordant")
    return dosed(b, "alkali") if alkali > 0 else []


def less_assist(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Less of the chemicals the finding is about, step by step."""
    numbers, need = _concerned(b), b.fact("need")
    share = None if need is None else need.values["share_of_usual_high"]
    first = [1 / share.high] if isinstance(share, Interval) and share.high > 1 else []
    for factor in (*first, *FACTORS):
        yield {path: value for n in numbers for path, value in scale_assist(b, n, factor, "down").items()}


def usual_amounts(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A middling usual amount of each kind of help of which there is more than is usual."""
    for fact in b.trial.facts:
        if fact.type == "need" and fact.values["present"] == "yes":
            most, least = fact.values["share_of_usual_high"], fact.values["share_of_usual_low"]
            if isinstance(most, Interval) and isinstance(least, Interval) and most.high > 1 and least.high < math.inf:
                factor = 1 / math.sqrt(most.high * least.high)
                numbers = dosed(b, str(fact.values["role"]))
                yield {path: value for n in numbers for path, value in scale_assist(b, n, factor, "down").items()}


def _shares(b: Bench, role: str, end: str) -> Iterator[Interval]:
    """How much of this role there is against an end of what is usual, for each dye class of the bath that wants it."""
    for fact in b.trial.facts:
        share = fact.values.get(f"share_of_usual_{end}")
        if fact.type == "need" and fact.values["role"] == role and isinstance(share, Interval):
            yield share


def more_acid(b: Bench) -> Iterator[Mapping[str, Any]]:
    """More of the acid that is there: enough for what the water uses up, then step by step."""
    numbers, eaten = dosed(b, "acid"), b.work.liquor.acid_eaten.high
    acid, alkali = b.work.liquor.acid.low, b.work.liquor.water_alkali.high
    if acid > 0 and b.plan.bath.alkalinity.stated:  # what the water takes, and on top the recipe's amount, if usual
        recipe = max(1.0, *(1 / share.low for share in _shares(b, "acid", "low") if share.low > 0))
        factor = alkali / acid + recipe
        yield {path: value for n in numbers for path, value in scale_assist(b, n, factor, "up").items()}
    exact = [eaten / limit for limit in (b.limit("acid_eaten_much"), 1.0) if eaten > limit]
    for factor in (*exact, *(1 / factor for factor in FACTORS)):
        yield {path: value for n in numbers for path, value in scale_assist(b, n, factor, "up").items()}


def add_assist(b: Bench) -> Iterator[Mapping[str, Any]]:
    """What a dye class needs: more of what is there, another of its kind instead, or one more."""
    need = b.fact("need")
    role = need.values["role"] if need is not None else "alkali" if b.work.liquor.alkali.high > 0 else "acid"
    token = need.values["dye_class"] if need is not None else b.plan.dyes[0].dye_class
    short = None if need is None else need.values["share_of_usual_low"]
    present = dosed(b, str(role))
    if need is not None and need.values["present"] == "yes" and isinstance(short, Interval) and 0 < short.low < 1:
        accepted = {s for member in b.k.members(str(token)) for use in member.assists for s in use.substances}
        wanted = [n for n in present if b.plan.assists is not None and b.plan.assists[n].substance in accepted]
        yield {path: value for n in wanted for path, value in scale_assist(b, n, 1 / short.low, "up").items()}
    wrong = [n for n in present if need is None or need.values["wrong_kind"] == "yes"]
    for dose in usual_doses(b, str(token), str(role)):
        yield from (in_place(b, number, dose) for number in wrong)
        yield {f"assists.{len(b.plan.assists or ())}": dose}


def remove_substance(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Without the chemical the finding is about, wherever the plan names it."""
    pair, substance = b.fact("pair"), b.fact("substance")
    if pair is not None:
        words = [str(pair.values["first"]), str(pair.values["second"])]
        for word in words:
            yield from _out_of_lists(b, word, ("bath.before", "space.chemicals"))
        numbers = [n for n, a in enumerate(b.plan.assists or ()) if a.substance in words]
        yield from _assists_out(b, numbers, frozenset(words))
        return
    if substance is not None and b.fact("assist") is None:
        word = str(substance.values["substance"])
        if substance.values["origin"] in ("before", "room"):
            yield from _out_of_lists(b, word, ("bath.before", "space.chemicals"))
            return
        number = number_in(substance.subject)
        if substance.values["origin"] == "assist" and number is not None:
            yield from _assists_out(b, [number], frozenset({word}))
        if substance.values["origin"] == "contained" and number is not None:  # another dye, that does not hold it
            yield from _out_of_lists(b, word, (f"dyes.{number}.contains",))
        return
    numbers = _concerned(b) if b.fact("assist") is not None else _unwanted(b)
    yield from _assists_out(b, numbers, frozenset())
    if b.fact("assist") is None and len(numbers) > 1:
        yield {f"assists.{number}": None for number in numbers}


def _unwanted(b: Bench) -> list[int]:
    """The assists that work against a dye class of the bath, then all that are acid or alkaline."""
    against = {word for member in classes_of_bath(b) for word in member.unwanted}
    found = [
        number
        for number, assist in enumerate(b.plan.assists or ())
        if assist.substance != UNKNOWN and against & {assist.substance, *b.k.substances[assist.substance].roles}
    ]
    return list(dict.fromkeys((*found, *dosed(b, "acid", "alkali"))))


def _assists_out(b: Bench, numbers: list[int], words: frozenset[str]) -> Iterator[Mapping[str, Any]]:
    """Without each of these chemicals; one that the dye needs is first replaced by another that it takes."""
    assert b.plan.assists is not None or not numbers
    for number in numbers:
        substance = (b.plan.assists or ())[number].substance
        if not _needed(b, substance):
            yield {f"assists.{number}": None}
    for number in numbers:
        substance = (b.plan.assists or ())[number].substance
        if substance == UNKNOWN:
            continue
        roles = b.k.substances[substance].roles
        for dye_class in dict.fromkeys(dye.dye_class for dye in b.plan.dyes):
            for role in roles:
                for dose in usual_doses(b, dye_class, role, words | {substance}):
                    yield in_place(b, number, dose)
        yield {f"assists.{number}": None}


def _needed(b: Bench, substance: str) -> bool:
    """Whether a dye class of the bath requires this chemical or its like."""
    return any(
        use.importance == "required" and substance in use.substances
        for member in classes_of_bath(b)
        for use in member.assists
    )


def _out_of_lists(b: Bench, word: str, paths: Iterable[str]) -> Iterator[Mapping[str, Any]]:
    """Without a chemical that stands in a list of words, by whatever word it stands there."""
    for path in paths:
        listed = value_at(b.data, path)
        if isinstance(listed, list):
            rows = [b.k.substances.find(item) if isinstance(item, str) else None for item in listed]
            left = [item for item, row in zip(listed, rows, strict=True) if row is None or row.id != word]
            if len(left) < len(listed):
                yield {path: left}
