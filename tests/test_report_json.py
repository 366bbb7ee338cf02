"""The report as JSON and the published schemas, held against a validator that is not ours (jsonschema)."""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import advisor
from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.knowledge import knowledge
from advisor.plan import InputError, read_plan
from advisor.render.data import report_data, report_json
from advisor.render.schema import plan_schema, report_schema
from advisor.rulebook import load_topics

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted((ROOT / "examples").glob("*.toml"))
}
BASES = {path.stem: base_plan(path.stem) for path in sorted((ROOT / "rules" / "plans").glob("*.toml"))}
BARE: dict[str, Any] = {"goods": [{}], "dyes": [{}]}
PLANS = {**EXAMPLES, **BASES, "bare": BARE}

# section 5 of the design; air.acetic only where acetic acid is in the bath
KEYS = {
    "goods.dry_mass": "g",
    "goods.dyeable_mass": "g",
    "dye.share_owf": "%",
    "dye.share_owf_dyeable": "%",
    "dye.share_of_maximum": "",
    "dye.share_of_maximum_dyeable": "",
    "dye.weighing_error": "fraction",
    "dye.unfixed_mass": "g",
    "bath.liquor_ratio": "L/kg",
    "bath.ph": "pH",
    "assist.acid": "mmol",
    "vessel.fill": "fraction",
    "vessel.dry_mass_limit": "g",
    "rinse.count": "",
    "heat.scald_time": "s",
    "heat.time_to_temperature": "min",
    "lift.mass": "kg",
}


@pytest.fixture(scope="module")
def report_validator() -> Draft202012Validator:
    Draft202012Validator.check_schema(report_schema())
    return Draft202012Validator(report_schema())


@pytest.fixture(scope="module")
def plan_validator() -> Draft202012Validator:
    Draft202012Validator.check_schema(plan_schema())
    return Draft202012Validator(plan_schema())


@pytest.fixture(scope="module")
def reports(checker: Checker) -> dict[str, dict[str, Any]]:
    return {name: json.loads(report_json(checker.check(read_plan(plan)))) for name, plan in PLANS.items()}


@pytest.mark.parametrize("name", PLANS)
def test_every_report_fits_the_schema(
    name: str, reports: dict[str, Any], report_validator: Draft202012Validator
) -> None:
    report_validator.validate(reports[name])


@pytest.mark.parametrize("name", PLANS)
def test_every_report_has_the_measures_of_the_design(name: str, reports: dict[str, Any]) -> None:
    measures = reports[name]["measures"]
    missing = set(KEYS) - set(measures)
    assert not missing
    assert {f"dyes.{n}.mass" for n in range(len(PLANS[name]["dyes"]))} <= set(measures)
    substances = [assist.get("substance") for assist in PLANS[name].get("assists", [])]
    assert ("air.acetic" in measures) or not {"white vinegar", "acetic acid"} & set(substances)
    for key, unit in KEYS.items():
        assert measures[key]["unit"] in {unit, unit or "ratio", unit or "1"}, key


@pytest.mark.parametrize("name", PLANS)
def test_every_measure_says_how_and_from_where(name: str, reports: dict[str, Any]) -> None:
    for key, measure in reports[name]["measures"].items():
        assert measure["how"].strip(), key
        assert measure["source"].strip(), key
        if measure["value"] is not None:
            assert measure["low"] == measure["value"] == measure["high"], key
        elif measure["low"] is not None and measure["high"] is not None:
            assert measure["low"] < measure["high"], key


def test_what_is_not_known_is_null(reports: dict[str, Any]) -> None:
    for key, measure in reports["bare"]["measures"].items():
        assert measure["value"] is None or key == "dye.weighing_error", key
    for key in ("dye.share_owf", "dye.share_of_maximum", "bath.liquor_ratio", "vessel.fill", "bath.ph"):
        assert reports["bare"]["measures"][key]["low"] is reports["bare"]["measures"][key]["high"] is None, key
    half = json.loads(report_json(advisor.check({**BARE, "goods": [{"dry_mass": "180 g to 220 g"}]})))
    mass = half["measures"]["goods.dry_mass"]
    assert (mass["value"], mass["low"], mass["high"]) == (None, 180, 220)


def test_a_weighing_that_nothing_is_said_of_is_not_known(reports: dict[str, Any]) -> None:
    assert reports["bare"]["measures"]["dye.weighing_error"]["value"] is None


def test_the_figures_of_the_sample(checker: Checker) -> None:
    """1.5 % of 100 g is 1.5 g (common practice, no source)."""
    plan = read_plan(changed(BASES["acid-on-nylon"], {"dyes.0.amount": "1.5 %"}))
    measures = report_data(checker.check(plan))["measures"]
    assert measures["dyes.0.mass"]["value"] == 1.5
    assert measures["dye.share_owf"]["value"] == 1.5
    assert measures["dye.share_of_maximum"]["value"] == 1
    assert measures["bath.liquor_ratio"]["value"] == 40


