"""The corrected plan as a file: comments, order, notes, and the command that writes it."""

from __future__ import annotations

import json
import subprocess
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from advisor.amend import amended
from advisor.checking import Checker
from advisor.findings import Report, WayOut
from advisor.plan import load_plan, read_plan

TEXT = """\
# second try, after the stripes
title = "Ribbon for the second act"

[[goods]]
name = "nylon ribbon"
fibres = "100% nylon"
dry_mass = "100 g"     # weighed twice
colour = "undyed"
finishes = []
trims = []

[[dyes]]
class = "acid levelling"
form = "powder"
amount = "2 g"   # by eye
maximum = "1.5 %"
safety_data_sheet = "read"

# the acid
[[assists]]
substance = "white vinegar"
amount = "30 mL"
strength = "5 %"

[[assists]]
substance = "soda ash"
amount = "5 g"

# the bath itself
[bath]
water = "4 L"
temperature = "190 degF"
hold = "30 min"
heat_source = "electric hob"
attended = false
shade = "even"

[vessel]
material = "stainless steel"
capacity = "8 L"
condition = "sound"
used_for_food = false

[people]
wearing = [
  "nitrile gloves",
  "cloth mask",   # sewn at home
  "splash goggles", "apron", "long sleeves", "closed shoes", "heat-resistant gloves",
]
present = []
"""


def _out(changes: dict[str, Any], **notes: str) -> WayOut:
    return WayOut(changes=changes, verdict="ready", steps=(), notes=notes, left=())


def _keys(text: str) -> list[str]:
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return [line.split(" = ")[0] for line in lines if line.startswith("[") or " = " in line]


def _report(checker: Checker, text: str) -> Report:
    return checker.check(read_plan(tomllib.loads(text)), remedies=True)


def test_each_change_is_made_with_a_note_and_the_rest_stays(checker: Checker) -> None:
    report = _report(checker, TEXT)
    assert report.way_out is not None
    new = amended(TEXT, report.way_out)
    assert "# second try, after the stripes" in new
    assert 'dry_mass = "100 g"     # weighed twice' in new
    assert "# sewn at home" in new
    assert "# the bath itself" in new  # a comment below an entry that is taken out
    assert 'amount = "1.5 g"  # was 2 g: More dye than the maker\'s maximum; by eye' in new
    assert "attended = true  # was false: " in new
    assert "# taken out: substance soda ash, amount 5 g: " in new
    assert "half-mask respirator P100" in new
    without_soda = TEXT.replace('[[assists]]\nsubstance = "soda ash"\namount = "5 g"\n', "")
    assert _keys(new) == _keys(without_soda)  # in the old order
    after = _report(checker, new)
    assert after.verdict == report.way_out.verdict
    assert not [f for f in after.findings if f.effect != "caution"]


def test_nothing_to_change_leaves_the_text_as_it_is() -> None:
    assert amended(TEXT, None) == TEXT
    assert amended(TEXT, _out({})) == TEXT


@pytest.mark.parametrize(
    ("text", "changes", "wanted"),
    [
        ("a = 1\n[vessel]\nlid = true\n", {"vessel.lid": False}, {"a": 1, "vessel": {"lid": False}}),
        ('vessel = {material = "glass"}\n', {"vessel.material": "enamel"}, {"vessel": {"material": "enamel"}}),
        ('vessel.material = "glass"\n', {"vessel.material": "enamel"}, {"vessel": {"material": "enamel"}}),
        ('vessel = "unknown"\n', {"vessel.material": "enamel"}, {"vessel": {"material": "enamel"}}),
        ("a = 1\n", {"vessel.material": "enamel"}, {"a": 1, "vessel": {"material": "enamel"}}),
        ("a = 1\nassists = []\n", {"assists.0": {"b": 2}}, {"a": 1, "assists": [{"b": 2}]}),
        ("assists = [{b = 1}, {b = 2}]\n", {"assists.0": None}, {"assists": [{"b": 2}]}),
        ("assists = [{b = 1}]\n", {"assists.0.b": 3, "assists.1": {"b": 2}}, {"assists": [{"b": 3}, {"b": 2}]}),
        ("[[assists]]\nb = 1\n[x]\ny = 1\n", {"assists.0": None}, {"assists": [], "x": {"y": 1}}),
        ("[[goods]]\n[goods.fibres]\nwool = 100\n[[goods]]\na = 1\n", {"goods.0": None}, {"goods": [{"a": 1}]}),
        ("[[dyes]]\na = 1\nb = 2\n", {"dyes.0.a": None}, {"dyes": [{"b": 2}]}),
        ("[[dyes]]\r\na = 1\r\n", {"dyes.0.a": 2}, {"dyes": [{"a": 2}]}),
        ('[people]\nwearing = ["b", "b"]\n', {"people.wearing": ["b", "c"]}, {"people": {"wearing": ["b", "c"]}}),
        ('[people]\nwearing = "unknown"\n', {"people.wearing": ["apron"]}, {"people": {"wearing": ["apron"]}}),
    ],
)  # fmt: skip
def test_ways_of_writing_toml(text: str, changes: dict[str, Any], wanted: dict[str, Any]) -> None:
    new = amended(text, _out(changes))
    assert tomllib.loads(new) == wanted
    assert ("#" in new) == (changes != {"dyes.0.a": None})  # a key that goes leaves no line to note it on


