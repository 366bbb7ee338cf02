"""Whether a dye class is used in this bath by its recipe for wool and silk, from acid instead of alkali."""

from __future__ import annotations

from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.measures.goods import takes
from advisor.plan_values import UNKNOWN
from advisor.rows import AcidBath, DyeClass

HARDLY = frozenset({"none", "stain"})


def acid_bath(work: Workings, member: DyeClass, k: Knowledge) -> AcidBath | None:
    """The acid recipe of a class where it is the one that fits: the goods are for it, and no alkali is planned.

    With neither acid nor alkali in the plan it fits where the usual bath would ruin the goods. None where the class
    has no such recipe, or where fibres or assists are not known.
    """
    assists = work.plan.assists
    if not member.acid_baths or assists is None or any(assist.substance == UNKNOWN for assist in assists):
        return None
    roles = {role for assist in assists for role in k.substances[assist.substance].roles}
    fibres = [part.fibre for part in work.goods.parts if part.role == "goods"]
    if "alkali" in roles or UNKNOWN in fibres:
        return None
    ways = {fibre: takes(k, fibre, member.id) for fibre in fibres}
    taking = [fibre for fibre in fibres if not ways[fibre] <= HARDLY]
    if not taking or not ("acid" in roles or all("damage" in ways[fibre] for fibre in taking)):
        return None
    families = {k.fibres[fibre].family for fibre in taking}
    return next((bath for bath in member.acid_baths if families <= set(bath.families)), None)


def acid_planned(work: Workings, member: DyeClass, k: Knowledge) -> bool:
    """Whether the bath follows the acid recipe of the class, acid and all."""
    return acid_bath(work, member, k) is not None and any(
        "acid" in k.substances[assist.substance].roles for assist in work.plan.assists or ()
    )
