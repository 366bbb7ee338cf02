"""What the person said: the plan of one bath, checked and in canonical units.

A plan file is TOML or JSON. What is left out, or written as "unknown", is unknown: a quantity then has
the whole range its kind allows, a choice is the word `unknown`, a list is None. An empty list says none.
"""

from __future__ import annotations

import copy
import difflib
import json
import sys
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationError, field_validator

from advisor.errors import AdvisorError
from advisor.plan_values import (
    LONGEST_TEXT,
    STRENGTH,
    UNKNOWN,
    UNKNOWN_FIBRES,
    Amount,
    Chosen,
    Contents,
    Country,
    DyeClassWord,
    Fibres,
    Listed,
    Mass,
    MaterialWord,
    Measured,
    Percent,
    Strength,
    SubstanceWord,
    Text,
    Trims,
    Volume,
    YesNo,
    as_typed,
    clean,
    did_you_mean,
    not_endless,
)
from advisor.quantities import Quantity, unknown

if TYPE_CHECKING:
    from advisor.shelf import Shelf

STDIN = "-"  # as the name of a file to read, given as text: standard input; a Path is always a file
LARGEST_FILE = 1_000_000  # bytes; a plan is a page of text
MOST_DOTS = 100  # on a line of TOML that is no comment; a key has three parts, and the reader slows with their square


class InputError(AdvisorError):
    """Bad input: names the file, the field, what was wrong and what is accepted."""

    def __init__(self, message: str, *, file: str = "plan", field: str = "") -> None:
        self.file, self.field, self.detail = file, field, message
        super().__init__(f"{file}: {field}: {message}" if field else f"{file}: {message}")


class Section(BaseModel):
    """Base of the parts of a plan: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, defer_build=True)


class Goods(Section):
    """One lot of goods for the bath."""

    name: Text = "goods"
    fibres: Fibres = UNKNOWN_FIBRES
    dry_mass: Mass = unknown("mass")
    colour: Annotated[str, Chosen("colour", "undyed", "dyed")] = UNKNOWN
    finishes: Annotated[tuple[str, ...] | None, Listed("finish")] = None
    next_to_skin: YesNo = None
    trims: Trims = None


POWDERS = ("powder", "granules")  # the forms of a dye that dust


class Dye(Section):
    """One dye. `maximum` is the maker's maximum on the weight of goods."""

    name: Text = "dye"
    dye_class: DyeClassWord = Field(UNKNOWN, alias="class")
    form: Annotated[str, Chosen("form", "powder", "granules", "liquid", "paste", "solution", "plant pieces")] = UNKNOWN
    amount: Amount = unknown("mass")
    strength: Strength = STRENGTH.unstated()
    maximum: Percent = unknown("fraction")
    safety_data_sheet: Annotated[str, Chosen("answer", "read", "not read")] = UNKNOWN
    contains: Contents = None
    old_stock: YesNo = None
    shelf: Text = ""


class Assist(Section):
    """A chemical beside the dye: acid, alkali, salt, mordant ..."""

    substance: SubstanceWord = UNKNOWN
    amount: Amount = unknown("mass")
    strength: Strength = STRENGTH.unstated()


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
    before: Annotated[tuple[str, ...] | None, Listed("substance")] = None


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
    """Who does it, what they wear, and who else is there.

    `away_from_powder`: who of them comes in only when all powder is dissolved and wiped up; left out, nobody.
    """

    wearing: Annotated[tuple[str, ...] | None, Listed("gear")] = None
    present: Annotated[tuple[str, ...] | None, Listed("person")] = None
    away_from_powder: Annotated[tuple[str, ...] | None, Listed("person")] = None
    shelf: Text = ""


