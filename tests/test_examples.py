"""The example plans: what each shows, and the words in all that a user can read."""

from __future__ import annotations

import argparse
import io
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from strangers import inputs, stated

import advisor
from advisor.findings import Report
from advisor.knowledge import knowledge
from advisor.plan import load_plan
from advisor.reading import facts_data, rules_data, tables
from advisor.render.data import report_json
from advisor.render.rules import rulebook_markdown
from advisor.render.terminal import print_report
from advisor.rulebook import rulebook
from advisor.store import SWITCH

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = {path.stem: path for path in sorted((ROOT / "examples").glob("*.toml"))}
PASSES = {"ready", "ready with cautions"}

# what each example is there to show: the verdict, and topics that must be among its findings
SHOWS: dict[str, tuple[set[str], set[str]]] = {
    "act-two-ribbon": (PASSES, set()),
    "circle-rust-yarn": (PASSES, set()),
    "class-shirts-blue": (PASSES, {"trims-stay-undyed", "lift-heavy"}),
    "cotton-cord-acid": ({"change first", "do not start"}, {"fibre-stains-only", "vessel-crowded", "vessel-too-small"}),
    "first-try-lace": (
        {"do not start"},
        {
            "dose-over-maximum",
            "spoon-measure",
            "vessel-crowded",
            "vessel-too-small",
            "food-vessel",
            "food-utensil",
            "gear-inadequate",
            "gear-missing",
        },
    ),
    "grey-jumper-green": (PASSES, {"prior-colour"}),
    "hill-hut-scarves": (PASSES, {"scald-risk"}),
    "madder-yarn": (PASSES, set()),
    "mixed-braid-navy": (PASSES, set()),
    "organza-mint": (PASSES, set()),
    "silk-sashes-plum": (PASSES, set()),
    "stretch-lace-rose": (PASSES, {"trims-stay-undyed"}),
    "unlabelled-trims": ({"change first", "cannot tell"}, {"fibre-unknown", "maximum-unknown", "gear-missing"}),
}

# "safety" names data sheets and goggles and promises nothing
NEVER = re.compile(r"\b(?:un)?safe(?:ly|r|st)?\b|\bfail-?safe\b", re.IGNORECASE)


@pytest.fixture(scope="module")
def reports() -> dict[str, Report]:
    return {name: advisor.check(path) for name, path in EXAMPLES.items()}


def test_there_are_enough_of_them_and_each_says_what_it_shows() -> None:
    assert set(EXAMPLES) == set(SHOWS)
    assert len(EXAMPLES) >= 8
    classes = {dye.dye_class for path in EXAMPLES.values() for dye in load_plan(path).dyes}
    assert {"acid levelling", "fibre-reactive cold", "disperse", "all-purpose blend", "mordant"} <= classes
    for path in EXAMPLES.values():
        assert path.read_text(encoding="utf-8").startswith("# "), path.name


def test_one_shows_every_field_and_the_one_beside_its_shelf_those_of_a_shelf() -> None:
    shown = stated(tomllib.loads(EXAMPLES["hill-hut-scarves"].read_text(encoding="utf-8")))
    taken = stated(tomllib.loads((ROOT / "examples" / "shelf" / "act-three-braid.toml").read_text(encoding="utf-8")))
    shelf = {path for path in inputs() if path.split(".")[-1] == "shelf"}
    assert set(inputs()) - shelf <= shown
    assert shelf <= taken


def test_the_readme_tells_of_every_command_format_and_switch() -> None:
    from advisor.cli import _parser

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = next(action.choices for action in _parser()._actions if isinstance(action, argparse._SubParsersAction))
    assert [name for name in commands if f"`advisor {name}" not in text] == []
    told = next(line for line in text.splitlines() if line.startswith("| `advisor schema"))
    what = next(action.choices for action in commands["schema"]._actions if action.dest == "what")
    assert [name for name in what if not re.search(rf"\b{name}`", told)] == []
    for name in (f"`{SWITCH}=", "`NO_COLOR=", "`--shelf FILE`", "`--rules DIR`", "--amend FILE", "`--explain`"):
        assert name in text, name


@pytest.mark.parametrize("name", SHOWS)
def test_each_gives_its_answer(name: str, reports: dict[str, Report]) -> None:
    verdicts, topics = SHOWS[name]
    assert reports[name].verdict in verdicts
    assert topics <= {finding.topic for finding in reports[name].findings}
    if verdicts == PASSES:
        assert {finding.effect for finding in reports[name].findings} <= {"caution"}


def test_the_incomplete_one_is_asked_about(reports: dict[str, Report]) -> None:
    asked = {question.field for question in reports["unlabelled-trims"].questions}
    assert {"bath.temperature", "goods.0.fibres", "vessel.used_for_food"} <= asked


@pytest.mark.parametrize("name", SHOWS)
def test_a_plan_is_checked_the_same_twice(name: str, reports: dict[str, Report]) -> None:
    assert advisor.check(EXAMPLES[name]) == reports[name]


@pytest.mark.parametrize("name", SHOWS)
def test_each_states_the_usual_cautions_and_where_to_ask(name: str, reports: dict[str, Report]) -> None:
    assert len(reports[name].cautions) >= 3
    pointers = " ".join(reports[name].pointers)
    for word in ("safety data sheet", "emergency", "poison"):
        assert word in pointers


# ---- never the word


@pytest.mark.parametrize("name", SHOWS)
def test_no_report_calls_anything_safe(name: str, reports: dict[str, Report]) -> None:
    text = io.StringIO()
    print_report(reports[name], text, width=200, everything=True)
    for told in (text.getvalue(), report_json(reports[name])):
        assert not NEVER.findall(told)


def _texts(data: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every text in the data but the titles of cited documents, which are as their authors wrote them."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _texts(value, f"{path}.{key}")
    elif isinstance(data, list):
        for number, value in enumerate(data):
            yield from _texts(value, f"{path}.{number}")
    elif isinstance(data, str):
        yield path, data


def test_no_rule_calls_anything_safe() -> None:
    data = rules_data(rulebook(), rulebook().rules, knowledge())
    assert [(path, text) for path, text in _texts(data) if NEVER.search(text)] == []
    assert not NEVER.findall(rulebook_markdown(rulebook(), knowledge()))


@pytest.mark.parametrize("table", list(tables(knowledge())))
def test_no_table_calls_anything_safe(table: str) -> None:
    data = facts_data(table, knowledge())
    assert [(path, text) for path, text in _texts(data["rows"]) if NEVER.search(text)] == []


def test_no_question_or_topic_calls_anything_safe() -> None:
    for name in ("questions.toml", "topics.toml", "units.toml"):
        text = (ROOT / "rules" / "knowledge" / name).read_text(encoding="utf-8")
        assert not NEVER.findall(text), name


def test_no_help_or_schema_calls_anything_safe(capsys: pytest.CaptureFixture[str]) -> None:
    from advisor.cli import main

    for arguments in (["--help"], ["check", "--help"], ["rules", "--help"], ["facts", "--help"], ["schema", "--help"]):
        with pytest.raises(SystemExit):
            main(arguments)
    for what in ("plan", "report"):
        assert main(["schema", what]) == 0
    assert not NEVER.findall(capsys.readouterr().out)


def test_the_word_would_be_found() -> None:
    for word in ("safe", "Safely", "UNSAFE", "safer", "the safest way", "fail-safe"):
        assert NEVER.search(json.dumps(word))
    for word in ("safety data sheet", "safety glasses", "safeguard", "unsafety"):
        assert not NEVER.search(word)
