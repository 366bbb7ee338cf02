"""Answers of a screening as CSV, JSON, JSON Lines and HTML, written one item after the other.

CSV cells that a spreadsheet would run as a formula get an apostrophe in front. A cell that is only a number,
such as -5 or +3,2 %, is no formula and stays as it is.
"""

from __future__ import annotations

import csv
import json
import re
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING, Any, TextIO

from advisor.interval import Interval
from advisor.plan_values import clean
from advisor.screening import MOST_LABELS, Answered, ClassAnswer, Match, Screened
from advisor.screening.lists import ListReader
from advisor.screening.tables import screen_tables

if TYPE_CHECKING:
    from advisor.screening.command import Tally

ADDED = ("answer", "dyeable_share", "best_dye_class", "why", "ask")
# what may stand before a formula, and what begins one; full-width signs count as well
_SUSPECT = frozenset(' \t\r\n\x0b\x0c"\u201c\u201d\u00a0=+-@\uff1d\uff0b\uff0d\uff20\u2212')
_FORMULA = re.compile('[\t\r\n]|[\\s"\u201c\u201d\u00a0]*[=+\\-@\uff1d\uff0b\uff0d\uff20\u2212]')
_NUMBER = re.compile(r"\s*[+\-\u2212]?\d+(?:[.,]\d+)*\s*%?\s*\Z")


