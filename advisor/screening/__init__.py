"""Screening a purchase: will it take dye, which dye, how much of it, and what to ask before buying."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from advisor.labels import LabelError
from advisor.plan import InputError
from advisor.screening.answer import ANSWERS, Answer, ClassAnswer
from advisor.screening.item import (
    MOST_LABELS,
    Answered,
    Item,
    Screened,
    answer_label,
    as_item,
    colour_word,
    item_answer,
)
from advisor.screening.match import Match, matching

__all__ = [
    "ANSWERS",
    "MOST_LABELS",
    "Answer",
    "Answered",
    "ClassAnswer",
    "Item",
    "Match",
    "Screened",
    "Screener",
    "Screening",
    "screen",
]

REFUSED = 1
CANNOT_TELL = 3


def status_of(answers: Iterable[Answer]) -> int:
    """1 when an item must not be handled, else 3 when one cannot be told, else 0."""
    found = set(answers)
    return REFUSED if "do not handle" in found else CANNOT_TELL if "cannot tell" in found else 0


@dataclass(frozen=True)
class Screening:
    """The items of a purchase with their answers; `match` says whether they would come out alike."""

    items: tuple[Screened, ...]
    match: Match | None = None

    def __iter__(self) -> Iterator[Screened]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    def __getitem__(self, index: int) -> Screened:
        return self.items[index]

    @property
    def exit_status(self) -> int:
        """0 when every item has an answer, 1 when one must not be handled, 3 when one cannot be told."""
        return status_of(item.answer for item in self.items)


class Screener:
    """Answers items, and remembers the labels it has met, so that a list of the same goods goes fast."""

    def __init__(self) -> None:
        self._answer = lru_cache(maxsize=MOST_LABELS)(_answered)

    def __call__(self, item: Item) -> Answered:
        return self._answer(item.fibres, item.dye_class, colour_word(item.colour))


def _answered(fibres: str, dye_class: str, colour: str) -> Answered:
    return item_answer(Item("", fibres, dye_class, "", colour))


def screen(
    labels: str | Mapping[str, str] | Iterable[str | Mapping[str, str]],
    *,
    dye_class: str = "",
    use: str = "",
    colour: str = "",
    match: bool = False,
) -> Screening:
    """Screen label texts, or tables with name, fibres, dye_class, use and colour.

    Without a dye class the answer is that of the best one. Raises InputError for a label that cannot be
    true, and for a class that is none.
    """
    entries = [labels] if isinstance(labels, (str, Mapping)) else list(labels)
    items = [as_item(entry, n, dye_class, use, colour) for n, entry in enumerate(entries, start=1)]
    screened = []
    for item in items:
        try:
            screened.append(Screened(item, answer_label(item.fibres, item.dye_class, item.colour)))
        except LabelError as error:
            raise InputError(str(error), file=item.name, field="fibres") from None
    return Screening(tuple(screened), matching(screened) if match else None)
