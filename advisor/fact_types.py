"""The closed schema of the facts: every type, its fields, what each means and its unit.

A fact always carries every field of its type. A number is an interval and reaches the engine as two
floats, `<field>_lo` and `<field>_hi`; a choice is one word of its vocabulary, a family of words, or
`unknown`. Rules are checked against this schema when they are loaded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import get_args

from advisor.knowledge import knowledge
from advisor.rows import HarmedBy, Trait

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Number:
    """A quantity field; unit "" for a plain ratio."""

    unit: str
    about: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A word field; `vocabulary` is a key of `vocabularies()`."""

    vocabulary: str
    about: str


Spec = Number | Choice


@dataclass(frozen=True, slots=True)
class FactType:
    """A kind of fact: what one of it stands for, its fields, and the extra texts for messages."""

    about: str
    fields: Mapping[str, Spec]
    texts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Vocabulary:
    """A closed list of words. A family is a word that stands for several of them."""

    words: tuple[str, ...]
    families: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __contains__(self, token: object) -> bool:
        """Whether a fact may carry this token."""
        return token in self._tokens

    @cached_property
    def _tokens(self) -> frozenset[str]:
        return frozenset(self.tokens)

    def may_be(self, token: str) -> frozenset[str]:
        """The words a token may stand for: itself, a family's members, or any word when unknown."""
        return self._meanings[token]

    @cached_property
    def _meanings(self) -> Mapping[str, frozenset[str]]:
        meanings = {word: frozenset((word,)) for word in self.words}
        meanings |= {family: frozenset(members) for family, members in self.families.items()}
        return meanings | {UNKNOWN: frozenset(self.words)}

    @property
    def tokens(self) -> tuple[str, ...]:
        """Every token a fact may carry."""
        return (*self.words, *self.families, UNKNOWN)


def _yes_no(about: str) -> Choice:
    return Choice("yes/no", about)


TRAITS: tuple[Trait, ...] = get_args(Trait)
HARMS: tuple[HarmedBy, ...] = get_args(HarmedBy)


def trait_field(trait: str) -> str:
    """The field name of a trait or a harm ("skin sensitiser" -> "skin_sensitiser")."""
    return trait.replace(" ", "_").replace("-", "_")


_TRAIT_FIELDS: dict[str, Spec] = {
    trait_field(trait): _yes_no(f"whether the substance is marked {trait!r}") for trait in TRAITS
}

_RESISTANCE: dict[str, Spec] = {
    "with_acid": Choice("resistance", "the material against a hot acid bath"),
    "with_alkali": Choice("resistance", "the material against a hot alkaline bath"),
    "with_salt": Choice("resistance", "the material against hot salt water"),
    "with_reducing": Choice("resistance", "the material against a reducing bath"),
    "holds_dye": _yes_no("whether the material is porous and keeps dye"),
    "metal_ions": _yes_no("whether the material can give metal to the bath"),
}

BATH_SIDES: dict[str, Spec] = {
    "bath_acid": _yes_no("whether acid is in the bath, or the dye class works in acid"),
    "bath_alkali": _yes_no("whether alkali is in the bath, or the dye class works in alkali"),
    "bath_salt": _yes_no("whether salt is in the bath"),
    "bath_reducing": _yes_no("whether a reducing agent is in the bath, or the dye class needs one"),
    "bath_bleach": _yes_no("whether hypochlorite is in the bath"),
    "bath_peroxide": _yes_no("whether a peroxide is in the bath"),
    "bath_metal_salt": _yes_no("whether a metal mordant is in the bath"),
}

