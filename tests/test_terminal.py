"""The report on a terminal: short, the gravest first, readable at 80 columns and without colour.

tests/golden/*.txt hold two whole reports. `python -m tests.test_terminal` writes them anew; read the difference.
"""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

import advisor
from advisor.cases import base_plan, changed
from advisor.cli import main
from advisor.findings import Report
from advisor.render.terminal import print_report
from advisor.rulebook import EFFECTS, SIGNALS

ROOT = Path(__file__).resolve().parents[1]
GOLDEN = ROOT / "tests" / "golden"
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
GOLDEN_EXAMPLES = ("act-two-ribbon", "first-try-lace")
SCREEN = 24  # lines of a plain terminal
VERDICTS = ("DO NOT START", "CHANGE FIRST", "CANNOT TELL", "READY WITH CAUTIONS", "READY")

_reports: dict[Path, Report] = {}


def report(path: Path) -> Report:
    if path not in _reports:
        _reports[path] = advisor.check(path)
    return _reports[path]


def shown(what: Report, width: int | None = 80, *, everything: bool = False) -> str:
    stream = io.StringIO()
    print_report(what, stream, width=width, everything=everything)
    return stream.getvalue()


def golden(name: str) -> str:
    """The report of an example at 80 columns, without the count and digest of the rules, which change often."""
    text = shown(report(ROOT / "examples" / f"{name}.toml"))
    return re.sub(r"^Rulebook .*\n", "", text, flags=re.MULTILINE).rstrip() + "\n"


def crowded(**change: Any) -> Report:
    """A plan with much wrong and long names without a space to break at."""
    wrong = {
        "title": "title " * 80,
        "goods.0.name": "y" * 500,
        "dyes.0.name": "d" * 500,
        "utensils.0.name": "毛糸" * 200,
        "dyes.0.amount": "30 g",
        "vessel.used_for_food": True,
        "utensils.0.used_for_food": True,
        "people.wearing": [],
    }
    return advisor.check(changed(base_plan("acid-on-nylon"), {**wrong, **change}))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_terminal(path: Path, width: int) -> None:
    for everything in (False, True):
        lines = shown(report(path), width, everything=everything).splitlines()
        assert max(map(cell_len, lines)) <= width
        assert not [line for line in lines if line != line.rstrip()]


@pytest.mark.parametrize("width", [20, 40, 80, 120])
def test_long_names_are_broken_and_nothing_is_lost(width: int) -> None:
    text = shown(crowded(), width, everything=True)
    assert max(map(cell_len, text.splitlines())) <= width
    if width >= 80:  # a line for the finding, and another for what to do, hold it whole
        assert re.sub(r"\s", "", text).count("d" * 500) >= 2


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_verdict_stands_in_the_first_three_lines(path: Path) -> None:
    head = shown(report(path)).splitlines()[:3]
    assert f" {report(path).verdict.upper()} " in "\n".join(head)
    assert sum(verdict in line for line in head for verdict in VERDICTS[:4]) <= 1
    assert head[2] == ""  # the verdict and its sentence take one line


def test_a_long_title_does_not_push_the_verdict_down() -> None:
    head = shown(crowded()).splitlines()[:3]
    assert head[0].endswith("…")
    assert head[1].startswith(" CHANGE FIRST ") or head[1].startswith(" DO NOT START ")


@pytest.mark.parametrize("verdict", ["do not start", "change first", "cannot tell", "ready with cautions", "ready"])
def test_every_verdict_has_its_own_words(verdict: str) -> None:
    from dataclasses import replace

    text = shown(replace(report(EXAMPLES[0]), verdict=verdict))  # type: ignore[arg-type]
    assert text.splitlines()[1].startswith(f" {verdict.upper()}  ")
    assert len(text.splitlines()[1]) <= 80


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_gravest_comes_first(path: Path) -> None:
    findings = report(path).findings
    grades = [(EFFECTS.index(finding.effect), SIGNALS.index(finding.signal)) for finding in findings]
    assert grades == sorted(grades)
    titles = list(dict.fromkeys(finding.title for finding in findings))
    text = shown(report(path))
    summary, _, rest = text.partition("\n 1. ")
    places = [rest.find(title) for title in titles[1:]]
    assert places == sorted(places)
    assert -1 not in places
    if len(titles) > 1:  # the list at the top has the same order
        places = [summary.find(title) for title in titles]
        assert places == sorted(places)
        assert -1 not in places


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_what_matters_most_fits_on_a_screen(path: Path) -> None:
    lines = shown(report(path)).splitlines()
    if report(path).exit_status == 0 and len(report(path).findings) < 2:
        assert lines.index("Worked out") < SCREEN
    elif report(path).exit_status:
        gravest = report(path).findings[0].title
        first = "\n".join(lines[:SCREEN])
        assert gravest in first
        # every finding that holds the verdict back is named on the first screen
        holding = {finding.title for finding in report(path).findings if finding.effect != "caution"}
        assert not [title for title in holding if title not in first]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_nothing_that_counts_is_left_out(path: Path) -> None:
    def words(text: str) -> str:
        return " ".join(text.split())

    text = words(shown(report(path)))
    for finding in report(path).findings:
        for told in (finding.title, finding.message, finding.signal, finding.rule, *finding.do):
            assert words(told) in text, told
    for question in report(path).questions[:8]:
        assert words(question.ask) in text
    for pointer in report(path).pointers:
        assert words(pointer) in text
    told = words(shown(report(path), everything=True))
    for caution in report(path).cautions:
        assert words(caution) in told
    for finding in report(path).findings:
        for line in (*finding.because, *(source.text for source in finding.sources)):
            assert words(line) in told


# ---- colour


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def on_terminal(what: Report) -> str:
    stream = Terminal()
    print_report(what, stream, width=80)
    return stream.getvalue()


@pytest.fixture
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    return monkeypatch


def test_a_terminal_gets_colours(plain_environment: pytest.MonkeyPatch) -> None:
    assert "\x1b[" in on_terminal(report(EXAMPLES[0]))


def test_no_color_and_a_pipe_get_no_escape_codes(plain_environment: pytest.MonkeyPatch) -> None:
    what = report(ROOT / "examples" / "first-try-lace.toml")
    assert "\x1b" not in shown(what)
    plain_environment.setenv("NO_COLOR", "1")
    assert "\x1b" not in on_terminal(what)
    assert on_terminal(what) == shown(what)


def test_a_screening_minds_no_color(plain_environment: pytest.MonkeyPatch) -> None:
    for wish, escapes in (("", True), ("1", False)):
        plain_environment.setenv("NO_COLOR", wish)
        plain_environment.setattr(sys, "stdout", Terminal())
        assert main(["screen", "100% wool", "50% cotton, 50% polyester"]) == 0
        assert isinstance(sys.stdout, Terminal)
        assert ("\x1b" in sys.stdout.getvalue()) is escapes


def test_the_words_are_the_same_with_and_without_colour(plain_environment: pytest.MonkeyPatch) -> None:
    what = report(ROOT / "examples" / "first-try-lace.toml")
    plain = re.sub(r"\x1b\[[\d;]*m", "", on_terminal(what))
    assert [line.rstrip() for line in plain.splitlines()] == shown(what).splitlines()


# ---- whole reports


@pytest.mark.parametrize("name", GOLDEN_EXAMPLES)
def test_golden(name: str) -> None:
    assert golden(name) == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8"), "python -m tests.test_terminal renews"


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for example in GOLDEN_EXAMPLES:
        (GOLDEN / f"{example}.txt").write_text(golden(example), encoding="utf-8")
