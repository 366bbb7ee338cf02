"""Typed access to the tables under rules/knowledge/.

Everything is validated when it is loaded; what is off is reported as `TableError` with the file, the
entry and the field. Words a person may write (ids, titles, synonyms) are found by `Table.find`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property, lru_cache
from importlib.resources.abc import Traversable
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from advisor.composition import UNKNOWN
from advisor.errors import AdvisorError
from advisor.paths import rules_root
from advisor.rows import (
    Act,
    Approximation,
    Ask,
    Content,
    Duty,
    DyeClass,
    Exposure,
    Family,
    Fibre,
    Figure,
    Finish,
    Gear,
    GoodsWord,
    HeatSource,
    Kind,
    LabelCode,
    Limit,
    LocalUnit,
    Material,
    Named,
    Pair,
    Pictogram,
    Place,
    Preference,
    RefusedUnit,
    Row,
    Source,
    Space,
    Substance,
    Unit,
    Uptake,
    Ventilation,
    WayOut,
    Withdrawn,
    Word,
)
from advisor.store import kept
from advisor.toml_file import read_toml

R = TypeVar("R", bound=Row)
N = TypeVar("N", bound=Named)


TAKES_DYE = frozenset({"full", "partial"})
"""The ways of taking a dye class that count as dyeable."""
TABLES_ARE_WIDE = (
    "No answer of yours settles this: the figures of the tables are too wide. Go by the maker's instructions, and measure"
    " what can be measured, such as pH with a strip."
)


class TableError(AdvisorError):
    """A table is missing or wrong; the message names file, entry and field."""


class Table(Generic[N]):
    """Rows by id, and by any accepted word."""

    def __init__(self, name: str, rows: tuple[N, ...]) -> None:
        self.name = name
        self.rows = rows
        self._by_id = {row.id: row for row in rows}
        self._words: dict[str, N] = {}
        for row in rows:
            for word in (row.id, row.title, *row.synonyms):
                if word:
                    self._words.setdefault(fold_word(word), row)

    def __getitem__(self, row_id: str) -> N:
        return self._by_id[row_id]

    def __contains__(self, row_id: object) -> bool:
        return row_id in self._by_id

    def __iter__(self) -> Iterator[N]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def ids(self) -> tuple[str, ...]:
        """All ids, in table order."""
        return tuple(self._by_id)

    def find(self, word: str) -> N | None:
        """The row a person means by this word (id, title or synonym; case and spacing do not matter)."""
        return self._words.get(fold_word(word))

    @property
    def words(self) -> tuple[str, ...]:
        """Every accepted word, folded."""
        return tuple(self._words)


def fold_word(word: str) -> str:
    """A word as the tables look it up: case, spacing, hyphens and underscores do not matter."""
    return " ".join(word.casefold().replace("-", " ").replace("_", " ").split())


# file name -> (key of the array in it, model of a row)
_FILES: Mapping[str, tuple[tuple[str, type[Row]], ...]] = {
    "sources.toml": (("source", Source),),
    "units.toml": (
        ("kind", Kind),
        ("approximation", Approximation),
        ("refused_unit", RefusedUnit),
        ("unit", Unit),
        ("local_unit", LocalUnit),
    ),
    "families.toml": (("family", Family),),
    "fibres.toml": (("fibre", Fibre),),
    "labels.toml": (("label_code", LabelCode), ("goods_word", GoodsWord)),
    "dye_classes.toml": (("dye_class", DyeClass),),
    "uptake.toml": (("uptake", Uptake),),
    "substances.toml": (("substance", Substance),),
    "contents.toml": (("content", Content),),
    "pairs.toml": (("pair", Pair),),
    "vessels.toml": (("material", Material),),
    "heat.toml": (("heat_source", HeatSource),),
    "gear.toml": (("exposure", Exposure), ("gear", Gear)),
    "rooms.toml": (("space", Space), ("ventilation", Ventilation), ("drain", Word), ("leftover", Word)),
    "people.toml": (("person", Word),),
    "finishes.toml": (("finish", Finish),),
    "limits.toml": (("limit", Limit),),
    "places.toml": (("place", Place),),
    "questions.toml": (("question", Ask),),
    "remedies.toml": (("way_out", WayOut), ("act", Act), ("choice", Preference), ("way_out_limit", Limit)),
    "class.toml": (
        ("class_limit", Limit),
        ("need", Word),
        ("duty", Duty),
        ("pictogram", Pictogram),
        ("session_question", Ask),
    ),
    "withdrawn.toml": (("withdrawn_rule", Withdrawn), ("withdrawn_topic", Withdrawn)),
}
_MAY_BE_EMPTY = frozenset({"withdrawn_rule", "withdrawn_topic"})  # until the first rule is withdrawn


class UnitTables:
    """The tables of units.toml. They stand apart because reading a quantity needs nothing else."""

    def __init__(self, rows: Mapping[str, tuple[Any, ...]]) -> None:
        self.kinds: Table[Kind] = Table("kinds of quantity", rows["kind"])
        self.approximations: Table[Approximation] = Table("approximations", rows["approximation"])
        self.refused: tuple[RefusedUnit, ...] = rows["refused_unit"]
        self.units: Table[Unit] = Table("units", rows["unit"])
        self.local: dict[tuple[str, str], str] = {(r.place, r.unit): r.means for r in rows["local_unit"]}
        for kind in self.kinds:
            if kind.small:
                self._need_plain(kind, "small", kind.small)
        for unit in self.units:
            if unit.kind not in self.kinds:
                raise TableError(f"units.toml: {_entry(unit)}: kind: {unit.kind!r} is not a known id")
            for member in unit.any_of:
                self._need_plain(unit, "any_of", member)
        for local in rows["local_unit"]:
            if local.unit not in self.units:
                raise TableError(f"units.toml: {_entry(local)}: unit: {local.unit!r} is not a known id")
            self._need_plain(local, "means", local.means)

    def _need_plain(self, row: Row, field: str, unit_id: str) -> None:
        if unit_id not in self.units or self.units[unit_id].any_of:
            raise TableError(f"units.toml: {_entry(row)}: {field}: {unit_id!r} is not a unit of one size")


class Knowledge:
    """All tables, loaded and checked."""

    def __init__(self, folder: Traversable) -> None:
        rows: dict[str, tuple[Any, ...]] = {}
        for file in _FILES:
            rows.update(_load(folder, file))
        self.sources: dict[str, Source] = {s.id: s for s in rows["source"]}
        self.unit_tables = UnitTables(rows)
        self.units: Table[Unit] = self.unit_tables.units
        self.families: Table[Family] = Table("families", rows["family"])
        self.fibres: Table[Fibre] = Table("fibres", rows["fibre"])
        self.label_codes: tuple[LabelCode, ...] = rows["label_code"]
        self.goods_words: Table[GoodsWord] = Table("goods words", rows["goods_word"])
        self.dye_classes: Table[DyeClass] = Table("dye classes", rows["dye_class"])
        self.uptake: dict[tuple[str, str], Uptake] = {(u.family, u.dye_class): u for u in rows["uptake"]}
        self.substances: Table[Substance] = Table("substances", rows["substance"])
        self.contents: Table[Content] = Table("contents of dyes", rows["content"])
        self.pairs: tuple[Pair, ...] = rows["pair"]
        self.materials: Table[Material] = Table("materials", rows["material"])
        self.heat_sources: Table[HeatSource] = Table("heat sources", rows["heat_source"])
        self.exposures: Table[Exposure] = Table("exposures", rows["exposure"])
        self.gear: Table[Gear] = Table("gear", rows["gear"])
        self.spaces: Table[Space] = Table("spaces", rows["space"])
        self.ventilation: Table[Ventilation] = Table("ventilation", rows["ventilation"])
        self.drains: Table[Word] = Table("drains", rows["drain"])
        self.leftovers: Table[Word] = Table("leftovers", rows["leftover"])
        self.people: Table[Word] = Table("people", rows["person"])
        self.finishes: Table[Finish] = Table("finishes", rows["finish"])
        self.limits: dict[str, Limit] = {limit.id: limit for limit in rows["limit"]}
        self.places: Table[Place] = Table("places", rows["place"])
        self._asks: dict[str, Ask] = {ask.field: ask for ask in (*rows["question"], *rows["session_question"])}
        self.class_limit_rows: tuple[Limit, ...] = rows["class_limit"]
        self.class_limits: dict[str, Figure] = {limit.id: limit.figure for limit in self.class_limit_rows}
        self.needs: Table[Word] = Table("needs", rows["need"])
        self.duties: tuple[Duty, ...] = rows["duty"]
        self.pictograms: tuple[Pictogram, ...] = rows["pictogram"]
        self.ways_out: Table[WayOut] = Table("ways out", rows["way_out"])
        self.acts: tuple[Act, ...] = rows["act"]
        self.choices: dict[str, tuple[str, ...]] = {c.field: c.words for c in rows["choice"]}
        self.way_out_limits: dict[str, Figure] = {limit.id: limit.figure for limit in rows["way_out_limit"]}
        self.withdrawn_rules: dict[str, Withdrawn] = {gone.id: gone for gone in rows["withdrawn_rule"]}
        self.withdrawn_topics: dict[str, Withdrawn] = {gone.id: gone for gone in rows["withdrawn_topic"]}
        self._check_references(rows)

    @cached_property
    def dye_class_families(self) -> dict[str, tuple[str, ...]]:
        """Family name -> its member ids ("acid" -> levelling, milling, metal-complex)."""
        families: dict[str, list[str]] = {}
        for dye_class in self.dye_classes:
            if dye_class.family:
                families.setdefault(dye_class.family, []).append(dye_class.id)
        return {name: tuple(members) for name, members in families.items() if len(members) > 1}

    def members(self, dye_class: str) -> tuple[DyeClass, ...]:
        """The dye classes a word stands for, in table order: itself, the members of a family, all of them for "unknown".

        Raises KeyError for any other word.
        """
        return self._members[dye_class]

    @cached_property
    def _members(self) -> dict[str, tuple[DyeClass, ...]]:
        members: dict[str, tuple[DyeClass, ...]] = {row.id: (row,) for row in self.dye_classes}
        members |= {name: tuple(self.dye_classes[c] for c in ids) for name, ids in self.dye_class_families.items()}
        return members | {UNKNOWN: self.dye_classes.rows}

    def takes(self, families: Iterable[str], dye_class: str) -> frozenset[str]:
        """The ways any of these fibre families takes a dye class, or any class that its word stands for (uptake.toml).

        Raises KeyError for a family or class that is not known.
        """
        members = self.members(dye_class)
        return frozenset(self.uptake[family, member.id].take for family in families for member in members)

    @property
    def airing_families(self) -> dict[str, tuple[str, ...]]:
        """A way of airing that no room indoors has, in a place of unknown kind: it, or what it counts as indoors."""
        rows = [row for row in self.ventilation if row.in_a_room]
        return {f"{row.id} or {row.in_a_room}": (row.id, row.in_a_room) for row in rows}

    def question(self, path: str) -> str:
        """What to ask about a plan path such as "goods.0.fibres"."""
        ask = self._asks.get(_pattern(path))
        if ask is not None:
            return ask.ask
        return f"Please state {path}." if path else TABLES_ARE_WIDE

    def example(self, path: str) -> str:
        """An answer to the question about a plan path, as one might type it; "" where none is given."""
        ask = self._asks.get(_pattern(path))
        return ask.example if ask is not None else ""

    def source(self, source_id: str) -> Source:
        """The source with this id."""
        return self.sources[source_id]

    def _check_references(self, rows: Mapping[str, tuple[Any, ...]]) -> None:
        for key, table in rows.items():
            file = next(name for name, arrays in _FILES.items() if key in (k for k, _ in arrays))
            for row in table:
                for source in _sources_of(row):
                    if source not in self.sources:
                        raise TableError(f"{file}: {_entry(row)}: source {source!r} is not in sources.toml")

        def need(file: str, row: Row, field: str, value: str, known: object) -> None:
            if value not in known:  # type: ignore[operator]
                raise TableError(f"{file}: {_entry(row)}: {field}: {value!r} is not a known id")

        for fibre in self.fibres:
            need("fibres.toml", fibre, "family", fibre.family, self.families)
        for code in self.label_codes:
            for fibre_id in code.fibres:
                need("labels.toml", code, "fibres", fibre_id, self.fibres)
        for goods_word in self.goods_words:
            for fibre_id in goods_word.may_hide:
                need("labels.toml", goods_word, "may_hide", fibre_id, self.fibres)
        for dye_class in self.dye_classes:
            need("dye_classes.toml", dye_class, "substance", dye_class.substance, self.substances)
            for use in dye_class.assists:
                for substance in use.substances:
                    need("dye_classes.toml", dye_class, "assists.substances", substance, self.substances)
            for family in self.families:
                if (family.id, dye_class.id) not in self.uptake:
                    raise TableError(f"uptake.toml: no row for family {family.id!r} and dye class {dye_class.id!r}")
        for (family_id, class_id), uptake in self.uptake.items():
            need("uptake.toml", uptake, "family", family_id, self.families)
            need("uptake.toml", uptake, "dye_class", class_id, self.dye_classes)
        meeting = {name for s in self.substances for name in (s.id, *s.roles, *s.reactivity_groups)}
        for pair in self.pairs:
            need("pairs.toml", pair, "a", pair.a, meeting)
            need("pairs.toml", pair, "b", pair.b, meeting)
        for gear in self.gear:
            for exposure in gear.protects:
                need("gear.toml", gear, "protects", exposure, self.exposures)
            for exposure in gear.mistaken_for:
                need("gear.toml", gear, "mistaken_for", exposure, self.exposures)
        for airing in self.ventilation:
            if airing.in_a_room:
                need("rooms.toml", airing, "in_a_room", airing.in_a_room, self.ventilation)
        for way_out in self.ways_out:
            for other in way_out.instead:
                need("remedies.toml", way_out, "instead", other, self.ways_out)
        for act in self.acts:
            if act.way:
                need("remedies.toml", act, "way", act.way, self.ways_out)
        for chemical in self.substances:
            for metal in chemical.metals:
                need("substances.toml", chemical, "metals", metal, self.contents)
            for gear_need in chemical.gear:
                for exposure in gear_need.exposures:
                    need("substances.toml", chemical, "gear.exposures", exposure, self.exposures)


def _pattern(path: str) -> str:
    return ".".join("*" if part.isdigit() else part for part in path.split("."))


def _sources_of(value: Any) -> Iterator[str]:
    if isinstance(value, Row):
        for name in type(value).model_fields:
            field = getattr(value, name)
            if name == "source" and isinstance(field, str):
                yield field
            else:
                yield from _sources_of(field)
    elif isinstance(value, tuple):
        for member in value:
            yield from _sources_of(member)


def _entry(row: Row) -> str:
    for name in ("id", "code"):
        if hasattr(row, name):
            return repr(getattr(row, name))
    if isinstance(row, Uptake):
        return f"{row.family!r} x {row.dye_class!r}"
    if isinstance(row, (Ask, Preference)):
        return repr(row.field)
    if isinstance(row, Act):
        return f"{row.field!r}, to {row.to!r}, way {row.way!r}"
    if isinstance(row, Pair):
        return f"{row.a!r} + {row.b!r}"
    return type(row).__name__


def _load(folder: Traversable, file: str) -> dict[str, tuple[Any, ...]]:
    arrays = _FILES[file]
    data = read_toml(folder / file, TableError)
    unknown = sorted(set(data) - {key for key, _ in arrays})
    if unknown:
        raise TableError(f"{file}: unknown table {unknown[0]!r}; accepted: {', '.join(k for k, _ in arrays)}")
    return {key: _rows(file, key, model, data.get(key, [])) for key, model in arrays}


def _rows(file: str, key: str, model: type[R], data: Any) -> tuple[R, ...]:
    if not isinstance(data, list) or not (data or key in _MAY_BE_EMPTY):
        raise TableError(f"{file}: expected at least one [[{key}]]")
    rows: list[R] = []
    seen: set[str] = set()
    for number, item in enumerate(data, start=1):
        try:
            row = model.model_validate(item)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(part) for part in first["loc"]) or "entry"
            name = item.get("id") or item.get("code") or f"number {number}" if isinstance(item, dict) else number
            raise TableError(f"{file}: [[{key}]] {name!r}: {where}: {first['msg']}") from None
        entry = _entry(row)
        if entry in seen and not isinstance(row, LabelCode):
            raise TableError(f"{file}: [[{key}]] {entry} stands there twice")
        seen.add(entry)
        rows.append(row)
    return tuple(rows)


@lru_cache(maxsize=1)
def knowledge() -> Knowledge:
    """The tables that ship with the advisor, loaded once.

    Raises TableError when a table is missing or wrong.
    """
    return kept("knowledge", lambda: Knowledge(rules_root() / "knowledge"))


@lru_cache(maxsize=1)
def units() -> UnitTables:
    """The tables of units.toml alone, loaded once; quick, and without the other tables.

    Raises TableError when the table is missing or wrong.
    """
    return kept("units", lambda: UnitTables(_load(rules_root() / "knowledge", "units.toml")))


@lru_cache(maxsize=1)
def fibre_table() -> Table[Fibre]:
    """The fibres alone, loaded once, without the other tables.

    Raises TableError when the table is missing or wrong.
    """
    return kept("fibres", lambda: Table("fibres", _load(rules_root() / "knowledge", "fibres.toml")["fibre"]))


@lru_cache(maxsize=1)
def finish_table() -> Table[Finish]:
    """The finishes alone, loaded once, without the other tables. Raises TableError when the table is missing or wrong."""
    return Table("finishes", _load(rules_root() / "knowledge", "finishes.toml")["finish"])


@lru_cache(maxsize=1)
def label_tables() -> tuple[tuple[LabelCode, ...], Table[GoodsWord]]:
    """Letter codes and words of goods alone, loaded once, without the other tables.

    Raises TableError when a table is missing or wrong.
    """
    rows = kept("labels", lambda: _load(rules_root() / "knowledge", "labels.toml"))
    return rows["label_code"], Table("goods words", rows["goods_word"])
