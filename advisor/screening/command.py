"""What `advisor screen` does: labels or a list in, answers out, one row after the other."""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain
from pathlib import Path
from typing import BinaryIO, TextIO

from advisor.output import check_places, new_file
from advisor.plan import InputError
from advisor.plan_values import clean
from advisor.screening import Screener, screen, status_of
from advisor.screening.answer import Answer
from advisor.screening.item import Item, Screened, dye_class_id, unreadable
from advisor.screening.lists import BadRow, ListError, ListReader, cells_of
from advisor.screening.match import Match, Matcher
from advisor.screening.trial import named_plan, plan_toml

_STEP = 500  # rows between two moves of the progress bar
Tick = Callable[[int], None]


@dataclass(frozen=True)
class Wanted:
    """What the person asked for on the command line."""

    labels: Sequence[str] = ()
    list_file: str | None = None
    dye_class: str = ""
    use: str = ""
    colour: str = ""
    format: str = "terminal"
    output: Path | None = None
    force: bool = False
    strict: bool = False
    match: bool = False
    identify: bool = False
    trial: Path | None = None
    columns: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Tally:
    """Counts over a list."""

    answers: Counter[Answer] = field(default_factory=Counter)
    best: Counter[str] = field(default_factory=Counter)
    bad: int = 0
    match: Match | None = None

    @property
    def items(self) -> int:
        """Items answered."""
        return self.answers.total()

    @property
    def exit_status(self) -> int:
        """0 when every item has an answer, 1 when one must not be handled, 3 when one cannot be told."""
        return status_of(self.answers)


def run(wanted: Wanted) -> int:
    """Screen and write; returns the exit status: 0, 1 when an item must not be handled, 3 when one cannot be told.

    Raises InputError for bad input, OutputError for a file that cannot be written; then nothing is left at its place.
    """
    if bool(wanted.labels) == (wanted.list_file is not None):
        raise InputError("give label texts, or --list FILE, but not both", file="screen")
    if wanted.trial is not None and len(wanted.labels) != 1:
        raise InputError("--trial takes one label", file="screen")
    check_places(wanted.trial, wanted.output, force=wanted.force)
    return _run_labels(wanted) if wanted.labels else _run_list(wanted)


def _run_labels(wanted: Wanted) -> int:
    from advisor.render.screen import writer

    done = screen(
        list(wanted.labels), dye_class=wanted.dye_class, use=wanted.use, colour=wanted.colour, match=wanted.match
    )
    if wanted.trial is not None:
        one = done[0]
        if one.answered.trial is None:
            raise InputError(f"no trial of this label: {one.answered.why}", file="screen", field="fibres")
        with new_file(wanted.trial, force=wanted.force) as stream:
            stream.write(plan_toml(named_plan(one.answered.trial, one.item.name, one.item.use)))
    tally = Tally()
    with _output(wanted) as stream:
        out = writer(wanted.format, stream, identify=wanted.identify)
        out.begin()
        for one in done:
            out.item(one, ())
            _count(tally, one)
        tally.match = done.match
        out.end(tally)
    return done.exit_status


def _run_list(wanted: Wanted) -> int:
    from advisor.render.screen import writer

    assert wanted.list_file is not None
    asked = dye_class_id(wanted.dye_class)
    tally, matcher = Tally(), Matcher() if wanted.match else None
    with _input(wanted.list_file) as (binary, name, size), _progress(size) as (tick, say):
        reader = ListReader(binary, name, wanted.columns)

        bad = _BadRows(name, wanted.strict, say)
        rows = screened_rows(reader, asked, wanted, bad)
        held: list[tuple[Screened, list[str]]] = []  # until a row was read, so that a list without one gives no output
        while len(held) == bad.lost < _STEP and (entry := next(rows, None)):
            held.append(entry)
        if len(held) == bad.lost < _STEP:
            raise ListError(bad.only or "no row could be read" if bad.count else "has a header but no rows", file=name)
        with _output(wanted) as stream:
            out = writer(wanted.format, stream, reader=reader, identify=wanted.identify)
            out.begin()
            for number, (one, cells) in enumerate(chain(held, rows)):
                out.item(one, cells)
                _count(tally, one)
                if matcher is not None:
                    matcher.add(one.item, one.answered)
                if number % _STEP == 0:
                    tick(reader.bytes_read)
            bad.say_held()
            if tally.items == bad.lost:
                raise ListError("no row could be read", file=name)
            tally.bad = bad.count
            tally.match = matcher.result() if matcher is not None else None
            out.end(tally)
    if wanted.format != "terminal" or wanted.output is not None:
        _say_tally(tally)
    return tally.exit_status


