"""Dye sites and ceilings against textbook end-group figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval
from advisor.measures import saturation
from advisor.physics import physics

P = Interval.point
ORANGE_7 = 350.32  # g/mol, C.I. Acid Orange 7, sodium salt, one sulfonate group
WIDE = Interval(0, 1e9)


def ceiling_at(sites: float, groups: float, molar_mass: float, strength: float = 100) -> float:
    """What the module must give for one value of the sites, from the definition of an equivalent."""
    grams_per_kilogram = sites / 1000 / groups * molar_mass
    return grams_per_kilogram / 10 / (strength / 100)


def test_nylon_ceiling_brackets_the_textbook_amine_ends() -> None:
    """45 meq/kg, a regular nylon 6.6 (Burkinshaw 1995, from memory), holds 1.576 % of a 350.32 dye."""
    ceiling = saturation.ceiling_owf("polyamide", P(1), P(ORANGE_7), P(100))
    assert ceiling is not None
    assert ceiling_at(45, 1, ORANGE_7) == pytest.approx(1.5764, abs=1e-4)
    assert ceiling.low < 1.5764 < ceiling.high
    assert ceiling.low == pytest.approx(ceiling_at(30, 1, ORANGE_7))
    assert ceiling.high == pytest.approx(ceiling_at(50, 1, ORANGE_7))


@pytest.mark.parametrize(
    ("row", "amine_ends", "expected"),
    [("polyamide light-dye", 25, 0.876), ("polyamide", 45, 1.576), ("polyamide deep-dye", 95, 3.328)],
)
def test_three_grades_of_nylon(row: str, amine_ends: float, expected: float) -> None:
    """25 and 95 umol/g: Takasawa, Kuroki and Katayama 1968 (abstract), uptake about equal to the amine ends.

    45: regular nylon, Burkinshaw 1995 (from memory).
    """
    ceiling = saturation.ceiling_owf(row, P(1), P(ORANGE_7), P(100))
    assert ceiling is not None
    assert ceiling.low <= expected * 1.001
    assert ceiling.high >= expected * 0.999
    assert ceiling_at(amine_ends, 1, ORANGE_7) == pytest.approx(expected, abs=1e-3)


def test_wool_holds_eighteen_times_as_much_as_nylon() -> None:
    """Steinhardt and Harris 1940 (NBS RP1286): 0.82 mmol acid per gram of wool, 28.73 % of a 350.32 dye."""
    ceiling = saturation.ceiling_owf("wool", P(1), P(ORANGE_7), P(100))
    assert ceiling is not None
    assert ceiling.low < 28.73 < ceiling.high
    assert ceiling.high / ceiling.low < 1.1


def test_silk_lies_between_nylon_and_wool() -> None:
    """Silk binds about a quarter of wool's acid (Trotman 1984, from memory)."""
    nylon, silk, wool = (saturation.sites(f) for f in ("polyamide", "silk", "wool"))
    assert nylon is not None
    assert silk is not None
    assert wool is not None
    assert nylon.high < silk.low < silk.high < wool.low
    assert silk.low < 0.25 * 820 < silk.high


def test_a_weak_powder_needs_more_of_it() -> None:
    """60 % strength: 2.63 % of the product hold as much dye as 1.576 % pure."""
    pure = saturation.ceiling_owf("polyamide", P(1), P(ORANGE_7), P(100))
    cut = saturation.ceiling_owf("polyamide", P(1), P(ORANGE_7), P(60))
    assert pure is not None
    assert cut is not None
    assert cut.low == pytest.approx(pure.low / 0.6)
    assert pytest.approx(2.627, abs=1e-3) == 1.5764 / 0.6


@pytest.mark.parametrize("family", ["cotton", "polyester", "", "unknown"])
def test_no_ceiling_is_none_not_zero(family: str) -> None:
    assert saturation.ceiling_owf(family, P(1), P(500), P(100)) is None


def test_unknown_everything_gives_the_whole_range() -> None:
    ceiling = saturation.ceiling_owf("polyamide", WIDE, WIDE, WIDE)
    assert ceiling is not None
    assert ceiling.low == pytest.approx(ceiling_at(30, 6, 200))
    assert ceiling.high == pytest.approx(ceiling_at(50, 1, 2000, 1))


@pytest.mark.parametrize("dye_class", ["acid levelling", "acid milling", "acid metal-complex"])
def test_likely_molecules_are_inside_the_meaningful_ranges(dye_class: str) -> None:
    molecules = saturation.likely_molecules(dye_class)
    assert molecules is not None
    ranges = ("sites_per_molecule", "dye_molar_mass", "strength")
    for name, value in zip(ranges, molecules, strict=True):
        assert physics().within(name, value) == value
        assert value.low < value.high, "nobody knows the molecule of a packet exactly"


def test_dyes_for_cellulose_have_no_acid_sites() -> None:
    assert saturation.likely_molecules("direct") is None


@given(
    groups=st.floats(1, 6),
    mass=st.floats(200, 2000),
    strength=st.floats(1, 100),
    more=st.floats(1.01, 2),
)
def test_ceiling_is_monotone(groups: float, mass: float, strength: float, more: float) -> None:
    here = saturation.ceiling_owf("silk", P(groups), P(mass), P(strength))
    heavier = saturation.ceiling_owf("silk", P(groups), P(min(mass * more, 2000)), P(strength))
    busier = saturation.ceiling_owf("silk", P(min(groups * more, 6)), P(mass), P(strength))
    stronger = saturation.ceiling_owf("silk", P(groups), P(mass), P(min(strength * more, 100)))
    assert here is not None
    assert heavier is not None
    assert busier is not None
    assert stronger is not None
    assert heavier.high >= here.high
    assert busier.high <= here.high
    assert stronger.high <= here.high
