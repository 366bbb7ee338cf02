"""Amounts as dosed -> grams of product, grams of what acts, and moles."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.interval import Interval
from advisor.knowledge import Knowledge, Substance
from advisor.plan import UNKNOWN, Assist, Dye, Plan
from advisor.quantities import Quantity, format_interval

HUNDRED = 100.0  # per cent
ML_PER_L = 1000.0


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
    """How an amount was measured: mass, volume, spoon, share; or unknown."""
    if not amount.stated:
        return UNKNOWN
    if amount.kind == "volume":
        return "spoon" if amount.spoon else "volume"
    return {"mass": "mass", "fraction": "share"}[amount.kind]


def weigh_dye(dye: Dye, number: int, dry_mass: Interval, k: Knowledge) -> Weighed:
    """Grams of dye as sold: a share is of the dry goods, a solution counts its strength (1 % = 1 g in 100 mL)."""
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
        millilitres = amount * ML_PER_L if kind != "mass" else amount
        mass = millilitres * strength / HUNDRED
        told = f"at {format_interval(strength, '%')}" if dye.strength.stated else "of unknown strength"
        return Weighed(mass, kind, f"{shown} {told} holds {format_interval(mass, 'g')} of dye", dye.strength.stated)
    if kind == "mass":
        return Weighed(amount, kind, f"{shown} as weighed")
    density = _dye_density(dye, k).tagged(path)
    mass = amount * ML_PER_L * density
    what = "of liquid" if dye.form == "liquid" else "of powder, by how densely it packs,"
    return Weighed(mass, kind, f"{shown} {what} is {format_interval(mass, 'g')}")


def dose_assist(assist: Assist, number: int, dry_mass: Interval, k: Knowledge) -> DosedAssist:
    """Grams and moles of an assist. Vinegar is taken as g of acetic acid in 100 mL; a share is of dry goods."""
    path = f"assists.{number}"
    amount, kind = assist.amount.interval.tagged(f"{path}.amount"), amount_kind(assist.amount)
    shown = _shown(assist.amount)
    if assist.substance == UNKNOWN:
        return DosedAssist(Weighed(amount, kind, "the substance is not known"), amount, Interval(0.0, HUNDRED), None)
    substance = k.substances[assist.substance]
    strength = _strength(assist, substance, f"{path}.strength")
    by_volume = Interval.point(1.0)  # g in 100 mL needs no density
    density = substance.density.interval if substance.density and not _per_volume(substance) else by_volume
    if kind == "share":
        mass = amount * dry_mass / HUNDRED
        how = f"{shown} of {format_interval(dry_mass, 'g')} of goods = {format_interval(mass, 'g')}"
    elif kind in ("mass", UNKNOWN):
        mass = amount
        how = f"{shown} as weighed" if kind == "mass" else "the amount is not stated"
    elif substance.form == "solid":
        packed = substance.bulk_density or k.limits["powder_bulk_density"].figure
        mass = amount * ML_PER_L * packed.interval.tagged(f"{path}.amount")
        how = f"{shown} of {substance.label} is {format_interval(mass, 'g')}, by how densely it packs"
    else:
        mass = amount * ML_PER_L * density
        how = f"{shown} of {substance.label}"
    active = mass * strength / HUNDRED
    if strength.high != HUNDRED or not strength.exact:
        acts = substance.active or substance.label
        how += f" at {format_interval(strength, '%')} = {format_interval(active, 'g')} of {acts}"
    moles = active / substance.molar_mass.interval * ML_PER_L if substance.molar_mass else None
    return DosedAssist(Weighed(mass, kind, how), active, strength, moles)


def _strength(assist: Assist, substance: Substance, path: str) -> Interval:
    if assist.strength.stated:
        return assist.strength.interval.tagged(path)
    if substance.strength is not None:
        return substance.strength.interval.tagged(path)
    return Interval.point(HUNDRED)


def _per_volume(substance: Substance) -> bool:
    return substance.strength is not None and substance.active is not None and substance.form == "solution"


def _dye_density(dye: Dye, k: Knowledge) -> Interval:
    if dye.form in ("liquid", "paste"):
        return k.limits["liquid_dye_density"].figure.interval
    return k.limits["powder_bulk_density"].figure.interval


def _shown(amount: Quantity) -> str:
    return amount.text or "an unknown amount"


def assists_of(plan: Plan, dry_mass: Interval, k: Knowledge) -> tuple[DosedAssist, ...]:
    """All assists of the plan, worked out."""
    return tuple(dose_assist(a, i, dry_mass, k) for i, a in enumerate(plan.assists or ()))
