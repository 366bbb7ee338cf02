"""The report of one bath as a page, in the look of the handout."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.findings import EXIT_STATUS, Report
from advisor.plan import Plan
from advisor.render.blocks import Block, Page, Paragraph, Section, bullets, line
from advisor.render.parts import Speaker, verdict_box
from advisor.wording import wording


def report_page(report: Report, plan: Plan | None = None) -> Page:
    """The whole report; `plan` names the dyes of the measures."""
    speaker = Speaker(wording("en"))
    say = speaker.say
    return Page(
        title=say("report.title", title=report.title),
        language="en",
        heading=report.title,
        intro=(
            Paragraph(line(say("report.heading")), "lead"),
            verdict_box(
                speaker.verdict(report.verdict), say(f"report.{report.verdict.replace(' ', '_')}"), report.verdict
            ),
        ),
        sections=tuple(_sections(report, plan, speaker)),
        footer=(
            line(say("page.no_law")),
            line(
                say(
                    "page.made",
                    rulebook=f"{report.rulebook_version}, {report.rulebook_rules}, {report.rulebook_digest[:19]}",
                )
            ),
        ),
        running=say("report.running") if EXIT_STATUS[report.verdict] else "",
        skip=say("page.skip"),
        contents=say("page.contents"),
    )


def _sections(report: Report, plan: Plan | None, speaker: Speaker) -> Iterator[Section]:
    say = speaker.say
    found: list[Block] = [speaker.finding(finding, level=3, whole=True) for finding in report.findings]
    yield Section("findings", say("report.findings"), tuple(found) or (Paragraph(line(say("report.none"))),))
    for name, asked in (
        ("questions_first", [q for q in report.questions if q.effect != "caution"]),
        ("questions", [q for q in report.questions if q.effect == "caution"]),
    ):
        if asked:
            yield Section(name, say(f"report.{name}"), (bullets(speaker.questions(asked)),))
    yield Section(
        "measures", say("report.measures"), (speaker.measures(say("report.measures"), report.measures, plan),)
    )
    if report.cautions:
        yield Section("cautions", say("report.cautions"), (bullets(report.cautions),))
    yield Section("pointers", say("report.pointers"), (bullets(report.pointers),))
