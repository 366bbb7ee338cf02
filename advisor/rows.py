"""What a row of each table under rules/knowledge/ holds: its fields, their units, and what is refused.

The tables themselves are loaded by `knowledge`.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from advisor.interval import Interval

Basis = Literal["published", "from memory", "common practice"]
HarmedBy = Literal[
    "acid", "alkali", "heat", "bleach", "reducing agent", "peroxide", "agitation", "solvent", "metal salt"
]
Take = Literal["full", "partial", "stain", "none", "damage"]
Trait = Literal[
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
]
Resistance = Literal["fine", "slow attack", "attacked", "changes colour"]


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

    by: HarmedBy
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
    """A textile fibre with its generic names. The optional figures override the family's.

    `do_not_handle` says why nobody may touch goods of it, and what to do instead.
    """

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
    do_not_handle: str | None = None


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

    Units of `amount`: "mmol/kg" (titratable H+ per kg of dry goods, of an acid), "g/L" of bath, "% owf".
    """

    role: Literal["acid", "alkali", "salt", "reducing agent", "mordant", "levelling agent", "dye carrier", "binder"]
    importance: Literal["required", "helps"]
    substances: tuple[str, ...]
    amount: Annotated[Figure, _in_unit("mmol/kg", "g/L", "% owf")]
    why: str

    @model_validator(mode="after")
    def _of_an_acid(self) -> AssistUse:
        if self.amount.unit == "mmol/kg" and self.role != "acid":
            raise ValueError("an amount in mmol/kg counts acid; accepted for other roles: g/L, % owf")
        return self


class AcidBath(Row):
    """The window of a class that works in alkali, on fibre families where dyers use it from acid instead."""

    families: tuple[str, ...]
    temperature: Celsius
    ph: PH


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
    acid_baths: tuple[AcidBath, ...] = ()
    assists: tuple[AssistUse, ...] = ()
    unwanted: tuple[str, ...] = ()
    welcome: tuple[str, ...] = ()
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

    def holds_at(self, strength: Interval) -> bool | None:
        """Whether the statement holds at this strength in %; None where it may."""
        if strength.high < self.from_percent or strength.low >= self.below_percent:
            return False
        return True if strength.low >= self.from_percent and strength.high < self.below_percent else None


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
    not_for_class: bool = False
    hazards: tuple[Hazard, ...] = ()
    limits: tuple[ExposureLimit, ...] = ()
    traits: tuple[Trait, ...] = ()
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
    holds: Annotated[Figure, _in_unit("L")] | None = None  # the largest bath, where its own size sets one
    emptied_in_place: Literal["yes", "no"] = "no"  # by a pump or a tap: nobody lifts it full
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
    in_a_room: str = ""  # the way it counts as when it is said of a room indoors


class Finish(Word):
    """A finish on goods."""

    effect: Literal["blocks", "may block", "changes uptake", "no effect"]


class Content(Named):
    """What a dye may contain that rules look for; `parts` are found within a word, id and synonyms as whole words."""

    parts: tuple[str, ...] = ()
    metal: Literal["yes", "no"]
    toxic: Literal["yes", "no"]
    source: str
    basis: Basis


class Limit(Row):
    """A named limit that rules compare with."""

    id: str
    title: str
    figure: Figure


class Withdrawn(Row):
    """The id of a rule or topic that is no more: since when, why (a sentence), and the ids that took its place."""

    id: str
    on: date
    why: str = Field(min_length=1)
    instead: tuple[str, ...] = ()


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
    when: Literal["powder", "solution", "strong", "dusty", "mild", "heat", "cold", "always"]
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


class Act(Row):
    """What a change of a plan asks somebody to do: another pot is not the old pot called clean.

    `field` has a * for each number; `to` is the new value in words, "" for any; `way` the way out it goes with, "" for any.
    """

    field: str
    to: str = ""
    way: str = ""
    says: str
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
