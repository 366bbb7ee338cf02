"""What kind of bath it is: acid, alkaline, salty, reducing, bleaching, with a peroxide or a metal salt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from advisor.contents import contents_of
from advisor.knowledge import Knowledge
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.rows import DyeClass, Substance

NEVER: Callable[[DyeClass], bool] = lambda dye_class: False  # noqa: E731


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the bath: yes, no or unknown, and the plan paths that would settle it."""

    answer: str
    inputs: frozenset[str] = frozenset()


def _needs(role: str) -> Callable[[DyeClass], bool]:
    return lambda dye_class: any(use.role == role and use.importance == "required" for use in dye_class.assists)


def _has_role(*roles: str) -> Callable[[Substance], bool]:
    return lambda substance: bool(set(roles) & set(substance.roles))


_SIDES: Mapping[str, tuple[Callable[[Substance], bool], Callable[[DyeClass], bool]]] = {
    "bath_acid": (_has_role("acid"), _needs("acid")),
    "bath_alkali": (_has_role("alkali"), _needs("alkali")),
    "bath_salt": (_has_role("salt"), _needs("salt")),
    "bath_reducing": (_has_role("reducing agent"), _needs("reducing agent")),
    "bath_bleach": (lambda s: "hypochlorite" in s.id, NEVER),
    "bath_peroxide": (lambda s: "oxidising agent" in s.roles and "peroxide" in s.id, NEVER),
    "bath_metal_salt": (lambda s: "mordant" in s.roles and "metal" in s.traits, NEVER),
}


def bath_sides(plan: Plan, k: Knowledge) -> dict[str, Side]:
    """For each side: whether something dosed, left in the pot, contained in a dye, or its class makes it so."""
    left = tuple(plan.bath.before or ())
    contained = tuple(word for dye in plan.dyes for word in contents_of(dye.contains or ()).substances)
    return {
        # the metal of a dye is no mordant beside it: rules have it from `contains`
        name: _side(plan, k, by_substance, by_class, left if name == "bath_metal_salt" else left + contained)
        for name, (by_substance, by_class) in _SIDES.items()
    }


def _side(
    plan: Plan,
    k: Knowledge,
    by_substance: Callable[[Substance], bool],
    by_class: Callable[[DyeClass], bool],
    there: tuple[str, ...],
) -> Side:
    open_inputs: set[str] = set()
    for number, dye in enumerate(plan.dyes):
        members = [by_class(member) for member in k.members(dye.dye_class)]
        if all(members):
            return Side("yes")
        if any(members):
            open_inputs.add(f"dyes.{number}.class")
    if any(by_substance(k.substances[substance]) for substance in there):
        return Side("yes")
    for number, assist in enumerate(plan.assists or ()):
        if assist.substance == UNKNOWN:
            open_inputs.add(f"assists.{number}.substance")
        elif by_substance(k.substances[assist.substance]):
            return Side("yes")
    if plan.assists is None:
        open_inputs.add("assists")
    return Side("unknown", frozenset(open_inputs)) if open_inputs else Side("no")
