"""Below, at and above each limit of the rules: in a plan, with the number written in two units, and in the facts.

For each comparison of a number in a rule, the rule's own firing case is taken as the plan. An input of it is moved
until the field stands exactly at the limit (to the 9 digits that facts hold) and a ten millionth to either side; the
rule must fire where the comparison says so, and alike in both units. Conversions are exact: the other unit is
written as a fraction where no decimal will do. Where no input reaches the limit, `ONLY_FACTS` says why, and the
facts of the firing case are moved instead. The limits themselves carry their sources in limits.toml; nothing here
has an outside figure but the sizes of units, which are those of units.toml.
"""

from __future__ import annotations

import math
import operator
import random
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest

from advisor.bounds import stated_numbers
from advisor.cases import base_plan, case_facts, changed
from advisor.checking import Checker
from advisor.evaluator import Evaluator
from advisor.fact import Fact, Firing
from advisor.facts import build_facts, checked
from advisor.facts.session import session_facts
from advisor.findings import Reader
from advisor.interval import Interval, rounded
from advisor.knowledge import knowledge, units
from advisor.measures import work_out
from advisor.plan import InputError, read_plan
from advisor.remedies.changes import value_at
from advisor.rulebook import Condition, Ref, Rule, RuleError, rulebook
from advisor.session import plan_for, read_session

try:
    RULES = rulebook().rules
except RuleError:  # a broken rule file is one failing test elsewhere, not a module that cannot be collected
    RULES = ()

HOLDS: Mapping[str, Callable[[float, float], bool]] = {
    ">": operator.gt, ">=": operator.ge, "<": operator.lt, "<=": operator.le,
}  # fmt: skip
ROOT = Path(__file__).resolve().parents[1]
NEAR = Decimal("1e-7")  # how far to either side of the limit, as a share of the input
MOST_STEPS = 40  # of the search for an input
CLOSE = Decimal("1e-8")  # a plainer number so near is tried first
LAST_DIGIT = 1.1e-8  # of a number in the facts, at the most, as a share of it
DIGITS = 11  # of an input that is solved for; facts hold 9
LABEL_STEP = Decimal("0.001")  # of a label's percentages: the label reader takes three decimals
SAMPLE = 10  # edges put to the engine as well
SEED = 20270316

OTHER_UNITS: Mapping[str, Sequence[str]] = {
    "mass": ("lb", "ounces by weight"),
    "volume": ("us gallon", "us fluid ounce"),
    "temperature": ("degF",),
    "time": ("h",),
    "heating rate": ("delta_degF/min",),
    "fraction": ("per mille",),
    "alkalinity": ("°fH",),
    "altitude": ("ft",),
    "room volume": ("ft^3",),
}
UNIT_IDS = {"ounces by weight": "oz"}
MOST_DIGITS = 15  # that one number may have, leading noughts and both parts of a fraction counted

_A_COUNT = "a count of entries in the plan: nothing lies between one and the next, and each has a case"
_REFUSED = "a plan with none at all is refused when it is read"
_NONE_DOSED = "none of it is dosed in a firing case, and there is no less than none"
_FROM_TABLES = "both numbers come from the tables; no input moves them"
_WHOLE_RINSES = "a whole number of rinses: it jumps from one to the next as the inputs move"
_ALL_EATEN = "the share stops at 1: with more alkalinity it stays there, so nothing lies beyond"
_STEEP = "the temperature is rounded to 9 digits first, and the last of them moves the time by 20 units of its own last"
_AT_NOTHING = "a share of nothing: the fibre that takes the dye is then not on the label at all"

_ONE_SHARE = "in a blend of two fibres the share of the one and the rest reach their two limits together"

