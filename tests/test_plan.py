"""The plan file: what it may say, and how bad input is refused. The sample is section 4 of the design."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from advisor.cases import base_plan, changed
from advisor.cli import main
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.plan import LARGEST_FILE, InputError, Plan, Section, load_plan, read_plan
from advisor.plan_values import MOST_ENTRIES
from advisor.quantities import Quantity

SAMPLE = """\
title = "Scarf yarn, slate blue"
place = "GB"                         # ISO 3166-1; picks emergency numbers and pointers to local rules

[[goods]]
name = "sock yarn"
fibres = "75% wool, 25% nylon"       # label text, or a table {wool = 75, nylon = 25}
dry_mass = "200 g"
colour = "undyed"                    # undyed | dyed | unknown
finishes = []                        # e.g. "water repellent", "easy care"; omitted = unknown
next_to_skin = true
trims = []                           # parts of another fibre: sewing thread, zip, elastic, label

[[dyes]]
name = "slate"
class = "acid levelling"             # an id or a name from rules/knowledge/dye_classes.toml
form = "powder"                      # powder | granules | liquid | paste | solution
amount = "3 g"                       # mass, volume, spoons, or a share such as "1.5 %" of the weight of goods
strength = "100 %"                   # of a stock solution: "1 %" = 1 g in 100 mL
maximum = "2 %"                      # the maker's maximum on the weight of goods
safety_data_sheet = "read"           # read | not read | unknown
contains = []                        # e.g. "chromium", "cobalt", "copper"

[[assists]]                          # acid, alkali, salt, reducing agent, mordant…
substance = "white vinegar"
amount = "100 mL"
strength = "5 %"

[bath]
water = "6 L"
temperature = "90 degC"
hold = "30 min"
rise = "1.5 delta_degC/min"
heat_source = "electric hob"
attended = true
stirring = true
alkalinity = "150 mg/L"              # as CaCO3, from the water report
shade = "even"                       # even | mottled

[vessel]
material = "stainless steel"
capacity = "10 L"
condition = "sound"                  # sound | chipped | worn coating
used_for_food = false
lid = true

[[utensils]]
name = "tongs"
material = "stainless steel"
used_for_food = false

[scale]
resolution = "0.1 g"

[people]
wearing = ["nitrile gloves", "half-mask respirator P100", "splash goggles", "apron", "long sleeves", "closed shoes", "heat-resistant gloves"]
present = []                         # child, pregnant, asthma, dye allergy, pet, untrained helper…

[space]
kind = "laundry room"                # kitchen | laundry room | bathroom | studio | garage | classroom | outdoors
volume = "20 m^3"
ventilation = "window open"          # none | window open | fan to outdoors | fume hood | outdoors
food_out = false

[aftercare]
rinse_water = "4 L"                  # each rinse
drain = "sewer"                      # sewer | septic | storm drain | ground | collected
leftover = "none"                    # none | labelled jar | food jar | open vessel
"""  # noqa: E501

# every field of the sample: (kind, value in the canonical unit) for a quantity
SAID: dict[str, Any] = {
    "title": "Scarf yarn, slate blue",
    "place": "GB",
    "goods.0.name": "sock yarn",
    "goods.0.fibres": {"wool": 75.0, "nylon": 25.0},
    "goods.0.dry_mass": ("mass", 200.0),
    "goods.0.colour": "undyed",
    "goods.0.finishes": (),
    "goods.0.next_to_skin": True,
    "goods.0.trims": (),
    "dyes.0.name": "slate",
    "dyes.0.class": "acid levelling",
    "dyes.0.form": "powder",
    "dyes.0.amount": ("mass", 3.0),
    "dyes.0.strength": ("fraction", 100.0),
    "dyes.0.maximum": ("fraction", 2.0),
    "dyes.0.safety_data_sheet": "read",
    "dyes.0.contains": (),
    "assists.0.substance": "white vinegar",
    "assists.0.amount": ("volume", 0.1),
    "assists.0.strength": ("fraction", 5.0),
    "bath.water": ("volume", 6.0),
    "bath.temperature": ("temperature", 90.0),
    "bath.hold": ("time", 30.0),
    "bath.rise": ("heating rate", 1.5),
    "bath.heat_source": "electric hob",
    "bath.attended": True,
    "bath.stirring": True,
    "bath.alkalinity": ("alkalinity", 150.0),
    "bath.shade": "even",
    "vessel.material": "stainless steel",
    "vessel.capacity": ("volume", 10.0),
    "vessel.condition": "sound",
    "vessel.used_for_food": False,
    "vessel.lid": True,
    "utensils.0.name": "tongs",
    "utensils.0.material": "stainless steel",
    "utensils.0.used_for_food": False,
    "scale.resolution": ("mass", 0.1),
    "people.wearing": (
        "nitrile gloves",
        "half-mask respirator P100",
        "splash goggles",
        "apron",
        "long sleeves",
        "closed shoes",
        "heat-resistant gloves",
    ),
    "people.present": (),
    "space.kind": "laundry room",
    "space.volume": ("room volume", 20.0),
    "space.ventilation": "window open",
    "space.food_out": False,
    "aftercare.rinse_water": ("volume", 4.0),
    "aftercare.drain": "sewer",
    "aftercare.leftover": "none",
}


def sample(change: dict[str, Any] | None = None) -> dict[str, Any]:
    return changed(tomllib.loads(SAMPLE), change or {})


def at(plan: Plan, path: str) -> Any:
    """What a plan holds at a dotted path of the file."""
    node: Any = plan
    for step in path.split("."):
        node = node[int(step)] if step.isdigit() else getattr(node, {"class": "dye_class"}.get(step, step))
    return node


def leaves(data: Any, path: str = "") -> Iterator[str]:
    """The dotted paths of plan data; a list of words is a leaf."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from leaves(value, f"{path}.{key}" if path else key)
    elif isinstance(data, list) and data and isinstance(data[0], dict):
        for number, value in enumerate(data):
            yield from leaves(value, f"{path}.{number}")
    else:
        yield path


