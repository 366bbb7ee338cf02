"""Candidates for a way out of a finding: changes made from the plan's own data, smallest and likeliest first.

Each way out of rules/knowledge/remedies.toml has a function here. It may guess: what it yields is tried by
checking the changed plan, and only what is proved is told. Paths are in the numbering of the plan it looks at.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from advisor.fact import Fact
from advisor.fact_types import vocabularies
from advisor.interval import Interval
from advisor.knowledge import AssistUse, DyeClass, Knowledge
from advisor.measures import Workings, acidity
from advisor.measures.goods import TAKES_DYE, takes
from advisor.plan import UNKNOWN, Plan
from advisor.remedies.amounts import ML_PER_L, Towards, restated, scaled
from advisor.remedies.changes import value_at
from advisor.remedies.proof import Target, Trial
from advisor.rulebook import Ref

FACTORS = tuple(0.8**power for power in range(1, 15))  # how a chemical is cut or, upside down, raised, step by step
MOST_CLASSES = 5  # of other dye classes that are tried
NEARLY = 1.0  # degC under a limit that must not be reached
HUNDRED = 100.0
GRAMS = 1000.0
# roles of a chemical that belong to one dye class and seldom to the next
CLASS_ROLES = frozenset(
    {"acid", "alkali", "salt", "reducing agent", "oxidising agent", "mordant", "dye carrier", "bleach"}
)
POWDERS = ("powder", "granules")
_BASE = {"mass": "mass", "volume": "volume", "spoon": "volume", "share": "fraction"}


@dataclass(frozen=True)
class Candidate:
    """A change that may lift a finding, and the id of the way out it is."""

    way: str
    changes: Mapping[str, Any]


@dataclass(frozen=True)
class Bench:
    """What the functions look at: the plan as it now stands, and the finding to be lifted."""

    trial: Trial
    target: Target
    k: Knowledge

    @property
    def data(self) -> dict[str, Any]:
        """The plain data of the plan."""
        return self.trial.data

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.trial.plan

    @property
    def work(self) -> Workings:
        """What was worked out from it."""
        return self.trial.work

    def fact(self, fact_type: str) -> Fact | None:
        """The first fact of this type behind the finding."""
        return next((fact for fact in self.target.facts.values() if fact.type == fact_type), None)

    def fields(self, fact_type: str) -> frozenset[str]:
        """The fields of this type that the rule looks at."""
        aliases = {alias for alias, fact in self.target.facts.items() if fact.type == fact_type}
        return frozenset(c.field for c in self.target.rule.conditions if c.alias in aliases)

    def bounds(self, name: str, *ops: str) -> Iterator[float]:
        """What a field is compared with by these operators, in the target's rule: the low ends."""
        for condition in self.target.rule.conditions:
            if condition.field == name and condition.op in ops:
                if isinstance(condition.operand, Ref):
                    value = self.target.facts[condition.operand.alias].values[condition.operand.field]
                    assert isinstance(value, Interval)
                    yield value.low if ">" in condition.op else value.high
                elif isinstance(condition.operand, float):
                    yield condition.operand

    def limit(self, name: str) -> float:
        """A named limit."""
        return self.k.limits[name].figure.low

    def anew(self, path: str, kind: str, value: float, towards: Towards, step: float = 0.0) -> str:
        """A value for a path, in the unit that stands there."""
        return restated(value_at(self.data, path), kind, value, towards, step=step, place=self.plan.place)


Maker = Callable[[Bench], Iterator[Mapping[str, Any]]]


def candidates(bench: Bench) -> Iterator[Candidate]:
    """Everything worth trying for the target, the rule's own way out first, then those that may stand in for it."""
    first = bench.target.rule.remedy
    if first is None:
        return
    ways = [first]
    for way in ways:  # grows while it is read: what stands in for a way may have its own stand-ins
        ways += [other for other in bench.k.ways_out[way].instead if other not in ways]
    for way in ways:
        for changes in MAKERS[way](bench):
            if changes:
                yield Candidate(way, changes)


def _number(subject: str) -> int | None:
    """The number in a subject such as "dyes.0.amount"."""
    return next((int(part) for part in subject.split(".") if part.isdigit()), None)


# ---------------------------------------------------------------------------------------------------- the dose