# Comparisons that no input of a plan brings exactly to their limit, and why. Key: "fact type: condition".
ONLY_FACTS: Mapping[str, str] = {
    "dose: dye_count <= 1": _A_COUNT,
    "dose: dye_count > 1": _A_COUNT,
    "bath: class_count <= 1": _A_COUNT,
    "bath: class_count > 1": _A_COUNT,
    "goods: lots <= 1": _A_COUNT,
    "goods: lots > 1": _A_COUNT,
    "process: other_classes > 0": _A_COUNT,
    "scale: resolution > 0": _REFUSED,
    "vessel: dry_mass > 0": _REFUSED,
    "bath: water > 0": _REFUSED,
    "bath: alkali <= 0": _NONE_DOSED,
    "bath: acid <= 0": _NONE_DOSED,
    "bath: air_acetic <= 0": _NONE_DOSED,
    "dye: mass > 0": "no dye at all has no error in weighing, so the rule's other comparison fails with it",
    "process: temperature_high < process_2.temperature_low": _FROM_TABLES,
    "aftercare: rinse_count > limit.rinse_many": _WHOLE_RINSES,
    "dose: rinse_count > limit.rinse_many": _WHOLE_RINSES,
    "bath: acid_eaten < 1": _ALL_EATEN,
    "bath: acid_eaten >= 1": _ALL_EATEN,
    "bath: scald_time < limit.scald_moment": _STEEP,
    "goods: dyeable_share <= 0": _AT_NOTHING,
    "goods: dyeable_share >= limit.dyeable_share_full": _ONE_SHARE,
    "goods: dyeable_share < limit.dyeable_share_full": _ONE_SHARE,
}

# On which side of a limit the limit itself lies: with what is below it (`>` and `<=`: "above which") or with what is
# above it (`>=` and `<`: "from which", "below which"). The title of the limit says so, else the tables here.
WITHIN, FROM = frozenset((">", "<=")), frozenset((">=", "<"))
BY_TITLE = (  # the first that is in the title
    (r"at or above|from which", FROM),
    (r"at or below|above|Highest|sure to spoil|may be off|may leave unnamed", WITHIN),
    (r"below|Lowest|will do|at once", FROM),
)
BY_LIMIT: Mapping[str, frozenset[str]] = {
    "small_share": WITHIN,
    "lift_heavy": WITHIN,
    "lift_hot": WITHIN,
    "near_boiling": WITHIN,
    "boiling_sea_level": WITHIN,
    "dose_far_over": WITHIN,
    "weighing_error_coarse": WITHIN,
    "weighing_error_wild": WITHIN,
    "unfixed_heavy": WITHIN,
    "unfixed_very_heavy": WITHIN,
}
BY_OPERAND: Mapping[str, frozenset[str]] = {  # at most so much, or at least
    "0": WITHIN,
    "1": WITHIN,
    "boiling_point": WITHIN,
    "heat_limit": WITHIN,
    "heat_limit_begin": WITHIN,
    "ph_high": WITHIN,
    "reaches": WITHIN,
    "rise_limit": WITHIN,
    "temperature_high": WITHIN,
    "learners_per_adult_limit": WITHIN,
    "learners_limit": WITHIN,
    "warmest": WITHIN,
    "temperature_low": FROM,
    "process_2.temperature_low": FROM,
    "supervisors_least": FROM,
    "least_age": FROM,
    "area_limit": FROM,
    "people": FROM,
    "fewest_places": FROM,
}
BY_COMPARISON: Mapping[str, tuple[frozenset[str], str]] = {
    "process: share_of_hold < 1": (FROM, "1 is the shortest usual time"),
    "need: share_of_usual_low < 1": (FROM, "1 is the least usual amount"),
    "vessel: fill < 1": (FROM, "1 is full to the brim, and does not fit"),
    "vessel: fill >= 1": (FROM, "1 is full to the brim, and does not fit"),
    "bath: acid_eaten < 1": (FROM, "1 is all of it"),
    "bath: boils_away >= water": (FROM, "that much is all of it"),
    "bath: acid_eaten >= 1": (FROM, "1 is all of it"),
    "session: spares < 1": (FROM, "one is enough"),
    "station: adults < 1": (FROM, "one is enough"),
    "vessel: temperature < limit.hot_bath": (FROM, "against the title: 60 degC itself counts as hot here"),
    "vessel: temperature >= limit.hot_bath": (FROM, "against the title: 60 degC itself counts as hot here"),
    "heat: temperature >= limit.attend_above": (FROM, "against the title: 40 degC itself counts here"),
    "dose: dyeable_share > limit.dyeable_share_least": (WITHIN, "against the title: half itself counts as too little"),
    "bath: lift_mass > limit.lift_caution": (WITHIN, "against the title: 16 kg itself does not count"),
    "assist: per_litre > limit.pungent_per_litre": (WITHIN, "against the title: 2 g/L itself does not count"),
}

