"""The tables of fibre families, dye classes, uptake, finishes and limits.

Outside figures are named where they are used. "common practice, no source" marks trade knowledge;
"from memory" a document that was recalled and not seen.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache

import pytest

from advisor.knowledge import Table, _rows
from advisor.paths import rules_root
from advisor.rows import DyeClass, Family, Figure, Finish, Limit, Row, Uptake

FILES: dict[str, tuple[str, type[Row]]] = {
    "families.toml": ("family", Family),
    "dye_classes.toml": ("dye_class", DyeClass),
    "uptake.toml": ("uptake", Uptake),
    "finishes.toml": ("finish", Finish),
    "limits.toml": ("limit", Limit),
}
FAMILIES = (
    "seed cellulose", "bast cellulose", "regenerated cellulose", "keratin", "silk", "regenerated protein",
    "polyamide", "polyester", "cationic-dyeable polyester", "ptt polyester", "elastomultiester", "acrylic",
    "modacrylic", "acetate", "triacetate", "elastane", "polyolefin", "elastolefin",
    "polypropylene-polyamide bicomponent", "chlorofibre", "vinylal", "aramid", "polylactide", "rubber",
    "paper", "polyurethane coating", "alginate", "polyacrylate", "metal", "glass", "mineral", "fluorofibre",
    "high-performance", "rare",
)  # fmt: skip
ACID = ("acid levelling", "acid milling", "acid metal-complex")
DYE_CLASSES = (
    *ACID, "fibre-reactive cold", "fibre-reactive hot", "direct", "disperse", "basic", "vat", "indigo",
    "sulphur", "mordant", "all-purpose blend", "pigment",
)  # fmt: skip


@cache
def rows(file: str) -> tuple:  # type: ignore[type-arg]
    key, model = FILES[file]
    text = (rules_root() / "knowledge" / file).read_text(encoding="utf-8")
    return _rows(file, key, model, tomllib.loads(text)[key])


def by_id(file: str) -> dict:  # type: ignore[type-arg]
    return {row.id: row for row in rows(file)}


def take(family: str, dye_class: str) -> str:
    return next(u.take for u in rows("uptake.toml") if (u.family, u.dye_class) == (family, dye_class))


def assist(dye_class: str, role: str) -> Figure:
    uses = by_id("dye_classes.toml")[dye_class].assists
    return next(use.amount for use in uses if use.role == role and use.importance == "required")


def walk(value: object):  # type: ignore[no-untyped-def]
    """Every row inside a row."""
    if isinstance(value, Row):
        yield value
        for name in type(value).model_fields:
            yield from walk(getattr(value, name))
    elif isinstance(value, tuple):
        for member in value:
            yield from walk(member)


# ---- the tables themselves -------------------------------------------------------------------------


def test_every_family_and_class_is_there_once() -> None:
    assert tuple(f.id for f in rows("families.toml")) == FAMILIES
    assert tuple(c.id for c in rows("dye_classes.toml")) == DYE_CLASSES


def test_uptake_has_every_pair_once() -> None:
    pairs = [(u.family, u.dye_class) for u in rows("uptake.toml")]
    assert sorted(pairs) == sorted((f, c) for f in FAMILIES for c in DYE_CLASSES)


def test_conditions_are_one_short_text() -> None:
    for u in rows("uptake.toml"):
        assert 8 <= len(u.condition) <= 160, (u.family, u.dye_class)
        assert u.condition.endswith("."), (u.family, u.dye_class)


@pytest.mark.parametrize("file", ["dye_classes.toml", "finishes.toml", "families.toml"])
def test_no_word_means_two_rows(file: str) -> None:
    table = Table(file, rows(file))
    for row in rows(file):
        for word in (row.id, row.title, *row.synonyms):
            assert table.find(word) is row, word


def test_a_family_name_is_no_dye_class() -> None:
    table = Table("dye classes", rows("dye_classes.toml"))
    for word in ("acid", "fibre-reactive", "acid dye", "reactive", "reactive dye"):
        assert table.find(word) is None


@pytest.mark.parametrize("file", FILES)
def test_basis_follows_the_kind_of_source(file: str) -> None:
    kinds = {"published": "published", "from-memory": "from memory", "common-practice": "common practice"}
    for top in rows(file):
        for row in walk(top):
            if hasattr(row, "source"):
                assert kinds.get(row.source.split("/")[0], row.basis) == row.basis, (top, row)


@pytest.mark.parametrize("file", FILES)
def test_nothing_is_called_safe(file: str) -> None:
    text = (rules_root() / "knowledge" / file).read_text(encoding="utf-8").replace("safety data sheet", "")
    assert not re.search(r"safe", text, re.IGNORECASE)


def test_windows_are_possible() -> None:
    for c in rows("dye_classes.toml"):
        assert 0 < c.temperature.low < c.temperature.high <= 140, c.id
        assert 0 < c.ph.low < c.ph.high < 14, c.id
        assert 0 < c.hold.low < c.hold.high, c.id
        assert 0 < c.usual_depth.low < c.usual_depth.high, c.id
        assert 0 < c.fixation.low <= c.fixation.high <= 100, c.id
        assert 2 <= len(c.cautions) <= 5, c.id
    for f in rows("families.toml"):
        assert 0 < f.ph.low < f.ph.high <= 14, f.id
        assert 30 < f.heat_limit.low <= f.heat_limit.high, f.id
        assert 0 <= f.regain.low <= f.regain.high < 40, f.id
        assert 0.8 < f.density.low <= f.density.high, f.id


def test_a_fibre_dyed_fully_stands_the_coolest_bath_of_the_class() -> None:
    families, classes = by_id("families.toml"), by_id("dye_classes.toml")
    for u in rows("uptake.toml"):
        if u.take == "full":
            coolest, limit = classes[u.dye_class].temperature.low, families[u.family].heat_limit.low
            assert coolest <= limit, (u.family, u.dye_class)


def test_a_fibre_dyed_fully_by_acid_dye_stands_its_ph() -> None:
    families, classes = by_id("families.toml"), by_id("dye_classes.toml")
    for family in FAMILIES:
        for dye_class in ACID:
            if take(family, dye_class) == "full":
                bath, stands = classes[dye_class].ph, families[family].ph
                assert max(bath.low, stands.low) < min(bath.high, stands.high), (family, dye_class)


# ---- practice --------------------------------------------------------------------------------------


def test_common_practice_no_source_acid_dyeing_at_82_to_93_for_half_an_hour() -> None:
    for name in ACID:
        c = by_id("dye_classes.toml")[name]
        assert c.temperature.low <= 82
        assert c.temperature.high >= 93
        assert c.hold.low <= 30 <= c.hold.high


def test_common_practice_no_source_what_takes_acid_dye() -> None:
    for name in ACID:
        assert {take(f, name) for f in ("polyamide", "keratin", "silk")} == {"full"}
        assert take("polyester", name) == "none"
        assert take("seed cellulose", name) == "stain"
        assert take("elastane", name) in {"stain", "partial"}
        assert take("polyolefin", name) == "none"


def test_common_practice_no_source_other_classes() -> None:
    assert take("seed cellulose", "fibre-reactive cold") == "full"
    assert take("silk", "fibre-reactive cold") == "full"
    assert take("keratin", "fibre-reactive cold") == "damage"  # the soda ash bath
    assert take("polyester", "disperse") == "full"
    assert take("polyester", "all-purpose blend") == "none"
    assert take("acetate", "fibre-reactive hot") == "damage"
    cold = by_id("dye_classes.toml")["fibre-reactive cold"]
    assert cold.temperature.low <= 40 <= cold.temperature.high


def test_common_practice_no_source_usual_acid_doses_lie_inside() -> None:
    """Half a US cup of 5 % vinegar, or a tablespoon of citric acid, to the pound; 30 mL vinegar to 100 g."""
    acetic, citric, pound, us_cup = 60.05, 192.12, 0.45359237, 236.588
    half_cup = us_cup / 2 * 0.05 / acetic * 1000 / pound
    tablespoon = [3 * grams / citric * 1000 / pound for grams in (10, 15)]  # three acid groups
    base_plan = 30 * 0.05 / acetic * 1000 / 0.1
    assert half_cup == pytest.approx(217, abs=1)
    assert base_plan == pytest.approx(250, abs=1)
    for name in ACID:
        amount = assist(name, "acid")
        assert amount.unit == "mmol/kg"
        for dose in (half_cup, *tablespoon, base_plan):
            assert amount.low < dose < amount.high


def test_common_practice_no_source_nylon_with_elastane_at_88_is_not_harmed() -> None:
    families = by_id("families.toml")
    for name in ("polyamide", "elastane"):
        assert families[name].heat_limit.low > 88
        assert families[name].ph.low <= 3.4  # half a cup of vinegar to the pound in soft water, 20 L/kg


def test_common_practice_no_source_a_rise_of_one_and_a_half_suits_levelling_dyes_only() -> None:
    classes = by_id("dye_classes.toml")
    assert classes["acid levelling"].rise_limit.low > 1.5
    assert classes["acid milling"].rise_limit.high < 1.5


# ---- outside figures -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("family", "percent"),
    [
        ("seed cellulose", 8.5), ("seed cellulose", 10.5), ("bast cellulose", 12.0), ("bast cellulose", 17.0),
        ("regenerated cellulose", 13.0), ("keratin", 17.0), ("keratin", 18.25), ("silk", 11.0),
        ("regenerated protein", 17.0), ("polyamide", 5.75), ("polyamide", 6.25), ("polyester", 1.5),
        ("acrylic", 2.0), ("modacrylic", 2.0), ("acetate", 9.0), ("triacetate", 7.0), ("elastane", 1.5),
        ("polyolefin", 2.0), ("chlorofibre", 2.0), ("vinylal", 5.0), ("rubber", 1.0), ("paper", 13.75),
        ("alginate", 20.0), ("metal", 2.0), ("glass", 3.0), ("fluorofibre", 0.0),
    ],
)  # fmt: skip
def test_regain_holds_the_agreed_allowance(family: str, percent: float) -> None:
    """Austria, Textilpflegekennzeichnungsverordnung, Annex 2 (1975), seen.

    Annex IX of Regulation (EU) No 1007/2011 gives the same figures, from memory.
    """
    regain = by_id("families.toml")[family].regain
    assert regain.low <= percent <= regain.high


@pytest.mark.parametrize(
    ("family", "percent"),
    [("seed cellulose", 7.5), ("keratin", 16.0), ("silk", 10.0), ("bast cellulose", 12.0)],
)
def test_regain_holds_the_figure_at_65_percent_humidity(family: str, percent: float) -> None:
    """Bioresources and Bioprocessing (2020) s40643-020-00339-1, table 10, after Morton and Hearle."""
    regain = by_id("families.toml")[family].regain
    assert regain.low <= percent <= regain.high


@pytest.mark.parametrize(
    ("family", "density"),
    [
        ("seed cellulose", 1.52), ("regenerated cellulose", 1.50), ("keratin", 1.31), ("silk", 1.33),
        ("polyamide", 1.14), ("polyester", 1.38), ("acrylic", 1.17), ("acetate", 1.32), ("elastane", 1.2),
        ("polyolefin", 0.91), ("glass", 2.56),
    ],
)  # fmt: skip
def test_density(family: str, density: float) -> None:
    """Morton and Hearle, Physical Properties of Textile Fibres (2008), from memory.

    Elastane: Museum of Fine Arts Boston, CAMEO, entry Spandex fiber.
    """
    figure = by_id("families.toml")[family].density
    assert figure.low <= density <= figure.high


def test_direct_dyes_as_in_broadbent() -> None:
    """Broadbent, Basic Principles of Textile Coloration (2001), pp. 290-291.

    Salt 5-20 % owf; from 50 degC to the boil in 30 to 40 min, up to an hour there.
    """
    direct = by_id("dye_classes.toml")["direct"]
    salt = next(use.amount for use in direct.assists if use.role == "salt")
    assert (salt.low, salt.high, salt.unit) == (5, 20, "% owf")
    assert direct.temperature.high == 100
    assert direct.hold.high == 60
    assert direct.rise_limit.high == pytest.approx((100 - 50) / 30, abs=0.05)


def test_vat_dyes_as_in_broadbent() -> None:
    """Broadbent (2001), table 17.1: caustic soda 1.5 to 7.5 g/L, 20 to 60 degC over the three groups."""
    vat = by_id("dye_classes.toml")["vat"]
    assert (assist("vat", "alkali").low, assist("vat", "alkali").high) == (1.5, 7.5)
    assert (vat.temperature.low, vat.temperature.high) == (20, 60)


@pytest.mark.parametrize(
    ("dye_class", "low", "high"),
    [("acid levelling", 80, 93), ("basic", 97, 98), ("direct", 70, 95), ("disperse", 80, 92),
     ("sulphur", 60, 70), ("vat", 80, 95), ("fibre-reactive cold", 60, 90)],
)  # fmt: skip
def test_fixation_holds_the_epa_range(dye_class: str, low: float, high: float) -> None:
    """US EPA, Profile of the Textile Industry, EPA/310-R-97-009 (1997), table of typical fixation."""
    fixation = by_id("dye_classes.toml")[dye_class].fixation
    assert fixation.low <= low
    assert fixation.high >= high


def test_acetate_stays_at_85_degrees() -> None:
    """Efficiency Finder (2013), section on cellulose acetate: 80-85 degC, 90 degC for faster dyes, pH 5-6."""
    acetate, disperse = by_id("families.toml")["acetate"], by_id("dye_classes.toml")["disperse"]
    assert (acetate.heat_limit.low, acetate.heat_limit.high) == (85, 90)
    assert disperse.temperature.low <= 80
    assert disperse.ph.low <= 5 < 6 <= disperse.ph.high


# ---- limits ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value", "unit"),
    [
        ("lift_heavy", 23, "kg"),  # NIOSH publication 94-110, load constant
        ("ph_drain_low", 6, "pH"),  # 40 CFR 414.21
        ("ph_drain_high", 9, "pH"),  # 40 CFR 414.21
        ("ph_sewer_low", 5, "pH"),  # 40 CFR 403.5(b)(2)
        ("drain_temperature", 40, "degC"),  # 40 CFR 403.5(b)(5)
        ("corrosive_ph_low", 2, "pH"),  # 40 CFR 261.22
        ("corrosive_ph_high", 12.5, "pH"),  # 40 CFR 261.22
        ("label_unnamed_share", 5, "%"),  # 16 CFR 303.6
    ],
)
def test_limits_from_documents(name: str, value: float, unit: str) -> None:
    figure = by_id("limits.toml")[name].figure
    assert (figure.low, figure.high, figure.unit) == (value, value, unit)


@pytest.mark.parametrize(("name", "fahrenheit"), [("scald_slow", 120), ("scald_fast", 140)])
def test_scald_limits_in_fahrenheit(name: str, fahrenheit: float) -> None:
    """US Consumer Product Safety Commission, Document 5098: 5 min at 120 degF, 6 s at 140 degF."""
    assert by_id("limits.toml")[name].figure.low == pytest.approx((fahrenheit - 32) / 1.8, abs=0.2)


def test_only_measures_get_ranges() -> None:
    """A rule compares with one number, so only figures that measures use may be ranges."""
    ranges = {limit.id for limit in rows("limits.toml") if limit.figure.low != limit.figure.high}
    assert ranges == {"powder_bulk_density", "plant_pieces_bulk_density", "liquid_dye_density", "tap_water"}


@pytest.mark.parametrize(
    "ladder",
    [
        ("liquor_ratio_mottled", "liquor_ratio_least", "liquor_ratio_even"),
        ("liquor_ratio_even", "liquor_ratio_plan", "liquor_ratio_wasteful"),
        ("fill_low", "fill_hot", "fill_full"),
        ("weighing_error_coarse", "weighing_error_wild"),
        ("small_share", "dyeable_share_least", "dyeable_share_low", "dyeable_share_full"),
        ("warm_bath", "scald_slow", "scald_fast", "scald_instant"),
        ("lift_hot", "lift_caution", "lift_heavy"),
        ("corrosive_ph_low", "ph_sewer_low", "ph_drain_low", "ph_drain_high", "corrosive_ph_high"),
        ("scald_moment", "scald_seconds"),
    ],
)
def test_limits_stand_in_order(ladder: tuple[str, ...]) -> None:
    figures = [by_id("limits.toml")[name].figure for name in ladder]
    assert len({figure.unit for figure in figures}) == 1
    assert [figure.low for figure in figures] == sorted({figure.low for figure in figures})