FACT_TYPES: Mapping[str, FactType] = {
    "goods": FactType(
        "one lot of goods",
        {
            "dry_mass": Number("g", "dry mass of the lot"),
            "colour": Choice("colour", "whether the lot was dyed before"),
            "next_to_skin": _yes_no("worn next to the skin"),
            "composition_known": _yes_no("every fibre of the label is known (never unknown itself)"),
            "trims_stated": _yes_no("the plan says which trims, or none (never unknown itself)"),
            "blend": _yes_no("the lot holds two fibres or more (never unknown itself)"),
            "dyeable_share": Number("%", "share of the lot's mass that takes the dye classes used, fully or in part"),
            "lots": Number("", "how many lots share the bath"),
        },
        ("name", "label", "asks"),
    ),
    "finish": FactType(
        "one kind of finish on one lot: a fact for each finish of the table, present or not",
        {
            "kind": Choice("finish", "which finish"),
            "present": _yes_no("whether the lot has it"),
            "effect": Choice("finish effect", "what the finish does to dyeing"),
        },
        ("name",),
    ),
    "part": FactType(
        "one fibre of one lot, or of a trim on it, with one dye class of the bath",
        {
            "fibre": Choice("fibre", "which fibre"),
            "fibre_known": _yes_no("the label says which fibre it is (never unknown itself)"),
            "family": Choice("family", "its family"),
            "kind": Choice("family kind", "cellulose, protein, synthetic ..."),
            "role": Choice("part role", "goods or trim"),
            "share": Number("%", "its share of the lot's mass (a trim has none stated)"),
            "dye_class": Choice("dye class", "the dye class it meets"),
            "take": Choice("take", "how the fibre takes that class"),
            "from_acid": _yes_no("a dye that is else used from alkali is used from acid here, as wool and silk want it"),
            "temperature": Number("degC", "of the bath"),
            "heat_limit_begin": Number("degC", "above this, harm may begin"),
            "heat_limit": Number("degC", "above this, harm is to be expected"),
            "ph": Number("pH", "of the bath"),
            "ph_low": Number("pH", "lowest the fibre stands"),
            "ph_high": Number("pH", "highest the fibre stands"),
            **{
                f"harmed_by_{trait_field(harm)}": _yes_no(f"whether {harm} harms the fibre") for harm in HARMS
            },
            **BATH_SIDES,
            "stirring": _yes_no("whether the bath is stirred"),
            "shrink_resist": _yes_no("its lot has a shrink-resist finish"),
            "weighted": _yes_no("the plan says that its lot is weighted with metal salts (never unknown itself)"),
        },
        (
            "name", "condition", "harm_acid", "harm_alkali", "harm_heat", "harm_bleach", "harm_agitation",
        ),
    ),
    "dose": FactType(
        "all dyes of the bath together",
        {
            "share_owf": Number("%", "dye on the weight of goods"),
            "share_owf_dyeable": Number("%", "dye on the weight of the fibres that take it"),
            "share_of_maximum": Number("", "1 = at the maker's maximum; several dyes add up"),
            "share_of_maximum_dyeable": Number("", "the same on the dyeable fibres"),
            "share_of_ceiling": Number("", "dose against the most the fibre's dye sites can hold, 0 where that is not known"),
            "share_of_usual_deep": Number("", "dose against a usual deep shade of the class"),
            "share_of_usual_pale": Number("", "dose against a usual pale shade of the class"),
            "all_maxima_stated": _yes_no("each dye's maximum is stated (never unknown itself)"),
            "dye_count": Number("", "how many dyes"),
            "dyeable_mass": Number("g", "fibre that takes the dye classes used"),
            "dyeable_share": Number("%", "its share of all goods"),
            "dry_mass": Number("g", "all goods, dry"),
            "unfixed_mass": Number("g", "dye left in the bath or loose on the fibre, at the worst"),
            "unfixed_share_least": Number("%", "of the dye dosed, at the best"),
            "rinse_count": Number("", "rinses until the water is clear, at the worst"),
        },
        ("dyes", "rinses", "ceiling", "one_percent_more", "mass_at_maximum", "mass_at_maximum_dyeable"),
    ),
    "dye": FactType(
        "one dye",
        {
            "dye_class": Choice("dye class", "its class"),
            "form": Choice("dye form", "powder, granules, liquid, paste, solution, pieces of plant"),
            "mass": Number("g", "mass of dye as sold"),
            "share_owf": Number("%", "on the weight of goods"),
            "maximum": Number("%", "the maker's maximum on the weight of goods"),
            "maximum_stated": _yes_no("the plan says it (never unknown itself)"),
            "share_of_maximum": Number("", "this dye alone against its maximum"),
            "share_of_usual_deep": Number("", "this dye alone against a usual deep shade of its class"),
            "amount_kind": Choice("amount kind", "how the amount was measured"),
            "amount_stated": _yes_no("the plan gives an amount (never unknown itself)"),
            "strength_stated": _yes_no("the plan gives a strength (never unknown itself)"),
            "weighing_error": Number("fraction", "what the scale's step may add or take, as a share of the dose"),
            "scale_stated": _yes_no("the plan says how fine the scale is (never unknown itself)"),
            "sheet": Choice("sheet", "whether the safety data sheet was read"),
            "sheet_stated": _yes_no("the plan says it (never unknown itself)"),
            "substance": Choice("substance", "its row in the substance table"),
            "contains_metal": _yes_no("chromium, cobalt, copper or another metal in it"),
            "contains_benzidine": _yes_no("the plan names benzidine or a relative, or a dye based on it"),
            "contains_other": _yes_no("the plan names something in it that no table knows (never unknown itself)"),
            "contains_stated": _yes_no("the plan says what it contains, or nothing of note (never unknown itself)"),
            "old_stock": _yes_no("old or unlabelled stock"),
            "old_stock_stated": _yes_no("the plan says it (never unknown itself)"),
            **_TRAIT_FIELDS,
        },
        ("name", "stock", "mass_at_maximum", "metals", "others"),
    ),
    "assist": FactType(
        "one chemical beside the dye, as dosed",
        {
            "substance": Choice("substance", "which"),
            "role": Choice("assist role", "its first role"),
            "form": Choice("substance form", "solid, liquid or solution"),
            "mass": Number("g", "as dosed"),
            "active_mass": Number("g", "of the active part (strength counted)"),
            "per_litre": Number("g/L", "active mass to a litre of bath"),
            "share_owf": Number("%", "active mass on the weight of goods"),
            "strength": Number("%", "of the active part"),
            "amount_stated": _yes_no("the plan gives the amount (never unknown itself)"),
            "wanted": _yes_no("at least one dye class of the bath uses it"),
            "unwanted": _yes_no("it works against a dye class of the bath"),
            "neutralised": _yes_no("acid and alkali are both dosed"),
            **_TRAIT_FIELDS,
        },
        ("name",),
    ),
    "need": FactType(
        "one kind of help one dye class of the bath uses",
        {
            "dye_class": Choice("dye class", "the class"),
            "role": Choice("assist role", "acid, alkali, salt, mordant ..."),
            "importance": Choice("importance", "required or helps"),
            "present": _yes_no("something of this kind that the class accepts is dosed"),
            "wrong_kind": _yes_no("something of this role is dosed, but none the class accepts"),
            "share_of_usual_low": Number("", "amount against the low end of what is usual"),
            "share_of_usual_high": Number("", "amount against the high end of what is usual"),
        },
        ("name", "usual", "usual_grams", "substances", "amount"),
    ),
    "process": FactType(
        "one dye class of the bath against its working window",
        {
            "dye_class": Choice("dye class", "the class"),
            "temperature": Number("degC", "of the bath"),
            "temperature_low": Number("degC", "low end of the working window"),
            "temperature_high": Number("degC", "high end of the working window"),
            "hold": Number("min", "time at temperature"),
            "hold_low": Number("min", "shortest usual time"),
            "share_of_hold": Number("", "time against the shortest usual time"),
            "hold_high": Number("min", "longest usual time"),
            "share_of_hold_high": Number("", "time against the longest usual time"),
            "rise": Number("delta_degC/min", "rate of heating"),
            "rise_limit": Number("delta_degC/min", "fastest for a level dyeing"),
            "ph": Number("pH", "of the bath, read cold"),
            "ph_low": Number("pH", "low end of the window"),
            "ph_high": Number("pH", "high end of the window"),
            "ph_under": Number("pH", "how far under the window, 0 inside"),
            "ph_over": Number("pH", "how far over the window, 0 inside"),
            "other_classes": Number("", "how many further dye classes share the bath"),
        },
        ("name",),
    ),
    "bath": FactType(
        "the bath",
        {
            "water": Number("L", "of liquor"),
            "temperature": Number("degC", "held"),
            "hold": Number("min", "time at temperature"),
            "liquor_ratio": Number("L/kg", "water to dry goods"),
            "attended": _yes_no("somebody stays with the heat"),
            "stirring": _yes_no("stirred"),
            "tools": _yes_no("the plan names a tool"),
            "shade": Choice("shade", "even or mottled is wanted"),
            "alkalinity": Number("mg/L", "of the water, as CaCO3"),
            "alkalinity_stated": _yes_no("the plan gives it (never unknown itself)"),
            "ph": Number("pH", "worked out, read cold"),
            "acid": Number("mmol", "titratable acid dosed"),
            "alkali": Number("mmol", "titratable alkali dosed"),
            "water_alkali": Number("mmol", "acid that the water itself uses up"),
            "acid_eaten": Number("", "share of the acid that the water's alkalinity uses up"),
            "acid_and_alkali": _yes_no("both acid and alkali are dosed"),
            "class_count": Number("", "dye classes in the bath"),
            "altitude_stated": _yes_no("the plan gives it (never unknown itself)"),
            "left_before": _yes_no("something is left in the pot from before"),
            "boiling_point": Number("degC", "of water at this altitude"),
            "scald_time": Number("s", "adult skin in this liquor until a burn"),
            "time_to_temperature": Number("min", "heating up, at the slowest"),
            "fastest_rise": Number("delta_degC/min", "the heat source's, at the most"),
            "lift_mass": Number("kg", "of the full pot, at the heaviest; 0 where it is emptied where it stands"),
            "boils_away": Number("L", "water that steams off while the bath is held, at the most"),
            "air_acetic": Number("ppm", "upper bound in the room"),
            "air_formic": Number("ppm", "upper bound in the room"),
            "air_ammonia": Number("ppm", "upper bound in the room"),
            "air_limit_share": Number("", "highest of these against its 8-hour limit"),
            "volume_stated": _yes_no("the plan gives the room's volume (never unknown itself)"),
            "heat_source": Choice("heat source", "what heats it"),
            **BATH_SIDES,
        },
        ("name", "ph_how", "full_pot", "over_bath"),
    ),
    "vessel": FactType(
        "the pot",
        {
            "material": Choice("material", "made of"),
            "capacity": Number("L", "to the brim"),
            "condition": Choice("condition", "sound, chipped, worn coating"),
            "used_for_food": _yes_no("cooks or holds food"),
            "lid": _yes_no("has a lid"),
            "fill": Number("fraction", "of capacity, goods in"),
            "dry_mass": Number("g", "all goods, dry"),
            "dry_mass_limit": Number("g", "goods this pot can dye evenly"),
            "share_of_limit": Number("", "goods against that limit"),
            "temperature": Number("degC", "of the bath"),
            "heat_limit": Number("degC", "the material stands"),
            "heat_source": Choice("heat source", "what heats it"),
            "on_hob": _yes_no("may stand on a hob or flame"),
            "in_microwave": _yes_no("may stand in a microwave"),
            "on_induction": Choice("induction", "works on induction"),
            **_RESISTANCE,
            **BATH_SIDES,
        },
        ("name", "batches", "batch_mass", "water_needed", "capacity_needed"),
    ),
    "utensil": FactType(
        "one tool",
        {
            "material": Choice("material", "made of"),
            "used_for_food": _yes_no("cooks or serves food"),
            "temperature": Number("degC", "of the bath"),
            "heat_limit": Number("degC", "the material stands"),
            **_RESISTANCE,
            **BATH_SIDES,
        },
        ("name",),
    ),
    "heat": FactType(
        "the heat source",
        {
            "source": Choice("heat source", "which"),
            "combustion": _yes_no("burns fuel"),
            "solid_fuel": _yes_no("burns charcoal or wood"),
            "food_appliance": _yes_no("a kitchen appliance that food goes into"),
            "dye_only_stated": _yes_no("the plan says it never sees food (never unknown itself)"),
            "electric": _yes_no("runs on mains electricity"),
            "sealed": _yes_no("closed under pressure"),
            "reaches": Number("degC", "the most it can heat a bath to"),
            "share_of_size": Number("", "water against the largest bath it usually holds, 0 where that is not limited"),
            "temperature": Number("degC", "of the bath"),
            "attended": _yes_no("somebody stays with it"),
            "indoors": _yes_no("in a room"),
            "ventilation": Choice("ventilation", "of the room; what cannot be true of a room counts as what can"),
        },
        ("name", "size"),
    ),
    "gear": FactType(
        "one kind of protective gear: a fact for each kind of the table, worn or not",
        {"kind": Choice("gear", "which"), "worn": _yes_no("worn")},
        ("name", "not_against"),
    ),
    "protection": FactType(
        "one way harm reaches a person: a fact for each exposure of the table",
        {
            "exposure": Choice("exposure", "which"),
            "covered": _yes_no("something worn stops it"),
            "mistaken": _yes_no("something worn is wrongly taken to stop it, and nothing worn does"),
        },
        ("name", "stops", "mistaken_item", "not_against"),
    ),
    "handling": FactType(
        "one substance at one step of the work, with one exposure it brings there",
        {
            "substance": Choice("substance", "which"),
            "step": Choice("step", "weigh, dissolve, dye, rinse, clean up"),
            "exposure": Choice("exposure", "which"),
            "powder": _yes_no("handled as a powder"),
            "corrosive": _TRAIT_FIELDS["corrosive"],
        },
        ("name",),
    ),
    "hazard": FactType(
        "an exposure that rules have concluded (derived)",
        {
            "exposure": Choice("exposure", "which"),
            "present": _yes_no("yes, or unknown when a rule may conclude it"),
            **{
                f"at_{step.replace(' ', '_')}": _yes_no(f"at the step {step!r}")
                for step in ("weigh", "dissolve", "dye", "rinse", "clean up")
            },
        },
        ("name", "cause", "steps"),
    ),
    "person": FactType(
        "one kind of person: a fact for each kind of the table, present or not",
        {
            "kind": Choice("person", "which"),
            "present": _yes_no("there while the bath is made or used"),
            "at_powder": _yes_no("not kept away until all powder is dissolved (never unknown itself)"),
        },
        ("name", "note"),
    ),
    "space": FactType(
        "the room",
        {
            "kind": Choice("space", "which"),
            "volume": Number("m^3", "of the room"),
            "ventilation": Choice("ventilation", "how it is aired; what cannot be true of a room counts as what can"),
            "aired_otherwise": _yes_no("the plan's word for the airing cannot be true of this room"),
            "food_out": _yes_no("food or drink stands in it"),
            "food_room": _yes_no("a room where food is made"),
            "indoors": _yes_no("in a building"),
        },
        ("name",),
    ),
    "aftercare": FactType(
        "rinsing, leftovers and the drain",
        {
            "drain": Choice("drain", "where the liquor goes"),
            "leftover": Choice("leftover", "what is kept, and in what"),
            "rinse_water": Number("L", "each rinse"),
            "rinse_ratio": Number("L/kg", "rinse water to dry goods"),
            "rinse_water_stated": _yes_no("the plan gives it (never unknown itself)"),
            "rinse_count": Number("", "rinses until the water is clear, at the worst"),
            "waste_ph": Number("pH", "of the spent bath"),
            "waste_volume": Number("L", "bath and rinses, at the most"),
            "unfixed_mass": Number("g", "dye to the drain, at the worst"),
            "temperature": Number("degC", "of the bath"),
            "bath_metal_salt": _yes_no("a metal mordant or a metal-complex dye in it"),
            "bath_toxic_metal": _yes_no("chromium, copper, tin or cobalt in it"),
            "bath_reducing": _yes_no("a reducing agent in it"),
            "bath_bleach": _yes_no("hypochlorite in it"),
        },
        ("name", "metals", "neutralise"),
    ),
    "storage": FactType(
        "how the stock of dyes and chemicals is kept",
        {
            "stock_labelled": _yes_no("every jar of the stock has a label"),
            "stock_labelled_stated": _yes_no("the plan says it (never unknown itself)"),
            "out_of_reach": _yes_no("the stock is out of reach of children and animals"),
            "out_of_reach_stated": _yes_no("the plan says it (never unknown itself)"),
        },
        ("name",),
    ),
    "substance": FactType(
        "one substance: of a dye, contained in it, an assist, left in the pot from before, or standing in the room",
        {
            "substance": Choice("substance", "which"),
            "origin": Choice("origin", "dye, contained in one, assist, before or room"),
            "role": Choice("assist role", "its first role"),
            "strength": Number("%", "as handled"),
            "form": Choice("substance form", "as handled"),
            **_TRAIT_FIELDS,
        },
        ("name", "hazards"),
    ),
    "pair": FactType(
        "two substances that are in the plan, the pot or the room together",
        {
            "first": Choice("substance", "which"),
            "second": Choice("substance", "which"),
            "outcome": Choice("outcome", "what they do to each other"),
            "together": _yes_no("both in the bath at once (no: one of them only in the room)"),
        },
        ("name", "effect"),
    ),
    "scale": FactType("the scale", {"resolution": Number("g", "its display step")}),
    "place": FactType("the country", {"stated": _yes_no("the plan says it (never unknown itself)")}, ("name",)),
    "session": FactType(
        "a class: learners, supervisors, room",
        {
            "learners": Number("", "how many learn"),
            "youngest": Number("years", "age of the youngest learner"),
            "least_age": Number("years", "youngest age at which a learner helps with a dye bath"),
            "minors": _yes_no("a learner is under age"),
            "supervisors": Number("", "adults who watch"),
            "supervisors_least": Number("", "fewest adults for learners of this age"),
            "learners_per_adult": Number("", "learners to one supervisor"),
            "learners_per_adult_limit": Number("", "the most for learners of this age"),
            "places_short": Number("", "learners for whom no station has a place"),
            "places_over": Number("", "learners whom the stations count on beyond those who come"),
            "fewest_places": Number("", "learners at the station with the fewest, at least 1"),
            "in_turn": _yes_no("groups go round and some stations stand empty (never unknown itself)"),
            "adults_short": Number("", "adults whom the stations count on beyond the supervisors there are"),
            "trained": _yes_no("every supervisor has made these baths before"),
            "first_aider": _yes_no("a trained first aider is there"),
            "needs_stated": _yes_no("the session says which needs, or none (never unknown itself)"),
            "allergies_asked": _yes_no("allergies, asthma and pregnancy were asked about"),
            "consent_asked": _yes_no("parents or carers agreed"),
            "area_per_person": Number("m²", "free floor a person"),
            "area_limit": Number("m²", "floor each person wants"),
            "area_stated": _yes_no("the session gives the floor (never unknown itself)"),
            "running_water": _yes_no("a tap is at hand"),
            "eyewash": Choice("eyewash", "plumbed, bottle or none"),
            "first_aid_kit": _yes_no("a kit is in the room"),
            "fire_blanket": _yes_no("a fire blanket or extinguisher is at hand"),
            "telephone": _yes_no("a telephone works there"),
            "soap": _yes_no("hands can be washed"),
            "food_or_drink": _yes_no("food or drink stands in the room"),
            "exits_clear": _yes_no("the way out is clear"),
            "data_sheets": _yes_no("the data sheets lie at hand"),
            "school_rules": _yes_no("the house's own rules were read"),
            "sizes_fit": _yes_no("gear fits everybody"),
            "spares": Number("", "spare sets of gear"),
            "goggles_cleaned": _yes_no("shared goggles are washed between wearers"),
            "any_heat": _yes_no("a station is heated"),
            "any_strong": _yes_no("a station has a strong acid or alkali"),
        },
        ("name", "ages", "supervisors_needed", "sheets"),
    ),
    "station": FactType(
        "one bath of a class, with the people at it",
        {
            "learners": Number("", "at once"),
            "learners_limit": Number("", "the most for learners of this age"),
            "adults": Number("", "who stay at it"),
            "people": Number("", "learners and adults"),
            "gear_sets": Number("", "full sets of gear at it"),
            "minors": _yes_no("a learner is under age"),
            "heated": _yes_no("something heats the bath"),
            "temperature": Number("degC", "of the bath"),
            "warmest": Number("degC", "liquor that learners of this age work at"),
            "dye_powder": _yes_no("a dye comes as powder or granules"),
            "lung_sensitiser": _yes_no("that dust can bring on asthma"),
            "strong_chemical": _yes_no("a corrosive acid, alkali or other chemical is dosed"),
            "not_for_class": _yes_no("the table of substances calls something in it not for a class"),
            "powder": Choice("powder work", "who opens the dye, and when"),
            "strong": Choice("who", "who handles the corrosive chemical"),
            "hot": Choice("who", "who works at the hot bath"),
            "jars_labelled": _yes_no("every jar carries a label"),
            "other_room": _yes_no("the plan is made for another kind of room than the session's"),
        },
        ("name", "dyes", "chemicals", "not_for_class_names", "room", "plan_room", "sets_needed"),
    ),
}  # fmt: skip


