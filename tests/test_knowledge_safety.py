"""The safety tables: substances, gear, vessels, heat, rooms, people, places, pairs.

Each table is loaded on its own, so that a fault in another table cannot hide one here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from itertools import combinations
from typing import Any

import pytest

from advisor import knowledge as kb
from advisor.paths import rules_root
from advisor.rows import Row, Substance

FILES = (
    "substances.toml",
    "vessels.toml",
    "heat.toml",
    "gear.toml",
    "rooms.toml",
    "people.toml",
    "places.toml",
    "contents.toml",
    "pairs.toml",
)

# The closed lists of the design document.
DESIGN = {
    "substance": (
        "white vinegar|acetic acid|citric acid|formic acid|"
        "sulfuric acid|oxalic acid|tannic acid|cream of tartar|"
        "ammonium sulfate|ammonia|salt|sodium sulfate|"
        "soda ash|sodium bicarbonate|sodium hydroxide|calcium hydroxide|"
        "sodium hydrosulfite|thiourea dioxide|urea|hydrogen peroxide|"
        "sodium hypochlorite bleach|alum|iron(II) sulfate|"
        "copper(II) sulfate|tin(II) chloride|potassium dichromate|wetting agent|"
        "dye carrier|levelling agent|thickener|"
        "acid dye|metal-complex dye|reactive dye|direct dye|disperse dye|"
        "basic dye|vat dye|indigo dye|sulphur dye|"
        "natural dye|all-purpose dye|pigment dispersion"
    ),
    "material": (
        "stainless steel|enamel|glass|aluminium|copper|"
        "cast iron|brass|galvanised steel|non-stick coated|HDPE plastic|"
        "PP plastic|wood|bamboo|silicone|ceramic"
    ),
    "heat_source": (
        "none|electric hob|induction hob|gas hob|camping stove|"
        "charcoal|wood fire|microwave|slow cooker|pressure cooker|"
        "steamer|washing machine|urn"
    ),
    "gear": (
        "nitrile gloves|household rubber gloves|latex gloves|thin disposable gloves|heat-resistant gloves|"
        "half-mask respirator P100|N95 respirator|FFP2 respirator|FFP3 respirator|surgical mask|cloth mask|"
        "safety glasses|splash goggles|face shield|apron|long sleeves|closed shoes|lab coat|hair tied back"
    ),
    "person": "child|teenager|pregnant|breastfeeding|asthma|dye allergy|untrained helper|pet|older adult",
    "space": "kitchen|laundry room|bathroom|studio|garage|classroom|outdoors",
    "ventilation": "none|window open|fan to outdoors|fume hood|outdoors",
    "drain": "sewer|septic|storm drain|ground|collected",
    "leftover": "none|labelled jar|food jar|open vessel",
    "place": "international|US|CA|GB|IE|DE|FR|ES|IT|NL|PL|SE|AU|NZ",
}

# GHS hazard statements in the standard's own words (UN GHS; EUH: Regulation (EC) No 1272/2008
# Annex II) - from memory.
STATEMENTS = {
    "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour",
    "H272": "May intensify fire; oxidizer",
    "H290": "May be corrosive to metals",
    "H302": "Harmful if swallowed",
    "H314": "Causes severe skin burns and eye damage",
    "H315": "Causes skin irritation",
    "H317": "May cause an allergic skin reaction",
    "H318": "Causes serious eye damage",
    "H319": "Causes serious eye irritation",
    "H334": "May cause allergy or asthma symptoms or breathing difficulties if inhaled",
    "H335": "May cause respiratory irritation",
    "H350": "May cause cancer",
    "H410": "Very toxic to aquatic life with long lasting effects",
    "EUH031": "Contact with acids liberates toxic gas",
}

UNSAID = re.compile(r"\b(safe|safer|safest|safely)\b", re.IGNORECASE)


def _load() -> dict[str, tuple[Any, ...]]:
    tables: dict[str, tuple[Any, ...]] = {}
    for file in FILES:
        data = tomllib.loads((rules_root() / "knowledge" / file).read_text(encoding="utf-8"))
        for key, model in kb._FILES[file]:
            tables[key] = kb._rows(file, key, model, data.get(key, []))
    return tables


TABLES = _load()
SUBSTANCES: dict[str, Substance] = {row.id: row for row in TABLES["substance"]}
HAZARDS = [(row, hazard) for row in TABLES["substance"] for hazard in row.hazards]


def _rows_within(value: Any) -> Iterator[Row]:
    if isinstance(value, Row):
        yield value
        for name in type(value).model_fields:
            yield from _rows_within(getattr(value, name))
    elif isinstance(value, tuple):
        for member in value:
            yield from _rows_within(member)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for member in value:
            yield from _texts(member)
    elif isinstance(value, Row):
        for name in type(value).model_fields:
            yield from _texts(getattr(value, name))


@pytest.mark.parametrize("key", sorted(DESIGN))
def test_every_id_of_the_design_is_there(key: str) -> None:
    missing = set(DESIGN[key].split("|")) - {row.id for row in TABLES[key]}
    assert not missing


def test_there_are_enough_substances_and_places() -> None:
    assert len(SUBSTANCES) >= 45
    assert len(TABLES["place"]) >= 13


@pytest.mark.parametrize(
    "key",
    [
        "substance",
        "material",
        "heat_source",
        "gear",
        "space",
        "ventilation",
        "drain",
        "leftover",
        "person",
        "place",
    ],
)
def test_no_word_means_two_rows(key: str) -> None:
    owner: dict[str, str] = {}
    for row in TABLES[key]:
        for word in {kb.fold_word(w) for w in (row.id, row.title, *row.synonyms) if w}:
            first = owner.setdefault(word, row.id)
            assert first == row.id, f"{word!r} means {first!r} and {row.id!r}"


@pytest.mark.parametrize(
    "word", ["rubber gloves", "respirator", "dust mask", "mask", "goggles", "gloves", "disposable gloves"]
)
def test_loose_words_for_gear_name_no_item(word: str) -> None:
    assert kb.Table("gear", TABLES["gear"]).find(word) is None


def test_nothing_shown_says_safe() -> None:
    said = [text for rows in TABLES.values() for row in rows for text in _texts(row) if UNSAID.search(text)]
    assert said == []


def test_exposures_named_are_known() -> None:
    known = {row.id for row in TABLES["exposure"]}
    named = {e for row in TABLES["gear"] for e in (*row.protects, *row.mistaken_for)}
    named |= {e for row in TABLES["substance"] for need in row.gear for e in need.exposures}
    assert named <= known


def test_every_exposure_a_substance_brings_has_gear_that_stops_it() -> None:
    stopped = {e for row in TABLES["gear"] for e in row.protects}
    brought = {e for row in TABLES["substance"] for need in row.gear for e in need.exposures}
    assert brought <= stopped


def test_no_gear_both_stops_and_is_mistaken_for_one_exposure() -> None:
    assert [row.id for row in TABLES["gear"] if set(row.protects) & set(row.mistaken_for)] == []


def test_what_gear_stops_and_does_not() -> None:
    gear = {row.id: row for row in TABLES["gear"]}
    # Particle filters hold back no vapour: Occupational Health & Safety, October 2006 (N95), 42 CFR
    # 84 - published.
    for name in ("half-mask respirator P100", "N95 respirator", "FFP2 respirator", "FFP3 respirator"):
        assert "dust to lungs" in gear[name].protects
        assert "vapour to lungs" in gear[name].mistaken_for
    # Cloth and surgical masks are no respirators: NIOSH and OSHA guidance - from memory.
    for name in ("cloth mask", "surgical mask"):
        assert gear[name].protects == ()
        assert "dust to lungs" in gear[name].mistaken_for
    # Common practice, no source.
    assert "hot liquor on hands" in gear["thin disposable gloves"].mistaken_for
    assert "splash to eyes" in gear["safety glasses"].mistaken_for
    assert "sensitiser dust to lungs" not in gear["N95 respirator"].protects


@pytest.mark.parametrize("row", [r for r in TABLES["substance"] if r.cas], ids=lambda r: r.id)
def test_cas_check_digit(row: Substance) -> None:
    # The CAS rule: last digit = sum of the others, each times its place from the right, modulo 10.
    assert row.cas is not None
    assert re.fullmatch(r"\d{2,7}-\d\d-\d", row.cas)
    *digits, check = (int(c) for c in row.cas.replace("-", ""))
    assert sum(n * d for n, d in enumerate(reversed(digits), start=1)) % 10 == check


# IUPAC conventional atomic weights, rounded; from memory.
WEIGHTS = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.990,
    "Al": 26.982,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
    "Cr": 51.996,
    "Mn": 54.938,
    "Fe": 55.845,
    "Cu": 63.546,
    "Sn": 118.71,
}


def _mass_of(formula: str) -> float:
    """Mass of a formula such as KAl(SO4)2.12H2O, in g/mol."""
    total = 0.0
    for part in formula.split("."):
        front = re.match(r"\d+", part)
        factor = int(front[0]) if front else 1
        body = part[front.end() :] if front else part
        while inner := re.search(r"\(([^()]*)\)(\d*)", body):
            body = body[: inner.start()] + inner[1] * int(inner[2] or 1) + body[inner.end() :]
        assert re.fullmatch(r"([A-Z][a-z]?\d*)+", body), formula
        total += factor * sum(WEIGHTS[e] * int(n or 1) for e, n in re.findall(r"([A-Z][a-z]?)(\d*)", body))
    return total


@pytest.mark.parametrize("row", [r for r in TABLES["substance"] if r.formula and r.molar_mass], ids=lambda r: r.id)
def test_molar_mass_is_that_of_the_formula(row: Substance) -> None:
    assert row.formula is not None
    assert row.molar_mass is not None
    assert row.molar_mass.low == pytest.approx(_mass_of(row.formula), abs=0.06)


# The Python package chemicals 1.5.2 has these wrong, or means another form (ammonia: NH4OH, here NH3).
NOT_IN_CHEMICALS = {"cream of tartar", "ammonia", "alum", "tin(II) chloride"}


@pytest.mark.parametrize("row", [r for r in TABLES["substance"] if r.cas and r.molar_mass], ids=lambda r: r.id)
def test_molar_mass_agrees_with_the_package_chemicals(row: Substance) -> None:
    # Outside check: Python package chemicals 1.5.2, by CAS number.
    chemicals = pytest.importorskip("chemicals")
    if row.id in NOT_IN_CHEMICALS:
        pytest.skip("the package has another form under this number")
    assert row.molar_mass is not None
    assert chemicals.MW(row.cas) == pytest.approx(row.molar_mass.low, abs=0.03)


@pytest.mark.parametrize(
    ("name", "mol"),
    [
        ("acetic acid", 1),
        ("white vinegar", 1),
        ("formic acid", 1),
        ("citric acid", 3),
        ("oxalic acid", 2),
        ("sulfuric acid", 2),
        ("soda ash", 2),
        ("sodium bicarbonate", 1),
        ("sodium hydroxide", 1),
        ("calcium hydroxide", 2),
        ("ammonia", 1),
    ],
)
def test_titratable_acid_and_alkali(name: str, mol: int) -> None:
    # Textbook stoichiometry - from memory.
    equivalents = SUBSTANCES[name].equivalents
    assert equivalents is not None
    assert (equivalents.low, equivalents.high) == (mol, mol)


def test_vinegar_is_a_solution_of_acetic_acid() -> None:
    # US FDA Compliance Policy Guide 525.825: not below 4 g acetic acid in 100 mL - published.
    vinegar = SUBSTANCES["white vinegar"]
    assert vinegar.active == "acetic acid"
    assert vinegar.strength is not None
    assert vinegar.strength.low == 4


def test_crystal_forms_of_soda_differ_by_their_water() -> None:
    # Formula masses: 286.14 / 105.99 = 2.70 - by hand, from memory.
    assert SUBSTANCES["washing soda"].molar_mass is not None
    assert SUBSTANCES["soda ash"].molar_mass is not None
    ratio = SUBSTANCES["washing soda"].molar_mass.low / SUBSTANCES["soda ash"].molar_mass.low
    assert ratio == pytest.approx(2.70, abs=0.005)


def test_hazard_statements_are_the_standards_own_words() -> None:
    for row, hazard in HAZARDS:
        assert re.fullmatch(r"(H[2-4]\d\d[A-Za-z]{0,2}|EUH\d{3})", hazard.code), f"{row.id}: {hazard.code}"
        if hazard.code in STATEMENTS:
            assert hazard.statement == STATEMENTS[hazard.code], f"{row.id}: {hazard.code}"
    seen: dict[str, set[str]] = {}
    for _, hazard in HAZARDS:
        seen.setdefault(hazard.code, set()).add(hazard.statement)
    assert {code for code, words in seen.items() if len(words) > 1} == set()


def test_concentration_bands_are_bands() -> None:
    for row, hazard in HAZARDS:
        assert 0 <= hazard.from_percent < hazard.below_percent <= 100.1, f"{row.id}: {hazard.code}"
    for row in TABLES["substance"]:
        for one, other in combinations(row.hazards, 2):
            if one.code == other.code:
                apart = one.below_percent <= other.from_percent or other.below_percent <= one.from_percent
                assert apart, f"{row.id}: two bands of {one.code} overlap"


def test_ghs_signal_words_are_ghs_ones_and_fit_the_statements() -> None:
    # UN GHS Annex 3: these statements go with the signal word Danger - from memory.
    danger = {
        "H225",
        "H251",
        "H271",
        "H301",
        "H311",
        "H314",
        "H318",
        "H330",
        "H331",
        "H334",
        "H340",
        "H350",
        "H360",
        "H360FD",
        "H372",
    }
    for row in TABLES["substance"]:
        assert row.ghs_signal_word in ("Danger", "Warning", "none", "depends on product")
        at_full_strength = {h.code for h in row.hazards if h.below_percent > 100 and h.from_percent == 0}
        if at_full_strength & danger:
            assert row.ghs_signal_word in ("Danger", "depends on product"), row.id


@pytest.mark.parametrize(
    ("name", "percent", "codes"),
    [
        # ILO and WHO International Chemical Safety Cards 1135, 1416, 1461, 1744, 0707 - published.
        ("soda ash", 100, {"H319"}),
        ("copper(II) sulfate", 100, {"H302", "H318", "H410"}),
        ("sodium metabisulfite", 100, {"H302", "H318", "H402"}),
        ("sodium percarbonate", 100, {"H272", "H302", "H319", "H335", "H401"}),
        ("oxalic acid", 100, {"H302", "H314", "H335"}),
        # GisChem, German statutory accident insurers: iron(II) sulfate; hydrogen peroxide 8 to under 35
        # % - published.
        ("iron(II) sulfate", 100, {"H302", "H315", "H319"}),
        ("hydrogen peroxide", 30, {"H272", "H302", "H318"}),
        # Safety data sheet for acetic acid no. 0000001037 - published.
        ("acetic acid", 99, {"H226", "H314"}),
        # Regulation (EC) No 1272/2008 Annex VI, acetone - published in a reproduction.
        ("acetone", 100, {"H225", "H319", "H336"}),
    ],
)
def test_classification_seen_in_documents(name: str, percent: float, codes: set[str]) -> None:
    found = {h.code for h in SUBSTANCES[name].hazards if h.from_percent <= percent < h.below_percent}
    assert codes <= found


@pytest.mark.parametrize("percent", [3.0, 4.9])
def test_weak_peroxide_is_not_called_corrosive(percent: float) -> None:
    # European Chemicals Agency registry, entry 008-003-00-9: limits start above these strengths - 5
    # % from memory.
    assert [
        h.code for h in SUBSTANCES["hydrogen peroxide"].hazards if h.from_percent <= percent < h.below_percent
    ] == []


def test_kitchen_vinegar_has_no_hazard_statement() -> None:
    # Regulation (EC) No 1272/2008 Annex VI, acetic acid: irritant from 10 % - from memory.
    assert SUBSTANCES["white vinegar"].hazards == ()
    assert min(h.from_percent for h in SUBSTANCES["acetic acid"].hazards) == 10


def test_share_of_published_hazard_rows(capsys: pytest.CaptureFixture[str]) -> None:
    published = sum(hazard.basis == "published" for _, hazard in HAZARDS)
    share = published / len(HAZARDS)
    with capsys.disabled():
        print(f"\nhazard rows: {len(HAZARDS)}, published {published} ({share:.0%})")
    assert share >= 0.60


def test_exposure_limits_say_whose_and_in_which_unit() -> None:
    limits = [(row, limit) for row in TABLES["substance"] for limit in row.limits]
    assert len(limits) > 40
    for row, limit in limits:
        assert limit.whose in ("OSHA", "NIOSH", "ACGIH", "EU"), row.id
        assert limit.limit.unit in ("ppm", "mg/m^3"), row.id
        assert limit.limit.low > 0


def test_exposure_limits_seen_in_documents() -> None:
    # OSHA chemical data 469 and NIOSH PEL documentation 1988: acetic acid 10 ppm, 15 ppm for 15 min
    # - published.
    # NIOSH Pocket Guide, calcium hydroxide: REL 5 mg/m3 - published.
    def value(name: str, whose: str, kind: str) -> float:
        return next(x.limit.low for x in SUBSTANCES[name].limits if x.whose == whose and x.kind == kind)

    assert value("acetic acid", "OSHA", "8 h") == 10
    assert value("acetic acid", "NIOSH", "15 min") == 15
    assert value("calcium hydroxide", "NIOSH", "8 h") == 5


def test_every_substance_says_what_to_do() -> None:
    for row in TABLES["substance"]:
        assert 1 <= len(row.cautions) <= 4, row.id
        assert all((row.drain, row.storage, row.effects)), row.id
        assert "safety data sheet" in row.first_aid, row.id


def test_a_published_row_names_where_it_was_seen() -> None:
    for rows in TABLES.values():
        for row in rows:
            for inner in _rows_within(row):
                source, basis = getattr(inner, "source", None), getattr(inner, "basis", None)
                if basis == "published":
                    assert source, row
                    assert not source.startswith(("common-practice/", "memory/")), row
                if basis == "common practice":
                    assert source, row
                    assert source.startswith("common-practice/"), row


def test_vessels_against_textbook_chemistry() -> None:
    # Textbook corrosion - from memory; stainless or enamel pots for dyeing - common practice, no source.
    vessels = {row.id: row for row in TABLES["material"]}
    for name in ("stainless steel", "enamel"):
        assert vessels[name].acid == vessels[name].alkali == "fine"
    assert vessels["aluminium"].alkali == vessels["aluminium"].acid == "attacked"
    assert vessels["galvanised steel"].acid == "attacked"
    assert vessels["HDPE plastic"].heat_limit.high < 100


def test_fuel_burners_are_marked() -> None:
    # US CPSC document 5012: charcoal and camping burners indoors - published.
    burning = {row.id for row in TABLES["heat_source"] if row.combustion == "yes"}
    assert burning == {"gas hob", "camping stove", "charcoal", "wood fire"}
    assert {row.id for row in TABLES["heat_source"] if row.sealed == "yes"} == {"pressure cooker"}


def test_pairs_name_known_things_once() -> None:
    roles = {role for row in TABLES["substance"] for role in row.roles}
    groups = {group for row in TABLES["substance"] for group in row.reactivity_groups}
    known = set(SUBSTANCES) | roles | groups | {row.id for row in TABLES["material"]}
    pairs = [frozenset((p.a, p.b)) for p in TABLES["pair"]]
    assert {name for pair in pairs for name in pair} <= known
    assert len(set(pairs)) == len(pairs)


def test_pair_codes_are_those_of_the_chart() -> None:
    # Hatayama et al. 1980, EPA-600/2-80-076: reaction codes - published in part, the rest from memory.
    assert {c for p in TABLES["pair"] for c in p.codes} <= {"H", "F", "G", "GT", "GF", "E", "P", "S", "U"}
    for pair in TABLES["pair"]:
        assert pair.outcome != "dangerous" or pair.codes, f"{pair.a} + {pair.b}"


def test_azo_dye_in_vinegar_is_no_dangerous_pair() -> None:
    # The chart's group 8 means reactive diazo compounds, not azo dyes - published trap.
    dyes = {row.id for row in TABLES["substance"] if "dye" in row.roles} - {"sulphur dye"}
    for pair in TABLES["pair"]:
        if {pair.a, pair.b} & dyes:
            assert pair.outcome != "dangerous", f"{pair.a} + {pair.b}"


@pytest.mark.parametrize(
    ("a", "b"),
    [
        # CDC MMWR 1991; International Chemical Safety Card 1717; 40 CFR 265 Appendix V; UK HSE - published.
        ("sodium hypochlorite bleach", "acid"),
        ("sodium hypochlorite bleach", "ammonia"),
        ("sodium hydrosulfite", "acid"),
        ("sulphur dye", "acid"),
        ("oxidising agent", "reducing agent"),
    ],
)
def test_the_gravest_pairs_are_dangerous(a: str, b: str) -> None:
    assert next(p for p in TABLES["pair"] if {p.a, p.b} == {a, b}).outcome == "dangerous"


@pytest.mark.parametrize(
    ("place", "emergency", "poison"),
    [
        # US poison control centre; Queensland Poisons Information Centre; NZ National Poisons Centre -
        # published.
        ("US", "911", "1-800-222-1222"),
        ("AU", "000", "13 11 26"),
        ("NZ", "111", "0800 764 766"),
    ],
)
def test_emergency_numbers_seen(place: str, emergency: str, poison: str) -> None:
    row = next(p for p in TABLES["place"] if p.id == place)
    assert emergency in row.emergency
    assert poison in row.poison


@pytest.mark.parametrize("name", ["sodium hypochlorite", "bleach ", "aluminium"])
def test_a_pair_of_what_is_in_no_table_is_refused(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A slip in an id would leave the gravest rows without effect."""
    load = kb._load

    def slipped(folder: Any, file: str) -> dict[str, tuple[Any, ...]]:
        rows = load(folder, file)
        if file == "pairs.toml":
            first, *rest = rows["pair"]
            rows["pair"] = (first.model_copy(update={"a": name}), *rest)
        return rows

    monkeypatch.setattr(kb, "_load", slipped)
    with pytest.raises(kb.TableError, match=r"pairs\.toml: .*: a: .* is not a known id"):
        kb.Knowledge(rules_root() / "knowledge")


def test_choices_are_words_of_their_fields() -> None:
    k = kb.knowledge()
    known = {
        "vessel.material": k.materials, "utensils.*.material": k.materials, "dyes.*.class": k.dye_classes,
        "bath.heat_source": k.heat_sources, "space.kind": k.spaces, "space.ventilation": k.ventilation,
        "aftercare.drain": k.drains, "aftercare.leftover": k.leftovers, "people.wearing": k.gear,
    }  # fmt: skip
    assert set(k.choices) == set(known)
    assert not [(field, word) for field, words in k.choices.items() for word in words if word not in known[field].ids]