class _BadRows:
    """Hears of bad rows: stops at the first when strict, else counts them and says each.

    The first is held back for a moment, so that a list with nothing else in it gets one line and not two.
    """

    def __init__(self, name: str, strict: bool, say: Callable[[str], None]) -> None:
        self._name, self._strict, self._say = name, strict, say
        self._held = ""
        self.count = 0
        self.lost = 0  # of these, the rows that could not be taken apart

    def __call__(self, row: BadRow) -> None:
        if self._strict:
            raise ListError(str(row), file=self._name)
        self.count += 1
        self.lost += row.cells is not None
        if self.count == 1:
            self._held = str(row)
        else:
            self.say_held()
            self._say(f"{self._name}: {row}")

    @property
    def only(self) -> str:
        """The one bad row that was not said yet."""
        return self._held

    def say_held(self) -> None:
        """Say the row held back."""
        if self._held:
            self._say(f"{self._name}: {self._held}")
            self._held = ""


def screened_rows(
    reader: ListReader, asked: str, wanted: Wanted, bad: Callable[[BadRow], None]
) -> Iterator[tuple[Screened, list[str]]]:
    """Each row of a list with its answer, in the order of the list; `bad` hears of rows that are wrong.

    A row that cannot be taken apart, or whose label or class is wrong, is answered "cannot tell".
    """
    screener, roles, class_of = Screener(), reader.roles, lru_cache(maxsize=1024)(dye_class_id)
    for number, row in enumerate(reader, start=1):
        if isinstance(row, BadRow):
            bad(row)
            cells = row.cells or [""] * len(reader.header)
            item = Item(
                name=cells_of(cells, roles, "name") or f"line {row.line}",
                fibres=cells_of(cells, roles, "fibres"),
                dye_class=asked,
                use=cells_of(cells, roles, "use") or wanted.use,
                colour=cells_of(cells, roles, "colour") or wanted.colour,
            )
            yield Screened(item, unreadable(item.fibres, f"The row cannot be read: {row.problem}.")), cells
            continue
        cells = row.cells
        fibres = cells_of(cells, roles, "fibres")
        word = cells_of(cells, roles, "dye_class")
        name = cells_of(cells, roles, "name") or f"item {number}"
        use, colour = cells_of(cells, roles, "use") or wanted.use, cells_of(cells, roles, "colour") or wanted.colour
        try:
            item = Item(name, fibres, class_of(word) or asked if word else asked, use, colour)
            answered = screener(item)
        except InputError as error:
            item = Item(name, fibres, asked, use, colour)
            answered = unreadable(fibres, error.detail)
            bad(BadRow(row.line, reader.column_of("dye_class"), error.detail))
        else:
            if answered.problem and fibres:
                bad(BadRow(row.line, reader.column_of("fibres"), answered.problem))
        yield Screened(item, answered), cells


def _count(tally: Tally, one: Screened) -> None:
    tally.answers[one.answered.answer] += 1
    if one.answered.best:
        tally.best[one.answered.best] += 1


def _say_tally(tally: Tally) -> None:
    counts = ", ".join(f"{answer} {count:,}" for answer, count in tally.answers.most_common())
    bad = f"; {tally.bad:,} bad rows" if tally.bad else ""
    print(f"{tally.items:,} items: {counts}{bad}", file=sys.stderr)


@contextmanager
def _input(name: str) -> Iterator[tuple[BinaryIO, str, int | None]]:
    if name == "-":
        yield sys.stdin.buffer, "standard input", None
        return
    try:
        stream = open(name, "rb")  # noqa: SIM115 - closed below
    except OSError as error:
        raise ListError(f"cannot be read: {error.strerror}", file=name) from None
    except ValueError:  # a NUL or half a sign in the name
        raise ListError("is no name of a file", file=clean(name)) from None
    with stream:
        try:
            yield stream, name, os.fstat(stream.fileno()).st_size or None
        except IsADirectoryError:
            raise ListError("is a folder", file=name) from None


@contextmanager
def _progress(size: int | None) -> Iterator[tuple[Tick, Callable[[str], None]]]:
    """A progress bar on a terminal, and none when standard error goes elsewhere; with a way to say things above it."""
    if not sys.stderr.isatty():
        yield (lambda done: None), (lambda text: print(text, file=sys.stderr))
        return
    from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

    from advisor.render.console import console_for

    console = console_for(sys.stderr)
    columns = TextColumn("Screening"), BarColumn(), DownloadColumn(), TimeRemainingColumn()
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Screening", total=size)
        yield (lambda done: bar.update(task, completed=done)), console.print


@contextmanager
def _output(wanted: Wanted) -> Iterator[TextIO]:
    if wanted.output is None:
        yield sys.stdout
    else:
        with new_file(wanted.output, force=wanted.force) as stream:
            yield stream