_FOR_A_STUDIO = "for a studio's own rules, which can name no limit that is not here; a field of the facts has its unit"

# Limits that no rule compares with, and why. Each limit must be in a rule or here.
NOT_COMPARED: Mapping[str, str] = {
    "plant_pieces_bulk_density": "turns cups of plant pieces into grams",
    "powder_bulk_density": "turns spoons of powder into grams",
    "liquid_dye_density": "turns millilitres of liquid dye into grams",
    "stock_strength": "the strength of the stock solution that is proposed",
    "liquor_ratio_plan": "the water that a trial dyeing is planned with",
    "rinse_ratio": "the water of a rinse where the plan gives none",
    "tap_water": "where the time to heat up begins",
    **dict.fromkeys(
        (
            "acid_ph", "elastane_gentle", "scald_instant", "scald_seconds", "heating_long", "drain_temperature",
        ),
        _FOR_A_STUDIO,
    ),
}  # fmt: skip


# --- what is compared -------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Edge:
    """One comparison of a number in one rule."""

    rule: Rule
    condition: Condition

    @property
    def text(self) -> str:
        """The comparison with its fact type: what stands in the tables above."""
        return f"{self.rule.aliases[self.condition.alias]}: {self.condition.text}"

    @property
    def by_facts(self) -> bool:
        """Whether a table above says that no plan meets it."""
        return self.text in ONLY_FACTS


def edges() -> list[Edge]:
    """Every comparison of a number in every rule."""
    return [Edge(rule, c) for rule in RULES for c in rule.conditions if not isinstance(c.operand, frozenset)]


EDGES = edges()
IN_PLANS = [edge for edge in EDGES if not edge.by_facts]
BY_TEXT = {text: [edge for edge in IN_PLANS if edge.text == text] for text in dict.fromkeys(e.text for e in IN_PLANS)}


# --- a plan, and what the rules make of it ----------------------------------------------------------------


@dataclass(frozen=True)
class Look:
    """The facts of a plan and all firings over them, by plain Python alone."""

    facts: Sequence[Fact]
    firings: Sequence[Firing]

    def answers(self, edge: Edge, row: tuple[int, ...]) -> tuple[bool, bool]:
        """Whether the rule fires, and whether it may, on these facts."""
        mine = [f.certain for f in self.firings if f.rule == edge.rule.id and f.facts == row]
        return any(mine), bool(mine)

    def numbers(self) -> list[Any]:
        """What the rules see, without the texts and the inputs to blame: the words, and the ends of each number."""
        seen: list[Any] = []
        for fact in self.facts:
            seen += [fact.type, fact.subject]
            for value in fact.values.values():
                seen += [value.low, value.high] if isinstance(value, Interval) else [value]
        return seen


def alike(one: Sequence[Any], other: Sequence[Any]) -> bool:
    """The same words, and the same numbers but for the last of their digits, which may be rounded either way."""
    return len(one) == len(other) and all(
        a == b or (isinstance(a, float) and math.isclose(a, b, rel_tol=LAST_DIGIT, abs_tol=LAST_DIGIT))
        for a, b in zip(one, other, strict=True)
    )


@cache
def evaluator() -> Evaluator:
    return Evaluator(RULES)


def facts_of(data: Mapping[str, Any]) -> list[Fact]:
    """The facts of the data of a plan or of a session. Raises InputError."""
    if "stations" not in data:
        return build_facts(work_out(read_plan(data), knowledge()), knowledge())
    session = read_session(data)
    return session_facts(session, tuple(plan_for(session, station) for station in session.stations), knowledge())


def look(facts: Sequence[Fact]) -> Look:
    """What the rules make of the facts of a plan."""
    concluded: list[Fact] = []

    def conclude(firings: list[Firing]) -> list[Fact]:
        if facts[0].type != "session":
            reader = Reader(rulebook(), knowledge(), facts)
            concluded[:] = [checked(fact) for fact in reader.conclude(firings)]
        return concluded

    firings = evaluator().run(facts, conclude)
    return Look([*facts, *concluded], firings)


