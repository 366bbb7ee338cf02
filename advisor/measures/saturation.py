"""How much acid dye a fibre can hold: its dye sites against the size of the dye molecule.

A physical ceiling beside the maker's maximum. It says what the fibre binds strongly; a little more is
dissolved in it and washes out again. Below pH 2 nylon takes up far more and breaks down, so the ceiling
holds for usual dye baths only.

Constants: [[sites]], [[molecule]] and the ranges "sites_per_molecule", "dye_molar_mass" and "strength" in
rules/knowledge/physics.toml.
"""

from __future__ import annotations

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
