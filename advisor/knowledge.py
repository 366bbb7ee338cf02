"""Typed access to the tables under rules/knowledge/.

Everything is validated when it is loaded; what is off is reported as `TableError` with the file, the
entry and the field. Words a person may write (ids, titles, synonyms) are found by `Table.find`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cached_property, lru_cache
from importlib.resources.abc import Traversable
from typing import Annotated, Any, Generic, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from advisor.ending import CutShort, without_end
from advisor.errors import AdvisorError
from advisor.interval import Interval
from advisor.paths import rules_root
from advisor.store import kept

Basis = Literal["published", "from memory", "common practice"]
Take = Literal["full", "partial", "stain", "none", "damage"]
Resistance = Literal["fine", "slow attack", "attacked", "changes colour"]


class TableError(AdvisorError):
    """A table is missing or wrong; the message names file, entry and field."""


class Row(BaseModel):
    """Base of every table row: no field but the declared ones, no change after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False, defer_build=True)


class Figure(Row):
    """A number or range with its unit, source id and basis. TOML may write `value` for low = high."""

    low: float = Field(allow_inf_nan=False)
    high: float = Field(allow_inf_nan=False)
    unit: str
    source: str
    basis: Basis
    note: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _value_is_both_ends(cls, data: Any) -> Any:
        if isinstance(data, dict) and "value" in data:
            data = dict(data)
            data["low"] = data["high"] = data.pop("value")
        return data

    @model_validator(mode="after")
    def _ordered(self) -> Figure:
        if self.low > self.high:
            raise ValueError(f"low {self.low} is above high {self.high}")
        return self

    @property
    def middle_value(self) -> float:
        """The midpoint, in the figure's own unit."""
        return self.low + (self.high - self.low) / 2

    @property
    def interval(self) -> Interval:
        """The figure as an interval, in its own unit."""
        return Interval(self.low, self.high)


def _in_unit(*units: str) -> Any:
    def check(figure: Figure) -> Figure:
        if figure.unit not in units:
            raise ValueError(f"unit is {figure.unit!r}; accepted: {', '.join(units)}")
        return figure

    return AfterValidator(check)


Celsius = Annotated[Figure, _in_unit("degC")]
PH = Annotated[Figure, _in_unit("pH")]
Minutes = Annotated[Figure, _in_unit("min")]
Percent = Annotated[Figure, _in_unit("%")]
Density = Annotated[Figure, _in_unit("g/mL")]
MolarMass = Annotated[Figure, _in_unit("g/mol")]


class Source(Row):
    """A document, or 'common practice'. `basis` is what a row gets that rests on it and was not doubted."""

    id: str
    basis: Basis
    text: str


class Named(Row):
    """A row with an id that a person may write, or say in another accepted word."""

    id: str
    title: str = ""
    synonyms: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """The words to show."""
        return self.title or self.id


class Harm(Row):
    """What harms a fibre family in a bath, and why."""

    by: Literal["acid", "alkali", "heat", "bleach", "reducing agent", "peroxide", "agitation", "solvent", "metal salt"]
    how: str
    source: str
    basis: Basis


class Family(Named):
    """A fibre family: fibres that behave alike in a dye bath."""

    kind: Literal["cellulose", "protein", "synthetic", "mineral", "other"]
    heat_limit: Celsius
    ph: PH
    regain: Percent
    density: Density
    harms: tuple[Harm, ...] = ()
    note: str | None = None


class FibreName(Row):
    """The generic names of one fibre in one language, lower case."""

    language: str
    names: tuple[str, ...]
    basis: Basis


class Fibre(Named):
    """A textile fibre with its generic names. The optional figures override the family's."""

    family: str
    eu_number: int | None = None
    eu_name: str | None = None
    us_name: str | None = None
    codes: tuple[str, ...] = ()
    names: tuple[FibreName, ...] = ()
    source: str
    basis: Basis
    heat_limit: Celsius | None = None
    ph: PH | None = None
    regain: Percent | None = None
    density: Density | None = None
    note: str | None = None


class LabelCode(Row):
    """A letter code seen on labels. More than one fibre: ambiguous, never resolved silently."""

    code: str
    fibres: tuple[str, ...]
    system: str
    source: str
    basis: Basis
    note: str | None = None


class GoodsWord(Named):
    """A word on a label or listing that is no fibre name: what it may hide, and what to ask."""

    kind: str
    may_hide: tuple[str, ...] = ()
    ask: str
    source: str
    basis: Basis


