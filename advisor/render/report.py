"""The report of one bath as a page, in the look of the handout."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.findings import EXIT_STATUS, Report, WayOut
from advisor.plan import Plan
from advisor.render.blocks import Block, Page, Paragraph, Section, bullets, line
from advisor.render.parts import Speaker, shelf_lines, verdict_box
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
    if report.way_out is not None:
        yield from _way_out(report.way_out, speaker)
    for name, asked in (
        ("questions_first", [q for q in report.questions if q.effect != "caution"]),
        ("questions", [q for q in report.questions if q.effect == "caution"]),
    ):
        if asked:
            yield Section(name, say(f"report.{name}"), (bullets(speaker.questions(asked)),))
    yield Section(
        "measures", say("report.measures"), (speaker.measures(say("report.measures"), report.measures, plan),)
    )
    if report.from_shelf:
        title = say("report.shelf", file=report.from_shelf[0].file)
        yield Section("shelf", title, (bullets(shelf_lines(report.from_shelf)),))
    if report.cautions:
        yield Section("cautions", say("report.cautions"), (bullets(report.cautions),))
    yield Section("pointers", say("report.pointers"), (bullets(report.pointers),))


def _way_out(way_out: WayOut, speaker: Speaker) -> Iterator[Section]:
    """All changes together, and what no change lifts."""
    say = speaker.say
    if way_out.steps:
        together = line(say("report.together", verdict=speaker.verdict(way_out.verdict)))
        blocks = (Paragraph(together), speaker.steps(way_out.steps), Paragraph(line(say("report.amend"))))
        yield Section("way-out", say("report.way_out"), blocks)
    if way_out.left:
        title = say("report.left_then" if way_out.steps else "report.left")
        yield Section("left", title, (bullets(speaker.english(f"{s.title}: {s.why}") for s in way_out.left),))
