"""The shelf: dyes, vessels and gear that stay the same from bath to bath, typed in once.

A shelf is a TOML or JSON file with lists of entries that each have a name. A plan refers to an entry by its name
(`shelf = "slate"` in a dye) and leaves the rest out; what the plan itself says goes before the shelf. A shelf
cannot refer to anything, so there are no circles. Words and quantities are read as in the plan that takes them.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationError, create_model

from advisor.plan import Dye, InputError, People, Scale, Section, Space, Taken, Utensil, Vessel, first_error, read_data
from advisor.plan_values import UNKNOWN, Text, as_typed, clean, in_words

MOST_ON_SHELF = 500  # entries of one list


@dataclass(frozen=True, slots=True)
class Kind:
    """One list of a shelf: the part of a plan that takes from it, and its keys; `named`: the plan has the name too."""

    part: str
    model: type[Section]
    keys: tuple[str, ...]
    named: bool = False


KINDS: Mapping[str, Kind] = {
    "dyes": Kind(
        "dyes",
        Dye,
        ("class", "form", "strength", "maximum", "safety_data_sheet", "contains", "old_stock"),
        named=True,
    ),
    "vessels": Kind("vessel", Vessel, ("material", "capacity", "condition", "used_for_food", "lid", "empty_mass")),
    "utensils": Kind("utensils", Utensil, ("material", "used_for_food"), named=True),
    "scales": Kind("scale", Scale, ("resolution",)),
    "gear": Kind("people", People, ("wearing",)),
    "rooms": Kind("space", Space, ("kind", "volume")),
}
KIND_OF_PART: Mapping[str, str] = {kind.part: name for name, kind in KINDS.items()}


def _entry_model(name: str, kind: Kind) -> type[Section]:
    """An entry: a name, and the plan's own fields for the keys of its kind."""
    by_key = {field.alias or name: (name, field) for name, field in kind.model.model_fields.items()}
    fields: dict[str, Any] = {by_key[key][0]: (by_key[key][1].annotation, by_key[key][1]) for key in kind.keys}
    return create_model(f"ShelfOf{name.capitalize()}", __base__=Section, name=(Text, ...), **fields)


_MODELS = {name: _entry_model(name, kind) for name, kind in KINDS.items()}
ShelfFile: type[Section] = create_model(
    "Shelf",
    __base__=Section,
    **{
        name: (Annotated[tuple[model, ...], Field(max_length=MOST_ON_SHELF)], ())  # type: ignore[valid-type]
        for name, model in _MODELS.items()
    },  # type: ignore[call-overload]
)


@dataclass(frozen=True)
class Shelf:
    """A shelf that was read and found in order. `entries`: list -> name -> the entry's plain data."""

    file: str
    entries: Mapping[str, Mapping[str, Mapping[str, Any]]]

    def find(self, part: str, name: str) -> Mapping[str, Any] | None:
        """The entry of this name for a part of a plan; capitals and spacing do not matter."""
        return self._folded(part).get(_fold(name))

    def names(self, part: str) -> tuple[str, ...]:
        """The names there are for a part of a plan, in the order of the file."""
        return tuple(entry["name"] for entry in self._folded(part).values())

    def _folded(self, part: str) -> Mapping[str, Mapping[str, Any]]:
        return self.entries.get(KIND_OF_PART.get(part, ""), {})


def _fold(name: str) -> str:
    return " ".join(name.casefold().split())


def load_shelf(path: str | Path) -> Shelf:
    """Read and check a shelf file (.toml, or .json) of at most a megabyte. Raises InputError."""
    return read_shelf(read_data(path), file=clean(str(path)))


def read_shelf(data: Mapping[str, Any], *, file: str = "shelf") -> Shelf:
    """Check a shelf given as plain data. Raises InputError with the file, the key path and what was wrong."""
    try:
        read = ShelfFile.model_validate(dict(data))
    except ValidationError as error:
        first = first_error(error, ShelfFile, file)
        detail = first.detail
        if first.field.endswith(".name") and detail.startswith("is missing"):
            detail = "is missing; a plan refers to an entry of the shelf by its name"
        raise InputError(detail, file=file, field=first.field) from None
    entries: dict[str, dict[str, Mapping[str, Any]]] = {}
    for kind in KINDS:
        entries[kind] = {}
        for number, (entry, raw) in enumerate(zip(getattr(read, kind), data.get(kind, ()), strict=True)):
            key, field = _fold(entry.name), f"{kind}.{number}.name"
            if key == UNKNOWN:
                raise InputError("'unknown' is no name for an entry of the shelf", file=file, field=field)
            if key in entries[kind]:
                raise InputError(f"{as_typed(entry.name)} stands there twice", file=file, field=field)
            entries[kind][key] = {**raw, "name": entry.name}
    return Shelf(file, entries)