def refused(path: str, value: Any) -> InputError:
    """The error for the sample with one thing changed."""
    with pytest.raises(InputError) as caught:
        read_plan(sample({path: value}), file="scarf.toml")
    return caught.value


def refused_file(path: Path, content: bytes | None = None) -> str:
    """The error for a file."""
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_plan(path)
    return str(caught.value)


# ---- what is understood


def test_every_field_of_the_sample_is_read_as_it_stands() -> None:
    plan = read_plan(sample())
    assert sorted(leaves(sample())) == sorted(SAID)
    for path, said in SAID.items():
        got = at(plan, path)
        if (
            isinstance(said, tuple)
            and said
            and said[0]
            in {"mass", "volume", "fraction", "temperature", "time", "heating rate", "alkalinity", "room volume"}
        ):
            assert isinstance(got, Quantity)
            assert (got.kind, got.interval, got.stated) == (said[0], Interval.point(said[1]), True), path
        elif path == "goods.0.fibres":
            (part,) = got.parts
            assert {c.fibre: c.share for c in part.components} == {f: Interval.point(s) for f, s in said.items()}
        else:
            assert got == said, path
            assert type(got) is type(said), path


def test_json_is_read_like_toml(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(SAMPLE, encoding="utf-8")
    (tmp_path / "plan.json").write_text(json.dumps(sample()), encoding="utf-8")
    assert load_plan(tmp_path / "plan.toml") == load_plan(tmp_path / "plan.json") == read_plan(sample())


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    for name, text in (("plan.toml", SAMPLE), ("plan.JSON", json.dumps(sample()))):
        (tmp_path / name).write_bytes(b"\xef\xbb\xbf" + text.encode())
        assert load_plan(tmp_path / name) == read_plan(sample())


def test_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_bytes(SAMPLE.replace("\n", "\r\n").encode())
    assert load_plan(tmp_path / "plan.toml") == read_plan(sample())


def test_fibres_as_a_table_or_as_label_text() -> None:
    plan = read_plan(sample({"goods.0.fibres": {"wool": 75, "nylon": 25}}))
    said = [(c.fibre, c.share) for c in at(plan, "goods.0.fibres").parts[0].components]
    assert said == [(c.fibre, c.share) for c in at(read_plan(sample()), "goods.0.fibres").parts[0].components]


BARE = read_plan({"goods": [{}], "dyes": [{}], "assists": [{}], "utensils": [{}]})
# a name is no input of any rule, and a plan without goods or dyes is none
UNKNOWABLE = [path for path in SAID if not path.endswith(("name", "title"))]


@pytest.mark.parametrize("path", UNKNOWABLE)
@pytest.mark.parametrize("word", ["unknown", " Unknown"])
def test_unknown_is_an_answer_and_means_the_same_as_leaving_out(path: str, word: str) -> None:
    said = at(read_plan(sample({path: word})), path)
    left_out = at(BARE, path)
    if isinstance(said, Quantity):
        assert not said.stated
        assert (said.kind, said.interval) == (left_out.kind, left_out.interval)
        assert said.interval.low < said.interval.high
    else:
        assert said == left_out
        assert said in ("unknown", None) or said.parts[0].components[0].fibre == "unknown"


@pytest.mark.parametrize(
    "path", ["assists", "utensils", "bath", "vessel", "scale", "people", "space", "aftercare", "storage"]
)
def test_a_whole_part_may_be_unknown(path: str) -> None:
    data = sample()
    data.pop(path, None)
    assert dict(read_plan(sample({path: "unknown"}))) == dict(read_plan(data))  # the fields, not what was written


def test_what_is_left_out_is_unknown_and_an_empty_list_says_none() -> None:
    assert BARE.goods[0].trims is None
    assert BARE.dyes[0].contains is None
    assert BARE.people.wearing is None
    assert read_plan({"goods": [{}], "dyes": [{}]}).assists is None
    plan = read_plan(
        {
            "goods": [{"trims": [], "finishes": []}],
            "dyes": [{"contains": []}],
            "assists": [],
            "utensils": [],
            "people": {"wearing": [], "present": []},
            "space": {"chemicals": []},
            "bath": {"before": []},
        }
    )
    for path in (
        "goods.0.trims",
        "goods.0.finishes",
        "dyes.0.contains",
        "assists",
        "utensils",
        "people.wearing",
        "people.present",
        "space.chemicals",
        "bath.before",
    ):
        assert at(plan, path) == (), path


def test_unknown_within_a_list_makes_the_list_unknown() -> None:
    assert at(read_plan(sample({"people.wearing": ["apron", "unknown"]})), "people.wearing") is None
    assert at(read_plan(sample({"dyes.0.contains": ["cobalt", "Unknown"]})), "dyes.0.contains") is None


@pytest.mark.parametrize(
    ("path", "written", "meant"),
    [
        ("assists.0.substance", "White Vinegar", "white vinegar"),
        ("assists.0.substance", "white  vinegar", "white vinegar"),
        ("assists.0.substance", "sodium carbonate", "soda ash"),
        ("assists.0.substance", "bleach", "sodium hypochlorite bleach"),
        ("dyes.0.class", "acid leveling", "acid levelling"),
        ("dyes.0.class", "Acid-Levelling", "acid levelling"),
        ("dyes.0.class", "acid", "acid"),
        ("dyes.0.class", "Fibre-Reactive", "fibre-reactive"),
        ("dyes.0.class", "fibre reactive", "fibre-reactive"),
        ("vessel.material", "Stainless", "stainless steel"),
        ("vessel.condition", "Worn Coating", "worn coating"),
        ("goods.0.colour", "UNDYED", "undyed"),
        ("people.present", ["Child", "child"], ("child",)),
        ("space.food_out", "yes", True),
        ("space.food_out", "No", False),
        ("place", "gb", "GB"),
        ("place", "Unknown", "unknown"),
    ],
)
def test_common_words_are_understood(path: str, written: Any, meant: Any) -> None:
    assert at(read_plan(sample({path: written})), path) == meant


@pytest.mark.parametrize(
    ("written", "fibre"), [("linen", "flax"), ("spandex", "elastane"), ("rayon", "viscose"), ("polyamide", "nylon")]
)
def test_fibres_by_another_name(written: str, fibre: str) -> None:
    plan = read_plan(sample({"goods.0.fibres": f"100% {written}"}))
    (component,) = at(plan, "goods.0.fibres").parts[0].components
    assert component.fibre == fibre


def test_every_word_of_every_table_is_accepted() -> None:
    k = knowledge()
    for path, table in (
        ("dyes.0.class", k.dye_classes),
        ("assists.0.substance", k.substances),
        ("vessel.material", k.materials),
        ("bath.heat_source", k.heat_sources),
        ("space.kind", k.spaces),
        ("space.ventilation", k.ventilation),
        ("aftercare.drain", k.drains),
        ("aftercare.leftover", k.leftovers),
    ):
        for row in table.rows:
            for word in (row.id, *row.synonyms):
                assert at(read_plan(sample({path: word})), path) == row.id, (path, word)


def test_ranges_and_spoons() -> None:
    plan = read_plan(sample({"goods.0.dry_mass": "about 200 g", "dyes.0.amount": "½ tsp", "bath.water": "6 to 7 L"}))
    assert at(plan, "goods.0.dry_mass").interval == Interval(180, 220)
    assert at(plan, "dyes.0.amount").spoon
    assert at(plan, "bath.water").interval == Interval(6, 7)
    assert at(read_plan(sample({"bath.water": "less than 7 L"})), "bath.water").interval == Interval(0, 7)


def test_the_place_settles_its_own_cup() -> None:
    us, gb = (
        at(read_plan(sample({"place": p, "assists.0.amount": "1/2 cup"})), "assists.0.amount") for p in ("us", "GB")
    )
    # NIST SP 811: a US cup is 236.588 mL
    assert us.interval.low == us.interval.high == pytest.approx(0.2365882365 / 2, rel=1e-6)
    assert gb.interval.low < gb.interval.high
    assert gb.ask


def test_a_strength_is_at_most_the_whole() -> None:
    assert at(BARE, "dyes.0.strength").interval == Interval(0, 100)
    assert "100 %" in str(refused("assists.0.strength", "101 %"))
    assert "100 %" in str(refused("dyes.0.strength", "90 to 110 %"))


# ---- what is refused

KEYS = [
    ("dye", "dyes"),
    ("goods.0.dry_mas", "dry_mass"),
    ("dyes.0.clas", "class"),
    ("dyes.0.dye_class", "class"),
    ("assists.0.sustance", "substance"),
    ("bath.watr", "water"),
    ("vessel.capasity", "capacity"),
    ("utensils.0.materal", "material"),
    ("scale.resolutoin", "resolution"),
    ("people.waering", "wearing"),
    ("space.ventilaton", "ventilation"),
    ("aftercare.rinsewater", "rinse_water"),
]


@pytest.mark.parametrize(("path", "meant"), KEYS)
def test_unknown_keys_are_refused_at_every_level(path: str, meant: str) -> None:
    error = refused(path, "1")
    assert (error.file, error.field) == ("scarf.toml", path)
    assert f"unknown key; did you mean {meant!r}? Accepted: " in error.detail


def test_a_strange_key_names_the_accepted_ones() -> None:
    assert refused("bath.zzz", 1).detail.startswith("unknown key. Accepted: water, temperature, hold,")


def test_a_misspelt_goods_is_named_before_the_goods_that_are_missing() -> None:
    data = sample()
    data["good"] = data.pop("goods")
    with pytest.raises(InputError, match="good: unknown key; did you mean 'goods'"):
        read_plan(data)


WRONG_UNITS = [
    ("goods.0.dry_mass", "2 L", "mass"),
    ("dyes.0.amount", "20 degC", "mass, a volume or a fraction"),
    ("dyes.0.maximum", "2 g", "fraction"),
    ("dyes.0.strength", "2 g", "fraction"),
    ("bath.water", "6 kg", "volume"),
    ("bath.water", "6000 g", "volume"),
    ("bath.temperature", "20 L", "temperature"),
    ("bath.hold", "30 g", "time"),
    ("bath.rise", "1.5 degC", "heating rate"),
    ("bath.alkalinity", "150 g", "alkalinity"),
    ("vessel.capacity", "10 kg", "volume"),
    ("scale.resolution", "0.1 mL", "mass"),
    ("space.volume", "20 kg", "room volume"),
    ("aftercare.rinse_water", "4 kg", "volume"),
    ("assists.0.amount", "30 min", "mass, a volume or a fraction"),
]


@pytest.mark.parametrize(("path", "value", "kind"), WRONG_UNITS)
def test_units_of_another_kind_are_refused(path: str, value: str, kind: str) -> None:
    error = refused(path, value)
    assert error.field == path
    assert repr(value) in error.detail
    assert f"where a {kind} belongs" in error.detail.replace("where an ", "where a ")
    assert "accepted: " in error.detail


IMPOSSIBLE = [
    ("goods.0.dry_mass", "-5 g"),
    ("goods.0.dry_mass", "0 g"),
    ("goods.0.dry_mass", "none"),
    ("goods.0.dry_mass", "101 kg"),
    ("dyes.0.amount", "-1 g"),
    ("dyes.0.maximum", "0 %"),
    ("dyes.0.maximum", "-2 %"),
    ("dyes.0.strength", "150 %"),
    ("dyes.0.strength", "0 %"),
    ("assists.0.amount", "-30 mL"),
    ("assists.0.strength", "101 %"),
    ("bath.water", "0 L"),
    ("bath.water", "-6 L"),
    ("bath.water", "1001 L"),
    ("bath.temperature", "300 degC"),
    ("bath.temperature", "-40 degC"),
    ("bath.temperature", "0 K"),
    ("bath.hold", "0 min"),
    ("bath.hold", "-30 min"),
    ("bath.rise", "-1 delta_degC/min"),
    ("bath.alkalinity", "-1 mg/L"),
    ("bath.altitude", "9000 m"),
    ("vessel.capacity", "0 L"),
    ("scale.resolution", "0 g"),
    ("space.volume", "0 m^3"),
    ("space.volume", "20 L"),
    ("aftercare.rinse_water", "0 L"),
    ("goods.0.dry_mass", "9**9**9**9 g"),
    ("goods.0.dry_mass", "nan g"),
    ("goods.0.dry_mass", float("nan")),
    ("goods.0.dry_mass", float("inf")),
    ("goods.0.dry_mass", "220 g to 180 g"),
    ("goods.0.dry_mass", ""),
    ("goods.0.dry_mass", "200"),
    ("goods.0.dry_mass", 200),
    ("goods.0.dry_mass", "9" * 10_000_000 + " g"),
]


@pytest.mark.parametrize(("path", "value"), IMPOSSIBLE, ids=[f"{p}={str(v)[:20]}" for p, v in IMPOSSIBLE])
def test_negative_none_and_impossible_amounts_are_refused(path: str, value: Any) -> None:
    error = refused(path, value)
    assert error.field == path
    assert len(str(error)) < 500


COMPOSITIONS = [
    ("60% wool, 30% nylon", "90 %"),
    ("75% wool, 27% nylon", "102 %"),
    ({"wool": 75, "nylon": 20}, "95 %"),
    ({"wool": 75, "nylon": 27}, "102 %"),
    ("100% woool", "did you mean wool?"),
    ({"woool": 100}, "did you mean wool?"),
    ({"wool": 101}, "101"),
    ({"wool": -5, "nylon": 105}, "-5"),
    ({"wool": True}, "True"),
    ({"wool": float("nan")}, "nan"),
    ({}, "empty"),
    ("", "empty"),
    ({"wool": [100]}, "100"),
    (["wool"], "label text"),
    (5, "label text"),
    (True, "label text"),
]


@pytest.mark.parametrize(("value", "says"), COMPOSITIONS, ids=str)
def test_compositions_that_cannot_be_are_refused(value: Any, says: str) -> None:
    error = refused("goods.0.fibres", value)
    assert error.field == "goods.0.fibres"
    assert says in error.detail


@pytest.mark.parametrize(
    "value", ["75% wool, 24% nylon", "75% wool, 26% nylon", {"wool": 75.5, "nylon": 24.0}], ids=str
)
def test_one_percent_off_is_accepted(value: Any) -> None:
    read_plan(sample({"goods.0.fibres": value}))


WORDS = [
    ("goods.0.colour", "undied", "undyed"),
    ("goods.0.finishes", ["water repelent"], "water repellent"),
    ("dyes.0.class", "acid metal complx", "acid metal complex"),
    ("dyes.0.form", "powdr", "powder"),
    ("dyes.0.safety_data_sheet", "reed", "read"),
    ("dyes.0.contains", ["cromium"], "chromium"),
    ("dyes.0.contains", ["Benzidene"], "benzidine"),
    ("assists.0.substance", "white vinager", "white vinegar"),
    ("bath.heat_source", "electric hobb", "electric hob"),
    ("bath.shade", "evn", "even"),
    ("bath.before", ["sallt"], "salt"),
    ("vessel.material", "stainles steel", "stainless steel"),
    ("vessel.condition", "chiped", "chipped"),
    ("utensils.0.material", "bambo", "bamboo"),
    ("people.wearing", ["nitril gloves"], "nitrile gloves"),
    ("people.present", ["chld"], "child"),
    ("space.kind", "kitchn", "kitchen"),
    ("space.ventilation", "windw open", "window open"),
    ("space.chemicals", ["amonia"], "ammonia"),
    ("aftercare.drain", "sewr", "sewer"),
    ("aftercare.leftover", "labelled jr", "labelled jar"),
]


@pytest.mark.parametrize(("path", "value", "meant"), WORDS, ids=str)
def test_unknown_words_get_the_nearest_one(path: str, value: Any, meant: str) -> None:
    error = refused(path, value)
    assert error.field == path
    assert repr(value[0] if isinstance(value, list) else value) in error.detail
    assert f"did you mean {meant!r}?" in error.detail


def test_a_part_of_the_name_of_a_family_names_all_its_classes() -> None:
    hint = "did you mean 'fibre-reactive cold' or 'fibre-reactive hot' or 'fibre-reactive'?"
    assert hint in refused("dyes.0.class", "Reactive").detail


@pytest.mark.parametrize("word", ["xyzzy", "", " ", "unknwn", "'; drop", "9" * 100_000])
@pytest.mark.parametrize("path", ["dyes.0.class", "assists.0.substance", "vessel.material", "space.kind"])
def test_a_strange_word_gets_the_accepted_ones(path: str, word: str) -> None:
    error = refused(path, word)
    assert "Accepted: " in error.detail
    assert error.detail.endswith("or 'unknown'")
    assert len(error.detail) < 3000


def test_a_chemical_symbol_is_no_name() -> None:
    for word in ("Cr", "Cr(VI)", "cu"):
        assert "written out" in refused("dyes.0.contains", [word]).detail
    assert at(read_plan(sample({"dyes.0.contains": ["Chromium(III)"]})), "dyes.0.contains") == ("Chromium(III)",)


TYPES = [
    ("title", ["a"]),
    ("title", 5),
    ("title", True),
    ("title", {"a": {"b": 1}}),
    ("title", ""),
    ("title", "x" * 501),
    ("place", 44),
    ("place", "Great Britain"),
    ("place", "G"),
    ("place", "44"),
    ("place", "ÄÖ"),
    ("goods", "yarn"),
    ("goods", {"name": "yarn"}),
    ("goods", "unknown"),
    ("goods", ["yarn"]),
    ("goods", [[]]),
    ("goods", []),
    ("goods", None),
    ("dyes", []),
    ("dyes", 5),
    ("dyes", [{"name": "a"}, 5]),
    ("assists", "vinegar"),
    ("assists", ["vinegar"]),
    ("assists", {"substance": "salt"}),
    ("utensils", True),
    ("bath", "hot"),
    ("bath", []),
    ("bath", [{"water": "6 L"}]),
    ("bath", 90),
    ("vessel", "pot"),
    ("scale", 0.1),
    ("people", ["apron"]),
    ("space", "kitchen"),
    ("aftercare", False),
    ("goods.0.name", 5),
    ("goods.0.dry_mass", True),
    ("goods.0.dry_mass", ["200 g"]),
    ("goods.0.dry_mass", {"g": 200}),
    ("goods.0.dry_mass", None),
    ("goods.0.colour", ["undyed"]),
    ("goods.0.finishes", "easy care"),
    ("goods.0.finishes", [1]),
    ("goods.0.finishes", {"a": 1}),
    ("goods.0.next_to_skin", "maybe"),
    ("goods.0.next_to_skin", 1),
    ("goods.0.next_to_skin", []),
    ("goods.0.trims", "zip"),
    ("goods.0.trims", [3]),
    ("goods.0.trims", [""]),
    ("dyes.0.class", ["acid"]),
    ("dyes.0.class", 5),
    ("dyes.0.form", 5),
    ("dyes.0.amount", 3),
    ("dyes.0.contains", "chromium"),
    ("dyes.0.contains", [1]),
    ("dyes.0.contains", {"a": "chromium"}),
    ("dyes.0.safety_data_sheet", True),
    ("people.wearing", "apron"),
    ("people.wearing", [["apron"]]),
    ("people.wearing", [None]),
    ("bath.attended", "sometimes"),
    ("space.kind", {}),
]


@pytest.mark.parametrize(("path", "value"), TYPES, ids=[f"{p}={str(v)[:24]}" for p, v in TYPES])
def test_wrong_types_are_refused(path: str, value: Any) -> None:
    error = refused(path, value)
    assert error.field.startswith(path)
    assert "\n" not in str(error)
    assert len(str(error)) < 1000
    assert any(word in error.detail for word in ("expected", "accepted", "Accepted", "needs at least one")), str(error)


@pytest.mark.parametrize("path", ["goods", "dyes", "assists", "utensils"])
def test_fifty_entries_are_the_most(path: str) -> None:
    entry = sample()[path][0]
    assert len(at(read_plan(sample({path: [entry] * MOST_ENTRIES})), path)) == 50
    assert "51 entries; accepted: up to 50" in refused(path, [entry] * 51).detail


@pytest.mark.parametrize(
    ("path", "word"),
    [
        ("goods.0.trims", "zip"),
        ("goods.0.finishes", "easy care"),
        ("dyes.0.contains", "cobalt"),
        ("people.wearing", "apron"),
        ("people.present", "pet"),
        ("bath.before", "salt"),
        ("space.chemicals", "salt"),
    ],
)
def test_fifty_words_are_the_most(path: str, word: str) -> None:
    assert "51 entries" in refused(path, [word] * 51).detail


def test_a_plan_that_is_no_table() -> None:
    for data in (None, 5, "plan", [], [{"goods": []}]):
        with pytest.raises(InputError, match="expected a table of plan fields"):
            read_plan(data)


# ---- files

SMALL = '[[goods]]\nname = "a"\n[[dyes]]\nname = "b"\n'
FILES: list[tuple[str, bytes, str]] = [
    ("big.toml", b"#" + b"x" * 10_000_000, f"larger than {LARGEST_FILE} bytes"),
    ("big.json", b" " * 10_000_000, f"larger than {LARGEST_FILE} bytes"),
    ("latin.toml", SMALL.replace('"a"', '"é"').encode("latin-1"), "not UTF-8"),
    ("utf16.toml", SMALL.encode("utf-16"), "not UTF-8"),
    ("latin.json", '{"title": "é"}'.encode("latin-1"), "not UTF-8"),
    ("nul.toml", SMALL.encode() + b"\0", "cannot be read as TOML"),
    ("nul.json", b'{"goods": [{"name": "a\0b"}], "dyes": [{}]}', "cannot be read as JSON"),
    ("escape.toml", SMALL.encode() + b"x\x1b[31m = 3", "cannot be read as TOML"),
    ("deep.toml", b"a = " + b"[" * 100_000 + b"]" * 100_000, "nested too deeply"),
    ("deep-table.toml", b"a = " + b"{a = " * 50_000 + b"1" + b"}" * 50_000, "nested too deeply"),
    ("deep.json", b"[" * 100_000 + b"]" * 100_000, "nested too deeply"),
    ("deep-table.json", b'{"a":' * 50_000 + b"1" + b"}" * 50_000, "nested too deeply"),
    ("deep-key.toml", b"goods = 1\n" + b".".join([b"a"] * 200_000) + b" = 1", "line 2 has more than 100 dots"),
    ("dotted-table.toml", b"[" + b".".join([b"a"] * 200_000) + b"]", "line 1 has more than 100 dots"),
    ("twice.toml", b'title = "a"\ntitle = "b"\n', "cannot be read as TOML"),
    ("twice-table.toml", b"[bath]\n[bath]\n", "twice"),
    ("twice.json", b'{"title": "a", "title": "b"}', "the key 'title' stands there twice"),
    ("escape-key.json", b'{"\\u001b[31m": 1}', "holds a control character"),
    ("surrogate-key.json", b'{"\\ud800": 1}', "holds a control character"),
    ("escape-key.toml", b'"\\u001b[31m" = 1\n' + SMALL.encode(), "?[31m: unknown key"),
    ("long-key.toml", b'"' + b"k" * 900_000 + b'" = 1\n' + SMALL.encode(), "unknown key"),
    ("digits.json", b'{"goods": [{"dry_mass": ' + b"9" * 5000 + b'}], "dyes": [{}]}', "digits"),
    (
        "digits.toml",
        b"[[goods]]\ndry_mass = " + b"9" * 4000 + b"\n[[dyes]]\n",
        "goods.0.dry_mass: the number is no measurement",
    ),
    ("nan.json", b'{"goods": [{"dry_mass": NaN}], "dyes": [{}]}', "goods.0.dry_mass: the number is no measurement"),
    ("inf.toml", b"[[goods]]\ndry_mass = inf\n[[dyes]]\n", "goods.0.dry_mass: the number is no measurement"),
    ("date.toml", b"title = 2020-01-01\n" + SMALL.encode(), "title: expected text"),
    ("empty.toml", b"", "goods: is missing; a plan needs at least one [[goods]]"),
    ("empty.json", b"", "cannot be read as JSON"),
    ("list.json", b"[]", "expected a table"),
    ("null.json", b"null", "expected a table"),
    ("json-in.toml", b'{"goods": [{}]}', "cannot be read as TOML"),
    ("toml-in.json", SMALL.encode(), "cannot be read as JSON"),
    ("many-keys.json", b"{" + b",".join(b'"k%d":1' % n for n in range(60_000)) + b"}", "k0: unknown key"),
    ("dyes-only.toml", b"[[dyes]]\n", "goods: is missing"),
    ("goods-only.toml", b"[[goods]]\n", "dyes: is missing"),
]


@pytest.mark.parametrize(("name", "content", "says"), FILES, ids=[name for name, _, _ in FILES])
def test_bad_files_end_with_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: bytes, says: str
) -> None:
    path = tmp_path / name
    error = refused_file(path, content)
    assert error.startswith(f"{path}: ")
    assert says in error
    assert main(["check", str(path)]) == 2
    _one_line(capsys, error)


