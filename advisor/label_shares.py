"""The shares of one part of a label: added up, tightened, and made the components of a composition."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from advisor.composition import FULL, UNKNOWN, Component, Confidence, LabelError, Part
from advisor.interval import Interval, rounded
from advisor.label_text import NAMES_ACCEPTED, Remarks, listed, misspelt, of_part, percent, short, suggest

# A whole is 100 %; rounding on labels is let through to one point either side.
_SLACK = 1.0
LOWEST_SUM = FULL - _SLACK
HIGHEST_SUM = FULL + _SLACK


@dataclass(slots=True)
class Entry:
    """One line of a part while it is being worked out; `low` is None when no share is stated."""

    fibre: str
    text: str
    confidence: Confidence
    low: float | None = None
    high: float = FULL
    said: float = 0.0
    strange: bool = False  # read from a word that is in no table


def components_of(name: str, entries: list[Entry], remarks: Remarks, *, strict: bool) -> tuple[Component, ...]:
    """The fibres of a part with their shares in %; what is left open is asked.

    Raises LabelError for shares that cannot be, and when `strict` for strange names and for shares that leave a rest.
    """
    if not entries:
        return ()
    if strict:
        for entry in entries:
            if entry.strange and misspelt(entry.text):
                raise LabelError(
                    f"{of_part(name)}'{short(entry.text)}' is no generic fibre name"
                    f"{suggest(entry.text)}; accepted: {NAMES_ACCEPTED}"
                )
    stated = [entry for entry in entries if entry.low is not None]
    bare = [entry for entry in entries if entry.low is None]
    if not stated:
        return _all_bare(name, bare, remarks)
    low, high = sum_of(stated, low=True), sum_of(stated, high=True)
    if low > HIGHEST_SUM:
        raise too_much(name, stated)
    said = sum_of(stated)
    rest = rounded(FULL - said)
    exact = low == high
    if bare and said >= LOWEST_SUM and exact:
        names = listed(entry.fibre for entry in bare)
        remarks.ask(
            f"{of_part(name)}the percentages add to {percent(said)}, yet {names} is named as well. "
            "How much of each fibre is in it?"
        )
        widened = [replace(entry, low=0.0, confidence="assumed") for entry in stated]
        return _as_components([*widened, *(replace(entry, low=0.0, confidence="assumed") for entry in bare)])
    if bare:
        if len(bare) == 1 and exact:
            only = bare[0]
            if only.fibre != UNKNOWN:
                remarks.note(f"{of_part(name)}{only.fibre} has no share; it was given the rest, {percent(rest)}.")
            bare = [replace(only, low=rest, high=rest, confidence="assumed")]
        else:
            remarks.ask(f"{of_part(name)}how many per cent are in it of: {listed(e.fibre for e in bare)}?")
            top = max(0.0, rounded(FULL - low))
            bare = [replace(entry, low=0.0, high=top, confidence="assumed") for entry in bare]
    elif said < LOWEST_SUM:
        if strict and exact:
            raise LabelError(f"{of_part(name)}the percentages add to {percent(said)}; accepted: 99 to 101 %")
        missing = Interval(max(0.0, rounded(FULL - high)), rounded(FULL - low))
        shown = percent(missing.high) if missing.exact else f"up to {percent(missing.high)}"
        remarks.note(f"{of_part(name)}the percentages leave {shown} without a fibre.")
        remarks.ask(f"{of_part(name)}which fibre makes up the remaining {shown}?")
        bare = [Entry(UNKNOWN, "", "assumed", missing.low, missing.high)]
    everything = [*stated, *bare]
    return _as_components(
        everything if exact and not any(e.low != e.high for e in everything) else _tightened(everything)
    )


def _all_bare(name: str, bare: list[Entry], remarks: Remarks) -> tuple[Component, ...]:
    if len(bare) == 1:
        only = bare[0]
        confidence: Confidence = "assumed" if only.confidence == "stated" else only.confidence
        return _as_components([replace(only, low=FULL, high=FULL, confidence=confidence)])
    known = [entry.fibre for entry in bare if entry.fibre != UNKNOWN]
    if len(known) > 1 and len({entry.text for entry in bare}) > 1:
        remarks.ask(f"{of_part(name)}how many per cent of each fibre are in it ({listed(known)})?")
    return _as_components([replace(entry, low=0.0, confidence="assumed") for entry in bare])


def too_much(name: str, entries: list[Entry]) -> LabelError:
    """The error for a part whose shares add to more than a whole."""
    return LabelError(f"{of_part(name)}the percentages add to {percent(sum_of(entries))}; accepted: 99 to 101 %")


def merge_groups(groups: Sequence[Sequence[Entry]]) -> list[Entry] | None:
    """One composition from several that say the same; a language that was not read may fill a place."""
    first = groups[0]
    wanted = sorted((entry.fibre, entry.said) for entry in first)
    if all(sorted((entry.fibre, entry.said) for entry in group) == wanted for group in groups):
        return list(first)
    if any([entry.said for entry in group] != [entry.said for entry in first] for group in groups):
        return None
    merged = []
    for place in zip(*groups, strict=True):
        known = [entry for entry in place if not entry.strange]
        if len({entry.fibre for entry in known}) > 1:
            return None
        merged.append((known or place)[0])
    return merged


def sum_of(entries: Iterable[Entry], *, low: bool = False, high: bool = False) -> float:
    """The stated shares added up, in %: as said, or their low or high ends."""
    stated = [entry for entry in entries if entry.low is not None]
    if low:
        return rounded(math.fsum(entry.low or 0.0 for entry in stated))
    return rounded(math.fsum(entry.high if high else entry.said for entry in stated))


def _tightened(entries: Sequence[Entry]) -> list[Entry]:
    """Cut each share to what the other shares leave of 100 %."""
    lows = [entry.low or 0.0 for entry in entries]
    highs = [entry.high for entry in entries]
    result = []
    for entry, low, high in zip(entries, lows, highs, strict=True):
        at_least = FULL - (sum(highs) - high)
        at_most = FULL - (sum(lows) - low)
        tight = rounded(max(low, at_least)), rounded(min(high, at_most))
        if tight[0] > tight[1]:  # rounding on the label, within the slack
            tight = (low, high)
        result.append(replace(entry, low=tight[0], high=tight[1]))
    return result


def _as_components(entries: Iterable[Entry]) -> tuple[Component, ...]:
    return tuple(
        Component(entry.fibre, Interval(entry.low or 0.0, entry.high), entry.text, entry.confidence)
        for entry in entries
    )


def shares_of(part: Part) -> list[tuple[str, float, float]]:
    """Fibres and shares of a part, in an order of their own, to compare parts by."""
    return sorted((c.fibre, c.share.low, c.share.high) for c in part.components)