class _OnTerminal:
    """A terminal as a stream that passes on nothing a terminal would act on but line ends."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        return self._stream.write("\n".join(map(clean, text.split("\n"))))


def plain_cell(text: str) -> str:
    """A cell that no spreadsheet runs: an apostrophe goes before what would be a formula."""
    if text[:1] in _SUSPECT and _FORMULA.match(text) and not _NUMBER.match(text):
        return "'" + text
    return text


class Writer(ABC):
    """Writes the items of a screening as they come."""

    def __init__(self, stream: TextIO | _OnTerminal, reader: ListReader | None, identify: bool) -> None:
        self.stream, self.reader, self.identify = stream, reader, identify

    @abstractmethod
    def begin(self) -> None:
        """Before the first item."""

    @abstractmethod
    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """One item, with its cells when it came from a list."""

    @abstractmethod
    def end(self, tally: Tally) -> None:
        """After the last item."""


class CsvWriter(Writer):
    """The list as it came, with the added columns; labels alone become a list of name and fibres."""

    def begin(self) -> None:
        """The header."""
        delimiter = (self.reader.delimiter if self.reader else "") or ","
        self._csv = csv.writer(self.stream, delimiter=delimiter, lineterminator="\n")
        header = self.reader.header if self.reader else ["name", "fibres"]
        taken = {cell.casefold() for cell in header}
        added = [name if name not in taken else f"{name} (screen)" for name in ADDED]
        self._csv.writerow([plain_cell(cell) for cell in (*header, *added)])
        self._cells = lru_cache(maxsize=MOST_LABELS)(_added_cells)

    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """A row."""
        own = cells if self.reader else (one.item.name, one.item.fibres)
        self._csv.writerow([*map(plain_cell, own), *self._cells(one.answered)])

    def end(self, tally: Tally) -> None:
        """Nothing: a CSV file holds only rows."""


def _added_cells(answered: Answered) -> tuple[str, ...]:
    share = answered.share
    words = "" if share is None else f"{share.low:g}" if share.exact else f"{share.low:g} to {share.high:g}"
    return tuple(plain_cell(text) for text in (answered.answer, words, answered.best, answered.why, answered.ask))


class JsonLinesWriter(Writer):
    """One JSON object a line."""

    def begin(self) -> None:
        """The cache of what is the same for every item of a label."""
        self._tail = lru_cache(maxsize=MOST_LABELS)(_json_brief if self.reader else _json_tail)
        roles = frozenset(self.reader.roles.values()) if self.reader else ()
        header = self.reader.header if self.reader else []
        self._keys = _keys({n: cell for n, cell in enumerate(header) if n not in roles})

    def text(self, one: Screened, cells: Sequence[str]) -> str:
        """The item as JSON."""
        item = one.item
        own = {"name": item.name, "fibres": item.fibres, "use": item.use, "colour": item.colour}
        return f"{_json(own)[:-1]}, {self._tail(one.answered)}{self._others(cells)}}}"

    def _others(self, cells: Sequence[str]) -> str:
        if self.reader is None:
            return ""
        other = {key: cells[n] for n, key in self._keys.items()}
        return f', "other": {_json(other)}'

    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """A line."""
        self.stream.write(self.text(one, cells) + "\n")

    def end(self, tally: Tally) -> None:
        """Nothing: each line stands for itself."""


def _keys(headers: Mapping[int, str]) -> dict[int, str]:
    """A key for each column: its header, with a number where there is one like it before ("note", "note (2)")."""
    keys: dict[int, str] = {}
    given, used = frozenset(headers.values()), set[str]()
    for n, header in headers.items():
        key, count = header, 1
        while key in used or (count > 1 and key in given):
            count += 1
            key = f"{header} ({count})"
        used.add(key)
        keys[n] = key
    return keys


class JsonWriter(JsonLinesWriter):
    """One JSON object with all items, the counts, and the match and the trials when asked for."""

    def begin(self) -> None:
        """The head."""
        super().begin()
        self._between = ""
        self.stream.write('{"items": [\n')

    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """An element of the list."""
        self.stream.write(self._between + self.text(one, cells))
        self._between = ",\n"

    def end(self, tally: Tally) -> None:
        """Counts, match and trials."""
        more: dict[str, Any] = {"counts": dict(tally.answers), "bad_rows": tally.bad}
        if tally.match is not None:
            more["match"] = match_data(tally.match)
        if self.identify:
            more["identify"] = identify_data()
        self.stream.write("\n], " + _json(more)[1:-1] + "}\n")


def _json(value: Any) -> str:
    # a half of a surrogate pair cannot be written as UTF-8
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return text if text.isascii() else text.encode("utf-8", "backslashreplace").decode("utf-8")


def share_data(share: Interval | None, known: bool) -> dict[str, Any]:
    """A share of mass in %: value is null when a fibre is not known, or the share is not one number."""
    if share is None:
        return {"value": None, "low": 0.0, "high": 100.0, "unit": "%"}
    value = share.low if known and share.low == share.high else None
    return {"value": value, "low": share.low, "high": share.high, "unit": "%"}


def answered_data(answered: Answered, *, brief: bool = False) -> dict[str, Any]:
    """An answer as plain data, without the item's own name.

    `brief`, for a row of a list, leaves out grades, heat, and the plan of the trial.
    """
    chosen, trial, known = answered.chosen, answered.trial, answered.fibres_known
    data: dict[str, Any] = {
        "answer": answered.answer,
        "dyeable_share": share_data(answered.share, known),
        "dye_class": chosen.dye_class if chosen else None,
        "dye_classes": [_class_data(c, known, brief) for c in answered.classes],
        "why": answered.why,
        "ask": answered.ask,
        "trial": None if trial is None else {"do": trial.words, "buy": {"value": trial.buy, "unit": "g"}},
        "stays_undyed": answered.undyed,
        "small_parts_stay_undyed": answered.small_parts,
        "finishes": answered.finishes,
        "reading": {"confidence": answered.confidence, "notes": answered.notes, "likely": answered.likely},
    }
    if not brief:
        data["heat_stood"] = _heat(chosen.fibre_heat) if chosen else None
        if trial is not None:
            data["trial"] |= {"swatch": {"value": trial.swatch, "unit": "g"}, "plan": trial.plan}
    return data


def _class_data(c: ClassAnswer, known: bool, brief: bool) -> dict[str, Any]:
    data: dict[str, Any] = {"id": c.dye_class, "answer": c.answer, "dyeable_share": share_data(c.share, known)}
    if not brief:
        grades = {"uptake": c.uptake, "ease": c.ease, "mildness": c.mildness, "score": c.score}
        data |= {**grades, "bath": _heat(c.heat)}
    return data


def _heat(interval: Interval) -> dict[str, Any]:
    return {"low": interval.low, "high": interval.high, "unit": "degC"}


def _json_tail(answered: Answered) -> str:
    return _json(answered_data(answered))[1:-1]


def _json_brief(answered: Answered) -> str:
    return _json(answered_data(answered, brief=True))[1:-1]


def match_data(match: Match) -> dict[str, Any]:
    """A match as plain data."""
    return {
        "alike": match.alike,
        "dye_class": match.dye_class,
        "groups": [{"items": group.count, "names": list(group.names)} for group in match.groups],
        "differences": [
            {"one": d.one, "other": d.other, "certain": d.certain, "why": list(d.why)} for d in match.differences
        ],
        "left_out": match.left_out,
    }


def identify_data() -> dict[str, Any]:
    """The trials at home and the laboratory methods, as plain data."""
    tables = screen_tables()
    trials = [trial.model_dump(mode="json", exclude={"synonyms"}) for trial in tables.trials]
    return {
        "trials": trials,
        "laboratories": [
            row.model_dump(mode="json", include={"id", "about", "source", "basis"}) for row in tables.laboratories
        ],
    }


_STYLE = """\
body{font:16px/1.4 system-ui,sans-serif;margin:1.5rem;color:#111;background:#fff}
table{border-collapse:collapse;width:100%}
th,td{border:1px solid #888;padding:.3rem .5rem;text-align:left;vertical-align:top;overflow-wrap:anywhere}
th{background:#eee}.a{font-weight:bold;white-space:nowrap}
.good{background:#dff0d8}.part{background:#fff3c4}.bad{background:#f6d5d5}.ask{background:#e4e4f4}
@media print{body{margin:0}th{position:static}}"""
_MARK: Mapping[str, str] = {
    "takes dye": "good",
    "takes dye in part": "part",
    "stains only": "bad",
    "stays undyed": "bad",
    "harmed": "bad",
    "cannot tell": "ask",
    "do not handle": "bad",
}
_HEADS = ("Item", "Label", "Answer", "Share that takes dye", "Best dye class", "Why", "Ask")


class HtmlWriter(Writer):
    """One self-contained page: a table, the counts, and the match and the trials when asked for."""

    def begin(self) -> None:
        """The head of the page and of the table."""
        self._tail = lru_cache(maxsize=MOST_LABELS)(_html_tail)
        heads = "".join(f'<th scope="col">{head}</th>' for head in _HEADS)
        self.stream.write(
            '<!DOCTYPE html>\n<html lang="en-GB"><head><meta charset="utf-8">'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>Screening for dyeability</title>\n<style>{_STYLE}</style></head><body>\n"
            f"<h1>Screening for dyeability</h1>\n<table><thead><tr>{heads}</tr></thead><tbody>\n"
        )

    def item(self, one: Screened, cells: Sequence[str]) -> None:
        """A row."""
        self.stream.write(
            f"<tr><td>{_html(one.item.name)}</td><td>{_html(one.item.fibres)}</td>{self._tail(one.answered)}</tr>\n"
        )

    def end(self, tally: Tally) -> None:
        """Counts, match and trials."""
        counts = "".join(f"<li>{_html(answer)}: {count}</li>" for answer, count in tally.answers.most_common())
        bad = f"<li>rows that could not be read: {tally.bad}</li>" if tally.bad else ""
        self.stream.write(f"</tbody></table>\n<h2>Counts</h2><ul>{counts}{bad}</ul>\n")
        if tally.match is not None:
            self.stream.write(_html_list("Will they match in one bath?", match_lines(tally.match)))
        if self.identify:
            for title, lines in identify_lines():
                self.stream.write(_html_list(title, lines))
        self.stream.write("</body></html>\n")


def _html(text: str) -> str:
    return escape(clean(text))


def _html_tail(answered: Answered) -> str:
    share = answered.share
    said = "not known" if share is None else f"{share.low:g} %" if share.exact else f"{share.low:g} to {share.high:g} %"
    cells = "".join(f"<td>{_html(text)}</td>" for text in (said, answered.best, answered.why, answered.ask))
    return f'<td class="a {_MARK[answered.answer]}">{answered.answer}</td>{cells}'


def _html_list(title: str, lines: Iterable[str]) -> str:
    return f"<h2>{_html(title)}</h2><ul>{''.join(f'<li>{_html(line)}</li>' for line in lines)}</ul>\n"


def match_lines(match: Match) -> list[str]:
    """A match in sentences."""
    bath = f"one bath of {match.dye_class} dye" if match.dye_class else "one bath"
    head = {
        True: f"In {bath} they should come out alike. Dye them together, wetted out, and compare a swatch of each.",
        False: f"In {bath} they will not come out alike.",
        None: f"Whether they come out alike in {bath} cannot be told yet.",
    }[match.alike]
    lines = [head]
    for d in match.differences:
        verb = "will differ from" if d.certain else "may differ from"
        lines.append(f"{d.other} {verb} {d.one}. {' '.join(d.why)}")
    if match.left_out:
        lines.append(f"{match.left_out} items of further kinds were not compared.")
    return lines


def identify_lines() -> list[tuple[str, list[str]]]:
    """The trials and the laboratory methods in sentences: a title and its lines."""
    tables = screen_tables()
    shown = []
    for trial in tables.trials:
        who = " (adults only)" if trial.who == "adult" else ""
        lines = [f"Caution: {line}" for line in trial.cautions]
        lines += [
            f"How: {trial.how}",
            f"Tells: {' '.join(trial.can_tell)}",
            f"Does not tell: {' '.join(trial.cannot_tell)}",
        ]
        shown.append((trial.label + who, lines))
    shown.append(("What a laboratory would use", [f"{row.id}: {row.about}" for row in tables.laboratories]))
    return shown


_WRITERS: Mapping[str, type[Writer]] = {
    "csv": CsvWriter,
    "json": JsonWriter,
    "jsonl": JsonLinesWriter,
    "html": HtmlWriter,
}


def writer(format_: str, stream: TextIO, *, reader: ListReader | None = None, identify: bool = False) -> Writer:
    """The writer of a format: terminal, csv, json, jsonl or html.

    Names and labels go into csv, json and jsonl as they came, but for a terminal, which would act on control signs.
    """
    if format_ == "terminal":
        from advisor.render.screen_terminal import TerminalWriter

        return TerminalWriter(stream, reader, identify)
    return _WRITERS[format_](_OnTerminal(stream) if stream.isatty() else stream, reader, identify)