@pytest.mark.parametrize("name", ["missing.toml", "folder.toml", "fi\x1b[31mle.toml", "x" * 300 + ".toml", "a\0b.toml"])
def test_files_that_cannot_be_opened(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    (tmp_path / "folder.toml").mkdir()
    error = refused_file(tmp_path / name)
    assert "\x1b" not in error
    assert "\0" not in error
    assert main(["check", str(tmp_path / name)]) == 2
    _one_line(capsys, error)


def _one_line(capsys: pytest.CaptureFixture[str], error: str) -> None:
    """Nothing on stdout, one line on stderr, no traceback."""
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"advisor: {' '.join(error.split())}\n"
    assert "Traceback" not in err


BAD = [
    *((p, v) for p, v, _ in WRONG_UNITS),
    *((p, v) for p, v, _ in WORDS),
    *((p, 1) for p, _ in KEYS),
    *((p, v) for p, v in (*IMPOSSIBLE, *TYPES) if len(str(v)) < 100_000 and v is not None and v != [None]),
    *(("goods.0.fibres", v) for v, _ in COMPOSITIONS),
]


def test_all_bad_input_ends_the_command_with_status_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plan.json"
    for field, value in BAD:
        path.write_text(json.dumps(sample({field: value})), encoding="utf-8")
        assert main(["check", str(path)]) == 2, (field, value)
        out, err = capsys.readouterr()
        assert out == ""
        assert err.startswith(f"advisor: {path}: {field}"), (field, value)
        assert err.count("\n") == 1
        assert "the program failed" not in err


# ---- hostile text

HOSTILE = "\x1b[31mred\x1b[0m\x07\x9b1m\r\n\u202etxt\u2066\u061c\u200e\u2028\ufeff\U000e0041[bold]x[/bold]\ud800"
TEXTS = ["title", "goods.0.name", "dyes.0.name", "utensils.0.name", "dyes.0.contains.0", "goods.0.trims.0"]
FORBIDDEN = {*"\x1b\x07\x9b\r\u202e\u2066\u061c\u200e\u2028\ufeff\U000e0041\ud800"}


@pytest.mark.parametrize("form", [[], ["--explain"], ["--format", "json"]], ids=" ".join)
def test_names_never_drive_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str], form: list[str]) -> None:
    change: dict[str, Any] = dict.fromkeys(TEXTS, HOSTILE)
    # a plan that fires much, so that the names are shown
    change |= {
        "dyes.0.amount": "30 g",
        "vessel.capacity": "6 L",
        "utensils.0.used_for_food": True,
        "people.wearing": [],
    }
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(sample(change)), encoding="utf-8")
    assert main(["check", str(path), *form]) == 1
    out, err = capsys.readouterr()
    assert err == ""
    assert "[bold]x[/bold]" in out  # shown as typed, never read as markup
    assert not FORBIDDEN & set(out)
    if form == ["--format", "json"]:
        assert not {*map(chr, range(32)), *map(chr, range(127, 160))} & set(str(json.loads(out)))


