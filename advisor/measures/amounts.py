"""Amounts as dosed -> grams of product, grams of what acts, and moles."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.factors import HUNDRED, THOUSAND
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.plan import Assist, Dye, Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import Quantity, format_interval
from advisor.rows import Substance

_DENSITIES = {
    "powder": "powder_bulk_density", "granules": "powder_bulk_density", "plant pieces": "plant_pieces_bulk_density",
    "liquid": "liquid_dye_density", "paste": "liquid_dye_density", "solution": "liquid_dye_density",
}  # fmt: skip
_MEASURED = {
    "liquid": "of liquid", "paste": "of paste", "plant pieces": "of plant pieces, by how loosely they lie,",
    UNKNOWN: "of a dye of unknown form",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Weighed:
    """An amount in g, and how it was got, in words with the numbers in."""

    mass: Interval
    kind: str  # mass, volume, spoon, share or unknown
    how: str
    known: bool = True  # False when an input was missing, so that the mass may be anything


@dataclass(frozen=True, slots=True)
class DosedAssist:
    """One assist: g as dosed, g of the active part, its strength in %, and mmol of the active part (or None)."""

    weighed: Weighed
    active_mass: Interval
    strength: Interval
    moles: Interval | None


def amount_kind(amount: Quantity) -> str:
    """How an amount was measured: mass, volume, spoon, share; or unknown. Raises KeyError for another kind."""
    if not amount.stated:
        return UNKNOWN
    if amount.kind == "volume":
        return "spoon" if amount.spoon else "volume"
    return {"mass": "mass", "fraction": "share"}[amount.kind]


def weigh_dye(dye: Dye, number: int, dry_mass: Interval, k: Knowledge) -> Weighed:
    """Dye as sold, in g: a share (%) is of the dry goods (g), a solution counts its strength (1 % = 1 g in 100 mL).

    `number` is the dye's place in the plan. A spoon of powder is weighed by how densely it packs (common practice).
    """
    path = f"dyes.{number}.amount"
    amount, kind = dye.amount.interval.tagged(path), amount_kind(dye.amount)
    shown = _shown(dye.amount)
    if kind == "share":
        mass = amount * dry_mass / HUNDRED
        how = f"{shown} of {format_interval(dry_mass, 'g')} of goods = {format_interval(mass, 'g')}"
        return Weighed(mass, kind, how)
    if kind == UNKNOWN:
        return Weighed(amount, kind, "the amount is not stated", known=False)
    thinned = dye.strength.stated and dye.strength.interval.high < HUNDRED
    if dye.form == "solution" or (dye.form in ("liquid", UNKNOWN) and thinned):
        strength = dye.strength.interval.tagged(f"dyes.{number}.strength")
        millilitres = amount * THOUSAND if kind != "mass" else amount
        mass = millilitres * strength / HUNDRED
        told = f"at {format_interval(strength, '%')}" if dye.strength.stated else "of unknown strength"
        return Weighed(mass, kind, f"{shown} {told} holds {format_interval(mass, 'g')} of dye", dye.strength.stated)
    if kind == "mass":
        return Weighed(amount, kind, f"{shown} as weighed")
    mass = amount * THOUSAND * _dye_density(dye, number, k).tagged(path)
    what = _MEASURED.get(dye.form, "of powder, by how densely it packs,")
    return Weighed(mass, kind, f"{shown} {what} is {format_interval(mass, 'g')}")


def dose_assist(assist: Assist, number: int, dry_mass: Interval, k: Knowledge) -> DosedAssist:
    """Assist in g and mmol; a share (%) is of the dry goods (g). `number` is its place in the plan.

    Vinegar of 5 % is 5 g of acetic acid in 100 mL (FDA Compliance Policy Guide 525.825, published).
    Raises KeyError for a substance that is not in the table.
    """
    path = f"assists.{number}"
    amount, kind = assist.amount.interval.tagged(f"{path}.amount"), amount_kind(assist.amount)
    shown = _shown(assist.amount)
    if assist.substance == UNKNOWN:
        return DosedAssist(Weighed(amount, kind, "the substance is not known"), amount, Interval(0.0, HUNDRED), None)
    substance = k.substances[assist.substance]
    strength = _strength(assist, substance, f"{path}.strength")
    if kind == "share":
        mass = amount * dry_mass / HUNDRED
        how = f"{shown} of {format_interval(dry_mass, 'g')} of goods = {format_interval(mass, 'g')}"
    elif kind in ("mass", UNKNOWN):
        mass = amount
        how = f"{shown} as weighed" if kind == "mass" else "the amount is not stated"
    elif substance.form == "solid":
        packed = substance.bulk_density or k.limits["powder_bulk_density"].figure
        mass = amount * THOUSAND * packed.interval.tagged(f"{path}.amount")
        how = f"{shown} of {substance.label} is {format_interval(mass, 'g')}, by how densely it packs"
    else:
        mass = amount * THOUSAND * grams_per_ml(substance)
        how = f"{shown} of {substance.label}"
    active = mass * strength / HUNDRED
    if strength.high != HUNDRED or not strength.exact:
        acts = substance.active or substance.label
        how += f" at {format_interval(strength, '%')} = {format_interval(active, 'g')} of {acts}"
    moles = active / substance.molar_mass.interval * THOUSAND if substance.molar_mass else None
    return DosedAssist(Weighed(mass, kind, how), active, strength, moles)


def _strength(assist: Assist, substance: Substance, path: str) -> Interval:
    if assist.strength.stated:
        return assist.strength.interval.tagged(path)
    if substance.strength is not None:
        return substance.strength.interval.tagged(path)
    return Interval.point(HUNDRED)


def grams_per_ml(substance: Substance) -> Interval:
    """What a mL of a liquid counts for in g: its density, or 1 where its label gives g in 100 mL, as for vinegar."""
    by_volume = substance.strength is not None and substance.active is not None and substance.form == "solution"
    if by_volume or substance.density is None:
        return Interval.point(1.0)
    return substance.density.interval


def _dye_density(dye: Dye, number: int, k: Knowledge) -> Interval:
    """g in a mL as it stands in the spoon; of an unknown form any of them."""
    figures = {form: k.limits[limit].figure.interval for form, limit in _DENSITIES.items()}
    if dye.form != UNKNOWN:
        return figures[dye.form]
    least, most = min(f.low for f in figures.values()), max(f.high for f in figures.values())
    return Interval(least, most).tagged(f"dyes.{number}.form")


def _shown(amount: Quantity) -> str:
    return amount.text or "an unknown amount"


def assists_of(plan: Plan, dry_mass: Interval, k: Knowledge) -> tuple[DosedAssist, ...]:
    """All assists of the plan, worked out in g and mmol; `dry_mass` in g."""
    return tuple(dose_assist(a, i, dry_mass, k) for i, a in enumerate(plan.assists or ()))
