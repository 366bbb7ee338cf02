"""Rules and tables for the terminal, and the rulebook as a Markdown page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TextIO

from rich.table import Table
from rich.text import Text

from advisor.knowledge import Knowledge
from advisor.reading import rule_data
from advisor.render.console import console_for
from advisor.rulebook import Rule, Rulebook


def print_rules(rules: list[Rule], rulebook: Rulebook, stream: TextIO) -> None:
    """A line for each rule."""
    console = console_for(stream)
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("rule", overflow="fold")
    table.add_column("signal", no_wrap=True)
    table.add_column("effect", no_wrap=True)
    table.add_column("title", overflow="fold")
    for rule in rules:
        signal, effect = ("", "concludes") if rule.concludes else (rule.signal, rule.effect)
        table.add_row(Text(rule.id), Text(signal), Text(effect), Text(rule.title))
    console.print(table)
    console.print(Text(f"{len(rules)} of {len(rulebook.rules)} rules; `advisor rules RULE-ID` shows one whole"))


def print_rule(rule: Rule, k: Knowledge, stream: TextIO) -> None:
    """One rule, whole."""
    console = console_for(stream)
    for line in _rule_lines(rule_data(rule, k)):
        console.print(Text(line))


def _rule_lines(data: Mapping[str, Any]) -> Iterator[str]:
    yield f"{data['id']}: {data['title']}"
    if "concludes" in data:
        yield f"  concludes: {data['concludes']['exposure']}"
    else:
        yield f"  {data['signal']}, effect {data['effect']}, topic {data['topic']}"
    for condition in data["when"]:
        yield f"  when {condition}"
    if data["message"]:
        yield f"  says: {data['message']}"
    yield f"  why: {data['reason']}"
    if data["gaps"]:
        yield f"  known gaps: {data['gaps']}"
    for line in data["do"]:
        yield f"  do: {line}"
    for source in data["sources"]:
        yield f"  source ({source['basis']}): {source['text']}"
    for expected, cases in data["cases"].items():
        for case in cases:
            change = ", ".join(f"{path} = {value!r}" for path, value in case["change"].items()) or "as it is"
            yield f"  case {expected}: {case['plan']}, {change}"


def print_table(data: Mapping[str, Any], stream: TextIO) -> None:
    """Rows of a table: short, unless there is only one."""
    console = console_for(stream)
    if data["count"] == 1:
        for line in _row_lines(data["rows"][0]):
            console.print(Text(line))
        return
    for row in data["rows"]:
        name = (
            row.get("id")
            or row.get("code")
            or " + ".join(row.get(key, "") for key in ("family", "a", "dye_class", "b") if key in row)
        )
        told = row.get("title") or row.get("text") or row.get("take") or row.get("outcome") or row.get("family") or ""
        console.print(Text(f"{name}: {told}" if told and told != name else f"{name}"))
    bases = ", ".join(f"{count} {basis}" for basis, count in sorted(data["bases"].items()))
    console.print(Text(f"{data['count']} rows; basis of what they hold: {bases}"))
    if "hazards" in data:
        share = data["hazards"]["published_share"]
        console.print(
            Text(f"{data['hazards']['count']} hazard statements, {share:.0%} of them from a published document")
        )


def _row_lines(value: Any, name: str = "", depth: int = 0) -> Iterator[str]:
    pad = "  " * depth
    if isinstance(value, dict):
        if name:
            yield f"{pad[2:]}{name}:"
        for key, member in value.items():
            yield from _row_lines(member, key, depth + 1 if name else depth)
    elif isinstance(value, list) and any(isinstance(member, dict) for member in value):
        yield f"{pad}{name}:"
        for member in value:
            told = ", ".join(f"{key} {inner}" for key, inner in member.items() if inner not in ("", [], None))
            yield f"{pad}  - {told}"
    else:
        shown = ", ".join(str(member) for member in value) if isinstance(value, list) else value
        yield f"{pad}{name}: {shown}"


def rulebook_markdown(rulebook: Rulebook, k: Knowledge, chosen: Sequence[Rule] | None = None) -> str:
    """The rulebook, or the rules chosen from it, as one Markdown page, generated from the data."""
    if chosen is None or len(chosen) == len(rulebook.rules):
        chosen, lines = rulebook.rules, _whole(rulebook)
    else:
        lines = ["# Rules", "", f"{len(chosen)} of the {len(rulebook.rules)} rules of the rulebook.", ""]
    for topic in rulebook.topics.values():
        rules = [rule for rule in chosen if rule.topic == topic.id]
        if rules:
            lines += [f"## {topic.id}", "", f"{topic.title}.", ""]
            for rule in rules:
                lines += _section(rule_data(rule, k))
    concluding = [rule for rule in chosen if rule.concludes is not None]
    if concluding:
        lines += ["## Exposures", ""]
        for rule in concluding:
            lines += _section(rule_data(rule, k))
    return "\n".join(lines).rstrip() + "\n"


def _whole(rulebook: Rulebook) -> list[str]:
    return [
        "# The rulebook",
        "",
        "Generated from `rules/`; do not edit by hand. `advisor rules --format markdown --output docs/rulebook.md --force` makes it anew.",
        "",
        f"{len(rulebook.rules)} rules: {len(rulebook.findings_rules)} that make findings,"
        f" {len(rulebook.rules) - len(rulebook.findings_rules)} that conclude an exposure for other rules to use.",
        "",
    ]


def _section(data: Mapping[str, Any]) -> Iterable[str]:
    grade = (
        f"Concludes: {data['concludes']['exposure']}"
        if "concludes" in data
        else f"{data['signal']}, effect: {data['effect']}"
    )
    yield from (f"### {data['id']}", "", f"**{data['title']}.** {grade}.", "")
    yield from (f"- When {condition}" for condition in data["when"])
    yield from ("", f"Why: {data['reason']}", "")
    if data["gaps"]:
        yield from (f"Known gaps: {data['gaps']}", "")
    yield from (f"- Do: {line}" for line in data["do"])
    yield from (f"- Source ({source['basis']}): {source['text']}" for source in data["sources"])
    counts = ", ".join(f"{len(cases)} {expected}" for expected, cases in data["cases"].items())
    yield from (f"- Cases: {counts}", "")