@pytest.mark.parametrize("name", PLANS)
def test_no_number_in_json_is_nan_or_infinite(name: str, reports: dict[str, Any]) -> None:
    def refuse(text: str) -> None:
        raise AssertionError(text)

    json.loads(json.dumps(reports[name]), parse_constant=refuse)


def test_topics_in_the_schema_are_the_closed_list() -> None:
    assert report_schema()["properties"]["findings"]["items"]["properties"]["topic"]["enum"] == list(load_topics())


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("verdict", "safe"),
        ("verdict", None),
        ("findings.0.signal", "LOUD"),
        ("findings.0.topic", "x"),
        ("findings.0.more", 1),
        ("more", 1),
        ("measures.more", {"value": 1}),
        ("findings.0.sources.0.basis", "hearsay"),
    ],
)
def test_the_report_schema_refuses(
    path: str, value: Any, reports: dict[str, Any], report_validator: Draft202012Validator
) -> None:
    assert not report_validator.is_valid(changed(reports["first-try-lace"], {path: value}))


def test_the_report_schema_wants_every_part(reports: dict[str, Any], report_validator: Draft202012Validator) -> None:
    for key in reports["first-try-lace"]:
        report = dict(reports["first-try-lace"])
        del report[key]
        assert not report_validator.is_valid(report), key


# ---- the schema of a plan


@pytest.mark.parametrize("name", PLANS)
def test_every_plan_fits_the_schema(name: str, plan_validator: Draft202012Validator) -> None:
    plan_validator.validate(json.loads(json.dumps(PLANS[name])))


def test_every_key_of_the_base_plan_may_be_unknown(plan_validator: Draft202012Validator) -> None:
    plan = BASES["acid-on-nylon"]
    for part, fields in plan.items():
        if isinstance(fields, dict):
            plan_validator.validate(changed(plan, {part: "unknown"}))
        for path in (
            [f"{part}.{key}" for key in fields]
            if isinstance(fields, dict)
            else [f"{part}.0.{key}" for key in fields[0]]
            if isinstance(fields, list)
            else [part]
        ):
            data = changed(plan, {path: "unknown"})
            plan_validator.validate(data)
            read_plan(data)


def test_every_word_of_the_tables_fits_the_schema(plan_validator: Draft202012Validator) -> None:
    k, plan = knowledge(), BASES["acid-on-nylon"]
    for path, table in (
        ("assists.0.substance", k.substances),
        ("dyes.0.class", k.dye_classes),
        ("vessel.material", k.materials),
        ("aftercare.drain", k.drains),
        ("space.kind", k.spaces),
    ):
        validator = Draft202012Validator({**plan_schema()})
        for row in table.rows:
            for word in (row.id, *row.synonyms):
                data = changed(plan, {path: word})
                read_plan(data)
                assert validator.is_valid(data), (path, word)
    for word in ("acid", "fibre-reactive"):
        plan_validator.validate(changed(plan, {"dyes.0.class": word}))


WRONG = [
    ("bth", {}),
    ("goods.0.dry_mas", "1 g"),
    ("dyes.0.dye_class", "acid"),
    ("assists.0.more", 1),
    ("bath.more", 1),
    ("vessel.more", 1),
    ("utensils.0.more", 1),
    ("scale.more", 1),
    ("people.more", []),
    ("space.more", 1),
    ("aftercare.more", 1),
    ("goods", []),
    ("dyes", []),
    ("goods", "yarn"),
    ("bath", []),
    ("dyes.0.class", "acid levellin"),
    ("dyes.0.form", "powdr"),
    ("goods.0.dry_mass", 200),
    ("bath.water", True),
    ("bath.attended", "sometimes"),
    ("people.wearing", "apron"),
    ("people.wearing", ["aprn"]),
    ("goods.0.trims", "zip"),
    ("dyes.0.contains", [1]),
    ("title", 5),
    ("title", ""),
    ("goods", [{}] * 51),
    ("people.present", ["child"] * 51),
    ("vessel.condition", "fine"),
]


@pytest.mark.parametrize(("path", "value"), WRONG, ids=[f"{p}={str(v)[:20]}" for p, v in WRONG])
def test_the_plan_schema_refuses_what_the_advisor_refuses(
    path: str, value: Any, plan_validator: Draft202012Validator
) -> None:
    plan = changed(copy.deepcopy(BASES["acid-on-nylon"]), {path: value})
    with pytest.raises(InputError):
        read_plan(plan)
    assert not plan_validator.is_valid(plan)


@pytest.mark.parametrize("part", ["goods", "dyes"])
def test_the_plan_schema_wants_goods_and_dyes(part: str, plan_validator: Draft202012Validator) -> None:
    plan = dict(BASES["acid-on-nylon"])
    del plan[part]
    assert not plan_validator.is_valid(plan)
