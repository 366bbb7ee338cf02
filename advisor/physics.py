"""Typed access to rules/knowledge/physics.toml: the constants that the measures reckon with.

Loaded and checked once. What is off is reported as `TableError` with the file, the entry and the field.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources.abc import Traversable
from typing import Annotated, Any, TypeVar

from pydantic import Field, ValidationError

from advisor.interval import Interval
from advisor.knowledge import TableError
from advisor.paths import rules_root
from advisor.rows import Figure, Row
from advisor.store import kept
from advisor.toml_file import read_toml

FILE = "physics.toml"

R = TypeVar("R", bound=Row)


class Constant(Row):
    """A figure that formulas use, under a name."""

    id: str
    title: str
    figure: Figure


class MeaningfulRange(Row):
    """The range in which a quantity means anything; what is outside is moved to the nearer end."""

    id: str
    title: str
    why: str
    figure: Figure


class FibreSites(Row):
    """Places for acid dye in meq per kg of dry fibre, and the fibre families this holds for."""

    id: str
    families: tuple[str, ...]
    title: str
    figure: Figure


class Molecule(Row):
    """What the dyes of a class are likely to be like: acid groups (mol/mol), molar mass (g/mol), strength as sold (%)."""

    dye_class: str
    groups: Figure
    molar_mass: Figure
    strength: Figure


class Partition(Row):
    """How the dyes of a class divide between fibre and bath (L/kg), and the fraction of exhausted dye that stays."""

    dye_class: str
    partition: Figure
    kept: Figure


class Retained(Row):
    """Liquor held by wet goods in L per kg of dry goods, by how they were drained."""

    id: str
    figure: Figure


class Volatile(Row):
    """A substance that leaves the bath with the steam; Henry's constant is the volatile side of the known.

    Henry in mol/(m^3.Pa) at 25 degC, its slope in K, limits at work in ppm.
    """

    species: str
    henry: Figure
    henry_slope: Figure
    limit_8h: Figure


_Some = Field(min_length=1)


class _File(Row):
    constant: Annotated[tuple[Constant, ...], _Some]
    range: Annotated[tuple[MeaningfulRange, ...], _Some]
    sites: Annotated[tuple[FibreSites, ...], _Some]
    molecule: Annotated[tuple[Molecule, ...], _Some]
    partition: Annotated[tuple[Partition, ...], _Some]
    retained: Annotated[tuple[Retained, ...], _Some]
    volatile: Annotated[tuple[Volatile, ...], _Some]


_UNITS: Mapping[str, str] = {  # fields whose unit the formulas rely on
    "groups": "mol/mol", "molar_mass": "g/mol", "strength": "%", "partition": "L/kg", "kept": "fraction",
    "henry": "mol/(m^3.Pa)", "henry_slope": "K", "limit_8h": "ppm",
}  # fmt: skip


class Physics:
    """The tables of physics.toml by id, dye class, fibre family or species. Raises TableError when the file is wrong."""

    def __init__(self, file: Traversable) -> None:
        tables = _read(file)
        self.constants = _by_name(tables.constant, "id")
        self.ranges = _by_name(tables.range, "id")
        self.sites = _by_name(tables.sites, "id")
        self.molecules = _by_name(tables.molecule, "dye_class")
        self.partitions = _by_name(tables.partition, "dye_class")
        self.retained = _by_name(tables.retained, "id")
        self.volatiles = _by_name(tables.volatile, "species")
        self._family_sites = {family: row for row in tables.sites for family in row.families}
        self.source_ids = frozenset(_sources(tables))

    def interval(self, constant: str) -> Interval:
        """A constant as an interval in its own unit. Raises KeyError for a name that is not in the table."""
        return self.constants[constant].figure.interval

    def number(self, constant: str) -> float:
        """A constant that is a single number, in its own unit.

        Raises KeyError for an unknown name, ValueError for a range. SI Brochure (from memory), 0 degC in K:

        >>> physics().number("zero_celsius")
        273.15
        """
        figure = self.constants[constant].figure
        if figure.low != figure.high:
            raise ValueError(f"{FILE}: {constant!r} is a range; use interval()")
        return figure.low

    def within(self, name: str, value: Interval) -> Interval:
        """The value moved inside the meaningful range of this name, in its unit; the row says why it ends there.

        Raises KeyError for an unknown name. By hand, a share of the air (ppm) cannot be more than all of it:

        >>> physics().within("vapour", Interval(-1, 2e6)) == Interval(0, 1e6)
        True
        """
        figure = self.ranges[name].figure
        return value.clip(figure.low, figure.high)

    def sites_of(self, family: str) -> FibreSites | None:
        """The dye sites of a fibre family, or of a row's own id, in meq/kg; None where no ceiling is known."""
        return self._family_sites.get(family) or self.sites.get(family)


def _read(file: Traversable) -> _File:
    data = read_toml(file, TableError)
    try:
        tables = _File.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        raise TableError(f"{FILE}: {_where(data, first['loc'])}: {first['msg']}") from None
    for rows in (tables.molecule, tables.partition, tables.volatile):
        for row in rows:
            for field, unit in _UNITS.items():
                figure = getattr(row, field, None)
                if figure is not None and figure.unit != unit:
                    message = f"{FILE}: {_name(row)!r}: {field}: unit is {figure.unit!r}; accepted: {unit}"
                    raise TableError(message)
    return tables


def _where(data: Mapping[str, Any], location: tuple[int | str, ...]) -> str:
    """Turn ("constant", 3, "figure", "unit") into "[[constant]] 'gas_constant': figure.unit"."""
    if len(location) < 2 or not isinstance(location[1], int):
        return ".".join(map(str, location))
    table, number, *field = location
    item = data[str(table)][number]
    name = next((item[key] for key in ("id", "dye_class", "species") if key in item), f"number {number}")
    return f"[[{table}]] {name!r}: {'.'.join(map(str, field)) or 'entry'}"


def _name(row: Row) -> str:
    return next(str(getattr(row, key)) for key in ("id", "dye_class", "species") if hasattr(row, key))


def _by_name(rows: tuple[R, ...], key: str) -> dict[str, R]:
    named: dict[str, R] = {}
    for row in rows:
        name = getattr(row, key)
        if name in named:
            raise TableError(f"{FILE}: {name!r} stands there twice")
        named[name] = row
    return named


def _sources(value: Any) -> set[str]:
    if isinstance(value, Figure):
        return {value.source}
    if isinstance(value, tuple):
        return {source for member in value for source in _sources(member)}
    if isinstance(value, Row):
        return {source for name in type(value).model_fields for source in _sources(getattr(value, name))}
    return set()


@lru_cache(maxsize=1)
def physics() -> Physics:
    """The constants that ship with the advisor, loaded once.

    Raises TableError when the file is missing or wrong.
    """
    return kept("physics", lambda: Physics(rules_root() / "knowledge" / FILE))