def both(edge: Edge, facts: Sequence[Fact], row: Sequence[int]) -> tuple[Interval, Interval]:
    """The field and the limit."""
    order = list(edge.rule.aliases)
    operand = edge.condition.operand
    mine = facts[row[order.index(edge.condition.alias)]].values[edge.condition.field]
    other = (
        facts[row[order.index(operand.alias)]].values[operand.field]
        if isinstance(operand, Ref)
        else Interval.point(operand)  # type: ignore[arg-type]
    )
    assert isinstance(mine, Interval)
    assert isinstance(other, Interval)
    return mine, other


def ends(edge: Edge, facts: Sequence[Fact], row: Sequence[int]) -> tuple[float, float]:
    """The two numbers that decide whether the comparison holds for sure: of the field, and of the limit."""
    mine, other = both(edge, facts, row)
    return (mine.low, other.high) if edge.condition.op in (">", ">=") else (mine.high, other.low)


# --- an input that moves the field, written in two units --------------------------------------------------


@dataclass(frozen=True)
class Knob:
    """One number of a plan: where it stands, what it is now, how it is written in two ways, how near to go."""

    path: str
    start: Decimal
    write: Callable[[Decimal], tuple[Any, Any]]
    low: Decimal
    high: Decimal
    units: str
    step: Decimal | None = None  # the smallest step, where there is one


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def written(exact: Fraction) -> str:
    """A number as a person may write it: a decimal, a fraction, or else the nearest decimal that is read."""
    top, bottom = exact.numerator, exact.denominator
    noughts = max(0, math.ceil(-math.log10(exact))) if 0 < exact < 1 else 0
    decimal = Context(prec=max(1, MOST_DIGITS - noughts)).divide(Decimal(top), Decimal(bottom))
    short = top > 0 and len(f"{top}{bottom}") <= MOST_DIGITS
    return f"{top}/{bottom}" if short and Fraction(decimal) != exact else _plain(decimal)


def in_two_units(kind: str, value: Decimal) -> tuple[str, str]:
    """A value in the canonical unit of its kind, as text in that unit and in another one."""
    canonical = f"{_plain(value)} {units().kinds[kind].unit}"
    for word in OTHER_UNITS[kind]:
        unit = units().units[UNIT_IDS.get(word, word)]
        assert unit.exact_factor is not None
        other = Fraction(value) / unit.exact_factor + Fraction(repr(unit.offset))
        if other >= 1 or word == OTHER_UNITS[kind][-1]:
            return canonical, f"{written(other)} {word}"
    raise AssertionError(f"no other unit for {kind}")


def in_a_label_and_a_table(shares: Mapping[str, float], moved: str, value: Decimal) -> tuple[str, dict[str, float]]:
    """The composition with the share of one fibre set and the others cut to what is left: as a label, as a table."""
    rest = sum((Decimal(repr(share)) for fibre, share in shares.items() if fibre != moved), Decimal(0))
    made = {
        fibre: value if fibre == moved else ((100 - value) * Decimal(repr(share)) / rest).quantize(LABEL_STEP)
        for fibre, share in shares.items()
    }
    label = ", ".join(f"{_plain(share)}% {fibre}" for fibre, share in made.items())
    return label, {fibre: float(share) for fibre, share in made.items()}


def as_number_and_text(value: Decimal) -> tuple[int, str]:
    """A count, as a number and in quotes."""
    return int(value), str(int(value))


def as_two_ages(oldest: str, value: Decimal) -> tuple[str, str]:
    """The ages of the youngest and the oldest, in words and with a dash."""
    return f"{value} to {oldest}", f"{value}-{oldest}"


def knobs_of_plan(data: Mapping[str, Any], prefix: str = "") -> Iterator[Knob]:
    """Each number a plan states exactly, and the shares of its blends."""
    plan = read_plan(data)
    for path, quantity in stated_numbers(plan):
        kind = units().kinds[quantity.kind]
        if kind.id in OTHER_UNITS:
            yield Knob(
                prefix + path,
                Decimal(f"{quantity.interval.low:.12g}"),
                partial(in_two_units, kind.id),
                Decimal(repr(kind.low)),
                Decimal(repr(kind.high)),
                f"{kind.unit} and {' or '.join(OTHER_UNITS[kind.id])}",
            )
    for number, lot in enumerate(plan.goods):
        shares = {c.fibre: c.share.low for part in lot.fibres.parts for c in part.components if c.share.exact}
        if len(lot.fibres.parts) == 1 and len(shares) > 1:
            for fibre, share in shares.items():
                write = partial(in_a_label_and_a_table, shares, fibre)
                path = f"{prefix}goods.{number}.fibres"
                start = Decimal(repr(share))
                yield Knob(path, start, write, Decimal(0), Decimal(100), f"label and table ({fibre})", LABEL_STEP)