def _reduce_dye(b: Bench) -> Iterator[Mapping[str, Any]]:
    everything = range(len(b.plan.dyes))
    dye = b.fact("dye")
    numbers = everything if dye is None else [_number(dye.subject) or 0]
    most = max(1.0, *(each.share_of_maximum.high for each in b.work.dose.dyes)) if dye is None else 1.0
    for fact in filter(None, (dye, b.fact("dose"))):
        for name in ("share_of_maximum", "share_of_maximum_dyeable", "share_of_usual_deep", "share_of_ceiling"):
            share = fact.values.get(name)
            if name in b.fields(fact.type) and isinstance(share, Interval) and share.high > 1:
                yield _cut_dyes(b, numbers, 1 / max(share.high, most))
    yield from (_cut_dyes(b, everything, 1 / share.high) for share in [b.work.dose.share_of_maximum] if share.high > 1)
    yield from (_cut_dyes(b, everything, factor) for factor in FACTORS[1::2])


def _cut_dyes(b: Bench, numbers: Iterable[int], factor: float) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    for number in numbers:
        dye, dose, path = b.plan.dyes[number], b.work.dose.dyes[number], f"dyes.{number}.amount"
        kind = dose.weighed.kind
        if kind == UNKNOWN or dye.amount.interval.high <= 0:
            continue
        if kind == "spoon" or (kind == "volume" and dye.form in POWDERS):  # how much a spoon holds is not known: weigh
            changes[path] = restated("", "mass", dose.weighed.mass.high * factor, "down", step=_scale_step(b))
        else:
            step = _scale_step(b) if kind == "mass" else 0.0
            changes[path] = b.anew(path, _BASE[kind], dye.amount.interval.high * factor, "down", step)
    return changes


def _scale_step(b: Bench) -> float:
    resolution = b.plan.scale.resolution
    return resolution.interval.high if resolution.stated else 0.0


def _stock_solution(b: Bench) -> Iterator[Mapping[str, Any]]:
    dye = b.fact("dye")
    numbers = range(len(b.plan.dyes)) if dye is None else [_number(dye.subject) or 0]
    for share in (0.5, 0.0, 1.0):  # of the way from the low to the high end of what a spoon may hold
        yield {path: value for number in numbers for path, value in _as_solution(b, number, share).items()}


def _as_solution(b: Bench, number: int, share: float) -> dict[str, Any]:
    """The same dose as a stock solution of the usual strength (1 % = 1 g in 100 mL)."""
    mass = b.work.dose.dyes[number].weighed.mass
    if b.work.dose.dyes[number].weighed.kind == UNKNOWN or mass.low <= 0:
        return {}
    strength = b.limit("stock_strength")
    grams = mass.low + (mass.high - mass.low) * share
    litres = grams * HUNDRED / strength / ML_PER_L
    path = f"dyes.{number}"
    raw = value_at(b.data, f"{path}.amount")
    return {
        f"{path}.form": "solution",
        f"{path}.strength": f"{strength:g} %",
        f"{path}.amount": restated(raw if "L" in str(raw) else "", "volume", litres, "down"),
    }


def _replace_form(b: Bench) -> Iterator[Mapping[str, Any]]:
    dye = b.fact("dye")
    powders = [n for n, d in enumerate(b.plan.dyes) if d.form in POWDERS]
    numbers = powders if dye is None else [n for n in powders if n == _number(dye.subject)]
    if dye is not None and "amount_kind" in b.fields("dye"):  # a powder measured like a liquid: weigh it
        for number in numbers:
            mass = b.work.dose.dyes[number].weighed.mass
            yield {f"dyes.{number}.amount": restated("", "mass", mass.low, "near", step=_scale_step(b))}
    yield {path: value for number in numbers for path, value in _as_solution(b, number, 0.0).items()}
    yield {f"dyes.{number}.form": "liquid" for number in numbers}


# ---------------------------------------------------------------------------------------------------- pot and water


def _more_water(b: Bench) -> Iterator[Mapping[str, Any]]:
    kilograms = b.work.goods.dry_mass.high / GRAMS
    if not all(goods.dry_mass.stated for goods in b.plan.goods):
        return
    for ratio in b.bounds("rinse_ratio", "<"):
        yield {"aftercare.rinse_water": b.anew("aftercare.rinse_water", "volume", ratio * kilograms, "up")}
        return
    even = b.limit("liquor_ratio_even") if b.plan.bath.shade != "mottled" else b.limit("liquor_ratio_mottled")
    for ratio in dict.fromkeys((even, *b.bounds("liquor_ratio", "<"))):
        water = ratio * kilograms
        if water <= b.work.vessel.water.high:
            continue
        more = {"bath.water": b.anew("bath.water", "volume", water, "up")}
        yield more
        yield more | _same_strength(b, water / b.work.vessel.water.high)
        yield from (more | pot for pot in _pot_for(b, water))
        yield from (more | _same_strength(b, water / b.work.vessel.water.high) | pot for pot in _pot_for(b, water))


