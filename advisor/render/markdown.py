"""A page as Markdown (CommonMark with tables). Every text is escaped."""

from __future__ import annotations

import re
from collections.abc import Iterator

from advisor.render.blocks import (
    Blanks,
    Block,
    Box,
    Boxes,
    Cell,
    Grid,
    Heading,
    Items,
    Line,
    Page,
    Paragraph,
    Pictures,
    Words,
)

_SPECIAL = re.compile(r"([\\`*_\[\]<>|#~&])")
_STARTS_BLOCK = re.compile(r"^(\s*)([-+=]|\d+(?=[.)]))")


def as_markdown(page: Page) -> str:
    """The page as Markdown; where nobody may mistake it for clearance, each part says so."""
    lines = [f"# {_escaped(page.heading)}", ""]
    if page.running:
        lines += [f"**{_escaped(page.running)}**", ""]
    lines += _blocks(page.intro)
    for section in page.sections:
        lines += [f"## {_escaped(section.title)}", ""]
        if page.running:
            lines += [f"**{_escaped(page.running)}**", ""]
        lines += _blocks(section.blocks)
    for text in page.footer:
        lines += ["---", "", _line(text), ""] if text is page.footer[0] else [_line(text), ""]
    return "\n".join(lines).rstrip() + "\n"


def _blocks(blocks: tuple[Block, ...]) -> Iterator[str]:
    for block in blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    match block:
        case Paragraph(text, kind):
            plain = _line(text)
            yield from (f"**{plain}**" if kind in ("lead", "call") and "**" not in plain else _starting(plain), "")
        case Heading(title, level):
            yield from (f"{'#' * level} {_escaped(title)}", "")
        case Items(lines, kind):
            mark = {"bullet": "-", "check": "- [ ]"}
            yield from (f"{mark.get(kind, f'{number}.')} {_line(text)}" for number, text in enumerate(lines, start=1))
            yield ""
        case Grid():
            yield from _table(block)
        case Pictures(marks):
            yield from (", ".join(_mark(mark) for mark in marks), "")
        case Box():
            yield from _box(block)
        case Boxes(boxes):
            for box in boxes:
                yield from _box(box)
        case Blanks(lines):
            for text in lines:
                yield from (_line(text), "")


def _box(box: Box) -> Iterator[str]:
    grade = f"{box.grade}: " if box.kind == "finding" else ""
    title = "".join(_escaped(words.text) for words in box.title)
    yield from (f"{'#' * max(box.level, 3)} {grade}{title}", "")
    yield from _blocks(box.blocks)


def _table(grid: Grid) -> Iterator[str]:
    yield from (f"**{_escaped(grid.caption)}**", "")
    yield f"| {' | '.join(_line(text) for text in grid.head)} |"
    yield f"|{' --- |' * len(grid.head)}"
    yield from (f"| {' | '.join(_cell(member) for member in row)} |" for row in grid.rows)
    yield ""


def _cell(cell: Cell) -> str:
    return "<br>".join([*(_mark(mark) for mark in cell.marks), *map(_line, cell.lines)])


def _mark(mark: tuple[str, str]) -> str:
    return f"{mark[0]} ({_escaped(mark[1])})"


def _line(line: Line) -> str:
    joined: list[
        Words
    ] = []  # runs that stand out side by side are one: a mark of an end beside one of a start is read as text
    for words in line:
        if joined and words.strong and joined[-1].strong:
            words = Words(joined.pop().text + words.text, strong=True)
        joined.append(words)
    return "".join(map(_words, joined)).strip()


def _words(words: Words) -> str:
    text = _escaped(words.text)
    if not words.strong or not text.strip():
        return text
    inner = text.strip()
    before, after = text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]
    return f"{before}**{inner}**{after}"


def _escaped(text: str) -> str:
    return _SPECIAL.sub(r"\\\1", text)


def _starting(text: str) -> str:
    """Text that begins a block and must not be taken for a list or a heading."""
    return _STARTS_BLOCK.sub(
        lambda found: f"{found[1]}\\{found[2]}" if not found[2].isdigit() else f"{found[1]}{found[2]}\\", text
    )
