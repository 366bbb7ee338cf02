"""Facts about the goods: lots, finishes, and every fibre against every dye class of the bath."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.fact import Fact
from advisor.fact_types import BATH_SIDES, HARMS, trait_field, vocabularies
from advisor.facts.answers import Inputs, agreed, listed_in, one_of, side_words, yes_no
from advisor.facts.recipes import acid_planned
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.measures.goods import FibrePart, takes, unsure_classes
from advisor.plan_values import UNKNOWN
from advisor.rows import Family

SIDES = tuple(BATH_SIDES)
TOLD_HARMS = ("acid", "alkali", "heat", "bleach", "agitation")


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """One fact a lot, one for each kind of finish on it, one for each fibre with each dye class."""
    for number in range(len(work.plan.goods)):
        yield _lot(work, number)
        yield from _finishes(work, number, k)
    for dye_class in dict.fromkeys(dye.dye_class for dye in work.plan.dyes):
        for part in work.goods.parts:
            yield _part(work, part, dye_class, k)


def _lot(work: Workings, number: int) -> Fact:
    goods, path = work.plan.goods[number], f"goods.{number}"
    fibres = {part.fibre for part in work.goods.parts if part.goods == number and part.role == "goods"}
    return Fact(
        type="goods",
        subject=path,
        values={
            "dry_mass": work.goods.masses[number],
            "colour": goods.colour,
            "next_to_skin": yes_no(goods.next_to_skin),
            "composition_known": yes_no(UNKNOWN not in fibres),
            "trims_stated": yes_no(goods.trims is not None),
            "blend": yes_no(len(fibres) > 1),
            "dyeable_share": work.goods.dyeable_shares[number],
            "lots": Interval.point(len(work.plan.goods)),
        },
        texts={
            "name": goods.name,
            "label": goods.fibres.text or "no label",
            "asks": "Ask the seller: " + " ".join(goods.fibres.asks)
            if goods.fibres.asks
            else "Ask the seller for the label.",
        },
        inputs={"colour": frozenset({f"{path}.colour"}), "next_to_skin": frozenset({f"{path}.next_to_skin"})},
    )


def _finishes(work: Workings, number: int, k: Knowledge) -> Iterator[Fact]:
    goods, path = work.plan.goods[number], f"goods.{number}.finishes"
    for finish in k.finishes:
        yield Fact(
            type="finish",
            subject=path,
            values={"kind": finish.id, "present": listed_in(finish.id, goods.finishes), "effect": finish.effect},
            texts={"name": goods.name},
            inputs={"present": frozenset({path})},
        )


def _part(work: Workings, part: FibrePart, dye_class: str, k: Knowledge) -> Fact:
    finishes = work.plan.goods[part.goods].finishes
    path = f"goods.{part.goods}.{'fibres' if part.role == 'goods' else 'trims'}"
    families = tuple(k.families) if part.fibre == UNKNOWN else (k.families[k.fibres[part.fibre].family],)
    ways = takes(k, part.fibre, dye_class)
    sides, inputs = side_words(work, SIDES)
    begin, limit = _heat_limits(part, families, k)
    blamed = frozenset({path}) if part.fibre == UNKNOWN else frozenset[str]()
    inputs = {
        **inputs,
        "fibre": blamed,
        "family": blamed,
        "kind": blamed,
        "take": blamed | unsure_classes(work.plan),
        "from_acid": unsure_classes(work.plan),
        "dye_class": unsure_classes(work.plan),
        "stirring": frozenset({"bath.stirring"}),
        **{f"harmed_by_{trait_field(harm)}": blamed for harm in HARMS},
        "shrink_resist": frozenset({f"goods.{part.goods}.finishes"}),
    }
    return Fact(
        type="part",
        subject=path,
        values={
            "fibre": part.fibre,
            "fibre_known": yes_no(part.fibre != UNKNOWN),
            "family": one_of([family.id for family in families]),
            "kind": one_of({family.kind for family in families}),
            "role": part.role,
            "share": part.share if part.share is not None else Interval.point(0.0),
            "dye_class": dye_class,
            "take": one_of(ways),
            "from_acid": agreed(acid_planned(work, member, k) for member in k.members(dye_class)),
            "temperature": work.plan.bath.temperature.interval.tagged("bath.temperature"),
            "heat_limit_begin": begin.tagged(path),
            "heat_limit": limit.tagged(path),
            "ph": work.liquor.ph,
            "ph_low": _ph_ends(part, families, k, "low").tagged(path),
            "ph_high": _ph_ends(part, families, k, "high").tagged(path),
            **{
                f"harmed_by_{trait_field(harm)}": agreed(any(h.by == harm for h in f.harms) for f in families)
                for harm in HARMS
            },
            **sides,
            "stirring": yes_no(work.plan.bath.stirring),
            "shrink_resist": listed_in("shrink-resist", finishes),
            "weighted": yes_no("weighted" in (finishes or ())),
        },
        texts={
            "name": f"{_fibre_label(part, k)} in {part.name}" if part.role == "goods" else part.name,
            "condition": _condition(part, dye_class, k),
            **{f"harm_{harm}": _how(families, harm) for harm in TOLD_HARMS},
        },
        inputs=_only_open(inputs),
    )


def _only_open(inputs: Inputs) -> Inputs:
    return {name: paths for name, paths in inputs.items() if paths}


def _fibre_label(part: FibrePart, k: Knowledge) -> str:
    return "unknown fibre" if part.fibre == UNKNOWN else k.fibres[part.fibre].label


def _heat_limits(part: FibrePart, families: tuple[Family, ...], k: Knowledge) -> tuple[Interval, Interval]:
    own = None if part.fibre == UNKNOWN else k.fibres[part.fibre].heat_limit
    figures = [own] if own else [family.heat_limit for family in families]
    lows, highs = [f.low for f in figures], [f.high for f in figures]
    return Interval(min(lows), max(lows)), Interval(min(highs), max(highs))


def _ph_ends(part: FibrePart, families: tuple[Family, ...], k: Knowledge, end: str) -> Interval:
    own = None if part.fibre == UNKNOWN else k.fibres[part.fibre].ph
    ends = [getattr(figure, end) for figure in ([own] if own else [family.ph for family in families])]
    return Interval(min(ends), max(ends))


def _condition(part: FibrePart, dye_class: str, k: Knowledge) -> str:
    words = vocabularies()["dye class"].words
    if part.fibre == UNKNOWN or dye_class not in words:
        return ""
    return k.uptake[k.fibres[part.fibre].family, dye_class].condition


def _how(families: tuple[Family, ...], harm: str) -> str:
    told = [h.how for h in families[0].harms if h.by == harm]
    return told[0] if len(families) == 1 and told else ""