def _same_strength(b: Bench, factor: float) -> dict[str, Any]:
    """Everything dosed to the litre, scaled with the water."""
    changes: dict[str, Any] = {}
    for number, assist in enumerate(b.plan.assists or ()):
        uses = [use for member in _classes(b) for use in member.assists if assist.substance in use.substances]
        if any(use.amount.unit == "g/L" for use in uses):
            changes |= _scale_assist(b, number, factor, "near")
    return changes


def _classes(b: Bench) -> list[DyeClass]:
    words = vocabularies()["dye class"]
    return [b.k.dye_classes[c] for dye in b.plan.dyes for c in words.words if c in words.may_be(dye.dye_class)]


def _scale_assist(b: Bench, number: int, factor: float, towards: Towards) -> dict[str, Any]:
    assert b.plan.assists is not None
    amount, kind = b.plan.assists[number].amount, b.work.assists[number].weighed.kind
    if kind == UNKNOWN:
        return {}
    path = f"assists.{number}.amount"
    raw, ends = value_at(b.data, path), (amount.interval.low, amount.interval.high)
    return {path: scaled(raw, _BASE[kind], ends, factor, towards, place=b.plan.place)}


def _pot_for(b: Bench, water: float) -> Iterator[dict[str, Any]]:
    """A pot that holds this much water with the goods in, rounded up to a usual size."""
    pot = b.work.vessel
    if not b.plan.vessel.capacity.stated:
        return
    solid = b.work.goods.dry_mass.high / GRAMS / b.work.goods.density.low
    hot = b.plan.bath.temperature.interval.high >= b.limit("hot_bath")
    step = b.k.way_out_limits["pot_step"].low
    for full in dict.fromkeys((b.limit("fill_hot") if hot else b.limit("fill_full"), b.limit("fill_full"))):
        capacity = math.ceil((water + solid) / full / step - 1e-9) * step
        if capacity > pot.capacity.low:
            yield {"vessel.capacity": b.anew("vessel.capacity", "volume", capacity, "up")}


def _larger_pot(b: Bench) -> Iterator[Mapping[str, Any]]:
    pot, bath = b.work.vessel, b.plan.bath
    if b.fields("vessel") & {"share_of_limit"} and b.plan.vessel.capacity.stated:
        water = pot.water_needed.high
        step = b.k.way_out_limits["pot_step"].low
        capacity = math.ceil(pot.capacity_needed.high / step - 1e-9) * step
        larger = {"vessel.capacity": b.anew("vessel.capacity", "volume", capacity, "up")}
        yield larger
        if water > pot.water.low:
            yield larger | {"bath.water": b.anew("bath.water", "volume", water, "up")}
        return
    if not bath.water.stated:
        return
    yield from _pot_for(b, bath.water.interval.high)
    if b.plan.vessel.capacity.stated:  # or less water, as long as that is enough
        solid = b.work.goods.dry_mass.high / GRAMS / b.work.goods.density.low
        for full in (b.limit("fill_hot"), b.limit("fill_full")):
            less = full * pot.capacity.low - solid
            if less > 0 and (less >= pot.water_needed.high or bath.shade == "mottled"):
                yield {"bath.water": b.anew("bath.water", "volume", less, "down")}
                yield {"bath.water": b.anew("bath.water", "volume", less, "down")} | _same_strength(
                    b, less / pot.water.high
                )