class Space(Section):
    """The room."""

    kind: Annotated[str, Chosen("space")] = UNKNOWN
    volume: Annotated[Quantity, Measured("room volume")] = unknown("room volume")
    ventilation: Annotated[str, Chosen("ventilation")] = UNKNOWN
    food_out: YesNo = None
    chemicals: Annotated[tuple[str, ...] | None, Listed("substance")] = None
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
    place: Country = UNKNOWN
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

    @field_validator("assists", "utensils", mode="before")
    @classmethod
    def _unknown_list(cls, value: Any) -> Any:
        return None if isinstance(value, str) and value.casefold().strip() == UNKNOWN else value

    @field_validator("goods", "dyes", "assists", "utensils", mode="before")
    @classmethod
    def _entries(cls, value: Any) -> Any:
        if isinstance(value, (list, tuple)):
            not_endless(value)
        return value

    @field_validator("bath", "vessel", "scale", "people", "space", "aftercare", "storage", mode="before")
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
        raise first_error(error, Plan, file) from None
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
    return read_plan(read_data(path), file=file_name(path), folder=Path(path).parent, shelf=shelf)


def file_name(path: str | Path) -> str:
    """What messages call a file that is read."""
    return "standard input" if path == STDIN else clean(str(path))


def read_text(path: str | Path) -> str:
    """The text of a file of at most a megabyte, without a byte order mark; "-" is standard input. Raises InputError."""
    name = file_name(path)
    if path == STDIN and sys.stdin is None:
        raise InputError("is closed", file=name)
    try:
        with nullcontext(sys.stdin.buffer) if path == STDIN else open(path, "rb") as stream:
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
    """Read a TOML or JSON file of at most a megabyte into plain data. Raises InputError.

    Standard input is taken for JSON when it begins with a brace, as no TOML does.
    """
    name, text = file_name(path), read_text(path)
    is_json = text.lstrip().startswith("{") if path == STDIN else name.lower().endswith(".json")
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
            raise ValueError(f"the key {as_typed(key)} stands there twice")
        if key != clean(key):
            raise ValueError(f"the key {as_typed(key)} holds a control character")
        data[key] = value
    return data


def first_error(error: ValidationError, model: type[Section], file: str) -> InputError:
    """The first thing that is wrong; a misspelt key goes before the key that is missing because of it."""
    errors = error.errors(include_url=False)
    first = errors[0]
    if first["type"] == "missing":
        first = next((e for e in errors if e["type"] == "extra_forbidden"), first)
    path = ".".join(_part(part) for part in first["loc"])
    match first["type"]:
        case "extra_forbidden":
            accepted = accepted_keys(model, first["loc"])
            near = difflib.get_close_matches(str(first["loc"][-1])[:LONGEST_TEXT], accepted, n=1, cutoff=0.6)
            message = f"unknown key{did_you_mean(near)} Accepted: {', '.join(accepted)}"
        case "missing":
            message = "is missing" if "." in path else f"is missing; a plan needs at least one [[{path}]]"
        case "too_short":
            message = f"is empty; a plan needs at least one [[{path}]]"
        case "tuple_type":
            message = f"expected a list of tables ([[{path}]]), got {as_typed(first['input'])}"
        case "model_type" | "model_attributes_type" | "dict_type":
            message = f"expected a table of fields, got {as_typed(first['input'])}"
        case _:
            message = first["msg"]
    return InputError(message, file=file, field=path)


def _part(part: int | str) -> str:
    text = clean(str(part))
    return text if len(text) <= 60 else text[:57] + "..."


def accepted_keys(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    """The keys that may stand in the table that holds the last step of `loc`."""
    current: type[BaseModel] = model
    for part in loc[:-1]:
        if isinstance(part, int):
            continue
        field = next((f for n, f in current.model_fields.items() if part in (n, f.alias)), None)
        inner = next(models_in(field.annotation), None) if field else None
        if inner is None:
            break
        current = inner
    return [field.alias or name for name, field in current.model_fields.items()]


def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The models an annotation names, at any depth."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in getattr(annotation, "__args__", ()):
        yield from models_in(argument)
