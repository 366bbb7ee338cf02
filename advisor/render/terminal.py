"""A report for the terminal: what matters most first, readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TextIO

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.findings import Finding, Question, Remedy, Report, WayOut
from advisor.measure import Measure, telling
from advisor.plan import Taken
from advisor.quantities import format_interval
from advisor.render.console import console_for
from advisor.render.parts import shelf_lines

# the standard colours of the ANSI Z535 signal words
_COLOUR = {
    "DANGER": "bold white on red",
    "WARNING": "bold black on orange1",
    "CAUTION": "bold black on yellow",
    "NOTICE": "bold white on blue",
}
_VERDICT = {
    "do not start": ("bold white on red", "{stop} must be put right."),
    "change first": ("bold black on orange1", "{change} would spoil the goods or hurt somebody."),
    "cannot tell": ("bold black on yellow", "{open} must be answered before there is an answer."),
    "ready with cautions": ("bold", "Read them, and the safety data sheets, before you start."),
    "ready": ("bold", "Ready by these rules. The safety data sheets still come first."),
}
_MOST_QUESTIONS = 8
_MOST_CAUTIONS = 8


def print_report(report: Report, stream: TextIO, *, width: int | None = None, everything: bool = False) -> None:
    """Print a report. `everything` adds chains of reasons, sources and all cautions."""
    console = console_for(stream, width)
    with console.capture() as captured:  # written in one go: rich would end a closed pipe with a verdict's exit status
        _report(console, report, everything)
    stream.write("\n".join(line.rstrip() for line in captured.get().split("\n")))


def _report(console: Console, report: Report, everything: bool) -> None:
    _head(console, report)
    groups = _grouped(report.findings)
    _summary(console, report, groups)
    for number, group in enumerate(groups, start=1):
        _finding(console, number, group, everything)
    _way_out(console, report.way_out)
    _questions(console, report.questions, everything)
    _measures(console, report.measures, everything)
    _from_shelf(console, report.from_shelf)
    _listed(console, "Usual cautions", report.cautions, None if everything else _MOST_CAUTIONS)
    _listed(console, "Where to ask", report.pointers, None)
    seal = f"Rulebook {report.rulebook_version}, {report.rulebook_rules} rules, {report.rulebook_digest[:19]}"
    console.print(Text(seal, style="dim"))


def _head(console: Console, report: Report) -> None:
    console.print(Text(report.title, style="bold"), no_wrap=True, overflow="ellipsis")  # one line, so the verdict shows
    style, sentence = _VERDICT[report.verdict]
    stop = sum(f.effect == "stop" for f in report.findings)
    change = sum(f.effect == "change" for f in report.findings)
    asked = sum(q.effect != "caution" for q in report.questions)
    line = sentence.format(
        stop=_counted(stop, "thing"), change=_counted(change, "thing"), open=_counted(asked, "question")
    )
    console.print(Text.assemble((f" {report.verdict.upper()} ", style), " ", line))
    console.print()


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _grouped(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Findings of one rule together, in the order of the first."""
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        groups.setdefault(finding.rule, []).append(finding)
    return list(groups.values())


def _summary(console: Console, report: Report, groups: list[list[Finding]]) -> None:
    if len(groups) < 2 and not report.questions:
        return
    for number, group in enumerate(groups, start=1):
        first = group[0]
        more = f" ({len(group)} times)" if len(group) > 1 else ""
        console.print(Text.assemble(f"{number:>3}  ", _word(first.signal), f"  {first.title}{more}"))
    if report.questions:
        console.print(Text(f"  ?  {_counted(len(report.questions), 'open question')}, below"))
    console.print()


def _word(signal: str) -> Text:
    return Text.assemble((signal, _COLOUR[signal]), " " * (7 - len(signal)))


def _finding(console: Console, number: int, group: list[Finding], everything: bool) -> None:
    first = group[0]
    effect = {"stop": "do not start", "change": "change first", "caution": "take care"}[first.effect]
    head = Text.assemble(f"{number:>2}. ", _word(first.signal), " ", (first.title, "bold"))
    told = f"[{effect}; {first.rule}]"
    fits = head.cell_len + 2 + len(told) <= console.width
    console.print(Text.assemble(head, "  ", told) if fits else head)
    if not fits:
        _indented(console, told)
    for finding in group:
        _indented(console, finding.message)
    _indented(console, f"Why: {first.reason}")
    for line in dict.fromkeys(line for finding in group for line in finding.do):
        _indented(console, f"Do:  {line}", hang=5)
    for finding in group:
        if finding.remedy is not None:
            _remedy(console, finding.remedy)
    if everything:
        for finding in group:
            for line in finding.because:
                _indented(console, f"Because: {line}", hang=9)
        for source in first.sources:
            _indented(console, f"Source ({source.basis}): {source.text}", hang=8)
    console.print()


