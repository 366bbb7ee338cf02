"""Dye sites and ceilings against textbook end-group figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval
from advisor.measures import saturation
from advisor.measures.saturation import DyeMolecules
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


def test_mixture_on_45_sites() -> None:
    """1 % (350.32, one group) + 1 % (600, two groups) on 45 meq/kg fills 1.375 times the sites."""
    dyes = [
        (P(1), DyeMolecules(P(1), P(ORANGE_7), P(100))),
        (P(1), DyeMolecules(P(2), P(600), P(100))),
    ]
    use = saturation.site_use("polyamide", dyes)
    assert use is not None
    by_hand = (10 / ORANGE_7 + 2 * 10 / 600) * 1000
    assert by_hand / 45 == pytest.approx(1.375, abs=1e-3)
    assert use.low == pytest.approx(by_hand / 50)
    assert use.high == pytest.approx(by_hand / 30)


def test_a_pale_shade_of_a_weak_dye_uses_few_sites() -> None:
    """0.5 % of a 33 % powder, 600 g/mol, one group: 10 x 0.5 x 0.33 / 600 = 2.75 meq/kg on 800 to 850 of wool."""
    use = saturation.site_use("wool", [(P(0.5), DyeMolecules(P(1), P(600), P(33)))])
    assert use is not None
    assert (use.low, use.high) == pytest.approx((2.75 / 850, 2.75 / 800))


def test_no_dye_uses_no_sites() -> None:
    assert saturation.site_use("wool", []) == P(0)


@pytest.mark.parametrize("family", ["cotton", "polyester", "", "unknown"])
def test_no_ceiling_is_none_not_zero(family: str) -> None:
    assert saturation.ceiling_owf(family, P(1), P(500), P(100)) is None
    assert saturation.site_use(family, []) is None


@pytest.mark.parametrize(("dye", "ratio", "expected"), [(20, 30, 18.913), (90, 30, 43.591), (20, 60, 18.00)])
def test_langmuir(dye: float, ratio: float, expected: float) -> None:
    """Langmuir on 45 mmol/kg with 2e4 L/mol; the result must also satisfy the isotherm itself."""
    taken = saturation.langmuir_uptake(P(dye), P(45), P(2e4), P(ratio))
    assert taken.low == pytest.approx(expected, abs=0.01)
    bath = (dye - taken.low) / ratio / 1000
    assert taken.low == pytest.approx(45 * 2e4 * bath / (1 + 2e4 * bath), rel=1e-6)


@pytest.mark.parametrize(("dye", "ratio", "affinity"), [(11, 7, 3e3), (11, 5, 2e4), (0.2, 49, 1e4), (0, 30, 2e4)])
def test_no_sites_take_nothing_and_never_less(dye: float, ratio: float, affinity: float) -> None:
    """All the dye stays in the bath; D - L c may fall a hair below 0 in floats, an uptake may not."""
    assert saturation.langmuir_uptake(P(dye), P(0), P(affinity), P(ratio)) == P(0)


def test_nearly_boundless_affinity_takes_all_or_fills_the_sites() -> None:
    """At 1e12 L/mol the lesser of dye and sites is on the fibre, to a part in a million."""
    assert saturation.langmuir_uptake(P(20), P(45), P(1e12), P(30)).low == pytest.approx(20, rel=1e-6)
    assert saturation.langmuir_uptake(P(90), P(45), P(1e12), P(30)).low == pytest.approx(45, rel=1e-6)


def test_as_much_dye_as_sites() -> None:
    """D = S: L K c^2 + L c - D = 0. With 45 mmol/kg, 2e4 L/mol, 30 L/kg: c = (-30 + sqrt(900 + 4 x 6e5 x 0.045))/1.2e6,

    which is 0.24999e-3 x 1.0000: sqrt(108900) = 330, c = 300/1.2e6 = 0.25 mmol/L; 45 - 30 x 0.25 = 37.5.
    """
    assert saturation.langmuir_uptake(P(45), P(45), P(2e4), P(30)).low == pytest.approx(37.5, rel=1e-9)


def test_unknown_everything_gives_the_whole_range() -> None:
    ceiling = saturation.ceiling_owf("polyamide", WIDE, WIDE, WIDE)
    assert ceiling is not None
    assert ceiling.low == pytest.approx(ceiling_at(30, 6, 200))
    assert ceiling.high == pytest.approx(ceiling_at(50, 1, 2000, 1))
    assert saturation.langmuir_uptake(WIDE, WIDE, WIDE, WIDE).low >= 0


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


@given(
    st.floats(1, 200),
    st.floats(1, 200),
    st.floats(1, 1000),
    st.floats(1, 1000),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_langmuir_interval_holds_what_is_inside(a: float, b: float, s1: float, s2: float, x: float, y: float) -> None:
    dye = Interval(min(a, b), max(a, b))
    places = Interval(min(s1, s2), max(s1, s2))
    whole = saturation.langmuir_uptake(dye, places, P(1e4), P(30))
    d = min(dye.low + x * (dye.high - dye.low), dye.high)
    s = min(places.low + y * (places.high - places.low), places.high)
    inside = saturation.langmuir_uptake(P(d), P(s), P(1e4), P(30))
    assert whole.low * (1 - 1e-9) <= inside.low <= whole.high * (1 + 1e-9)
    assert inside.low <= min(d, s) * (1 + 1e-9)