def knobs_of_session(data: Mapping[str, Any]) -> Iterator[Knob]:
    """Each count of a session, and the numbers of its plans."""
    for number, station in enumerate(data["stations"]):
        yield from knobs_of_plan(station["plan"], f"stations.{number}.plan.")
    paths = ["learners.number", "learners.ages", "supervisors.number", "room.floor_area", "gear.spares"]
    paths += [
        f"stations.{n}.{name}" for n in range(len(data["stations"])) for name in ("learners", "adults", "gear_sets")
    ]
    for path in paths:
        youngest, to, oldest = str(value_at(data, path)).partition(" to ")
        if youngest.isdigit():
            write = partial(as_two_ages, oldest) if to else as_number_and_text
            yield Knob(path, Decimal(youngest), write, Decimal(0), Decimal(120), "number and text", Decimal(1))


def movers(edge: Edge, data: Mapping[str, Any], index: int) -> list[Knob]:
    """The inputs that may move the field: those it blames when each number is given as a narrow range instead."""
    if "stations" in data:
        return list(knobs_of_session(data))
    knobs = list(knobs_of_plan(data))
    wide = {}
    for knob in knobs:
        if knob.step is None and knob.start > 0:
            unit = knob.units.split(" and ")[0]
            low = Context(prec=DIGITS).multiply(knob.start, Decimal("0.9999"))
            wide[knob.path] = f"{_plain(low)} to {_plain(knob.start)} {unit}"
    facts = facts_of(changed(data, wide))
    moved = facts[index].values[edge.condition.field]
    assert isinstance(moved, Interval)
    blamed = sorted((k for k in knobs if k.path in moved.because), key=lambda k: k.path.startswith("goods"))
    labels = [knob for knob in knobs if knob.step is not None]
    shares = "share" in edge.condition.field and edge.rule.aliases[edge.condition.alias] in ("part", "goods", "dose")
    return labels + blamed if shares else blamed


# --- bringing a field to its limit ------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """Where a comparison of a rule is looked at: the data of a firing case, and the facts the rule fires on."""

    edge: Edge
    data: Mapping[str, Any]
    row: tuple[int, ...]
    names: tuple[tuple[str, str], ...]  # type and subject of each fact of the row
    made: dict[tuple[str, str], Sequence[Fact] | None] = field(default_factory=dict)

    @property
    def index(self) -> int:
        """The fact whose field is compared."""
        return self.row[list(self.edge.rule.aliases).index(self.edge.condition.alias)]

    def facts(self, knob: Knob, value: Any) -> Sequence[Fact] | None:
        """The facts of the plan with one input changed; None where it is no plan."""
        key = (knob.path, repr(value))
        if key not in self.made:
            try:
                self.made[key] = facts_of(changed(self.data, {knob.path: value}))
            except InputError:
                self.made[key] = None
        return self.made[key]

    def put(self, knob: Knob, value: Any) -> Look | None:
        """What the rules make of it; None where it is no plan, or another one."""
        facts = self.facts(knob, value)
        found = look(facts) if facts is not None else None
        if found is None or max(self.row) >= len(found.facts):
            return None
        return found if self.names == tuple((found.facts[i].type, found.facts[i].subject) for i in self.row) else None

    def gap(self, knob: Knob, value: Decimal) -> tuple[float, float] | None:
        """The field and the limit with the input at this value."""
        facts = self.facts(knob, knob.write(value)[0])
        return ends(self.edge, facts, self.row) if facts is not None and self.index < len(facts) else None

    def others_hold(self, found: Look) -> bool:
        """Whether all other conditions hold there for sure, so that this one decides."""
        rest = tuple(c for c in self.edge.rule.conditions if c != self.edge.condition)
        firings = Evaluator([replace(self.edge.rule, conditions=rest)]).run(found.facts, lambda _: [])
        return any(f.certain and f.facts == self.row for f in firings)


