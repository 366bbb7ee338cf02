"""What screening knows beside the fibre tables: rules/knowledge/trials.toml, checked when it is loaded."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Literal

from pydantic import ValidationError

from advisor.knowledge import Knowledge, Table, TableError, knowledge
from advisor.paths import rules_root
from advisor.rows import Basis, Figure, Named, Row
from advisor.toml_file import read_toml

FILE = "trials.toml"


class TakeWeight(Named):
    """What a way of taking dye (full, partial, stain, none, damage) counts in the order of dye classes."""

    figure: Figure


class ClassGrade(Named):
    """How easy and how mild a dye class is at home, 0 to 1. `surface`: a film on the fibre, no dye in it."""

    ease: Figure
    mildness: Figure
    surface: bool = False


class SwatchFigure(Named):
    """One number of the swatch trial."""

    figure: Figure


class SmallPart(Named):
    """A part of goods that labels leave out, and the fibres it is mostly made of."""

    fibres: tuple[str, ...]
    note: str
    source: str
    basis: Basis


class Trial(Named):
    """A trial at home that narrows down an unknown fibre, with what it cannot tell and its cautions."""

    kind: Literal["look", "burn", "bleach", "solvent", "float", "heat", "swatch"]
    who: Literal["anyone", "adult"]
    how: str
    can_tell: tuple[str, ...]
    cannot_tell: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str
    basis: Basis


class Laboratory(Named):
    """A method a laboratory would use."""

    about: str
    source: str
    basis: Basis


class ListColumn(Named):
    """A column of a goods list, with the words that commonly head it."""

    source: str
    basis: Basis


_ARRAYS: Mapping[str, type[Named]] = {
    "take_weight": TakeWeight,
    "class_grade": ClassGrade,
    "swatch": SwatchFigure,
    "small_part": SmallPart,
    "trial": Trial,
    "laboratory": Laboratory,
    "list_column": ListColumn,
}


class ScreenTables:
    """The tables of trials.toml."""

    def __init__(self, rows: Mapping[str, tuple[Any, ...]], k: Knowledge) -> None:
        self.weights: dict[str, float] = {row.id: row.figure.low for row in rows["take_weight"]}
        self.grades: dict[str, ClassGrade] = {row.id: row for row in rows["class_grade"]}
        self.swatch: dict[str, Figure] = {row.id: row.figure for row in rows["swatch"]}
        self.small_parts: tuple[SmallPart, ...] = rows["small_part"]
        self.trials: tuple[Trial, ...] = rows["trial"]
        self.laboratories: tuple[Laboratory, ...] = rows["laboratory"]
        self.columns: Table[ListColumn] = Table("list columns", rows["list_column"])
        for dye_class in k.dye_classes.ids:
            if dye_class not in self.grades:
                raise TableError(f"{FILE}: no [[class_grade]] for dye class {dye_class!r}")
        for row in (row for table in rows.values() for row in table):
            for source in _sources_of(row):
                if source not in k.sources:
                    raise TableError(f"{FILE}: {row.id!r}: source {source!r} is not in sources.toml")
        for part in self.small_parts:
            for fibre in part.fibres:
                if fibre not in k.fibres:
                    raise TableError(f"{FILE}: {part.id!r}: fibres: {fibre!r} is not a known id")


def _sources_of(row: Row) -> list[str]:
    figures = [value for value in (getattr(row, name) for name in type(row).model_fields) if isinstance(value, Figure)]
    own = getattr(row, "source", None)
    return [figure.source for figure in figures] + ([own] if own else [])


@lru_cache(maxsize=1)
def screen_tables() -> ScreenTables:
    """The tables of trials.toml, loaded once. Raises TableError when the table is missing or wrong."""
    data = read_toml(rules_root() / "knowledge" / FILE, TableError)
    unknown = sorted(set(data) - set(_ARRAYS))
    if unknown:
        raise TableError(f"{FILE}: unknown table {unknown[0]!r}; accepted: {', '.join(_ARRAYS)}")
    return ScreenTables({key: _rows(key, model, data.get(key, [])) for key, model in _ARRAYS.items()}, knowledge())


def _rows(key: str, model: type[Named], entries: Any) -> tuple[Named, ...]:
    rows: dict[str, Named] = {}
    for number, entry in enumerate(entries, start=1):
        try:
            row = model.model_validate(entry)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(part) for part in first["loc"]) or "entry"
            raise TableError(f"{FILE}: [[{key}]] number {number}: {where}: {first['msg']}") from None
        if row.id in rows:
            raise TableError(f"{FILE}: [[{key}]] {row.id!r} stands there twice")
        rows[row.id] = row
    if not rows:
        raise TableError(f"{FILE}: expected at least one [[{key}]]")
    return tuple(rows.values())
