"""What the person said: the plan of one bath, checked and in canonical units.

A plan file is TOML or JSON. What is left out, or written as "unknown", is unknown: a quantity then has
the whole range its kind allows, a choice is the word `unknown`, a list is None. An empty list says none.
"""

from __future__ import annotations

import copy
import difflib
import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sized
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, PrivateAttr, ValidationError, field_validator
from pydantic_core import PydanticCustomError, core_schema

from advisor.errors import AdvisorError
from advisor.interval import Interval
from advisor.knowledge import Named, Table, knowledge, units
from advisor.labels import Component, Composition, LabelError, Part, read_label, read_table
from advisor.quantities import Quantity, QuantityError, parse, unknown

if TYPE_CHECKING:
    from advisor.shelf import Shelf

UNKNOWN = "unknown"
LARGEST_FILE = 1_000_000  # bytes; a plan is a page of text
LONGEST_TEXT = 500
MOST_ENTRIES = 50  # in any list of a plan
MOST_DOTS = 100  # on a line of TOML that is no comment; a key has three parts, and the reader slows with their square
# control characters, surrogates, line separators, direction marks, byte order marks and invisible tags
_CONTROL = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb\U000e0000-\U000e007f]"
)


class InputError(AdvisorError):
    """Bad input: names the file, the field, what was wrong and what is accepted."""

    def __init__(self, message: str, *, file: str = "plan", field: str = "") -> None:
        self.file, self.field, self.detail = file, field, message
        super().__init__(f"{file}: {field}: {message}" if field else f"{file}: {message}")


class Measured:
    """Reads a quantity of one of the given kinds.

    `zero` says whether none at all is an answer; `most` is the highest that is possible, in the canonical unit.
    """

    def __init__(self, *kinds: str, zero: bool = False, most: float | None = None) -> None:
        self.kinds, self.zero, self.most = kinds, zero, most

    def unstated(self) -> Quantity:
        """The unknown of the first kind."""
        quantity = unknown(self.kinds[0])
        if self.most is None:
            return quantity
        return replace(quantity, interval=Interval(quantity.interval.low, self.most))

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return {"type": "string", "description": f"{' or '.join(self.kinds)}, with its unit; or 'unknown'"}

    def _read(self, value: Any, info: Any) -> Quantity:
        if isinstance(value, Quantity):
            return value
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise _wrong(f"expected text such as {_EXAMPLES[self.kinds[0]]!r}, got {_shown(value)}")
        place = (info.context or {}).get("place")
        try:
            quantity = parse(value, self.kinds, place=place)
        except QuantityError as error:
            raise _wrong(clean(str(error))) from None
        if not quantity.stated:
            return replace(self.unstated(), text=quantity.text)
        if not self.zero and quantity.interval.high <= 0 and "temperature" not in self.kinds:
            example = _EXAMPLES[self.kinds[0]]
            raise _wrong(f"{_shown(value)} is none at all; accepted: more, as in {example!r}, or 'unknown'")
        if self.most is not None and quantity.interval.high > self.most:
            most = f"{self.most:g} {units().kinds[quantity.kind].unit}"
            raise _wrong(f"{_shown(value)} is more than there can be; accepted: up to {most}")
        return quantity


_EXAMPLES = {
    "mass": "200 g", "volume": "6 L", "temperature": "90 degC", "time": "30 min", "heating rate": "1.5 delta_degC/min",
    "fraction": "1.5 %", "alkalinity": "150 mg/L", "room volume": "20 m^3", "altitude": "300 m",
}  # fmt: skip


_ANY_CASE = "the advisor reads capitals and small letters alike"