def test_a_note_cannot_break_out_of_its_line() -> None:
    way_out = WayOut({"vessel.lid": False}, "ready", (), {"vessel.lid": "one\ntwo = 3"}, ())
    assert tomllib.loads(amended("[vessel]\nlid = true\n", way_out)) == {"vessel": {"lid": False}}


def test_json_is_amended_as_json(checker: Checker, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    plan.write_text(json.dumps(tomllib.loads(TEXT)), encoding="utf-8")
    report = checker.check(load_plan(plan), remedies=True)
    new = amended(plan.read_text(encoding="utf-8"), report.way_out, is_json=True)
    assert json.loads(new)["dyes"][0]["amount"] == "1.5 g"
    assert [entry["substance"] for entry in json.loads(new)["assists"]] == ["white vinegar"]


def test_a_json_file_has_its_notes_told_beside_it(
    child: Callable[..., subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    plan, good = tmp_path / "plan.json", tmp_path / "good.json"
    plan.write_text(json.dumps(tomllib.loads(TEXT.replace("used_for_food = false", "used_for_food = true"))))
    result = child("-m", "advisor", "check", str(plan), "--amend", str(good))
    assert result.returncode == 1, result.stderr
    assert "vessel.used_for_food: A pot that holds food is no dye pot; take another pot" in result.stderr
    assert json.loads(good.read_text(encoding="utf-8"))["vessel"]["used_for_food"] is False


def test_a_toml_file_has_the_act_in_its_note(checker: Checker) -> None:
    report = _report(checker, TEXT.replace("used_for_food = false", "used_for_food = true"))
    assert "used_for_food = false  # was true: A pot that holds food is no dye pot; take another pot" in amended(
        TEXT.replace("used_for_food = false", "used_for_food = true"), report.way_out
    )


def test_the_command_writes_a_new_file_and_never_the_input(
    child: Callable[..., subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    plan, good = tmp_path / "plan.toml", tmp_path / "good.toml"
    plan.write_text(TEXT, encoding="utf-8")
    first = child("-m", "advisor", "check", str(plan), "--amend", str(good))
    assert first.returncode == 1, first.stderr
    assert "2 g -> 1.5 g" in first.stdout
    assert plan.read_text(encoding="utf-8") == TEXT
    again = child("-m", "advisor", "check", str(plan), "--amend", str(good))
    assert again.returncode == 2
    assert "--force" in again.stderr
    onto_itself = child("-m", "advisor", "check", str(plan), "--amend", str(plan))
    assert onto_itself.returncode == 2
    assert plan.read_text(encoding="utf-8") == TEXT
    after = child("-m", "advisor", "check", str(good), "--format", "json")
    assert after.returncode in (0, 3), after.stderr
    assert json.loads(after.stdout)["verdict"] in first.stderr
    forced = child("-m", "advisor", "check", str(plan), "--amend", str(plan), "--force")
    assert forced.returncode == 1
    assert plan.read_text(encoding="utf-8") == good.read_text(encoding="utf-8")
