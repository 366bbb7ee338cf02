"""Answers of a screening at the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TextIO

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.plan_values import clean
from advisor.render.console import console_for
from advisor.render.screen import Writer, identify_lines, match_lines
from advisor.screening import Answered, Screened
from advisor.screening.item import share_words
from advisor.screening.lists import ListReader
from advisor.screening.tables import screen_tables

if TYPE_CHECKING:
    from advisor.screening.command import Tally

_STYLE = {
    "takes dye": "bold green",
    "takes dye in part": "bold yellow",
    "stains only": "bold red",
    "stays undyed": "bold red",
    "harmed": "bold white on red",
    "cannot tell": "bold black on yellow",
    "do not handle": "bold white on red",
}
_MOST_ROWS = 40  # rows of a list shown at the terminal
_MOST_TOLD = 8  # items told at length
_MOST_CLASSES = 5
_LONGEST = 300
_CARE = (
    "Burn trial, hot needle, bleach and acetone: fire, burns and poisonous fumes. One thread, outdoors, "
    "goggles and gloves, water at hand; no acid near bleach, no flame near acetone. Never with children."
)


class TerminalWriter(Writer):
    """A table of the items, then each told at length when few; of a long list the first rows and the counts."""

    def __init__(self, stream: TextIO, reader: ListReader | None, identify: bool) -> None:
        super().__init__(stream, reader, identify)
        width = None if stream.isatty() else 80
        self._console = console_for(stream, width)
        self._kept: list[Screened] = []

    def begin(self) -> None:
        """Nothing: the table is written when its rows are known."""

    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """Keeps the first items; the tally counts the rest."""
        if len(self._kept) <= _MOST_ROWS:
            self._kept.append(one)

    def end(self, tally: Tally) -> None:
        """Everything, written in one go, so that a closed pipe ends it quietly."""
        with self._console.capture() as captured:
            self._all(tally)
        self.stream.write("\n".join(line.rstrip() for line in captured.get().split("\n")))

    def _all(self, tally: Tally) -> None:
        shown = self._kept[:_MOST_ROWS]
        if len(shown) > 1:
            self._table(shown, tally.items)
        if tally.items == 1 or (tally.items <= _MOST_TOLD and self.reader is None):
            for one in shown:
                self._told(one)
        if tally.items > 1:
            self._counts(tally)
        if tally.match is not None:
            self._lines("Will they match in one bath?", match_lines(tally.match))
        unknown = self.reader is None and any("unknown" in _fibres(one.answered) for one in shown)
        if self.identify:
            self._trials(whole=True)
        elif unknown:
            self._trials(whole=False)

    def _table(self, shown: Sequence[Screened], total: int) -> None:
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
        table.add_column("item", max_width=24, overflow="fold")
        table.add_column("answer", no_wrap=True)
        table.add_column("takes dye", no_wrap=True)
        table.add_column("best dye class", no_wrap=True)
        for one in shown:
            name = one.item.name if self.reader else f"{one.item.name}: {one.item.fibres}"
            answered = one.answered
            answer = Text(answered.answer, style=_STYLE[answered.answer])
            table.add_row(Text(_short(name, 60)), answer, Text(_share(answered)), Text(answered.best or "-"))
        self._console.print(table)
        if total > len(shown):
            self._console.print(f"and {total - len(shown):,} more: --format csv, jsonl or html writes every row")
        self._console.print()

    def _told(self, one: Screened) -> None:
        answered, chosen = one.answered, one.answered.chosen
        self._console.print(Text(_short(f"{one.item.name}: {one.item.fibres}", _LONGEST), style="bold"))
        if chosen is None:  # not to be handled
            self._console.print(Padding(Text(f" {answered.answer.upper()} ", _STYLE[answered.answer]), (0, 0, 0, 2)))
            self._say("Why", answered.why)
            self._console.print()
            return
        best = "" if one.item.dye_class else " (first of the classes below)"
        line = Text.assemble(
            (f" {answered.answer.upper()} ", _STYLE[answered.answer]),
            f" {_share(answered)} of the mass takes {chosen.dye_class} dye{best}.",
        )
        self._console.print(Padding(line, (0, 0, 0, 2)))
        self._say("Why", answered.why)
        if answered.ask:
            self._say("Ask", answered.ask)
        self._say("Read", " ".join([f"{_fibres(answered)} ({answered.confidence}).", *answered.notes]))
        undyed = "; ".join(answered.undyed) or "no fibre that the label names"
        small = ", ".join([*answered.small_parts, "plastic and metal parts"])
        self._say("Undyed", f"{undyed}. Often also: {small}.")
        heat = (
            f"The bath is {chosen.heat.low:g} to {chosen.heat.high:g} °C. The goods stand {chosen.fibre_heat.low:g} °C"
        )
        self._say("Heat", f"{heat}; above {chosen.fibre_heat.high:g} °C harm is certain.")
        self._classes(answered)
        if answered.trial is not None:
            self._say("Swatch", answered.trial.words)
        self._console.print()

    def _classes(self, answered: Answered) -> None:
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
        table.add_column("dye class", no_wrap=True)
        table.add_column("answer", no_wrap=True)
        table.add_column("uptake × ease × mildness", no_wrap=True)
        table.add_column("bath", no_wrap=True)
        for c in answered.classes[:_MOST_CLASSES]:
            parts = f"{c.uptake:.2f} × {c.ease:.2f} × {c.mildness:.2f} = {c.score:.2f}"
            table.add_row(Text(c.dye_class), Text(c.answer), Text(parts), Text(f"{c.heat.low:g}-{c.heat.high:g} °C"))
        self._console.print(Padding(table, (0, 0, 0, 2)))

    def _counts(self, tally: Tally) -> None:
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
        table.add_column("answer")
        table.add_column("items", justify="right")
        for answer, count in tally.answers.most_common():
            table.add_row(Text(answer), f"{count:,}")
        if tally.bad:
            table.add_row(Text("bad rows"), f"{tally.bad:,}")
        self._console.print(table)
        self._console.print()

    def _trials(self, *, whole: bool) -> None:
        if whole:
            for title, lines in identify_lines():
                self._lines(title, lines)
            return
        tables = screen_tables()
        self._console.print(Text("When nobody can say which fibre it is", style="bold"))
        for head, who in (("Try", "anyone"), ("Adults", "adult")):
            self._say(head, ", ".join(trial.label for trial in tables.trials if trial.who == who))
        self._say("Care", _CARE)
        self._say("Lab", ", ".join(row.id for row in tables.laboratories))
        self._hanging("", "--identify tells how each trial is done, what it can and cannot tell, and its cautions.")
        self._console.print()

    def _lines(self, title: str, lines: Sequence[str]) -> None:
        self._console.print(Text(title, style="bold"))
        for line in lines:
            self._hanging("- ", line)
        self._console.print()

    def _say(self, head: str, text: str) -> None:
        self._hanging(f"{head}: ".ljust(8), text)

    def _hanging(self, head: str, text: str) -> None:
        hang = len(head) if len(head) <= 8 else 0
        grid = Table.grid(padding=0)
        if hang:
            grid.add_column(width=hang, no_wrap=True)
            grid.add_column()
            grid.add_row(Text(head), Text(clean(text)))
        else:
            grid.add_column()
            grid.add_row(Text(head + clean(text)))
        self._console.print(Padding(grid, (0, 0, 0, 2)))


def _share(answered: Answered) -> str:
    return "?" if answered.share is None else share_words(answered.share)


def _short(text: str, length: int) -> str:
    flat = " ".join(clean(text).split())
    return flat if len(flat) <= length else flat[: length - 1] + "…"


def _fibres(answered: Answered) -> str:
    if answered.composition is None:
        return "unknown"
    return ", ".join(f"{c.fibre} {share_words(c.share)}" for c in answered.composition.components())