class Chosen:
    """Reads a word of a closed list: a table's ids and synonyms, or the words given."""

    def __init__(self, what: str, *words: str, families: bool = False) -> None:
        self.what, self.words, self.families = what, words, families

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return {"enum": list(dict.fromkeys((*self.accepted(), *self._synonyms(), UNKNOWN))), "description": _ANY_CASE}

    def accepted(self) -> tuple[str, ...]:
        """The ids that may be written."""
        if self.words:
            return self.words
        ids = _table(self.what).ids
        return (*ids, *knowledge().dye_class_families) if self.families else ids

    def _read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise _wrong(f"expected one of: {', '.join(self.accepted())}; got {_shown(value)}")
        word = " ".join(value.casefold().split())
        if word == UNKNOWN:
            return UNKNOWN
        if self.words:
            if word in self.words:
                return word
        else:
            if self.families and word.replace(" ", "-") in knowledge().dye_class_families:
                return word.replace(" ", "-")
            row: Named | None = _table(self.what).find(value)
            if row is not None:
                return row.id
        raise _wrong(self._refusal(value))

    def _synonyms(self) -> tuple[str, ...]:
        if self.words:
            return ()
        table = _table(self.what)
        return (*(word for row in table.rows for word in row.synonyms), *table.words)

    def _refusal(self, value: str) -> str:
        accepted = self.accepted()
        known = (*accepted, *self._synonyms())
        near = difflib.get_close_matches(value.casefold()[:LONGEST_TEXT], known, n=1, cutoff=0.6)
        return f"{_shown(value)} is not a known {self.what}{_hint(near)} Accepted: {', '.join(accepted)}, or 'unknown'"


def _table(name: str) -> Table[Any]:
    tables: dict[str, Table[Any]] = {
        "dye class": knowledge().dye_classes,
        "substance": knowledge().substances,
        "material": knowledge().materials,
        "heat source": knowledge().heat_sources,
        "gear": knowledge().gear,
        "person": knowledge().people,
        "space": knowledge().spaces,
        "ventilation": knowledge().ventilation,
        "drain": knowledge().drains,
        "leftover": knowledge().leftovers,
        "finish": knowledge().finishes,
    }
    return tables[name]


def _wrong(message: str) -> PydanticCustomError:
    return PydanticCustomError("plan", "{message}", {"message": message})


def _hint(near: list[str]) -> str:
    return f"; did you mean {near[0]!r}?" if near else "."


def _shown(value: object) -> str:
    """The value as typed, short and on one line, with nothing a terminal would act on."""
    text = clean(value if isinstance(value, str) else json.dumps(value, default=str))
    text = text if len(text) <= 60 else text[:57] + "..."
    return repr(text) if isinstance(value, str) else text


def clean(text: str) -> str:
    """Text with control characters and direction marks replaced by '?', so that no terminal acts on them.

    Line ends and tabs become spaces.
    """
    return _CONTROL.sub(lambda found: " " if found[0] in "\t\n\r" else "?", text)


def _short_text(value: Any) -> str:
    if not isinstance(value, str):
        raise _wrong(f"expected text, got {_shown(value)}")
    if len(value) > LONGEST_TEXT:
        raise _wrong(f"the text has {len(value)} characters; accepted: up to {LONGEST_TEXT}")
    if not value.strip():
        raise _wrong("nothing is written; accepted: some text, or leave the key out")
    return clean(value.strip())


def _yes_no(value: Any) -> bool | None:
    if isinstance(value, str) and value.casefold().strip() in ("yes", "no", UNKNOWN):
        return {"yes": True, "no": False, UNKNOWN: None}[value.casefold().strip()]
    if value is None or isinstance(value, bool):
        return value
    raise _wrong(f"expected true, false or 'unknown', got {_shown(value)}")


class _Plain:
    """Wraps a reading function for pydantic and names its JSON type."""

    def __init__(self, read: Any, json_type: dict[str, Any]) -> None:
        self._read, self._json = read, json_type

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return dict(self._json)