def named_shelf(data: Mapping[str, Any], *, file: str, folder: Path) -> Shelf | None:
    """The shelf that plan data names, looked up in the plan's folder; None when it names none. Raises InputError."""
    return load_shelf(_beside(data["shelf"], file, folder)) if "shelf" in data else None


def with_shelf(
    data: Mapping[str, Any], *, file: str, folder: Path, shelf: Shelf | None = None
) -> tuple[dict[str, Any], tuple[Taken, ...]]:
    """A copy of plan data with the shelf's values in the place of what it leaves out, and a list of these.

    `folder` is where the shelf that the plan names is looked up; it must lie in it. Raises InputError.
    """
    result: dict[str, Any] = copy.deepcopy(dict(data))
    shelf = shelf or named_shelf(data, file=file, folder=folder)
    result.pop("shelf", None)
    taken: list[Taken] = []
    for path, part, node in _parts(result):
        if "shelf" not in node:
            continue
        name, field = node.pop("shelf"), f"{path}.shelf"
        if part not in KIND_OF_PART:
            raise InputError(
                f"nothing here can come from a shelf; accepted in: {', '.join(KIND_OF_PART)}", file=file, field=field
            )
        if not isinstance(name, str) or not name.strip():
            raise InputError(
                f"expected the name of an entry of the shelf, got {as_typed(name)}", file=file, field=field
            )
        if _fold(name) == UNKNOWN:
            continue
        if shelf is None:
            message = f"{as_typed(name)} is to come from a shelf, but none is named"
            accepted = "accepted: shelf = 'shelf.toml' at the top of the plan, or --shelf FILE"
            raise InputError(f"{message}; {accepted}", file=file, field=field)
        entry = shelf.find(part, name)
        if entry is None:
            raise InputError(_no_entry(shelf, part, name), file=file, field=field)
        taken += _fill(node, entry, KINDS[KIND_OF_PART[part]], path, shelf)
    return result, tuple(taken)


def _parts(data: Mapping[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Path, part and table of everything in plan data that may refer to a shelf."""
    for part, value in data.items():
        if isinstance(value, dict):
            yield clean(part), part, value
        elif isinstance(value, list):
            yield from ((f"{clean(part)}.{n}", part, entry) for n, entry in enumerate(value) if isinstance(entry, dict))


def _fill(node: dict[str, Any], entry: Mapping[str, Any], kind: Kind, path: str, shelf: Shelf) -> Iterator[Taken]:
    if kind.named:
        node.setdefault("name", entry["name"])
    for key in kind.keys:
        if key in entry and key not in node:
            node[key] = copy.deepcopy(entry[key])
            yield Taken(f"{path}.{key}", in_words(entry[key]), entry["name"], shelf.file)


def _no_entry(shelf: Shelf, part: str, name: str) -> str:
    names = shelf.names(part)
    kind = KIND_OF_PART[part]
    if not names:
        return f"{as_typed(name)}: {shelf.file} has no [[{kind}]]"
    near = difflib.get_close_matches(_fold(name)[:100], [_fold(known) for known in names], n=1, cutoff=0.6)
    found = shelf.find(part, near[0]) if near else None
    hint = f"; did you mean {found['name']!r}?" if found else "."
    return f"{as_typed(name)} is not among the [[{kind}]] of {shelf.file}{hint} Accepted: {', '.join(names)}"


def _beside(named: Any, file: str, folder: Path) -> Path:
    """The path of the shelf a plan names. A plan that came from somebody else must not make us read any file."""
    accepted = "accepted: a file in the folder of the plan, such as 'shelf.toml'"
    if not isinstance(named, str) or not named.strip():
        raise InputError(f"expected the name of a file, got {as_typed(named)}; {accepted}", file=file, field="shelf")
    path = folder / named
    try:
        inside = path.resolve().is_relative_to(folder.resolve()) and not Path(named).is_absolute()
        there = inside and path.is_file()
    except (OSError, RuntimeError, ValueError):  # links in a circle, a NUL in the name
        inside = there = False
    if not inside:
        message = f"{as_typed(named)} lies outside the folder of the plan; {accepted}; --shelf FILE takes any file"
        raise InputError(message, file=file, field="shelf")
    if not there:
        raise InputError(f"{as_typed(named)} is not there, or no file; {accepted}", file=file, field="shelf")
    return path
