"""How much acid dye a fibre can hold: its dye sites against the size of the dye molecule.

A physical ceiling beside the maker's maximum. It says what the fibre binds strongly; a little more is
dissolved in it and washes out again. Below pH 2 nylon takes up far more and breaks down, so the ceiling
holds for usual dye baths only.

Constants: [[sites]], [[molecule]] and the ranges "sites_per_molecule", "dye_molar_mass", "strength" and
"depth" in rules/knowledge/physics.toml.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from advisor.interval import Interval, corners
from advisor.physics import physics


class DyeMolecules(NamedTuple):
    """Acid groups (mol/mol), molar mass (g/mol) and strength (%) of a dye as sold."""

    groups: Interval
    molar_mass: Interval
    strength: Interval


def likely_molecules(dye_class: str) -> DyeMolecules | None:
    """What a dye of this class is likely to be like; None for a class that does not go to acid sites.

    mol/mol, g/mol and %. Packets tell none of the three, so these are wide ranges (common practice).
    """
    row = physics().molecules.get(dye_class)
    if row is None:
        return None
    return DyeMolecules(row.groups.interval, row.molar_mass.interval, row.strength.interval)


def sites(fibre_family: str) -> Interval | None:
    """Dye sites of a fibre family in meq/kg of dry fibre; None where no ceiling is known.

    Nylon: Burkinshaw 1995. Wool: Steinhardt and Harris 1940. Silk: Trotman 1984 (both books from memory).
    Steinhardt and Harris 1940 (published): wool binds 820 meq/kg.

    >>> sites("keratin").low <= 820 <= sites("keratin").high
    True
    """
    row = physics().sites_of(fibre_family)
    return None if row is None else row.figure.interval


def ceiling_owf(fibre_family: str, groups: Interval, molar_mass: Interval, strength: Interval) -> Interval | None:
    """Most dye, as sold, that the fibre's sites hold, in % on the weight of goods; None where unknown.

    ceiling = sites / 1000 / groups * molar_mass / 10 / (strength / 100)
    with sites in meq/kg, groups in mol/mol, molar mass in g/mol, strength in %.

    Valid for acid dyes on nylon, wool, hair and silk at pH 2 to 7: one acid group takes one site
    (Takasawa, Kuroki and Katayama 1968 for nylon). By hand, a pure dye of 350 g/mol with one group on the
    30 to 50 meq/kg of nylon: 0.03 * 35 = 1.05 to 0.05 * 35 = 1.75 %.

    >>> most = ceiling_owf("polyamide", Interval.point(1), Interval.point(350), Interval.point(100))
    >>> (round(most.low, 9), round(most.high, 9))
    (1.05, 1.75)
    """
    places = sites(fibre_family)
    if places is None:
        return None
    return corners(
        lambda n, z, m, s: n / 1000 / z * m / 10 / (s / 100),
        places,
        physics().within("sites_per_molecule", groups),
        physics().within("dye_molar_mass", molar_mass),
        physics().within("strength", strength),
    )


def site_use(fibre_family: str, dyes: Iterable[tuple[Interval, DyeMolecules]]) -> Interval | None:
    """Share of the sites that several dyes together would take (1 = full); None where unknown.

    use = sum of groups * 10 * depth * (strength / 100) / molar_mass, over sites / 1000
    Each dye is given as (depth in % on the weight of goods, molecules). Validity as for `ceiling_owf`.
    By hand, 1 % of a pure dye of 350 g/mol with one group: 10 / 350 = 28.6 meq over the 30 to 50 of nylon.

    >>> dye = DyeMolecules(Interval.point(1), Interval.point(350), Interval.point(100))
    >>> use = site_use("polyamide", [(Interval.point(1), dye)])
    >>> (round(use.low, 3), round(use.high, 3))
    (0.571, 0.952)
    """
    places = sites(fibre_family)
    if places is None:
        return None
    taken = Interval.point(0)
    for depth, molecules in dyes:
        taken = taken + corners(
            lambda d, z, m, s: z * 10 * d * s / 100 / m,
            physics().within("depth", depth),
            physics().within("sites_per_molecule", molecules.groups),
            physics().within("dye_molar_mass", molecules.molar_mass),
            physics().within("strength", molecules.strength),
        )
    return taken / (places / 1000)


def langmuir_uptake(dye: Interval, places: Interval, affinity: Interval, liquor_ratio: Interval) -> Interval:
    """Pure dye on the fibre at equilibrium with a finite bath, in mmol/kg.

    The bath's concentration c solves  L K c^2 + (L + S K - D K) c - D = 0;  uptake = D - L c
    with dye D and sites S in mmol/kg of fibre, affinity K in L/mol, liquor ratio L in L/kg.
    Why an overdose bleeds: once D passes S, nearly all the rest stays in the bath.

    Langmuir's isotherm, one dye, one kind of site (Takasawa, Kuroki and Katayama 1968, nylon at pH 3.5).
    By hand: at c = 0.001 mol/L and K = 1000 L/mol half of 20 mmol/kg is taken, and 10 L/kg hold the other 10.

    >>> round(langmuir_uptake(*map(Interval.point, (20, 20, 1000, 10))).low, 9)
    10.0
    """

    def uptake(d: float, s: float, k: float, ratio: float) -> float:
        d, s = d / 1000, s / 1000
        b = ratio + s * k - d * k
        root = math.sqrt(b * b + 4 * ratio * k * d)
        # the form without cancellation, whichever sign b has
        c = 2 * d / (b + root) if b >= 0 else (root - b) / (2 * ratio * k)
        return 1000 * min(max(d - ratio * c, 0.0), d, s)

    return corners(
        uptake,
        dye.clip(0, 1e6),
        places.clip(0, 1e6),
        affinity.clip(1e-6, 1e12),
        physics().within("liquor_ratio", liquor_ratio),
    )
