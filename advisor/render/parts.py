"""Parts that a handout and the page of one check have in common."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from advisor.findings import Finding, Question
from advisor.interval import Interval
from advisor.measure import Measure, telling
from advisor.plan import Plan, Taken
from advisor.quantities import format_interval
from advisor.render.blocks import Block, Box, Cell, Grid, Items, Line, Paragraph, Words, bullets, cell, line, strong
from advisor.wording import Wording


class Speaker:
    """Puts texts of the rules, which are English, and sentences of the catalogue into one language."""

    def __init__(self, wording: Wording) -> None:
        self.say = wording
        self._foreign = "" if wording.language == "en" else "en"

    def english(self, text: str, *, strong: bool = False) -> Words:
        """A text of the rules or tables."""
        return Words(text, language=self._foreign, strong=strong)

    def verdict(self, verdict: str) -> str:
        """A verdict in words."""
        return self.say(f"verdict.{verdict.replace(' ', '_')}")

    def mixed(self, key: str, **values: str | Words) -> Line:
        """A sentence whose placeholders are filled with texts that may be in another language, or marked."""
        parts = re.split(r"\{(\w+)\}", self.say.sentences[key])
        return line(*(values[part] if number % 2 else part for number, part in enumerate(parts) if part))

    # --- measures

    def measure_name(self, key: str, plan: Plan | None) -> Words:
        """What a measure is called; a dye's own mass goes by the dye's name."""
        if found := re.fullmatch(r"dyes\.(\d+)\.mass", key):
            name = plan.dyes[int(found[1])].name if plan else str(int(found[1]) + 1)
            return Words(self.say("measure.dyes_mass", name=name))
        word = f"measure.{key.replace('.', '_')}"
        return Words(self.say(word)) if word in self.say.sentences else self.english(key)

    def measures(self, caption: str, measures: Mapping[str, Measure], plan: Plan | None) -> Grid:
        """What was worked out, with how."""
        rows = tuple(
            (
                cell(line(self.measure_name(measure.key, plan))),
                cell(line(self.figure(measure))),
                cell(line(self.english(measure.how if measure.known else ""))),
            )
            for measure in measures.values()
            if telling(measure, measures) and not (plan and _unheated(measure, plan))
        )
        return Grid(caption, tuple(line(self.say(f"card.{key}")) for key in ("what", "value", "how")), rows, "worked")

    def figure(self, measure: Measure) -> Words:
        """The value of a measure, marked with what the report holds."""
        if not measure.known:
            return Words(self.say("page.unknown"))
        value = self.interval(measure.interval, measure.unit)
        return Words(value, figure=(measure.key, measure.interval, measure.unit))

    def interval(self, interval: Interval, unit: str) -> str:
        """An interval with its unit, a range in the words of the page's language."""
        return format_interval(interval, unit, self.say.sentences["page.from_to"])

    # --- findings and questions

    def finding(self, finding: Finding, *, level: int, whole: bool = False) -> Box:
        """A finding as a box; `whole` adds reason, chain and sources."""
        blocks: list[Block] = [Paragraph(line(self.english(finding.message)))]
        if whole:
            blocks.append(Paragraph(self.mixed("report.why", text=self.english(finding.reason))))
        blocks.append(bullets(line(self.english(text)) for text in finding.do))
        if whole and finding.remedy is not None and finding.remedy.verified:
            blocks += [Paragraph(line(self.say("report.remedy"))), self.steps(finding.remedy.steps)]
        if whole:
            small = [self.mixed("report.because", text=self.english(text)) for text in finding.because]
            small += [
                self.mixed("report.source", basis=self.english(source.basis), text=self.english(source.text))
                for source in finding.sources
            ]
            blocks += [Paragraph(text, "small") for text in small]
        return Box("finding", line(self.english(finding.title)), tuple(blocks), grade=finding.signal, level=level)

    def steps(self, steps: Iterable[tuple[str, str, str]]) -> Items:
        """Proved changes, before -> after."""
        return bullets(line(self.english(f"{path}: {before} -> {after}")) for path, before, after in steps)

    def questions(self, questions: Iterable[Question]) -> Iterator[Line]:
        """Questions as lines, with the field to fill in."""
        for question in questions:
            field = f" ({question.field})" if question.field else ""
            yield line(self.english(f"{question.ask}{field}"))


def _unheated(measure: Measure, plan: Plan) -> bool:
    """Whether the measure is about heating and nothing heats the bath."""
    return measure.key == "heat.time_to_temperature" and plan.bath.heat_source == "none"


def shelf_lines(taken: Iterable[Taken]) -> Iterator[str]:
    """What a plan takes from its shelf, a line for each entry and the part of the plan that takes it."""
    entries: dict[tuple[str, str], list[str]] = {}
    for one in taken:
        part, _, key = one.field.rpartition(".")
        entries.setdefault((part, one.entry), []).append(f"{key.replace('_', ' ')} {one.value}")
    for (part, entry), values in entries.items():
        yield f"{part}, {entry!r}: {'; '.join(values)}"


def two_columns(caption: str, head: tuple[str, str], rows: Iterable[tuple[str | Words, Cell]]) -> Grid:
    """A table of terms and what goes with each."""
    return Grid(
        caption, tuple(line(text) for text in head), tuple((cell(line(term)), value) for term, value in rows), "terms"
    )


def verdict_box(text: str, sentence: str, verdict: str) -> Box:
    """The verdict, large."""
    return Box("verdict", line(strong(text)), (Paragraph(line(sentence)),), grade=verdict, level=2)