def places(edge: Edge) -> Iterator[Place]:
    """The rule's own firing cases, each with the facts it fires on."""
    for case in edge.rule.cases.fires:
        data = changed(base_plan(case.plan), case.change)
        found = look(facts_of(data))
        for firing in found.firings:
            if firing.rule == edge.rule.id and firing.certain:
                names = tuple((found.facts[i].type, found.facts[i].subject) for i in firing.facts)
                yield Place(edge, data, firing.facts, names)


def solve(place: Place, knob: Knob) -> Decimal | None:
    """The input that brings the field to the limit, to the last digit of both; None when none does.

    Each step goes along a straight line, in logarithms where all is above nothing, and stays between two points on
    either side of the limit as soon as there are such.
    """
    first = knob.start + (knob.step or max(abs(knob.start) / 128, Decimal("0.01")))
    if first > knob.high:
        first = knob.start - (knob.step or knob.start / 128)
    seen: dict[Decimal, tuple[float, float]] = {}
    last: list[Decimal] = []
    value = knob.start
    for _ in range(MOST_STEPS):
        found = place.gap(knob, value)
        if found is None:
            return None
        seen[value] = found
        last.append(value)
        if found[0] == found[1]:
            return plainest(place, knob, value)
        if len(last) == 1:
            value = first
            continue
        if len(last) == 2 and seen[last[0]] == seen[last[1]]:
            return None  # not moved by it
        guess = _guess(last[-2:], seen)
        sides = [[x for x, (now, limit) in seen.items() if (now < limit) == side] for side in (False, True)]
        if all(sides):
            one, other = min(((a, b) for a in sides[0] for b in sides[1]), key=lambda pair: abs(pair[0] - pair[1]))
            if guess is None or not min(one, other) < guess < max(one, other) or len(last) > MOST_STEPS / 2:
                guess = (one + other) / 2
        if guess is None:
            return None
        value = _rounded(min(max(guess, knob.low), knob.high), knob.step)
        if value in seen:
            return None
    return None


def _guess(pair: Sequence[Decimal], seen: Mapping[Decimal, tuple[float, float]]) -> Decimal | None:
    (a, b), (fa, la), (fb, lb) = pair, seen[pair[0]], seen[pair[1]]
    if min(a, b) > 0 and min(fa, fb, la, lb) > 0:
        ga, gb = math.log(fa / la), math.log(fb / lb)
        if ga == gb:
            return None
        x = math.log(b) - gb * (math.log(b) - math.log(a)) / (gb - ga)
        return Decimal(repr(math.exp(min(max(x, -30), 30))))
    ga, gb = fa - la, fb - lb
    return None if ga == gb else Decimal(repr(float(b) - gb * (float(b) - float(a)) / (gb - ga)))


def _rounded(value: Decimal, step: Decimal | None) -> Decimal:
    """Whole steps; else the plain number that is as good as equal, else so many digits."""
    if step is not None:
        return value.quantize(step)
    for digits in range(1, 7):
        plain = Context(prec=digits).plus(value)
        if abs(plain - value) <= abs(value) * CLOSE:
            return plain
    return Context(prec=DIGITS).plus(value)


def plainest(place: Place, knob: Knob, value: Decimal) -> Decimal:
    """The shortest number that is at the limit as well."""
    if knob.step is None:
        for digits in range(1, DIGITS):
            plain = Context(prec=digits).plus(value)
            if plain != value and abs(plain - value) <= abs(value) * CLOSE / 10:
                found = place.gap(knob, plain)
                return plain if found is not None and found[0] == found[1] else value
    return value


def beside(place: Place, knob: Knob, value: Decimal) -> list[Decimal] | None:
    """The input a little lower and a little higher: the least for which the field leaves its limit, to both sides."""
    for reach in (1, 10, 100):
        step = knob.step or Context(prec=1).plus(max(abs(value), Decimal("0.001")) * NEAR) * reach
        pair = [value - step, value + step]
        gaps = [place.gap(knob, one) for one in pair if one >= knob.low]
        if value == 0 and None not in gaps:
            return pair[1:]
        if None in gaps or len(gaps) < 2:
            return None
        (f0, l0), (f1, l1) = gaps  # type: ignore[misc]
        if (f0 - l0) * (f1 - l1) < 0:
            return pair
    return None


@dataclass(frozen=True)
class Met:
    """An edge met in a plan: the input at the limit and beside it."""

    place: Place
    knob: Knob
    value: Decimal
    values: tuple[Decimal, ...]


