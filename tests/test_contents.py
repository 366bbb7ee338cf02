"""What a dye is said to contain: metals, chemicals and what no table knows. Names: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.contents import contents_of
from advisor.plan import InputError, Plan, read_plan

Base = Callable[..., Plan]

METALS: Mapping[str, tuple[str, ...]] = {
    "chromium": ("chromium",),
    "Chromium(III)": ("chromium",),
    "chrome": ("chromium",),
    "sodium bichromate": ("chromium",),
    "potassium dichromate": ("chromium",),
    "cupric sulfate": ("copper",),
    "copper(II) sulfate": ("copper",),
    "blue vitriol": ("copper",),
    "Kupferkomplex": ("copper",),
    "stannous chloride": ("tin",),
    "ferrous sulfate": ("iron",),
    "copperas": ("iron",),
    "potassium permanganate": ("manganese",),
    "alum": ("aluminium",),
    "heavy metals": ("a metal not named",),
    "nickel and cobalt": ("cobalt", "nickel"),
    "mercury": ("mercury",),
    "setting agent": (),
    "gelatin": (),
    "salt": (),
    "leading dispersant": (),
}


@pytest.mark.parametrize("word", METALS, ids=str)
def test_metals_are_found_under_their_names(word: str) -> None:
    assert contents_of((word,)).metals() == METALS[word]


def test_only_some_metals_trouble_drains() -> None:
    assert contents_of(("zinc", "copper", "iron", "alum")).metals(toxic=True) == ("copper",)


def test_what_is_no_metal_may_be_a_chemical_or_stay_unknown() -> None:
    found = contents_of(("household bleach", "Salt", "dispersing agent", "o-dianisidine"))
    assert found.substances == ("sodium hypochlorite bleach", "salt")
    assert found.others == ("dispersing agent",)
    assert [row.id for row in found.rows] == ["benzidine"]


@pytest.mark.parametrize("word", ["chromium-free", "no copper", "benzidine free", "without metals", "non-metallic"])
def test_a_denial_is_refused(word: str) -> None:
    with pytest.raises(InputError, match="says what is not in the dye"):
        read_plan(changed(base_plan("acid-on-nylon"), {"dyes.0.contains": [word]}))


@pytest.mark.parametrize("word", ["nickle", "alumnium", "cobolt", "merkury"])
def test_a_slip_is_refused(word: str) -> None:
    with pytest.raises(InputError, match="did you mean"):
        read_plan(changed(base_plan("acid-on-nylon"), {"dyes.0.contains": [word]}))


@pytest.mark.parametrize(
    ("plan", "change", "rule"),
    [
        ("acid-on-nylon", {"dyes.0.contains": ["sodium hydrosulfite"]}, "hydrosulfite-and-acid"),
        ("acid-on-nylon", {"dyes.0.contains": ["bleach"]}, "bleach-and-acid"),
        ("direct-on-cotton", {"dyes.0.contains": ["sodium bichromate", "potassium dichromate"]}, "cancer-hazard"),
        ("direct-on-cotton", {"dyes.0.contains": ["o-tolidine"]}, "dye-named-benzidine"),
        ("acid-on-nylon", {"dyes.0.contains": ["mercury"], "aftercare.drain": "septic"}, "drain-metals-own-ground"),
        ("acid-on-nylon", {"dyes.0.contains": ["arsenic"], "aftercare.drain": "ground"}, "drain-metals-own-ground"),
        ("metal-complex-on-wool", {"dyes.0.contains": [], "aftercare.drain": "septic"}, "drain-metals-own-ground"),
        (
            "mordant-on-wool",
            {"bath.before": ["copper(II) sulfate"], "aftercare.drain": "ground"},
            "drain-metals-own-ground",
        ),
        ("acid-on-nylon", {"dyes.0.contains": ["2-naphthylamine"]}, "contained-not-known"),
    ],
    ids=str,
)
def test_what_is_contained_is_judged(
    checker: Checker, base: Base, plan: str, change: dict[str, Any], rule: str
) -> None:
    assert rule in {finding.rule for finding in checker.check(base(plan, change)).findings}


def test_what_a_maker_sells_as_one_does_not_meet_itself(checker: Checker, base: Base) -> None:
    """A reactive dye sold mixed with soda ash and salt: the maker has mixed them."""
    report = checker.check(base("all-purpose-on-blend", {"dyes.0.contains": ["soda ash", "citric acid"]}))
    assert not [finding for finding in report.findings if finding.topic == "incompatible-pair"]


def test_another_metal_stands_in_for_that_of_the_class(checker: Checker, base: Base) -> None:
    """A complex of iron: what is named counts, not what the class usually holds."""
    change = {"dyes.0.contains": ["iron"], "aftercare.drain": "septic"}
    rules = {finding.rule for finding in checker.check(base("metal-complex-on-wool", change)).findings}
    assert "drain-metals-own-ground" not in rules