Text = Annotated[str, _Plain(_short_text, {"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT})]
YesNo = Annotated[
    bool | None,
    _Plain(_yes_no, {"enum": [True, False, "yes", "no", UNKNOWN], "description": "true, false or 'unknown'"}),
]
Mass = Annotated[Quantity, Measured("mass")]
Amount = Annotated[Quantity, Measured("mass", "volume", "fraction", zero=True)]
Volume = Annotated[Quantity, Measured("volume")]
Percent = Annotated[Quantity, Measured("fraction")]
_STRENGTH = Measured("fraction", most=100.0)  # a share of the whole, or g in 100 mL
Strength = Annotated[Quantity, _STRENGTH]
DyeClassWord = Annotated[str, Chosen("dye class", families=True)]
SubstanceWord = Annotated[str, Chosen("substance")]
MaterialWord = Annotated[str, Chosen("material")]


class Section(BaseModel):
    """Base of the parts of a plan: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, defer_build=True)


def _not_endless(value: Sized) -> None:
    if len(value) > MOST_ENTRIES:
        raise _wrong(f"{len(value)} entries; accepted: up to {MOST_ENTRIES}")


class _Listed:
    """Reads a list of words of one table; None (or "unknown") means unknown, [] means none."""

    def __init__(self, what: str) -> None:
        self.chosen = Chosen(what)

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        words = self.chosen.__get_pydantic_json_schema__(schema, handler)
        return {"anyOf": [{"type": "array", "items": words, "maxItems": MOST_ENTRIES}, {"const": UNKNOWN}]}

    def _read(self, value: Any) -> tuple[str, ...] | None:
        if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
            return None
        if not isinstance(value, (list, tuple)):
            raise _wrong(f"expected a list of words, [] for none, or 'unknown'; got {_shown(value)}")
        _not_endless(value)
        words = tuple(self.chosen._read(word) for word in value)
        if UNKNOWN in words:
            return None
        return tuple(dict.fromkeys(words))


def _read_fibres(value: Any) -> Composition:
    if isinstance(value, Composition):
        return value
    try:
        if isinstance(value, Mapping):
            return read_table(value)
        if isinstance(value, str):
            if value.casefold().strip() == UNKNOWN:
                return UNKNOWN_FIBRES
            return read_label(value, strict=True)
    except LabelError as error:
        raise _wrong(f"{_shown(value)}: {clean(str(error))}") from None
    raise _wrong(f"expected label text such as '75% wool, 25% nylon' or a table of shares; got {_shown(value)}")


UNKNOWN_FIBRES = Composition(
    parts=(Part("whole", (Component(UNKNOWN, Interval.point(100.0), "", "assumed"),)),),
    asks=("What does the sewn-in label say the goods are made of, with percentages?",),
    notes=(),
    text="",
)  # fmt: skip

Fibres = Annotated[
    Composition,
    _Plain(_read_fibres, {"type": ["string", "object"], "description": "label text, or a table of shares in per cent"}),
]


def _read_trims(value: Any) -> tuple[Composition, ...] | None:
    if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
        return None
    if not isinstance(value, (list, tuple)):
        raise _wrong(f"expected a list such as ['polyester thread'], [] for none, or 'unknown'; got {_shown(value)}")
    _not_endless(value)
    trims = []
    for item in value:
        if not isinstance(item, str):
            raise _wrong(f"expected text such as 'polyester sewing thread', got {_shown(item)}")
        try:
            trims.append(read_label(item))
        except LabelError as error:
            raise _wrong(f"{_shown(item)}: {clean(str(error))}") from None
    return tuple(trims)


_TEXTS_OR_UNKNOWN = {
    "anyOf": [{"type": "array", "items": {"type": "string"}, "maxItems": MOST_ENTRIES}, {"const": UNKNOWN}]
}
Trims = Annotated[tuple[Composition, ...] | None, _Plain(_read_trims, _TEXTS_OR_UNKNOWN)]


def _read_contents(value: Any) -> tuple[str, ...] | None:
    """What a dye contains: free words, but a slip in a word that rules look for must not pass as "none of it"."""
    if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
        return None
    if not isinstance(value, (list, tuple)):
        raise _wrong(f"expected a list such as ['chromium'], [] for none, or 'unknown'; got {_shown(value)}")
    _not_endless(value)
    words = tuple(_short_text(item) for item in value)
    if any(word.casefold() == UNKNOWN for word in words):
        return None
    telling = sorted({"benzidine", *(metal for row in knowledge().substances.rows for metal in row.metals)})
    for word in words:
        if re.match(r"[A-Za-z]{1,2}(?![A-Za-z])", word):
            raise _wrong(f"{_shown(word)} is too short to go by; accepted: names written out, such as 'chromium'")
        for part in re.findall(r"[^\W\d_]{5,}", word.casefold()):
            near = difflib.get_close_matches(part, telling, n=1, cutoff=0.75)
            if near and not any(known in word.casefold() for known in telling):
                raise _wrong(f"{_shown(word)} is near to a word that rules look for; did you mean {near[0]!r}?")
    return words


Contents = Annotated[
    tuple[str, ...] | None,
    _Plain(_read_contents, _TEXTS_OR_UNKNOWN),
]


class Goods(Section):
    """One lot of goods for the bath."""

    name: Text = "goods"
    fibres: Fibres = UNKNOWN_FIBRES
    dry_mass: Mass = unknown("mass")
    colour: Annotated[str, Chosen("colour", "undyed", "dyed")] = UNKNOWN
    finishes: Annotated[tuple[str, ...] | None, _Listed("finish")] = None
    next_to_skin: YesNo = None
    trims: Trims = None


class Dye(Section):
    """One dye. `maximum` is the maker's maximum on the weight of goods."""

    name: Text = "dye"
    dye_class: DyeClassWord = Field(UNKNOWN, alias="class")
    form: Annotated[str, Chosen("form", "powder", "granules", "liquid", "paste", "solution")] = UNKNOWN
    amount: Amount = unknown("mass")
    strength: Strength = _STRENGTH.unstated()
    maximum: Percent = unknown("fraction")
    safety_data_sheet: Annotated[str, Chosen("answer", "read", "not read")] = UNKNOWN
    contains: Contents = None
    old_stock: YesNo = None
    shelf: Text = ""


class Assist(Section):
    """A chemical beside the dye: acid, alkali, salt, mordant ..."""

    substance: SubstanceWord = UNKNOWN
    amount: Amount = unknown("mass")
    strength: Strength = _STRENGTH.unstated()


class Bath(Section):
    """The water, its heat and its time."""

    water: Volume = unknown("volume")
    temperature: Annotated[Quantity, Measured("temperature")] = unknown("temperature")
    hold: Annotated[Quantity, Measured("time")] = unknown("time")
    rise: Annotated[Quantity, Measured("heating rate", zero=True)] = unknown("heating rate")
    heat_source: Annotated[str, Chosen("heat source")] = UNKNOWN
    heat_source_used_for_food: YesNo = None
    attended: YesNo = None
    stirring: YesNo = None
    alkalinity: Annotated[Quantity, Measured("alkalinity", zero=True)] = unknown("alkalinity")
    shade: Annotated[str, Chosen("shade", "even", "mottled")] = UNKNOWN
    altitude: Annotated[Quantity, Measured("altitude", zero=True)] = unknown("altitude")
    before: Annotated[tuple[str, ...] | None, _Listed("substance")] = None


class Vessel(Section):
    """The pot."""

    material: MaterialWord = UNKNOWN
    capacity: Volume = unknown("volume")
    condition: Annotated[str, Chosen("condition", "sound", "chipped", "worn coating")] = UNKNOWN
    used_for_food: YesNo = None
    lid: YesNo = None
    empty_mass: Mass = unknown("mass")
    shelf: Text = ""


class Utensil(Section):
    """A tool that touches the bath."""

    name: Text = "utensil"
    material: MaterialWord = UNKNOWN
    used_for_food: YesNo = None
    shelf: Text = ""


class Scale(Section):
    """The scale the dye is weighed on."""

    resolution: Mass = unknown("mass")
    shelf: Text = ""


class People(Section):
    """Who does it, what they wear, and who else is there."""

    wearing: Annotated[tuple[str, ...] | None, _Listed("gear")] = None
    present: Annotated[tuple[str, ...] | None, _Listed("person")] = None
    shelf: Text = ""


class Space(Section):
    """The room."""

    kind: Annotated[str, Chosen("space")] = UNKNOWN
    volume: Annotated[Quantity, Measured("room volume")] = unknown("room volume")
    ventilation: Annotated[str, Chosen("ventilation")] = UNKNOWN
    food_out: YesNo = None
    chemicals: Annotated[tuple[str, ...] | None, _Listed("substance")] = None
    shelf: Text = ""


class Aftercare(Section):
    """Rinsing, and where things go."""

    rinse_water: Volume = unknown("volume")
    drain: Annotated[str, Chosen("drain")] = UNKNOWN
    leftover: Annotated[str, Chosen("leftover")] = UNKNOWN


class Storage(Section):
    """How the stock of dyes and chemicals is kept between baths."""

    stock_labelled: YesNo = None
    out_of_reach: YesNo = None


@dataclass(frozen=True, slots=True)
class Taken:
    """A value that a plan leaves to the shelf: where it belongs, what it is, and the entry it is taken from."""

    field: str
    value: str
    entry: str
    file: str


class Plan(Section):
    """One bath, as the person described it.

    The keys named `shelf` are only in the file: reading a plan puts the shelf's values in their place.
    """

    title: Text = "untitled bath"
    place: Text = UNKNOWN
    shelf: Text = ""
    goods: tuple[Goods, ...] = Field(min_length=1)
    dyes: tuple[Dye, ...] = Field(min_length=1)
    assists: tuple[Assist, ...] | None = None
    bath: Bath = Bath()
    vessel: Vessel = Vessel()
    utensils: tuple[Utensil, ...] | None = None
    scale: Scale = Scale()
    people: People = People()
    space: Space = Space()
    aftercare: Aftercare = Aftercare()
    storage: Storage = Storage()
    _said: dict[str, Any] | None = PrivateAttr(default=None)
    _from_shelf: tuple[Taken, ...] = PrivateAttr(default=())

    @property
    def said(self) -> dict[str, Any] | None:
        """The plain data the plan was read from, with what the shelf gave; None for a plan made in Python.

        Not to be changed.
        """
        return self._said

    @property
    def from_shelf(self) -> tuple[Taken, ...]:
        """What the plan left out and the shelf gave."""
        return self._from_shelf

    @field_validator("place")
    @classmethod
    def _country(cls, value: str) -> str:
        if value.casefold() == UNKNOWN:
            return UNKNOWN
        if len(value) == 2 and value.isascii() and value.isalpha():
            return value.upper()
        raise _wrong(
            f"{_shown(value)} is not a country code; accepted: two letters of ISO 3166-1, such as 'GB', or 'unknown'"
        )

    @field_validator("assists", "utensils", mode="before")
    @classmethod
    def _unknown_list(cls, value: Any) -> Any:
        return None if isinstance(value, str) and value.casefold().strip() == UNKNOWN else value

    @field_validator("goods", "dyes", "assists", "utensils", mode="before")
    @classmethod
    def _entries(cls, value: Any) -> Any:
        if isinstance(value, (list, tuple)):
            _not_endless(value)
        return value

    @field_validator("bath", "vessel", "scale", "people", "space", "aftercare", mode="before")
    @classmethod
    def _unknown_table(cls, value: Any) -> Any:
        return {} if isinstance(value, str) and value.casefold().strip() == UNKNOWN else value


def read_plan(data: Any, *, file: str = "plan", folder: Path | None = None, shelf: Shelf | None = None) -> Plan:
    """Check a plan given as plain data (what TOML or JSON reads to).

    A shelf that the plan names is looked up from `folder` (default: where the program runs); `shelf` goes before it.
    Raises InputError with the file, the key path, what was wrong and what is accepted.
    """
    if isinstance(data, Plan):
        return data
    if not isinstance(data, Mapping):
        raise InputError("expected a table of plan fields", file=file)
    taken: tuple[Taken, ...] = ()
    if refers_to_shelf(data):
        from advisor.shelf import with_shelf  # most plans need no shelf

        data, taken = with_shelf(data, file=file, folder=folder or Path(), shelf=shelf)
    place = data.get("place")
    try:
        plan = Plan.model_validate(dict(data), context={"place": place.upper() if isinstance(place, str) else None})
    except ValidationError as error:
        raise _first_error(error, Plan, file) from None
    plan._said, plan._from_shelf = copy.deepcopy(dict(data)), taken
    return plan


def refers_to_shelf(data: Mapping[str, Any]) -> bool:
    """Whether plan data has a key `shelf` at the top, in a part or in an entry of a list."""
    parts = [data]
    for value in data.values():
        parts += value if isinstance(value, list) else [value]
    return any(isinstance(part, Mapping) and "shelf" in part for part in parts)


def load_plan(path: str | Path, *, shelf: Shelf | None = None) -> Plan:
    """Read and check a plan file (.toml, or .json). A shelf it names is looked up beside it; `shelf` goes before that.

    Raises InputError; the message names the file and the field.
    """
    return read_plan(read_data(path), file=clean(str(path)), folder=Path(path).parent, shelf=shelf)


def read_text(path: str | Path) -> str:
    """The text of a file of at most a megabyte, without a byte order mark. Raises InputError."""
    name = clean(str(path))
    try:
        with open(path, "rb") as stream:
            raw = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=name) from None
    except ValueError:  # a NUL in the name
        raise InputError("is no name of a file", file=name) from None
    if len(raw) > LARGEST_FILE:
        raise InputError(f"the file is larger than {LARGEST_FILE} bytes; a plan is a page of text", file=name)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; save it as UTF-8", file=name) from None


def read_data(path: str | Path) -> dict[str, Any]:
    """Read a TOML or JSON file of at most a megabyte into plain data. Raises InputError."""
    name, text = clean(str(path)), read_text(path)
    is_json = name.lower().endswith(".json")
    try:
        data = json.loads(text, object_pairs_hook=_no_twins) if is_json else _read_toml(text)
    except RecursionError:
        raise InputError("is nested too deeply; a plan has at most three levels", file=name) from None
    except ValueError as error:  # TOMLDecodeError and JSONDecodeError are ValueErrors, and so are twin keys
        kind = "JSON" if is_json else "TOML"
        raise InputError(f"cannot be read as {kind}: {clean(str(error))}", file=name) from None
    if not isinstance(data, dict):
        raise InputError("expected a table of plan fields", file=name)
    return data


def _read_toml(text: str) -> dict[str, Any]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > MOST_DOTS and not line.lstrip().startswith("#"):
            raise ValueError(f"line {number} has more than {MOST_DOTS} dots; a key has at most three parts")
    return tomllib.loads(text)


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for key, value in pairs:
        if key in data:
            raise ValueError(f"the key {_shown(key)} stands there twice")
        if key != clean(key):
            raise ValueError(f"the key {_shown(key)} holds a control character")
        data[key] = value
    return data


def _first_error(error: ValidationError, model: type[Section], file: str) -> InputError:
    """The first thing that is wrong; a misspelt key goes before the key that is missing because of it."""
    errors = error.errors(include_url=False)
    first = errors[0]
    if first["type"] == "missing":
        first = next((e for e in errors if e["type"] == "extra_forbidden"), first)
    path = ".".join(_part(part) for part in first["loc"])
    match first["type"]:
        case "extra_forbidden":
            accepted = _accepted_keys(model, first["loc"])
            near = difflib.get_close_matches(str(first["loc"][-1])[:LONGEST_TEXT], accepted, n=1, cutoff=0.6)
            message = f"unknown key{_hint(near)} Accepted: {', '.join(accepted)}"
        case "missing":
            message = f"is missing; a plan needs at least one [[{path}]]"
        case "too_short":
            message = f"is empty; a plan needs at least one [[{path}]]"
        case "tuple_type":
            message = f"expected a list of tables ([[{path}]]), got {_shown(first['input'])}"
        case "model_type" | "model_attributes_type" | "dict_type":
            message = f"expected a table of fields, got {_shown(first['input'])}"
        case _:
            message = first["msg"]
    return InputError(message, file=file, field=path)


def _part(part: int | str) -> str:
    text = clean(str(part))
    return text if len(text) <= 60 else text[:57] + "..."


def _accepted_keys(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    current: type[BaseModel] = model
    for part in loc[:-1]:
        if isinstance(part, int):
            continue
        field = next((f for n, f in current.model_fields.items() if part in (n, f.alias)), None)
        inner = next(_models_in(field.annotation), None) if field else None
        if inner is None:
            break
        current = inner
    return [field.alias or name for name, field in current.model_fields.items()]


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in getattr(annotation, "__args__", ()):
        yield from _models_in(argument)
