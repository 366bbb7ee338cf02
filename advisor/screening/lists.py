"""Goods lists: CSV or TSV in any common encoding, read row by row in bounded memory.

What is wrong with the whole list is a `ListError`; what is wrong with one row is a `BadRow` among the rows.
Bytes are read in blocks; a line or a quoted cell that never ends is given up at a cap and never held whole.
"""

from __future__ import annotations

import codecs
import csv
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from advisor.label_words import fold
from advisor.plan import InputError
from advisor.plan_values import clean
from advisor.screening.tables import screen_tables

BLOCK = 1 << 16  # bytes read at a time
LONGEST_LINE = 100_000  # characters of a line; a label has at most 5,000
MOST_LINES = 50  # lines one quoted cell may run over
MOST_CELLS = 500
_SHOWN = 40
_UNCLOSED = "a quote is opened and never closed"
# the marks of UTF-32 begin like those of UTF-16, so they come first; "" is refused
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, ""),
    (codecs.BOM_UTF32_BE, ""),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_FALLBACK = "cp1252"
_DELIMITERS = (";", ",", "\t")
# control characters that no text holds, but for tab, line ends, form feed and the end mark of old text files
_NO_TEXT = frozenset(range(32)) - frozenset(b"\t\n\r\x0b\x0c\x1a\x1b")
_MOST_NO_TEXT = 0.02  # share of the first block; above it the file is no text
ROLES = ("name", "fibres", "dye_class", "use", "colour")


