"""Two plans side by side, and how far the numbers of one may go, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO

from rich.console import Console
from rich.table import Table
from rich.text import Text

from advisor.bounds import NOT_LOOKED_AT, Bound, End, Limits
from advisor.comparing import Comparison, same
from advisor.findings import Finding
from advisor.measure import Measure
from advisor.quantities import format_interval
from advisor.render.console import console_for

_NO_END = "no end found"


def print_comparison(comparison: Comparison, stream: TextIO, *, width: int | None = None) -> None:
    """Verdicts, the measures that differ, and findings gained and lost."""
    console = console_for(stream, width)
    first, second = comparison.first, comparison.second
    table = _table("", f"first: {first.title}", f"second: {second.title}")
    table.add_row(Text("verdict"), Text(first.verdict.upper()), Text(second.verdict.upper()))
    differing = [(key, one, other) for key, one, other in comparison.measures() if not same(one, other)]
    for key, one, other in differing:
        table.add_row(Text(key), Text(_value(one)), Text(_value(other)))
    console.print(table)
    alike = len(comparison.measures()) - len(differing)
    console.print(Text(f"{alike} measures are the same in both."))
    console.print()
    _findings(console, "Gained in the second plan", "+", comparison.gained)
    _findings(console, "Lost in the second plan", "-", comparison.lost)
    _findings(console, "In both", "=", comparison.kept)
    for title, questions in (
        ("Asked only of the second", comparison.asked),
        ("Asked only of the first", comparison.settled),
    ):
        if questions:
            console.print(Text(title, style="bold"))
            console.print(Text(f"    {', '.join(q.field or 'the maker' for q in questions)}"))
            console.print()


def _findings(console: Console, title: str, sign: str, findings: Iterable[Finding]) -> None:
    findings = list(findings)
    console.print(Text(title if findings else f"{title}: none", style="bold"))
    for finding in findings:
        console.print(Text(f"  {sign} {finding.signal:<7}  {finding.title} [{finding.rule}; {finding.subject}]"))
    console.print()


def _value(measure: Measure | None) -> str:
    if measure is None:
        return ""
    return format_interval(measure.interval, measure.unit) if measure.known else "unknown"


def print_limits(found: Limits, stream: TextIO, *, width: int | None = None) -> None:
    """For each number the range over which the verdict stays, and what comes beyond."""
    console = console_for(stream, width)
    console.print(Text(found.title, style="bold"))
    console.print(
        Text(f"The verdict is {found.verdict.upper()}. It stays so, one number changed at a time, over these ranges:")
    )
    console.print()
    table = _table("what", "stated", "from", "to")
    for bound in found.bounds:
        low, high = ("not looked at",) * 2 if bound.ends is None else map(_end, bound.ends)
        table.add_row(Text(bound.path), Text(bound.stated), Text(low), Text(high))
    console.print(table)
    console.print()
    for bound in found.bounds:
        for line in _beyond(bound):
            console.print(Text(line))


def _end(end: End) -> str:
    return _NO_END if end.value is None else end.value


def _beyond(bound: Bound) -> Iterable[str]:
    if bound.ends is None:
        yield f"{bound.path} not looked at: {NOT_LOOKED_AT}"
        return
    for word, end in zip(("below", "above"), bound.ends, strict=True):
        if end.value is not None:
            rules = f" ({', '.join(end.rules)})" if end.rules else ""
            yield f"{bound.path} {word} {end.value}: {end.beyond}{rules}"


def _table(*heads: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    for head in heads:
        table.add_column(Text(head), overflow="fold")
    return table