def test_label_text_never_drives_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(sample({"goods.0.fibres": f"microfibre {HOSTILE}"})), encoding="utf-8")
    status = main(["check", str(path), "--explain"])
    out, err = capsys.readouterr()
    assert status in (1, 2, 3)
    assert out if status != 2 else err
    assert not FORBIDDEN & set(out + err)


@pytest.mark.parametrize(
    "path", [*TEXTS[:4], "dyes.0.class", "assists.0.substance", "goods.0.fibres", "bath.water", "place"]
)
def test_an_error_never_drives_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str], path: str) -> None:
    file = tmp_path / "plan.json"
    value = [HOSTILE] if path in TEXTS else HOSTILE
    file.write_text(json.dumps(sample({path: value})), encoding="utf-8")
    assert main(["check", str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert not FORBIDDEN & set(err)
    assert err.count("\n") == 1


# ---- the model as a whole


def test_a_plan_does_not_change_once_read() -> None:
    plan = read_plan(sample())
    with pytest.raises(Exception, match="frozen"):
        plan.bath.water = plan.bath.water  # type: ignore[misc]
    assert read_plan(plan) is plan
    assert issubclass(Plan, Section)


def test_base_plans_leave_nothing_unknown() -> None:
    """A base plan that forgot a field would turn the rules' own cases into questions."""
    # the strength of a stock solution or a vinegar, the rise of a bath that is heated
    optional = {"dyes.0.strength", "assists.0.strength", "bath.rise"}
    for file in sorted((Path(__file__).parents[1] / "rules" / "plans").glob("*.toml")):
        plan = base_plan(file.stem)
        wanted = {path for path in SAID if plan[path.split(".")[0]] != []}
        assert wanted - set(leaves(plan)) <= optional, file.name