@lru_cache(maxsize=1)
def vocabularies() -> Mapping[str, Vocabulary]:
    """Every closed list of words that fact fields use."""
    k = knowledge()
    plain: dict[str, tuple[str, ...]] = {
        "yes/no": ("yes", "no"),
        "colour": ("undyed", "dyed"),
        "take": ("full", "partial", "stain", "none", "damage"),
        "part role": ("goods", "trim"),
        "family kind": ("cellulose", "protein", "synthetic", "mineral", "other"),
        "finish effect": ("blocks", "may block", "changes uptake", "no effect"),
        "dye form": ("powder", "granules", "liquid", "paste", "solution", "plant pieces"),
        "amount kind": ("mass", "volume", "spoon", "share"),
        "sheet": ("read", "not read"),
        "substance form": ("solid", "liquid", "solution", "any"),
        "importance": ("required", "helps"),
        "shade": ("even", "mottled"),
        "condition": ("sound", "chipped", "worn coating"),
        "induction": ("yes", "no", "depends"),
        "resistance": ("fine", "slow attack", "attacked", "changes colour"),
        "step": ("weigh", "dissolve", "dye", "rinse", "clean up"),
        "origin": ("dye", "contained", "assist", "before", "room"),
        "outcome": ("dangerous", "wasteful", "harmless", "looked at"),
        "assist role": (
            "acid", "alkali", "salt", "reducing agent", "oxidising agent", "mordant", "levelling agent", "dye carrier",
            "wetting agent", "thickener", "bleach", "dye", "solvent", "binder", "other",
        ),
        "eyewash": ("plumbed", "bottle", "none"),
        "powder work": ("adult before class", "adult in class", "learners"),
        "who": ("adult", "learners"),
        "substance": k.substances.ids,
        "fibre": k.fibres.ids,
        "family": k.families.ids,
        "finish": k.finishes.ids,
        "material": k.materials.ids,
        "heat source": k.heat_sources.ids,
        "gear": k.gear.ids,
        "exposure": k.exposures.ids,
        "person": k.people.ids,
        "space": k.spaces.ids,
        "ventilation": k.ventilation.ids,
        "drain": k.drains.ids,
        "leftover": k.leftovers.ids,
    }  # fmt: skip
    made = {name: Vocabulary(words) for name, words in plain.items()}
    made["dye class"] = Vocabulary(k.dye_classes.ids, k.dye_class_families)
    made["ventilation"] = Vocabulary(k.ventilation.ids, k.airing_families)
    return made
