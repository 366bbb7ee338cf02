"""The parts a page is made of. One page is rendered to HTML and to Markdown from the same blocks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from advisor.interval import Interval


@dataclass(frozen=True, slots=True)
class Words:
    """A run of text. `language` when it is not the page's; `figure` when it shows a value of the report."""

    text: str
    language: str = ""
    strong: bool = False
    figure: tuple[str, Interval, str] | None = None  # measure's key, value, unit


Line = tuple[Words, ...]


def line(*parts: str | Words) -> Line:
    """A line of plain and marked texts."""
    return tuple(Words(part) if isinstance(part, str) else part for part in parts)


def strong(text: str) -> Words:
    """Text to stand out."""
    return Words(text, strong=True)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; `kind` sets its size and weight."""

    line: Line
    kind: Literal["", "lead", "small", "call"] = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    text: str
    level: int


@dataclass(frozen=True, slots=True)
class Items:
    """A list; `check` gives each item a box to tick."""

    lines: tuple[Line, ...]
    kind: Literal["bullet", "number", "check"] = "bullet"


@dataclass(frozen=True, slots=True)
class Cell:
    """A table cell of one or more lines, or of GHS pictograms (id and words)."""

    lines: tuple[Line, ...]
    marks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Grid:
    """A table; the first cell of each row heads it. `kind` sets the widths of the columns."""

    caption: str
    head: tuple[Line, ...]
    rows: tuple[tuple[Cell, ...], ...]
    kind: Literal["", "terms", "worked", "signs", "limits"] = ""


@dataclass(frozen=True, slots=True)
class Pictures:
    """GHS pictograms by id, with the words that stand for each."""

    marks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Box:
    """A framed part with a title: a verdict, a finding, a card. `grade` is a signal word or a verdict."""

    kind: Literal["verdict", "stop", "finding", "card", "station", "label"]
    title: Line
    blocks: tuple[Block, ...]
    grade: str = ""
    level: int = 3


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes side by side where there is room."""

    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines to write on: each with what belongs there."""

    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the page with a heading. `own_page` starts a sheet of paper."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    own_page: bool = False


Block = Paragraph | Heading | Items | Grid | Pictures | Box | Boxes | Blanks


@dataclass(frozen=True)
class Page:
    """A whole page. `running` stands on every sheet of a page that nobody may mistake for clearance, else empty."""

    title: str
    language: str
    heading: str
    intro: tuple[Block, ...]
    sections: tuple[Section, ...]
    footer: tuple[Line, ...]
    running: str = ""
    skip: str = ""
    contents: str = ""


def cell(*parts: str | Words | Line) -> Cell:
    """A cell; each argument is a line."""
    return Cell(tuple(part if isinstance(part, tuple) else line(part) for part in parts))


def bullets(parts: Iterable[str | Words | Line], kind: Literal["bullet", "number", "check"] = "bullet") -> Items:
    """A list of lines."""
    return Items(tuple(part if isinstance(part, tuple) else line(part) for part in parts), kind)