class AssistUse(Row):
    """What a dye class wants beside the dye, and how much of it.

    Units of `amount`: "mmol/kg" (titratable H+ or OH- per kg of dry goods), "g/L" of bath, "% owf".
    """

    role: Literal["acid", "alkali", "salt", "reducing agent", "mordant", "levelling agent", "dye carrier", "binder"]
    importance: Literal["required", "helps"]
    substances: tuple[str, ...]
    amount: Annotated[Figure, _in_unit("mmol/kg", "g/L", "% owf")]
    why: str


class DyeClass(Named):
    """A class of dye: its working window, what it needs beside it, how deep it goes, how much stays."""

    family: str | None = None
    substance: str
    temperature: Celsius
    hold: Minutes
    ph: PH
    rise_limit: Annotated[Figure, _in_unit("delta_degC/min")]
    usual_depth: Annotated[Figure, _in_unit("% owf")]
    fixation: Percent
    assists: tuple[AssistUse, ...] = ()
    unwanted: tuple[str, ...] = ()
    about: str
    cautions: tuple[str, ...]
    source: str
    basis: Basis


class Uptake(Row):
    """How a fibre family takes a dye class."""

    family: str
    dye_class: str
    take: Take
    condition: str
    source: str
    basis: Basis


class Hazard(Row):
    """One GHS hazard statement of a substance, for a band of concentration (mass fraction, %)."""

    code: str
    statement: str
    from_percent: float = 0.0
    below_percent: float = 100.1
    harmonised: bool = False
    source: str
    basis: Basis


class ExposureLimit(Row):
    """An occupational exposure limit, and whose it is."""

    whose: str
    kind: Literal["8 h", "15 min", "ceiling", "IDLH"]
    limit: Figure
    agent: str | None = None


class GearNeed(Row):
    """Exposures (ids of the exposure table) that a substance brings at one step of the work."""

    step: Literal["weigh", "dissolve", "dye", "rinse", "clean up"]
    exposures: tuple[str, ...]


class Substance(Named):
    """A chemical around the dye bath: what it is, what it does, how it is kept."""

    roles: tuple[
        Literal[
            "acid",
            "alkali",
            "salt",
            "reducing agent",
            "oxidising agent",
            "mordant",
            "levelling agent",
            "dye carrier",
            "wetting agent",
            "thickener",
            "bleach",
            "dye",
            "solvent",
            "binder",
            "other",
        ],
        ...,
    ]
    form: Literal["solid", "liquid", "solution", "any"]
    active: str | None = None
    cas: str | None = None
    formula: str | None = None
    molar_mass: MolarMass | None = None
    equivalents: Annotated[Figure, _in_unit("mol/mol")] | None = None
    strength: Percent | None = None
    density: Density | None = None
    bulk_density: Density | None = None
    reactivity_groups: tuple[str, ...] = ()
    ghs_signal_word: Literal["Danger", "Warning", "none", "depends on product"] = "depends on product"
    hazards: tuple[Hazard, ...] = ()
    limits: tuple[ExposureLimit, ...] = ()
    traits: tuple[
        Literal[
            "corrosive",
            "irritant",
            "skin sensitiser",
            "lung sensitiser",
            "toxic",
            "cancer hazard",
            "reproductive hazard",
            "oxidiser",
            "flammable",
            "self-heating",
            "water reactive",
            "metal",
            "fumes",
            "dusty",
            "aquatic hazard",
        ],
        ...,
    ] = ()
    metals: tuple[str, ...] = ()
    effects: tuple[str, ...] = ()
    cautions: tuple[str, ...]
    gear: tuple[GearNeed, ...] = ()
    first_aid: str = ""
    storage: str = ""
    drain: str = ""
    source: str
    basis: Basis


class Material(Named):
    """What a pot or tool is made of, against hot acid, alkali, salt and reducing baths."""

    acid: Resistance
    alkali: Resistance
    salt: Resistance
    reducing: Resistance
    heat_limit: Celsius
    hob: Literal["yes", "no"]
    induction: Literal["yes", "no", "depends"]
    microwave: Literal["yes", "no"]
    holds_dye: Literal["yes", "no"]
    metal_ions: str | None = None
    note: str
    source: str
    basis: Basis


class HeatSource(Named):
    """What heats the bath."""

    combustion: Literal["yes", "no"]
    solid_fuel: Literal["yes", "no"]
    food_appliance: Literal["yes", "no"]
    electric: Literal["yes", "no"]
    sealed: Literal["yes", "no"]
    power: Annotated[Figure, _in_unit("W")]
    efficiency: Annotated[Figure, _in_unit("fraction")]
    reaches: Celsius
    caution: str
    source: str
    basis: Basis


