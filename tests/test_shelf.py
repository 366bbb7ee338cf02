"""The shelf: what a plan takes from it, what goes before it, and what is refused."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import advisor
from advisor.amend import amended
from advisor.checking import Checker
from advisor.cli import main
from advisor.plan import LARGEST_FILE, InputError, load_plan, read_plan
from advisor.render.data import report_data
from advisor.render.schema import plan_schema, report_schema, shelf_schema
from advisor.shelf import KINDS, MOST_ON_SHELF, load_shelf, read_shelf

EXAMPLES = Path(__file__).resolve().parents[1] / "examples" / "shelf"
SHELF = """\
[[dyes]]
name = "Slate Blue"
class = "acid levelling"
form = "powder"
maximum = "1.5 %"
contains = []

[[vessels]]
name = "big pot"
material = "stainless steel"
capacity = "8 L"
used_for_food = false

[[gear]]
name = "powder kit"
wearing = ["nitrile gloves", "apron"]
"""
PLAN = """\
shelf = "shelf.toml"

[[goods]]
name = "ribbon"
fibres = "100% nylon"
dry_mass = "100 g"

[[dyes]]
shelf = "slate blue"  # the jar on the left
amount = "1 g"

[vessel]
shelf = "big pot"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the plan and its shelf."""
    (tmp_path / "shelf.toml").write_text(SHELF, encoding="utf-8")
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path


def edited(folder: Path, *changes: tuple[str, str]) -> Path:
    text = PLAN
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "edited.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refused(run: Callable[[], object]) -> str:
    with pytest.raises(InputError) as caught:
        run()
    return str(caught.value)


# ---- what is taken


def test_the_shelf_fills_what_the_plan_leaves_out(folder: Path) -> None:
    plan = load_plan(folder / "plan.toml")
    dye = plan.dyes[0]
    assert (dye.name, dye.dye_class, dye.form, dye.contains) == ("Slate Blue", "acid levelling", "powder", ())
    assert dye.maximum.interval.low == 1.5
    assert dye.amount.text == "1 g"
    assert (plan.vessel.material, plan.vessel.used_for_food) == ("stainless steel", False)
    assert plan.vessel.lid is None  # on neither
    assert plan.people.wearing is None  # gear is worn only where the plan says so


def test_the_same_bath_written_out_gets_the_same_answer(folder: Path, checker: Checker) -> None:
    plan = load_plan(folder / "plan.toml")
    written_out = read_plan(plan.said)
    assert dict(plan) == dict(written_out)
    first, second = checker.check(plan), checker.check(written_out)
    assert (first.findings, first.questions, first.measures) == (second.findings, second.questions, second.measures)


@pytest.mark.parametrize(
    ("line", "expected"),
    [('maximum = "2 %"', 2.0), ('maximum = "unknown"', None)],
    ids=["a value", "an unknown"],
)
def test_what_the_plan_says_goes_before_the_shelf(folder: Path, line: str, expected: float | None) -> None:
    plan = load_plan(edited(folder, ('amount = "1 g"', f'amount = "1 g"\n{line}')))
    maximum = plan.dyes[0].maximum
    assert (maximum.interval.low if maximum.stated else None) == expected
    assert "dyes.0.maximum" not in [taken.field for taken in plan.from_shelf]


def test_gear_scales_tools_and_rooms_are_taken_by_name() -> None:
    plan = load_plan(EXAMPLES / "act-three-braid.toml")
    assert "half-mask respirator p100" in {word.casefold() for word in plan.said["people"]["wearing"]}  # type: ignore[index]
    assert plan.scale.resolution.interval.low == 0.01
    assert plan.utensils is not None
    assert plan.utensils[0].material == "stainless steel"
    assert plan.space.volume.stated


def test_unknown_is_no_reference(folder: Path) -> None:
    plan = load_plan(edited(folder, ('shelf = "big pot"', 'shelf = "unknown"')))
    assert plan.vessel.material == "unknown"


# ---- what the report says of it


def test_the_report_names_what_came_from_the_shelf(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = advisor.check(folder / "plan.toml")
    assert {t.field for t in report.from_shelf} == {
        "dyes.0.class", "dyes.0.form", "dyes.0.maximum", "dyes.0.contains",
        "vessel.material", "vessel.capacity", "vessel.used_for_food",
    }  # fmt: skip
    main(["check", str(folder / "plan.toml")])
    told = " ".join(capsys.readouterr().out.split())
    assert "From the shelf" in told
    assert "dyes.0, 'Slate Blue': class acid levelling; form powder; maximum 1.5 %; contains none" in told
    data = report_data(report)
    jsonschema.validate(data, report_schema())
    assert {"field": "vessel.capacity", "value": "8 L", "entry": "big pot", "file": report.from_shelf[0].file} in data[
        "from_shelf"
    ]


def test_a_report_without_a_shelf_does_not_speak_of_one(checker: Checker) -> None:
    data = report_data(checker.check(read_plan({"goods": [{}], "dyes": [{}]})))
    assert "from_shelf" not in data
    jsonschema.validate(data, report_schema())


def test_the_example_is_ready() -> None:
    assert advisor.check(EXAMPLES / "act-three-braid.toml").exit_status == 0


def test_the_schemas_know_it(folder: Path) -> None:
    jsonschema.validate(tomllib.loads(SHELF), shelf_schema())
    jsonschema.validate(tomllib.loads((EXAMPLES / "shelf.toml").read_text(encoding="utf-8")), shelf_schema())
    jsonschema.validate(tomllib.loads(PLAN), plan_schema())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"dyes": [{"class": "acid levelling"}]}, shelf_schema())


def test_an_amended_plan_still_refers_to_its_shelf(folder: Path, checker: Checker) -> None:
    path = edited(folder, ('amount = "1 g"', 'amount = "9 g"'))
    report = checker.check(load_plan(path), remedies=True)
    assert report.way_out is not None
    text = amended(path.read_text(encoding="utf-8"), report.way_out)
    assert 'shelf = "slate blue"' in text
    assert "# the jar on the left" in text
    after = folder / "amended.toml"
    after.write_text(text, encoding="utf-8")
    assert checker.check(load_plan(after)).verdict == report.way_out.verdict


# ---- --shelf


def test_the_option_goes_before_the_plans_own_shelf(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(SHELF.replace('"8 L"', '"9 L"'), encoding="utf-8")
    assert load_plan(folder / "plan.toml", shelf=load_shelf(other)).vessel.capacity.text == "9 L"
    plan = edited(folder, ('shelf = "shelf.toml"', ""))
    assert main(["check", str(plan), "--shelf", str(other), "--output", str(tmp_path / "out.txt")]) in (0, 1, 3)
    assert "9 L" in (tmp_path / "out.txt").read_text(encoding="utf-8")


# ---- what is refused


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"slate blue"', '"slate bleu"', ["dyes.0.shelf", "did you mean 'Slate Blue'?"]),
        ('"big pot"', '"bucket"', ["vessel.shelf", "Accepted: big pot"]),
        ('"big pot"', "3", ["vessel.shelf", "expected the name"]),
        ('"shelf.toml"', '"shelves.toml"', ["shelf: 'shelves.toml' is not there"]),
        ('"shelf.toml"', "true", ["shelf: expected the name of a file"]),
        ('"shelf.toml"', '""', ["shelf: expected the name of a file"]),
        ('"shelf.toml"', '"."', ["is not there, or no file"]),
        ('"shelf.toml"', '"a\\u0000b"', ["shelf"]),
        ("[vessel]\n", "[bath]\n", ["bath.shelf", "nothing here can come from a shelf"]),
    ],
)
def test_what_a_plan_may_not_say(folder: Path, old: str, new: str, said: list[str]) -> None:
    told = refused(lambda: load_plan(edited(folder, (old, new))))
    for words in ("edited.toml", *said):
        assert words in told


def test_a_name_without_a_shelf_is_an_error(folder: Path) -> None:
    told = refused(lambda: load_plan(edited(folder, ('shelf = "shelf.toml"', ""))))
    assert "none is named" in told
    assert "--shelf FILE" in told


def test_a_shelf_outside_the_plans_folder_is_refused(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    outside = tmp_path_factory.mktemp("outside") / "shelf.toml"
    outside.write_text(SHELF, encoding="utf-8")
    (folder / "link.toml").symlink_to(outside)
    (folder / "inner").mkdir()
    (folder / "inner" / "shelf.toml").write_text(SHELF, encoding="utf-8")
    for name in (str(outside), os.path.relpath(outside, folder), "link.toml", str(folder / "shelf.toml")):
        told = refused(lambda name=name: load_plan(edited(folder, ('"shelf.toml"', json.dumps(name)))))  # type: ignore[misc]
        assert "outside the folder of the plan" in told
    for name in ("inner/shelf.toml", "inner/../shelf.toml"):
        assert load_plan(edited(folder, ('"shelf.toml"', json.dumps(name)))).from_shelf


def test_a_pipe_with_the_name_of_a_shelf_does_not_hang(folder: Path) -> None:
    os.mkfifo(folder / "fifo.toml")
    assert "no file" in refused(lambda: load_plan(edited(folder, ('"shelf.toml"', '"fifo.toml"'))))


@pytest.mark.parametrize(
    ("shelf", "said"),
    [
        ({"dyes": [{"class": "acid levelling"}]}, "dyes.0.name: is missing; a plan refers to an entry"),
        ({"dyes": [{"name": "a", "amount": "1 g"}]}, "dyes.0.amount: unknown key"),
        ({"dyes": [{"name": "a", "shelf": "b"}]}, "dyes.0.shelf: unknown key"),
        ({"shelf": "shelf.toml"}, "shelf: unknown key"),
        ({"dyes": [{"name": "a", "maximum": "2 g"}]}, "dyes.0.maximum"),
        ({"dyes": [{"name": "a", "class": "acid leveling dye"}]}, "dyes.0.class"),
        ({"dyes": [{"name": "Slate  blue"}, {"name": "slate BLUE"}]}, "dyes.1.name: 'slate BLUE' stands there twice"),
        ({"dyes": [{"name": "unknown"}]}, "'unknown' is no name"),
        ({"dyes": "slate"}, "dyes"),
        ({"dyes": [{"name": f"d{n}"} for n in range(MOST_ON_SHELF + 1)]}, "dyes"),
        ({"pots": []}, "pots: unknown key"),
    ],
)
def test_what_a_shelf_may_not_say(shelf: dict[str, Any], said: str) -> None:
    assert said in refused(lambda: read_shelf(shelf, file="my shelf"))


def test_a_shelf_may_be_long_but_not_endless(folder: Path) -> None:
    read_shelf({"dyes": [{"name": f"d{n}"} for n in range(MOST_ON_SHELF)]})
    (folder / "shelf.toml").write_text("#" * (LARGEST_FILE + 1), encoding="utf-8")
    assert "larger than" in refused(lambda: load_plan(folder / "plan.toml"))


def test_a_broken_shelf_names_its_own_file(folder: Path) -> None:
    (folder / "shelf.toml").write_text("[[dyes]\n", encoding="utf-8")
    assert "shelf.toml: cannot be read as TOML" in refused(lambda: load_plan(folder / "plan.toml"))


def test_every_key_of_a_shelf_is_a_key_of_the_plan() -> None:
    for kind in KINDS.values():
        known = {field.alias or name for name, field in kind.model.model_fields.items()}
        assert set(kind.keys) <= known - {"shelf", "amount", "name", "present", "ventilation"}