class ListError(InputError):
    """The list cannot be read at all."""


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that could not be read: line and column (0 or "" when neither applies), and what is wrong.

    `cells` is what can be made out of a row that could not be taken apart, one for each column; None of other rows.
    """

    line: int
    column: str
    problem: str
    cells: list[str] | None = None

    def __str__(self) -> str:
        column = f", column {self.column}" if self.column else ""
        return f"line {self.line}{column}: {self.problem}"


@dataclass(frozen=True, slots=True)
class Row:
    """A row as it came."""

    line: int
    cells: list[str]


@dataclass(slots=True)
class _Problem:
    text: str
    before: str | None = None  # what stands before the bad place on the line


class _Lines:
    """Numbered lines of a byte stream, or what is wrong with a line. `read` counts bytes."""

    def __init__(self, stream: BinaryIO, name: str) -> None:
        self._stream, self._name = stream, name
        self.read = 0
        first = self._block()
        self.encoding, skip = self._encoding(first)
        self._decoder = (
            None if self.encoding == "utf-8" else codecs.getincrementaldecoder(self.encoding)(errors="replace")
        )
        first = first[skip:]
        self._check_text(first)
        self._end = b"\r" if b"\n" not in first and b"\r" in first else b"\n"
        self._first = first

    def _block(self) -> bytes:
        block = self._stream.read(BLOCK)
        self.read += len(block)
        return block

    def _encoding(self, first: bytes) -> tuple[str, int]:
        if not first.strip():
            raise ListError("the list is empty", file=self._name)
        for mark, encoding in _BOMS:
            if first.startswith(mark):
                if not encoding:
                    raise ListError("is UTF-32 text; save it as UTF-8", file=self._name)
                return encoding, len(mark)
        return "utf-8", 0

    def _check_text(self, first: bytes) -> None:
        if self._decoder is not None:
            return
        if first.startswith(b"PK\x03\x04") or first.startswith(b"\xd0\xcf\x11\xe0"):
            raise ListError("is a spreadsheet workbook or archive, not text; export the sheet as CSV", file=self._name)
        strange = sum(first.count(bytes((code,))) for code in _NO_TEXT)
        if strange > len(first) * _MOST_NO_TEXT and strange > 1:
            raise ListError("is not text; accepted: CSV or TSV saved as UTF-8, UTF-16 or Windows-1252", file=self._name)

    def __iter__(self) -> Iterator[tuple[int, str | _Problem]]:
        for number, text in enumerate(self._texts(), start=1):
            if text is None:
                yield number, _Problem(f"the line is longer than {LONGEST_LINE} characters")
            elif "\0" in text:
                yield number, _Problem("holds a NUL byte", text[: text.index("\0")])
            else:
                yield number, text

    def _texts(self) -> Iterator[str | None]:
        return self._decoded() if self._decoder is not None else self._plain()

    def _plain(self) -> Iterator[str | None]:
        """Lines of UTF-8; a stretch that is none is read line by line, as Windows-1252 where it must be."""
        rest, block, skipping = b"", self._first, False
        while block:
            whole, mark, tail = block.rpartition(self._end)
            if not mark:
                if not skipping:
                    rest += tail
                    if len(rest) > 4 * LONGEST_LINE:
                        rest, skipping = b"", True
                        yield None
            else:
                if skipping:
                    whole, skipping = whole.partition(self._end)[2], False
                    lines = self._lines(whole) if whole else iter(())
                else:
                    lines = self._lines(rest + whole)
                yield from lines
                rest = tail
            block = self._block()
        if rest and not skipping:
            yield from self._lines(rest)

    def _lines(self, data: bytes) -> Iterator[str | None]:
        try:
            texts: Iterable[str] = data.decode("utf-8").split(self._end.decode())
        except UnicodeDecodeError:
            texts = map(_either, data.split(self._end))
        for text in texts:
            yield text if len(text) <= LONGEST_LINE else None

    def _decoded(self) -> Iterator[str | None]:
        assert self._decoder is not None
        rest, block, skipping, end = "", self._first, False, "\n"
        while True:
            text = self._decoder.decode(block, final=not block)
            whole, mark, tail = text.rpartition(end)
            if mark:
                lines = (rest + whole).split(end)
                if skipping:
                    lines = whole.split(end)[1:]
                    skipping = False
                for line in lines:
                    yield line if len(line) <= LONGEST_LINE else None
                rest = tail
            elif not skipping:
                rest += tail
                if len(rest) > LONGEST_LINE:
                    rest, skipping = "", True
                    yield None
            if not block:
                break
            block = self._block()
        if rest and not skipping:
            yield rest


def _either(data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode(_FALLBACK, errors="replace")


class _Runaway(Exception):
    """A quote opened on this line is never closed."""

    def __init__(self, line: int, text: str) -> None:
        super().__init__()
        self.line, self.text = line, text


class _BadLine(Exception):
    def __init__(self, line: int, problem: _Problem) -> None:
        super().__init__()
        self.line, self.problem = line, problem


class _Feed:
    """Hands lines to the csv reader and knows when it asks for more than one line for a row.

    It is an iterator that goes on after it has raised: the reader drops the row at hand and starts anew.
    """

    def __init__(self, lines: Iterable[tuple[int, str | _Problem]]) -> None:
        self._lines = iter(lines)
        self._again: deque[tuple[int, str | _Problem]] = deque()
        self._open: list[tuple[int, str | _Problem]] = []
        self.start = 0

    def done(self) -> None:
        """The row at hand has been read."""
        self._open.clear()

    def rewind(self) -> None:
        """The row at hand was no row: go on with the line after its first."""
        self._again.extendleft(reversed(self._open[1:]))
        self._open = []

    @property
    def lines(self) -> list[str]:
        """The lines of the row at hand."""
        return [text for _, text in self._open if isinstance(text, str)]

    def again(self, line: int, text: str) -> None:
        """Hand this line out once more."""
        self._again.appendleft((line, text))

    def first(self) -> tuple[int, str | _Problem] | None:
        """The next line, before any reader asked for it."""
        return next(self._lines, None)

    def __iter__(self) -> _Feed:
        return self

    def __next__(self) -> str:
        entry = self._again.popleft() if self._again else next(self._lines, None)
        opened = self._open
        if entry is None or isinstance(entry[1], _Problem) or len(opened) >= MOST_LINES:
            if opened:
                start, first = opened[0]
                self._again.extendleft(reversed([*opened[1:], *([entry] if entry else [])]))
                self._open = []
                raise _Runaway(start, first if isinstance(first, str) else "")
            if entry is None:
                raise StopIteration
            assert isinstance(entry[1], _Problem)
            raise _BadLine(entry[0], entry[1])
        if not opened:
            self.start = entry[0]
        opened.append(entry)
        text = entry[1]
        assert isinstance(text, str)
        return text if text.endswith("\n") else text + "\n"


class ListReader:
    """A goods list: its header, which column plays which role, and its rows.

    Raises ListError when the list is empty, no text, or has no column of labels.
    """

    def __init__(self, stream: BinaryIO, name: str, columns: Mapping[str, str] | None = None) -> None:
        self._lines = _Lines(stream, name)
        self.name = name
        self.header: list[str] = []
        self._feed = _Feed(self._without_ends(self._lines))
        line, head = self._first_line()
        self.delimiter = _said_delimiter(head)
        if self.delimiter:
            line, head = self._first_line()
        else:
            self.delimiter = _delimiter(head)
        self._reader = csv.reader(self._feed, delimiter=self.delimiter or "\t")
        self._feed.again(line, head)
        first = next(self._rows(), None)
        if not isinstance(first, Row):
            raise ListError(str(first) if first else "the list has no header", file=name)
        self.header = [cell.strip() for cell in first.cells]
        if len(self.header) > MOST_CELLS:
            raise ListError(f"the header has {len(self.header)} columns; accepted: up to {MOST_CELLS}", file=name)
        self.roles = self._roles(columns or {})

    @property
    def bytes_read(self) -> int:
        """How far the stream was read."""
        return self._lines.read

    @staticmethod
    def _without_ends(lines: Iterable[tuple[int, str | _Problem]]) -> Iterator[tuple[int, str | _Problem]]:
        for number, line in lines:
            yield (number, line[:-1]) if isinstance(line, str) and line.endswith("\r") else (number, line)

    def _first_line(self) -> tuple[int, str]:
        while True:
            entry = self._feed.first()
            if entry is None:
                raise ListError("the list has no header", file=self.name)
            number, line = entry
            if isinstance(line, _Problem):
                raise ListError(str(BadRow(number, "", line.text)), file=self.name)
            if line.strip():
                return number, line

    def _roles(self, named: Mapping[str, str]) -> dict[str, int]:
        places: dict[str, int] = {}
        for role, header in named.items():
            found = [n for n, cell in enumerate(self.header) if cell.casefold() == header.casefold().strip()]
            if not found:
                raise ListError(f"has no column {clean(header)[:_SHOWN]!r}; it has: {self._headers()}", file=self.name)
            places[role] = found[0]
        words = header_words()
        # the exact id first, so that "material" does not take the place of "fibres"
        for exact in (True, False):
            for n, cell in enumerate(self.header):
                role = words.get(_folded(cell), "")
                if (
                    role
                    and role not in places
                    and n not in places.values()
                    and (not exact or _folded(cell) == _folded(role))
                ):
                    places[role] = n
        if "fibres" not in places:
            raise ListError(
                f"has no column of label text; it has: {self._headers()}. "
                "Name it 'fibres', or say which it is with --column fibres=NAME",
                file=self.name,
            )
        for role, place in places.items():
            title = self.header[place]
            if (count := sum(_folded(cell) == _folded(title) for cell in self.header)) > 1:
                shown = repr(clean(title)[:_SHOWN])
                raise ListError(
                    f"has {count} columns {shown}, so it is not clear which is the {role.replace('_', ' ')}; "
                    "give each a header of its own",
                    file=self.name,
                )
        return places

    def _headers(self) -> str:
        shown = [repr(clean(cell)[:_SHOWN]) for cell in self.header[:8]]
        return ", ".join(shown) + (" and more" if len(self.header) > len(shown) else "")

    def __iter__(self) -> Iterator[Row | BadRow]:
        wanted = len(self.header)
        for row in self._rows():
            if isinstance(row, Row) and len(row.cells) != wanted:
                extra = row.cells[wanted:]
                if extra and not any(extra):  # a sheet often leaves empty cells at the end
                    del row.cells[wanted:]
                    yield row
                else:
                    problem = f"{len(row.cells)} cells where the header has {wanted}"
                    yield BadRow(row.line, self._column(min(len(row.cells), wanted)), problem, self._fitted(row.cells))
            else:
                yield row

    def _torn(self, lines: list[str], cells: list[str]) -> bool:
        """Whether a quote that is never closed has drawn the next lines into a row."""
        if self.header and len(cells) != len(self.header):
            return True
        try:
            next(csv.reader(["\n".join(lines)], delimiter=self.delimiter or "\t", strict=True), None)
        except csv.Error:
            return True
        return False

    def _made_out(self, text: str) -> list[str]:
        """The cells of a line as far as they can be told without its quotes."""
        cells = text.split(self.delimiter) if self.delimiter else [text]
        return self._fitted([cell.strip().strip('"') for cell in cells])

    def _fitted(self, cells: list[str]) -> list[str]:
        """As many cells as the header has: what is too much goes into the last."""
        wanted = len(self.header)
        if wanted and len(cells) > wanted:
            cells = [*cells[: wanted - 1], (self.delimiter or "\t").join(cells[wanted - 1 :])]
        return [*cells, *[""] * (wanted - len(cells))]

    def _column(self, place: int) -> str:
        """The header of a column, and its number."""
        title = clean(self.header[place])[:_SHOWN] if place < len(self.header) else ""
        return f"{place + 1} ({title})" if title else f"{place + 1}"

    def column_of(self, role: str) -> str:
        """The column that plays a role, in words."""
        return self._column(self.roles[role]) if role in self.roles else ""

    def _rows(self) -> Iterator[Row | BadRow]:
        feed, reader = self._feed, self._reader
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except _Runaway as problem:
                yield BadRow(problem.line, "", _UNCLOSED, self._made_out(problem.text))
                continue
            except _BadLine as bad:
                column, before = "", bad.problem.before
                if before is not None:
                    column = self._column(before.count(self.delimiter or "\t"))
                yield BadRow(bad.line, column, bad.problem.text, self._made_out(before or ""))
                continue
            except csv.Error as error:
                yield BadRow(
                    feed.start, "", f"cannot be read as a row: {error}", self._made_out("".join(feed.lines[:1]))
                )
                feed.rewind()
                continue
            if len(feed.lines) > 1 and self._torn(feed.lines, cells):
                yield BadRow(feed.start, "", _UNCLOSED, self._made_out(feed.lines[0]))
                feed.rewind()
                continue
            feed.done()
            if any(cells):
                yield Row(feed.start, cells)


def header_words() -> dict[str, str]:
    """Folded header words and the role each stands for."""
    words: dict[str, str] = {}
    for column in screen_tables().columns:
        if column.id in ROLES:
            for word in (column.id, *column.synonyms):
                words.setdefault(_folded(word), column.id)
    return words


def _folded(text: str) -> str:
    return " ".join(fold(text).replace("_", " ").replace("-", " ").split())


def _said_delimiter(line: str) -> str:
    """The delimiter that a spreadsheet wrote into a first line of its own, "sep=;"; "" for any other line."""
    said = line.strip('\r\n"').casefold()
    mark = said[4:]
    return mark if said.startswith("sep=") and len(mark) == 1 and not mark.isalnum() and mark not in "\"' " else ""


def _delimiter(header: str) -> str:
    """The delimiter of a header: the one that yields most known column words, then most cells; "" for one column."""
    words = header_words()

    def rank(delimiter: str) -> tuple[int, int]:
        cells = next(csv.reader([header], delimiter=delimiter), [])
        return sum(_folded(cell) in words for cell in cells), len(cells)

    try:
        best = max(_DELIMITERS, key=rank)
        return best if rank(best)[1] > 1 else ""
    except csv.Error:
        return ","


def cells_of(row: Sequence[str], roles: Mapping[str, int], role: str) -> str:
    """The cell of a role, "" where the list has no such column."""
    place = roles.get(role)
    return row[place].strip() if place is not None else ""
