"""Amounts of dyes and chemicals for a changed bath: cut, scaled with the water, or the usual dose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from advisor.factors import HUNDRED, THOUSAND
from advisor.interval import Interval
from advisor.measures import acidity
from advisor.measures.amounts import grams_per_ml
from advisor.plan import POWDERS
from advisor.plan_values import UNKNOWN
from advisor.remedies.amounts import Towards, restated, scaled
from advisor.remedies.bench import Bench, classes_of_bath
from advisor.remedies.changes import value_at
from advisor.rows import AssistUse, Substance

FACTORS = tuple(0.8**power for power in range(1, 15))  # how a chemical is cut or, upside down, raised, step by step
# how an amount was measured -> the kind of quantity it is
KIND_OF_AMOUNT = {"mass": "mass", "volume": "volume", "spoon": "volume", "share": "fraction"}


def scale_step(b: Bench) -> float:
    """The smallest step of the plan's scale in g, 0 where it is not stated."""
    resolution = b.plan.scale.resolution
    return resolution.interval.high if resolution.stated else 0.0


def coarse_step(b: Bench, grams: float) -> float:
    """The step of the plan's scale where it shows in so many grams of a chemical, else 0."""
    step = scale_step(b)
    return step if step * HUNDRED > grams else 0.0


def cut_dyes(b: Bench, numbers: Iterable[int], factor: float) -> dict[str, Any]:
    """These dyes times a factor; where a spoon held powder, a mass to weigh instead."""
    changes: dict[str, Any] = {}
    for number in numbers:
        dye, dose, path = b.plan.dyes[number], b.work.dose.dyes[number], f"dyes.{number}.amount"
        kind = dose.weighed.kind
        if kind == UNKNOWN or dye.amount.interval.high <= 0:
            continue
        if kind == "spoon" or (kind == "volume" and dye.form in POWDERS):  # how much a spoon holds is not known: weigh
            changes[path] = restated("", "mass", dose.weighed.mass.high * factor, "down", step=scale_step(b))
        else:
            step = scale_step(b) if kind == "mass" else 0.0
            changes[path] = b.anew(path, KIND_OF_AMOUNT[kind], dye.amount.interval.high * factor, "down", step)
    return changes


def dosed(b: Bench, *roles: str) -> list[int]:
    """The numbers of the assists with one of these roles."""
    return [
        number
        for number, assist in enumerate(b.plan.assists or ())
        if assist.substance != UNKNOWN and set(roles) & set(b.k.substances[assist.substance].roles)
    ]


def scale_assist(b: Bench, number: int, factor: float, towards: Towards) -> dict[str, Any]:
    """One assist times a factor; nothing where its amount is unknown."""
    assert b.plan.assists is not None
    amount, kind = b.plan.assists[number].amount, b.work.assists[number].weighed.kind
    if kind == UNKNOWN:
        return {}
    path = f"assists.{number}.amount"
    raw, ends = value_at(b.data, path), (amount.interval.low, amount.interval.high)
    step = coarse_step(b, ends[0] * factor) if kind == "mass" else 0.0
    return {path: scaled(raw, KIND_OF_AMOUNT[kind], ends, factor, towards, place=b.plan.place, step=step)}


def in_place(b: Bench, number: int, dose: Mapping[str, str]) -> dict[str, Any]:
    """One chemical, or another amount of it, instead of what stands at this number."""
    strength = {} if value_at(b.data, f"assists.{number}.strength") is None else {"strength": None}
    return {f"assists.{number}.{key}": value for key, value in {**strength, **dose}.items()}


def same_strength(b: Bench, factor: float) -> dict[str, Any]:
    """Everything dosed to the litre, scaled with the water."""
    changes: dict[str, Any] = {}
    for number, assist in enumerate(b.plan.assists or ()):
        uses = [use for member in classes_of_bath(b) for use in member.assists if assist.substance in use.substances]
        if any(use.amount.unit == "g/L" for use in uses):
            changes |= scale_assist(b, number, factor, "near")
    return changes


def usual_doses(b: Bench, token: str, role: str, without: frozenset[str] = frozenset()) -> Iterator[dict[str, str]]:
    """Doses of this role that a dye class takes: the least usual amount of each chemical, then a middling one."""
    for share in (0.0, 0.5):
        for member in b.k.members(token):
            for use in member.assists:
                for substance in use.substances:
                    if use.role == role and substance not in without:
                        dose = usual_dose(b, use, substance, share)
                        if dose is not None:
                            yield dose


def usual_dose(b: Bench, use: AssistUse, substance: str, share: float) -> dict[str, str] | None:
    """The entry of a plan for a usual amount, `share` of the way up; None where it cannot be worked out."""
    row, amount = b.k.substances[substance], use.amount
    usual = amount.low * (amount.high / amount.low) ** share if amount.low > 0 else amount.high * max(share, 0.5)
    each = _grams_of_one(b, use, row)
    if each is None:
        return None
    grams = usual * each
    if row.strength is None or row.form == "solid":
        return {"substance": substance, "amount": restated("", "mass", grams, "up", step=coarse_step(b, grams))}
    strength = row.strength.low
    litres = grams * HUNDRED / strength / grams_per_ml(row).low / THOUSAND
    return {"substance": substance, "amount": restated("", "volume", litres, "up"), "strength": f"{strength:g} %"}


def is_usual(b: Bench, number: int, use: AssistUse) -> bool:
    """Whether so much of this assist is usual for this use; also where that cannot be worked out."""
    assert b.plan.assists is not None
    each = _grams_of_one(b, use, b.k.substances[b.plan.assists[number].substance])
    if each is None or b.work.assists[number].weighed.kind == UNKNOWN:
        return True
    active = b.work.assists[number].active_mass
    return active.high >= use.amount.low * each and active.low <= use.amount.high * each


def _grams_of_one(b: Bench, use: AssistUse, row: Substance) -> float | None:
    """The grams of what acts for a usual amount of 1 in its unit, in this bath; None where that cannot be worked out."""
    kilograms = b.work.goods.dry_mass.high / THOUSAND
    if use.amount.unit == "g/L":
        return b.work.vessel.water.high if b.plan.bath.water.stated else None
    if not all(goods.dry_mass.stated for goods in b.plan.goods):
        return None
    if use.amount.unit == "% owf":
        return kilograms * THOUSAND / HUNDRED
    if row.molar_mass is not None and acidity.supported(row.active or row.id):
        per_mole = acidity.acid_equivalents([(row.active or row.id, Interval.point(1.0))])
        return kilograms * row.molar_mass.high / per_mole.low
    return None