class Exposure(Named):
    """A way harm reaches a person, which gear can stop: "dust to lungs", "splash to eyes" ..."""

    ask: str
    source: str
    basis: Basis


class Gear(Named):
    """Protective gear: which exposures it stops, and which people wrongly take it to stop."""

    protects: tuple[str, ...]
    mistaken_for: tuple[str, ...] = ()
    not_against: str
    source: str
    basis: Basis


class Word(Named):
    """A word of a closed list with no figures of its own."""

    note: str = ""
    source: str
    basis: Basis


class Space(Word):
    """A kind of room."""

    food: Literal["yes", "no"]
    indoors: Literal["yes", "no"]
    volume: Annotated[Figure, _in_unit("m^3")]


class Ventilation(Word):
    """A way of airing a room."""

    air_changes: Annotated[Figure, _in_unit("1/h")]
    at_source: Literal["yes", "no"]


class Finish(Word):
    """A finish on goods."""

    effect: Literal["blocks", "may block", "changes uptake", "no effect"]


class Limit(Row):
    """A named limit that rules compare with."""

    id: str
    title: str
    figure: Figure


class Place(Named):
    """Pointers for a country (ISO 3166-1 alpha-2); never legal advice."""

    emergency: str
    poison: str
    rules_at_work: str
    rules_in_schools: str
    rules_on_waste_water: str
    local: str
    source: str
    basis: Basis


class Pair(Row):
    """What two substances, or two reactivity groups, do to each other."""

    a: str
    b: str
    outcome: Literal["dangerous", "wasteful", "harmless", "looked at"]
    codes: tuple[str, ...] = ()
    product: str = ""
    effect: str
    source: str
    basis: Basis


def _ratio(value: float | str) -> Fraction:
    """The exact value of a factor as the table writes it: a decimal, or two of them as "5/9"."""
    top, _, bottom = str(value).partition("/")
    return Fraction(top.strip()) / Fraction(bottom.strip() or 1)


class Ask(Row):
    """The question to put about one field of a plan; `*` stands for a number in the path.

    `example` is an answer as one might type it.
    """

    field: str
    ask: str
    example: str = ""


class Duty(Row):
    """A piece of the work, when it occurs, and who does it in each age group of a class."""

    id: str
    when: Literal["powder", "solution", "strong", "heat", "cold", "always"]
    child: Literal["adult", "with adult", "learner"]
    teenager: Literal["adult", "with adult", "learner"]
    grown: Literal["adult", "with adult", "learner"]
    source: str
    basis: Basis


class GivesWay(Row):
    """Statements for which a pictogram is left out where another stands for one of the statements `on`."""

    codes: tuple[str, ...]
    to: str
    on: tuple[str, ...]


class Pictogram(Row):
    """A GHS pictogram and the hazard statements that carry it."""

    id: str
    title: str
    codes: tuple[str, ...]
    gives_way: tuple[GivesWay, ...] = ()
    source: str
    basis: Basis


class WayOut(Named):
    """A way out of a finding: its place in the order of cost, and what is tried when it cannot be proved."""

    cost: int = Field(ge=1)
    instead: tuple[str, ...] = ()
    source: str
    basis: Basis


class Preference(Row):
    """Which words of a closed list a remedy tries, in this order, for one field of a plan."""

    field: str
    words: tuple[str, ...]
    source: str
    basis: Basis


class Unit(Named):
    """A unit of measure: canonical value = (value - offset) * factor, and its name in pint.

    Without a factor it is converted through pint. `any_of` lists the units a bare word could mean.
    """

    kind: str
    factor: float | str | None = None
    offset: float = 0.0
    pint: str = ""
    ask: str | None = None
    any_of: tuple[str, ...] = ()
    spoon: bool = False
    source: str
    basis: Basis

    @model_validator(mode="after")
    def _one_meaning(self) -> Unit:
        if bool(self.pint) == bool(self.any_of):
            raise ValueError("needs either pint or any_of")
        if self.factor is not None and _ratio(self.factor) <= 0:
            raise ValueError("factor must be above 0")
        return self

    @property
    def exact_factor(self) -> Fraction | None:
        """The factor exactly as the table writes it."""
        return None if self.factor is None else _ratio(self.factor)