@cache
def met(edge: Edge) -> Met | None:
    """The first firing case and input of it with which the comparison alone decides, on both sides of its limit."""
    return next(attempts(edge, []), None)


def attempts(edge: Edge, why: list[str]) -> Iterator[Met]:
    """Every firing case and input that meets the edge; `why` is told about the others."""
    for place in places(edge):
        knobs = movers(edge, place.data, place.index)
        why += [] if knobs else ["nothing moves it"]
        for knob in knobs:
            value = solve(place, knob)
            near = beside(place, knob, value) if value is not None else None
            if value is None or near is None:
                why.append(f"{knob.path} {knob.units}: {'never there' if value is None else f'flat at {value}'}")
                continue
            values = tuple(sorted((value, *near)))
            looks = [place.put(knob, knob.write(one)[0]) for one in values]
            if all(found is not None and place.others_hold(found) for found in looks):
                yield Met(place, knob, value, values)
            else:
                why.append(f"{knob.path} {knob.units}: others decide at {value}")


def checks(found: Met, checker: Checker | None = None) -> None:
    """Below, at and above the limit, in both units: the rule fires where its comparison says so."""
    edge = found.place.edge
    place, knob = found.place, found.knob
    fired = set()
    for value in found.values:
        first, second = (place.put(knob, text) for text in knob.write(value))
        assert first is not None and second is not None
        assert alike(first.numbers(), second.numbers()), (knob.path, knob.write(value))
        at = [len(set(ends(edge, one.facts, place.row))) == 1 for one in (first, second)]
        assert at == [value == found.value] * 2, (knob.path, knob.write(value))
        assert set(first.firings) == set(second.firings), (knob.path, knob.write(value))
        expected = HOLDS[edge.condition.op](*ends(edge, first.facts, place.row))
        certain, possible = first.answers(edge, place.row)
        assert certain == expected, (knob.path, knob.write(value))
        assert possible == expected or not all(one.exact for one in both(edge, first.facts, place.row)), (
            knob.path,
            knob.write(value),
        )
        fired.add(certain)
        if checker is not None:
            for text in knob.write(value):
                facts = facts_of(changed(place.data, {knob.path: text}))
                _, firings = checker.fire(facts)
                assert any(f.certain and f.rule == edge.rule.id and f.facts == place.row for f in firings) == expected
    assert fired == {True, False}


def met_by_one_of(text: str) -> Met:
    """A comparison met in a plan of the first rule whose firing cases reach it."""
    found = next((one for edge in BY_TEXT[text] if (one := met(edge)) is not None), None)
    assert found is not None, (
        f"no input of a firing case brings {text} to its limit; if none can, say why in ONLY_FACTS"
    )
    return found


# --- the tests --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", BY_TEXT)
def test_each_comparison_in_a_plan_in_two_units(text: str) -> None:
    checks(met_by_one_of(text))


@pytest.mark.parametrize("text", random.Random(SEED).sample(list(BY_TEXT), min(SAMPLE, len(BY_TEXT))))
def test_the_engine_has_the_same_edge(text: str, checker: Checker) -> None:
    checks(met_by_one_of(text), checker)


@pytest.mark.sweep
@pytest.mark.parametrize("text", BY_TEXT)
def test_each_comparison_of_each_rule_in_a_plan_in_two_units(text: str) -> None:
    """Of the rules with the same comparison, all whose firing cases reach it."""
    found = [one for edge in BY_TEXT[text] if (one := met(edge)) is not None]
    assert found
    for one in found:
        checks(one)
    print(f"{text}: {len(found)} of {len(BY_TEXT[text])} rules")


@cache
def firing_facts(rule_id: str) -> tuple[Sequence[Fact], tuple[int, ...]]:
    """The facts of the rule's first firing case, and those it fires on."""
    rule = rulebook().rule(rule_id)
    found = look(case_facts(rule.cases.fires[0]))
    return found.facts, next(f.facts for f in found.firings if f.rule == rule.id and f.certain)


def apart(other: Condition, condition: Condition) -> bool:
    """Whether a condition stays as it is when the field of another one moves."""
    read = [(other.alias, other.field)]
    if isinstance(other.operand, Ref):
        read.append((other.operand.alias, other.operand.field))
    return other == condition or (condition.alias, condition.field) not in read