def _split_batches(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Equal batches: goods, dyes, chemicals and water of one of them."""
    least = (
        max(2, math.ceil(min(b.work.vessel.share_of_limit.high, 1e6) - 1e-9)) if b.plan.vessel.capacity.stated else 2
    )
    for number in range(least, int(b.k.way_out_limits["batches_most"].low) + 1):
        batch = {
            f"goods.{i}.dry_mass": _part_of(b, f"goods.{i}.dry_mass", "mass", goods.dry_mass.interval, 1 / number)
            for i, goods in enumerate(b.plan.goods)
            if goods.dry_mass.stated
        }
        for i, dye in enumerate(b.plan.dyes):
            kind = b.work.dose.dyes[i].weighed.kind
            if kind not in (UNKNOWN, "share"):
                path = f"dyes.{i}.amount"
                batch[path] = _part_of(b, path, _BASE[kind], dye.amount.interval, 1 / number)
        for i in range(len(b.plan.assists or ())):
            if b.work.assists[i].weighed.kind != "share":
                batch |= _scale_assist(b, i, 1 / number, "near")
        if not b.plan.bath.water.stated:
            yield batch
            continue
        water = b.plan.bath.water.interval.high / number
        enough = b.work.vessel.water_needed.high / number if b.plan.bath.shade != "mottled" else 0.0
        yield batch | {"bath.water": b.anew("bath.water", "volume", max(water, enough), "up")}
        if water < enough:
            yield {
                **batch,
                "bath.water": b.anew("bath.water", "volume", enough, "up"),
                **_same_strength(b, enough / b.plan.bath.water.interval.high),
            }


def _part_of(b: Bench, path: str, kind: str, amount: Interval, factor: float) -> str:
    raw = value_at(b.data, path)
    return scaled(raw, kind, (amount.low, amount.high), factor, "near", place=b.plan.place, digits=4)


def _other_vessel(b: Bench) -> Iterator[Mapping[str, Any]]:
    fields = b.fields("vessel")
    if "used_for_food" in fields:
        yield {"vessel.used_for_food": False}
    elif "condition" in fields:
        yield {"vessel.condition": "sound"}
    for material in b.k.choices["vessel.material"]:
        if material != b.plan.vessel.material:
            yield {"vessel.material": material}
            if b.plan.vessel.condition != "sound":
                yield {"vessel.material": material, "vessel.condition": "sound"}


def _other_utensil(b: Bench) -> Iterator[Mapping[str, Any]]:
    utensil = b.fact("utensil")
    number = None if utensil is None else _number(utensil.subject)
    if number is None or b.plan.utensils is None:
        return
    if "used_for_food" in b.fields("utensil"):
        yield {f"utensils.{number}.used_for_food": False}
    for material in b.k.choices["utensils.*.material"]:
        if material != b.plan.utensils[number].material:
            yield {f"utensils.{number}.material": material}


# ---------------------------------------------------------------------------------------------------- heat and time


def _lower_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    part = b.fact("part")
    over_limit = any(condition.text.endswith("heat_limit") for condition in b.target.rule.conditions)
    begin = part.values["heat_limit_begin"] if part is not None and over_limit else None
    tops = [begin.low] if isinstance(begin, Interval) else []
    tops += [*b.bounds("temperature", ">"), *(bound - NEARLY for bound in b.bounds("temperature", ">="))]
    for top in dict.fromkeys(tops):
        if top < b.plan.bath.temperature.interval.high:
            yield {"bath.temperature": b.anew("bath.temperature", "temperature", top, "down")}


def _raise_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    lows = list(b.bounds("temperature", "<"))
    for low in dict.fromkeys((*lows, *(member.temperature.low for member in _classes(b)))):
        if low > b.plan.bath.temperature.interval.low:
            hotter = {"bath.temperature": b.anew("bath.temperature", "temperature", low, "up")}
            yield hotter
            yield from (hotter | {"bath.heat_source": source} for source in b.k.choices["bath.heat_source"][:1])


def _longer_hold(b: Bench) -> Iterator[Mapping[str, Any]]:
    least = max((member.hold.low for member in _classes(b)), default=0.0)
    if b.plan.bath.hold.interval.low < least:
        yield {"bath.hold": b.anew("bath.hold", "time", least, "up")}


def _slower_rise(b: Bench) -> Iterator[Mapping[str, Any]]:
    most = min((member.rise_limit.low for member in _classes(b)), default=0.0)
    if most > 0:
        yield {"bath.rise": b.anew("bath.rise", "heating rate", most, "down")}


def _other_heat(b: Bench) -> Iterator[Mapping[str, Any]]:
    heat = b.fields("heat")
    if heat & {"dye_only_stated", "used_for_food"} and "sealed" not in heat:
        yield {"bath.heat_source_used_for_food": False}
    for source in b.k.choices["bath.heat_source"]:
        if source != b.plan.bath.heat_source:
            yield {"bath.heat_source": source}
            if b.plan.bath.heat_source_used_for_food is not None:
                yield {"bath.heat_source": source, "bath.heat_source_used_for_food": None}


def _attend(b: Bench) -> Iterator[Mapping[str, Any]]:
    yield {"bath.attended": True}


# ---------------------------------------------------------------------------------------------------- chemicals


def _dosed(b: Bench, *roles: str) -> list[int]:
    """The numbers of the assists with one of these roles."""
    return [
        number
        for number, assist in enumerate(b.plan.assists or ())
        if assist.substance != UNKNOWN and set(roles) & set(b.k.substances[assist.substance].roles)
    ]


def _concerned(b: Bench) -> list[int]:
    """The numbers of the assists that the finding is about."""
    assist, need = b.fact("assist"), b.fact("need")
    if assist is not None:
        number = _number(assist.subject)
        return [] if number is None else [number]
    if need is not None and isinstance(need.values["role"], str):
        return _dosed(b, need.values["role"])
    acid = b.work.liquor.acid.high
    alkali = b.work.liquor.alkali.high
    if acid > 0 and (alkali <= 0 or b.work.liquor.ph.middle < 7):
        return _dosed(b, "acid", "mordant")
    return _dosed(b, "alkali") if alkali > 0 else []


def _less_assist(b: Bench) -> Iterator[Mapping[str, Any]]:
    numbers, need = _concerned(b), b.fact("need")
    share = None if need is None else need.values["share_of_usual_high"]
    first = [1 / share.high] if isinstance(share, Interval) and share.high > 1 else []
    for factor in (*first, *FACTORS):
        yield {path: value for n in numbers for path, value in _scale_assist(b, n, factor, "down").items()}


def _more_acid(b: Bench) -> Iterator[Mapping[str, Any]]:
    numbers, eaten = _dosed(b, "acid"), b.work.liquor.acid_eaten.high
    exact = [eaten / limit for limit in (b.limit("acid_eaten_much"), 1.0) if eaten > limit]
    for factor in (*exact, *(1 / factor for factor in FACTORS)):
        yield {path: value for n in numbers for path, value in _scale_assist(b, n, factor, "up").items()}


def _add_assist(b: Bench) -> Iterator[Mapping[str, Any]]:
    need = b.fact("need")
    role = need.values["role"] if need is not None else "alkali" if b.work.liquor.alkali.high > 0 else "acid"
    token = need.values["dye_class"] if need is not None else b.plan.dyes[0].dye_class
    short = None if need is None else need.values["share_of_usual_low"]
    present = _dosed(b, str(role))
    if need is not None and need.values["present"] == "yes" and isinstance(short, Interval) and 0 < short.low < 1:
        accepted = {s for member in _members(str(token), b.k) for use in member.assists for s in use.substances}
        wanted = [n for n in present if b.plan.assists is not None and b.plan.assists[n].substance in accepted]
        yield {path: value for n in wanted for path, value in _scale_assist(b, n, 1 / short.low, "up").items()}
    wrong = [n for n in present if need is None or need.values["wrong_kind"] == "yes"]
    for dose in _usual_doses(b, str(token), str(role)):
        yield from (_in_place(b, number, dose) for number in wrong)
        yield {f"assists.{len(b.plan.assists or ())}": dose}


def _members(token: str, k: Knowledge) -> list[DyeClass]:
    words = vocabularies()["dye class"]
    return [k.dye_classes[c] for c in words.words if c in words.may_be(token)]


def _in_place(b: Bench, number: int, dose: Mapping[str, str]) -> dict[str, Any]:
    """One chemical instead of another."""
    strength = {} if value_at(b.data, f"assists.{number}.strength") is None else {"strength": None}
    return {f"assists.{number}.{key}": value for key, value in {**strength, **dose}.items()}


def _usual_doses(b: Bench, token: str, role: str, without: frozenset[str] = frozenset()) -> Iterator[dict[str, str]]:
    """Doses of this role that a dye class takes: the least usual amount of each chemical, then a middling one."""
    for share in (0.0, 0.5):
        for member in _members(token, b.k):
            for use in member.assists:
                for substance in use.substances:
                    if use.role == role and substance not in without:
                        dose = _usual_dose(b, use, substance, share)
                        if dose is not None:
                            yield dose


def _usual_dose(b: Bench, use: AssistUse, substance: str, share: float) -> dict[str, str] | None:
    """The entry of a plan for a usual amount, `share` of the way up; None where it cannot be worked out."""
    row, amount = b.k.substances[substance], use.amount
    usual = amount.low * (amount.high / amount.low) ** share if amount.low > 0 else amount.high * max(share, 0.5)
    massed = all(goods.dry_mass.stated for goods in b.plan.goods)
    kilograms = b.work.goods.dry_mass.high / GRAMS
    if use.amount.unit == "g/L":
        if not b.plan.bath.water.stated:
            return None
        grams = usual * b.work.vessel.water.high
    elif not massed:
        return None
    elif use.amount.unit == "% owf":
        grams = usual * kilograms * GRAMS / HUNDRED
    elif row.molar_mass is not None and acidity.supported(row.active or row.id):
        per_mole = acidity.acid_equivalents([(row.active or row.id, Interval.point(1.0))])
        grams = usual * kilograms * row.molar_mass.high / per_mole.low
    else:
        return None
    if row.strength is None or row.form == "solid":
        return {"substance": substance, "amount": restated("", "mass", grams, "up")}
    strength = row.strength.low
    if row.density is not None and row.form != "solution":
        litres = grams * HUNDRED / strength / row.density.low / ML_PER_L
    else:
        litres = grams * HUNDRED / strength / ML_PER_L
    return {"substance": substance, "amount": restated("", "volume", litres, "up"), "strength": f"{strength:g} %"}


def _remove_substance(b: Bench) -> Iterator[Mapping[str, Any]]:
    pair, substance = b.fact("pair"), b.fact("substance")
    if pair is not None:
        words = [str(pair.values["first"]), str(pair.values["second"])]
        for word in words:
            yield from _out_of_lists(b, word, ("bath.before", "space.chemicals"))
        numbers = [n for n, a in enumerate(b.plan.assists or ()) if a.substance in words]
        yield from _assists_out(b, numbers, frozenset(words))
        return
    if substance is not None and b.fact("assist") is None:
        word = str(substance.values["substance"])
        if substance.values["origin"] in ("before", "room"):
            yield from _out_of_lists(b, word, ("bath.before", "space.chemicals"))
            return
        number = _number(substance.subject)
        if substance.values["origin"] == "assist" and number is not None:
            yield from _assists_out(b, [number], frozenset({word}))
        return
    numbers = _concerned(b) if b.fact("assist") is not None else _unwanted(b)
    yield from _assists_out(b, numbers, frozenset())
    if b.fact("assist") is None and len(numbers) > 1:
        yield {f"assists.{number}": None for number in numbers}


def _unwanted(b: Bench) -> list[int]:
    """The assists that work against a dye class of the bath, then all that are acid or alkaline."""
    against = {word for member in _classes(b) for word in member.unwanted}
    found = [
        number
        for number, assist in enumerate(b.plan.assists or ())
        if assist.substance != UNKNOWN and against & {assist.substance, *b.k.substances[assist.substance].roles}
    ]
    return list(dict.fromkeys((*found, *_dosed(b, "acid", "alkali"))))


def _assists_out(b: Bench, numbers: list[int], words: frozenset[str]) -> Iterator[Mapping[str, Any]]:
    """Without each of these chemicals; one that the dye needs is first replaced by another that it takes."""
    assert b.plan.assists is not None or not numbers
    for number in numbers:
        substance = (b.plan.assists or ())[number].substance
        if not _needed(b, substance):
            yield {f"assists.{number}": None}
    for number in numbers:
        substance = (b.plan.assists or ())[number].substance
        if substance == UNKNOWN:
            continue
        roles = b.k.substances[substance].roles
        for dye_class in dict.fromkeys(dye.dye_class for dye in b.plan.dyes):
            for role in roles:
                for dose in _usual_doses(b, dye_class, role, words | {substance}):
                    yield _in_place(b, number, dose)
        yield {f"assists.{number}": None}


def _needed(b: Bench, substance: str) -> bool:
    """Whether a dye class of the bath requires this chemical or its like."""
    return any(
        use.importance == "required" and substance in use.substances for member in _classes(b) for use in member.assists
    )


def _out_of_lists(b: Bench, word: str, paths: Iterable[str]) -> Iterator[Mapping[str, Any]]:
    """Without a chemical that stands in a list of words, by whatever word it stands there."""
    for path in paths:
        listed = value_at(b.data, path)
        if isinstance(listed, list):
            rows = [b.k.substances.find(item) if isinstance(item, str) else None for item in listed]
            left = [item for item, row in zip(listed, rows, strict=True) if row is None or row.id != word]
            if len(left) < len(listed):
                yield {path: left}


# ---------------------------------------------------------------------------------------------------- another dye


def _other_dye_class(b: Bench) -> Iterator[Mapping[str, Any]]:
    dye = b.fact("dye")
    number = None if dye is None else _number(dye.subject)
    if number is not None:
        if "contains_benzidine" in b.fields("dye"):
            left = [word for word in b.plan.dyes[number].contains or () if "benzidine" not in word.casefold()]
            yield {f"dyes.{number}.contains": left}
        if "old_stock" in b.fields("dye"):
            yield {f"dyes.{number}.old_stock": False}
    part, process = b.fact("part"), b.fact("process")
    token = next((f.values["dye_class"] for f in (part, process) if f is not None), None)
    at_fault = [
        n for n, d in enumerate(b.plan.dyes) if number == n or (number is None and token in (None, d.dye_class))
    ]
    bundles = [list(_as_class(b, at_fault, dye_class)) for dye_class in _fitting_classes(b)[:MOST_CLASSES]]
    for place in range(max(map(len, bundles), default=0)):  # the likeliest bath of each class before a second one
        yield from (baths[place] for baths in bundles if place < len(baths))


def _fitting_classes(b: Bench) -> list[str]:
    """Dye classes that the fibres of the goods take, those that dye most of them first."""
    fibres = [part.fibre for part in b.work.goods.parts if part.role == "goods"]
    shares = [part.share.high if part.share is not None else 0.0 for part in b.work.goods.parts if part.role == "goods"]
    used = {dye.dye_class for dye in b.plan.dyes}
    ranked = []
    for place, row in enumerate(b.k.dye_classes[word] for word in b.k.choices["dyes.*.class"]):
        if row.id in used and len(used) == 1:
            continue
        ways = [takes(b.k, fibre, row.id) for fibre in fibres]
        taken = sum(share for share, way in zip(shares, ways, strict=True) if set(way) == {"full"})
        partly = sum(share for share, way in zip(shares, ways, strict=True) if set(way) <= {"full", "partial"})
        harmed = any("damage" in way for way in ways)
        if harmed or partly <= 0:
            continue
        ranked.append((-taken, -partly, place, row.id))
    return [row_id for *_, row_id in sorted(ranked)]


def _taken(b: Bench, dye_class: str) -> float:
    """The share of the goods, from 0 to 1, that takes a dye class; lots of unknown mass count alike."""
    masses = [
        mass.middle if goods.dry_mass.stated else 1.0
        for mass, goods in zip(b.work.goods.masses, b.plan.goods, strict=True)
    ]
    taken = sum(
        masses[part.goods] * part.share.low / HUNDRED
        for part in b.work.goods.parts
        if part.share is not None and set(takes(b.k, part.fibre, dye_class)) <= TAKES_DYE
    )
    return taken / sum(masses)


def _as_class(b: Bench, numbers: list[int], dye_class: str) -> Iterator[Mapping[str, Any]]:
    """The bath as another dye class wants it: its temperature, its time and its chemicals."""
    row, bath = b.k.dye_classes[dye_class], b.plan.bath
    changes: dict[str, Any] = {f"dyes.{number}.class": dye_class for number in numbers}
    families = [b.k.families[b.k.fibres[part.fibre].family] for part in b.work.goods.parts if part.fibre != UNKNOWN]
    coolest = min((family.heat_limit.low for family in families), default=row.temperature.high)
    low, high = row.temperature.low, max(row.temperature.low, min(row.temperature.high, coolest))
    if dye_class == "disperse" and any(part.fibre == "polyester" for part in b.work.goods.parts):
        low = max(low, b.limit("polyester_open_pot"))
    taken, share = _taken(b, dye_class), b.work.dose.share_of_maximum.high
    if share > taken > 0 and all(dye.maximum.stated for dye in b.plan.dyes):  # less fibre takes it, so less dye
        changes |= _cut_dyes(b, numbers, taken / share)
    if bath.temperature.interval.low < low or bath.temperature.interval.high > high:
        middle = low if bath.temperature.interval.high < low else high
        changes["bath.temperature"] = b.anew("bath.temperature", "temperature", middle, "near")
    if bath.hold.stated and bath.hold.interval.low < row.hold.low:
        changes["bath.hold"] = b.anew("bath.hold", "time", row.hold.low, "up")
    rest = [n for n in range(len(b.plan.dyes)) if n not in numbers]
    others = [b.k.dye_classes[b.plan.dyes[n].dye_class] for n in rest if b.plan.dyes[n].dye_class in b.k.dye_classes]
    kept: set[str] = set()
    for number, assist in enumerate(b.plan.assists or ()):
        uses = [use for member in (row, *others) for use in member.assists if assist.substance in use.substances]
        known = b.k.substances[assist.substance] if assist.substance != UNKNOWN else None
        if known is not None and not uses and CLASS_ROLES & set(known.roles):
            changes[f"assists.{number}"] = None
        kept |= {use.role for use in uses}
    wanted = {use.role for use in row.assists if use.importance == "required" or use.role == "salt"} - kept
    bundles: list[list[dict[str, str]]] = [[]]
    for role in sorted(wanted):
        doses = [
            dose
            for share in (0.3, 0.0)
            for use in row.assists
            if use.role == role
            for substance in use.substances
            if (dose := _usual_dose(b, use, substance, share)) is not None
        ]
        bundles = [[*bundle, dose] for bundle in bundles for dose in doses[:2]] if doses else bundles
    start = len(b.plan.assists or ())
    for bundle in bundles[:3]:
        yield {**changes, **{f"assists.{start + i}": dose for i, dose in enumerate(bundle)}}


def _two_baths(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Only what belongs together: a lot, or the dyes of another class, goes into a bath of its own."""
    goods = next((f for f in b.target.facts.values() if f.type in ("goods", "part")), None)
    number = None if goods is None else _number(goods.subject)
    if number is not None and len(b.plan.goods) > 1:
        yield {f"goods.{number}": None}
    classes = dict.fromkeys(dye.dye_class for dye in b.plan.dyes)
    if len(classes) > 1:
        for kept in classes:
            yield {f"dyes.{n}": None for n, dye in enumerate(b.plan.dyes) if dye.dye_class != kept}


# ---------------------------------------------------------------------------------------------------- people and room


def _add_gear(b: Bench) -> Iterator[Mapping[str, Any]]:
    wearing = value_at(b.data, "people.wearing")
    if not isinstance(wearing, list):
        return
    worn = set(b.plan.people.wearing or ())
    lacking = [str(f.values["kind"]) for f in b.target.facts.values() if f.type == "gear" and f.values["worn"] == "no"]
    protection = b.fact("protection") or b.fact("hazard")
    exposure = None if protection is None else protection.values["exposure"]
    stops = [gear.id for gear in b.k.gear if exposure in gear.protects]
    order = b.k.choices["people.wearing"]
    for gear in sorted(
        dict.fromkeys(lacking or stops), key=lambda g: (order.index(g) if g in order else len(order), g)
    ):
        if gear not in worn:
            yield {"people.wearing": [*wearing, gear]}


def _keep_away(b: Bench) -> Iterator[Mapping[str, Any]]:
    present = value_at(b.data, "people.present")
    if not isinstance(present, list):
        return
    kinds = {f.values["kind"] for f in b.target.facts.values() if f.type == "person"}
    rows = [b.k.people.find(word) if isinstance(word, str) else None for word in present]
    if kinds:
        yield {
            "people.present": [
                word for word, row in zip(present, rows, strict=True) if row is None or row.id not in kinds
            ]
        }


def _other_space(b: Bench) -> Iterator[Mapping[str, Any]]:
    for kind in b.k.choices["space.kind"]:
        if kind != b.plan.space.kind:
            yield {"space.kind": kind}
            yield {"space.kind": kind, "space.food_out": False}
            if kind == "outdoors":
                yield {"space.kind": kind, "space.ventilation": "outdoors"}


def _better_air(b: Bench) -> Iterator[Mapping[str, Any]]:
    for ventilation in b.k.choices["space.ventilation"]:
        if ventilation != b.plan.space.ventilation:
            yield {"space.ventilation": ventilation}
    yield {"space.kind": "outdoors", "space.ventilation": "outdoors"}


def _remove_food(b: Bench) -> Iterator[Mapping[str, Any]]:
    yield {"space.food_out": False}


def _other_drain(b: Bench) -> Iterator[Mapping[str, Any]]:
    for drain in b.k.choices["aftercare.drain"]:
        if drain != b.plan.aftercare.drain:
            yield {"aftercare.drain": drain}


def _other_container(b: Bench) -> Iterator[Mapping[str, Any]]:
    if b.fact("storage") is not None:
        yield from (
            {f"storage.{name}": True} for name in ("stock_labelled", "out_of_reach") if name in b.fields("storage")
        )
    for leftover in b.k.choices["aftercare.leftover"]:
        if leftover != b.plan.aftercare.leftover:
            yield {"aftercare.leftover": leftover}


def _read_sheet(b: Bench) -> Iterator[Mapping[str, Any]]:
    dye = b.fact("dye")
    unread = [n for n, d in enumerate(b.plan.dyes) if d.safety_data_sheet != "read"]
    number = None if dye is None else _number(dye.subject)
    yield {f"dyes.{n}.safety_data_sheet": "read" for n in ([number] if number is not None else unread)}
    yield {f"dyes.{n}.safety_data_sheet": "read" for n in unread}


MAKERS: Mapping[str, Maker] = {
    "reduce-dye": _reduce_dye,
    "more-water": _more_water,
    "larger-pot": _larger_pot,
    "split-batches": _split_batches,
    "stock-solution": _stock_solution,
    "more-acid": _more_acid,
    "less-assist": _less_assist,
    "add-assist": _add_assist,
    "other-vessel": _other_vessel,
    "add-gear": _add_gear,
    "replace-form": _replace_form,
    "other-dye-class": _other_dye_class,
    "longer-hold": _longer_hold,
    "lower-heat": _lower_heat,
    "raise-heat": _raise_heat,
    "slower-rise": _slower_rise,
    "other-drain": _other_drain,
    "other-container": _other_container,
    "other-utensil": _other_utensil,
    "other-space": _other_space,
    "better-air": _better_air,
    "remove-substance": _remove_substance,
    "attend": _attend,
    "read-sheet": _read_sheet,
    "keep-away": _keep_away,
    "other-heat": _other_heat,
    "remove-food": _remove_food,
    "two-baths": _two_baths,
}
