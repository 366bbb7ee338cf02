"""What a dye is said to contain: the rows of contents.toml and the substances that its words name."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from advisor.knowledge import Knowledge, knowledge
from advisor.rows import Content

_WORD = re.compile(r"[^\W\d_]+")
_DENIED = re.compile(r"(?<![^\W\d_])(free|no|non|not|without)(?![^\W\d_])")


@dataclass(frozen=True, slots=True)
class Contents:
    """What words name: rows of contents.toml, ids of substances, and the words that name neither."""

    rows: tuple[Content, ...]
    substances: tuple[str, ...]
    others: tuple[str, ...]

    def metals(self, *, toxic: bool = False) -> tuple[str, ...]:
        """The metals among them; with `toxic` those that drains and soil object to."""
        return tuple(row.id for row in self.rows if row.metal == "yes" and (row.toxic == "yes" or not toxic))


@lru_cache(maxsize=4096)
def contents_of(words: tuple[str, ...]) -> Contents:
    """What the words of `contains` name, by the tables that ship with the advisor."""
    k = knowledge()
    rows: dict[str, Content] = {}
    substances: list[str] = []
    others: list[str] = []
    for word in words:
        substance = k.substances.find(word)
        named = {row.id: row for row in _rows_named(word, k)}
        if substance is not None:
            substances.append(substance.id)
            named |= {metal: k.contents[metal] for metal in substance.metals}
        if not named and substance is None:
            others.append(word)
        rows |= named
    return Contents(tuple(rows.values()), tuple(dict.fromkeys(substances)), tuple(others))


def denies(word: str) -> bool:
    """Whether a word says what is not in the dye, as "chromium-free" does."""
    return bool(_DENIED.search(word.casefold()) and _rows_named(word, knowledge()))


def _rows_named(word: str, k: Knowledge) -> list[Content]:
    """Whole words first; what they do not cover is searched for parts: copperas is iron, and no copper."""
    spaced = f" {' '.join(_WORD.findall(word.casefold()))} "
    found = []
    for row in k.contents:
        for name in (row.id, *row.synonyms):
            if f" {name} " in spaced:
                spaced = spaced.replace(f" {name} ", "  ")
                found.append(row)
    return found + [row for row in k.contents if row not in found and any(part in spaced for part in row.parts)]