class Kind(Named):
    """A kind of quantity: its canonical unit, and the whole range the advisor takes.

    `shown` is how a person reads the unit; `small` is the unit that shows less than one of it.
    """

    unit: str
    shown: str | None = None
    small: str | None = None
    pint: str
    low: float = Field(allow_inf_nan=False)
    high: float = Field(allow_inf_nan=False)
    accepted: tuple[str, ...]
    example: str
    hint: str = ""
    bare: bool = False
    none_is_zero: bool = False
    source: str
    basis: Basis

    @model_validator(mode="after")
    def _ordered(self) -> Kind:
        if self.low >= self.high:
            raise ValueError(f"low {self.low} is not below high {self.high}")
        return self


class LocalUnit(Row):
    """What a bare unit word means in a place."""

    place: str
    unit: str
    means: str
    source: str
    basis: Basis

    @property
    def id(self) -> str:
        """Place and unit: one row for each."""
        return f"{self.place} {self.unit}"


class RefusedUnit(Row):
    """Words that look like a unit and are never read as one, and what to write instead."""

    id: str
    words: tuple[str, ...]
    say: str


class Approximation(Named):
    """A word such as "about", and how far to either side it reaches."""

    figure: Percent


R = TypeVar("R", bound=Row)
N = TypeVar("N", bound=Named)


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
                    self._words.setdefault(_fold(word), row)

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
        return self._words.get(_fold(word))

    @property
    def words(self) -> tuple[str, ...]:
        """Every accepted word, folded."""
        return tuple(self._words)


def _fold(word: str) -> str:
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
    "remedies.toml": (("way_out", WayOut), ("choice", Preference), ("way_out_limit", Limit)),
    "class.toml": (
        ("class_limit", Limit),
        ("need", Word),
        ("duty", Duty),
        ("pictogram", Pictogram),
        ("session_question", Ask),
    ),
}


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
        self.choices: dict[str, tuple[str, ...]] = {c.field: c.words for c in rows["choice"]}
        self.way_out_limits: dict[str, Figure] = {limit.id: limit.figure for limit in rows["way_out_limit"]}
        self._check_references(rows)

    @cached_property
    def dye_class_families(self) -> dict[str, tuple[str, ...]]:
        """Family name -> its member ids ("acid" -> levelling, milling, metal-complex)."""
        families: dict[str, list[str]] = {}
        for dye_class in self.dye_classes:
            if dye_class.family:
                families.setdefault(dye_class.family, []).append(dye_class.id)
        return {name: tuple(members) for name, members in families.items() if len(members) > 1}

    def question(self, path: str) -> str:
        """What to ask about a plan path such as "goods.0.fibres"."""
        ask = self._asks.get(_pattern(path))
        if ask is not None:
            return ask.ask
        return f"Please state {path}." if path else "The maker's own instructions decide this."

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
        for gear in self.gear:
            for exposure in (*gear.protects, *gear.mistaken_for):
                need("gear.toml", gear, "protects", exposure, self.exposures)
        for way_out in self.ways_out:
            for other in way_out.instead:
                need("remedies.toml", way_out, "instead", other, self.ways_out)
        for chemical in self.substances:
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
    if isinstance(row, Pair):
        return f"{row.a!r} + {row.b!r}"
    return type(row).__name__


def _read(path: Traversable) -> dict[str, Any]:
    try:
        return without_end(tomllib.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        raise TableError(f"{path.name}: the table is missing from {path}") from None
    except OSError as error:
        raise TableError(f"{path.name}: the table cannot be read: {error.strerror}") from None
    except CutShort as error:
        raise TableError(f"{path.name}: {error}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise TableError(f"{path.name}: not readable as TOML: {error}") from None


def _load(folder: Traversable, file: str) -> dict[str, tuple[Any, ...]]:
    arrays = _FILES[file]
    data = _read(folder / file)
    unknown = sorted(set(data) - {key for key, _ in arrays})
    if unknown:
        raise TableError(f"{file}: unknown table {unknown[0]!r}; accepted: {', '.join(k for k, _ in arrays)}")
    return {key: _rows(file, key, model, data.get(key, [])) for key, model in arrays}


def _rows(file: str, key: str, model: type[R], data: Any) -> tuple[R, ...]:
    if not isinstance(data, list) or not data:
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
def label_tables() -> tuple[tuple[LabelCode, ...], Table[GoodsWord]]:
    """Letter codes and words of goods alone, loaded once, without the other tables.

    Raises TableError when a table is missing or wrong.
    """
    rows = kept("labels", lambda: _load(rules_root() / "knowledge", "labels.toml"))
    return rows["label_code"], Table("goods words", rows["goods_word"])