def _remedy(console: Console, remedy: Remedy) -> None:
    """A proved change, before -> after."""
    for number, (path, before, after) in enumerate(remedy.steps):
        _indented(console, f"{'Fix: ' if number == 0 else '     '}{path}: {before} -> {after}", hang=5)


def _way_out(console: Console, way_out: WayOut | None) -> None:
    """All changes together, and what no change lifts."""
    if way_out is None:
        return
    if way_out.steps:
        console.print(Text(f"All of it together, checked again: {way_out.verdict}", style="bold"))
        for path, before, after in way_out.steps:
            _indented(console, f"- {path}: {before} -> {after}", hang=2)
        _indented(console, "--amend FILE writes the plan with these changes.")
    if way_out.left:
        title = "What no change of ours lifts" if not way_out.steps else "What is left even then"
        console.print(Text(title, style="bold"))
        for stuck in way_out.left:
            _indented(console, f"- {stuck.title}: {stuck.why}", hang=2)
    if way_out.steps or way_out.left:
        console.print()


def _indented(console: Console, line: str, hang: int = 0) -> None:
    grid = Table.grid(padding=0)
    grid.add_column(width=hang or None, no_wrap=True)
    if hang:
        grid.add_column(overflow="fold")
        grid.add_row(Text(line[:hang]), Text(line[hang:]))
        console.print(Padding(grid, (0, 0, 0, 4)))
    else:
        console.print(Padding(Text(line), (0, 0, 0, 4)))


def _questions(console: Console, questions: Sequence[Question], everything: bool) -> None:
    if not questions:
        return
    deciding = [q for q in questions if q.effect != "caution"]
    useful = [q for q in questions if q.effect == "caution"]
    for title, group in (("To be answered first", deciding), ("Worth knowing", useful)):
        if not group:
            continue
        console.print(Text(title, style="bold"))
        shown = group if everything else group[:_MOST_QUESTIONS]
        for question in shown:
            settles = ", ".join(question.settles[:3]) + (" ..." if len(question.settles) > 3 else "")
            name = f"{question.field}: " if question.field else ""
            _indented(console, f"? {name}{question.ask} (settles {settles})", hang=2)
        if len(group) > len(shown):
            _indented(console, f"and {len(group) - len(shown)} more: --explain shows all")
        console.print()


def _measures(console: Console, measures: Mapping[str, Measure], everything: bool) -> None:
    table = Table(
        title="Worked out", title_justify="left", title_style="bold", box=None, padding=(0, 2, 0, 0), pad_edge=False
    )
    table.add_column("what", no_wrap=True)
    table.add_column("value", no_wrap=True)
    table.add_column("how", overflow="fold")
    shown = [measure for measure in measures.values() if everything or not _needless(measure, measures)]
    for measure in shown:
        if everything or measure.known:
            value = format_interval(measure.interval, measure.unit) if measure.known else "unknown"
            table.add_row(Text(measure.key), Text(value), Text(measure.how))
    console.print(table)
    unknown = [measure.key for measure in shown if not measure.known]
    if unknown and not everything:
        console.print(Text(f"unknown: {', '.join(unknown)}"))
    console.print()


def _needless(measure: Measure, measures: Mapping[str, Measure]) -> bool:
    """Whether a measure only repeats another, or what was stated; `--explain` shows it all the same."""
    return not telling(measure, measures) or measure.how.endswith("as weighed")


def _from_shelf(console: Console, taken: Sequence[Taken]) -> None:
    if not taken:
        return
    console.print(Text(f"From the shelf ({taken[0].file})", style="bold"))
    for line in shelf_lines(taken):
        _indented(console, f"- {line}", hang=2)
    console.print()


def _listed(console: Console, title: str, lines: Sequence[str], most: int | None) -> None:
    console.print(Text(title, style="bold"))
    shown = lines if most is None else lines[:most]
    for line in shown:
        _indented(console, f"- {line}", hang=2)
    if len(lines) > len(shown):
        _indented(console, f"and {len(lines) - len(shown)} more: --explain shows all")
    console.print()
