"""Small helpers that turn what a plan says into words of the facts."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from advisor.interval import Interval
from advisor.measures import Workings
from advisor.plan_values import UNKNOWN

Inputs = dict[str, frozenset[str]]


def yes_no(value: bool | None) -> str:
    """A truth value as a word; None is unknown."""
    return UNKNOWN if value is None else "yes" if value else "no"


def agreed(values: Iterable[bool]) -> str:
    """Yes or no when all agree, else unknown."""
    answers = set(values)
    return yes_no(answers.pop()) if len(answers) == 1 else UNKNOWN


def one_of(values: Collection[str]) -> str:
    """The only word of a collection, else unknown."""
    return next(iter(values)) if len(values) == 1 else UNKNOWN


def listed_in(word: str, words: Collection[str] | None) -> str:
    """Whether a word is in a list that may be unknown (None)."""
    return UNKNOWN if words is None else yes_no(word in words)


def worst(interval: Interval) -> Interval:
    """The high end of what only the tables leave open; an interval that an input would narrow stays wide."""
    return interval if interval.because else Interval.point(interval.high)


def best(interval: Interval) -> Interval:
    """The low end of what only the tables leave open; an interval that an input would narrow stays wide."""
    return interval if interval.because else Interval.point(interval.low)


def side_words(work: Workings, names: Iterable[str]) -> tuple[dict[str, str], Inputs]:
    """The sides of the bath as words, with the inputs of those that are unknown."""
    words = {name: work.sides[name].answer for name in names}
    return words, {name: work.sides[name].inputs for name in words if work.sides[name].inputs}