def test_each_comparison_of_each_rule_in_the_facts() -> None:
    """The field put to the limit itself and one unit of its 9th digit to either side, in the facts of a firing case."""
    for edge in EDGES:
        facts, row = firing_facts(edge.rule.id)
        condition = edge.condition
        index = row[list(edge.rule.aliases).index(condition.alias)]
        limit = both(edge, facts, row)[1]
        at = limit.high if condition.op in (">", ">=") else limit.low
        digit = 10.0 ** (math.floor(math.log10(abs(at))) - 8) if at else 1e-9
        ready = Evaluator(
            [replace(edge.rule, conditions=tuple(c for c in edge.rule.conditions if apart(c, condition)))]
        )
        for value in (rounded(at - digit), at, rounded(at + digit)):
            fact = facts[index]
            moved = checked(replace(fact, values={**fact.values, condition.field: Interval.point(value)}))
            firings = ready.run([*facts[:index], moved, *facts[index + 1 :]], lambda _: [])
            fires = any(f.certain and f.facts == row for f in firings)
            assert fires == HOLDS[condition.op](value, at), f"{edge.rule.id}, {edge.text}: {value!r} against {at!r}"


def expected_at(text: str) -> frozenset[str] | None:
    """The comparisons that fit what the limit says of itself; None where nothing says it."""
    if text in BY_COMPARISON:
        return BY_COMPARISON[text][0]
    operand = text.split(" ")[-1]
    limit = operand.removeprefix("limit.")
    if limit == operand:
        return BY_OPERAND.get(operand)
    title = knowledge().limits[limit].title
    return BY_LIMIT.get(limit) or next((sense for pattern, sense in BY_TITLE if re.search(pattern, title)), None)


def test_the_comparison_is_the_one_that_the_limit_means() -> None:
    """So that `>` for `>=` in a rule file is seen, whatever its cases: each says itself where the limit belongs."""
    wrong = {e.text for e in EDGES if e.condition.op not in (expected_at(e.text) or ())}
    assert not wrong
    texts = {edge.text for edge in EDGES}
    assert BY_COMPARISON.keys() <= texts
    assert BY_OPERAND.keys() <= {text.split(" ")[-1] for text in texts}
    assert {f"limit.{name}" for name in BY_LIMIT} <= {text.split(" ")[-1] for text in texts}


def test_every_limit_is_compared_or_accounted_for() -> None:
    """A new limit without an edge and without a reason fails here."""
    compared = {name for edge in EDGES for name in re.findall(r"limit\.(\w+)", edge.condition.text)}
    assert set(knowledge().limits) == compared | NOT_COMPARED.keys()
    assert not compared & NOT_COMPARED.keys(), "compared after all"
    used = {name for name, reason in NOT_COMPARED.items() if reason != _FOR_A_STUDIO}
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "advisor").rglob("*.py"))
    texts = "\n".join(text for rule in RULES for text in (rule.message, *rule.do))
    named = {name for name in NOT_COMPARED if f'"{name}"' in code or f"{{limit.{name}}}" in texts}
    assert used == named


def test_every_exemption_is_of_a_comparison_there_is() -> None:
    texts = {edge.text for edge in EDGES}
    assert ONLY_FACTS.keys() <= texts
    assert all(reason.strip() for reason in (*ONLY_FACTS.values(), *NOT_COMPARED.values()))


@pytest.mark.sweep
@pytest.mark.parametrize("text", ONLY_FACTS)
def test_no_plan_meets_what_is_exempt(text: str) -> None:
    """An exemption that a firing case could do without has to go."""
    assert not [edge for edge in EDGES if edge.text == text and met(edge) is not None]


def test_counts() -> None:
    limits = {name for edge in EDGES for name in re.findall(r"limit\.(\w+)", edge.condition.text)}
    print(
        f"\nlimits: {len(knowledge().limits)}, of which compared: {len(limits)}, accounted for: {len(NOT_COMPARED)}"
        f"\ncomparisons: {len(EDGES)}, different ones: {len({edge.text for edge in EDGES})}"
        f"\nin a plan in two units: {len(IN_PLANS)} ({len(BY_TEXT)} different); only in the facts: {len(EDGES) - len(IN_PLANS)}"
    )
    assert len(IN_PLANS) > len(EDGES) * 0.7
