"""Ways out by the choice of dye: another class, or a bath of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.factors import HUNDRED
from advisor.knowledge import TAKES_DYE
from advisor.measures.goods import takes
from advisor.plan_values import UNKNOWN
from advisor.remedies.bench import Bench, number_in
from advisor.remedies.dosing import cut_dyes, in_place, is_usual, usual_dose
from advisor.rows import DyeClass

MOST_CLASSES = 5  # of other dye classes that are tried
HARSH = frozenset({"fumes", "corrosive", "toxic"})  # of several chemicals that do, one without these comes first
USUALLY = 0.3  # how far up a usual amount lies the one that is tried first
# roles of a chemical that belong to one dye class and seldom to the next
CLASS_ROLES = frozenset(
    {"acid", "alkali", "salt", "reducing agent", "oxidising agent", "mordant", "dye carrier", "bleach"}
)


def other_dye_class(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A dye without what is wrong with this one, or of a class that the fibres take."""
    dye = b.fact("dye")
    number = None if dye is None else number_in(dye.subject)
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
        partly = sum(share for share, way in zip(shares, ways, strict=True) if way <= TAKES_DYE)
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
        if part.share is not None and takes(b.k, part.fibre, dye_class) <= TAKES_DYE
    )
    return taken / sum(masses)


def _as_class(b: Bench, numbers: list[int], dye_class: str) -> Iterator[Mapping[str, Any]]:
    """The bath as another dye class wants it: its temperature, its time and its chemicals."""
    row, bath = b.k.dye_classes[dye_class], b.plan.bath
    changes: dict[str, Any] = {f"dyes.{number}.class": dye_class for number in numbers}
    families = [b.k.families[b.k.fibres[part.fibre].family] for part in b.work.goods.parts if part.fibre != UNKNOWN]
    coolest = min((family.heat_limit.low for family in families), default=row.temperature.high)
    low = row.temperature.low
    if dye_class == "disperse" and any(part.fibre == "polyester" for part in b.work.goods.parts):
        low = max(low, b.limit("polyester_open_pot"))
    high = max(low, min(row.temperature.high, coolest, b.work.warmth.boiling_point.low))  # in an open pot
    taken, share = _taken(b, dye_class), b.work.dose.share_of_maximum.high
    if share > taken > 0 and all(dye.maximum.stated for dye in b.plan.dyes):  # less fibre takes it, so less dye
        changes |= cut_dyes(b, numbers, taken / share)
    if bath.temperature.interval.low < low or bath.temperature.interval.high > high:
        middle = min(max(float(round((low + high) / 2)), low), high)  # the ends suit only some dyes of a class
        changes["bath.temperature"] = b.anew("bath.temperature", "temperature", middle, "near")
        if bath.temperature.interval.low < low:
            changes |= _warmed(b, row)
    if bath.hold.stated and bath.hold.interval.low < row.hold.low:
        changes["bath.hold"] = b.anew("bath.hold", "time", row.hold.low, "up")
    rest = [n for n in range(len(b.plan.dyes)) if n not in numbers]
    others = [b.k.dye_classes[b.plan.dyes[n].dye_class] for n in rest if b.plan.dyes[n].dye_class in b.k.dye_classes]
    kept: set[str] = set()
    for number, assist in enumerate(b.plan.assists or ()):
        uses = [use for member in (row, *others) for use in member.assists if assist.substance in use.substances]
        if uses and not any(is_usual(b, number, use) for use in uses):
            dose = usual_dose(b, uses[0], assist.substance, USUALLY)
            changes |= in_place(b, number, dose) if dose is not None else {}
        known = b.k.substances[assist.substance] if assist.substance != UNKNOWN else None
        if known is not None and not uses and CLASS_ROLES & set(known.roles):
            changes[f"assists.{number}"] = None
        kept |= {use.role for use in uses}
    wanted = {use.role for use in row.assists if use.importance == "required" or use.role == "salt"} - kept
    bundles: list[list[dict[str, str]]] = [[]]
    for role in sorted(wanted):
        doses = [
            dose
            for share in (USUALLY, 0.0)
            for use in row.assists
            if use.role == role
            for substance in use.substances
            if (dose := usual_dose(b, use, substance, share)) is not None
        ]
        doses.sort(key=lambda dose: len(HARSH & set(b.k.substances[dose["substance"]].traits)))
        bundles = [[*bundle, dose] for bundle in bundles for dose in doses[:2]] if doses else bundles
    start = len(b.plan.assists or ())
    for bundle in bundles[:3]:
        yield {**changes, **{f"assists.{start + i}": dose for i, dose in enumerate(bundle)}}


def _warmed(b: Bench, row: DyeClass) -> dict[str, Any]:
    """Something that heats the bath, and no faster than the dye class bears, where the plan has neither."""
    bath, changes = b.plan.bath, dict[str, Any]()
    if bath.heat_source == "none":
        changes["bath.heat_source"] = next(source for source in b.k.choices["bath.heat_source"] if source != "none")
    if bath.heat_source == "none" and not bath.rise.stated:
        changes["bath.rise"] = b.anew("bath.rise", "heating rate", row.rise_limit.low, "down")
    return changes


def two_baths(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Only what belongs together: a lot, or the dyes of another class, goes into a bath of its own."""
    goods = next((f for f in b.target.facts.values() if f.type in ("goods", "part")), None)
    number = None if goods is None else number_in(goods.subject)
    if number is not None and len(b.plan.goods) > 1:
        yield {f"goods.{number}": None}
    classes = dict.fromkeys(dye.dye_class for dye in b.plan.dyes)
    if len(classes) > 1:
        for kept in classes:
            yield {f"dyes.{n}": None for n, dye in enumerate(b.plan.dyes) if dye.dye_class != kept}
