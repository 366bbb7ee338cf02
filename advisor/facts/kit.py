"""Facts about the pot, tools, heat source, scale and protective gear."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.fact import Fact
from advisor.facts.answers import agreed, listed_in, one_of, side_words, worst, yes_no
from advisor.facts.goods import SIDES
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.measures.airing import airing
from advisor.plan import Utensil
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval
from advisor.rows import HeatSource, Material


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """The pot, each tool, the heat source, the scale; each kind of gear and each exposure it may stop."""
    yield _vessel(work, k)
    if work.plan.utensils is None:
        yield _utensil(work, Utensil(name="a tool"), k, "utensils", "utensils")
    for number, utensil in enumerate(work.plan.utensils or ()):
        yield _utensil(work, utensil, k, f"utensils.{number}", f"utensils.{number}.")
    yield _heat(work, k)
    yield Fact(
        type="scale",
        subject="scale",
        values={
            "resolution": work.plan.scale.resolution.interval.tagged("scale.resolution"),
        },
    )
    yield from _gear(work, k)
    yield from _protection(work, k)


def _resistance(material: str, k: Knowledge, path: str) -> tuple[dict[str, str | Interval], dict[str, frozenset[str]]]:
    """What a material stands; over all materials when it is unknown."""
    rows: tuple[Material, ...] = tuple(k.materials) if material == UNKNOWN else (k.materials[material],)
    limits = [row.heat_limit.low for row in rows]
    words: dict[str, str | Interval] = {
        "with_acid": one_of({row.acid for row in rows}),
        "with_alkali": one_of({row.alkali for row in rows}),
        "with_salt": one_of({row.salt for row in rows}),
        "with_reducing": one_of({row.reducing for row in rows}),
        "holds_dye": one_of({row.holds_dye for row in rows}),
        "metal_ions": agreed(row.metal_ions is not None for row in rows),
        "heat_limit": Interval(min(limits), max(limits), frozenset({path})),
    }
    return words, {name: frozenset({path}) for name in words}


def _vessel(work: Workings, k: Knowledge) -> Fact:
    vessel, pot = work.plan.vessel, work.vessel
    resistance, blamed = _resistance(vessel.material, k, "vessel.material")
    sides, inputs = side_words(work, SIDES)
    rows = tuple(k.materials) if vessel.material == UNKNOWN else (k.materials[vessel.material],)
    return Fact(
        type="vessel",
        subject="vessel",
        values={
            "material": vessel.material,
            "capacity": pot.capacity,
            "condition": vessel.condition,
            "used_for_food": yes_no(vessel.used_for_food),
            "lid": yes_no(vessel.lid),
            "fill": worst(pot.fill),
            "dry_mass": work.goods.dry_mass,
            "dry_mass_limit": pot.dry_mass_limit,
            "share_of_limit": worst(pot.share_of_limit),
            "temperature": work.plan.bath.temperature.interval.tagged("bath.temperature"),
            "heat_source": work.plan.bath.heat_source,
            "on_hob": one_of({row.hob for row in rows}),
            "in_microwave": one_of({row.microwave for row in rows}),
            "on_induction": one_of({row.induction for row in rows}),
            **resistance,
            **sides,
        },
        texts={
            "name": "the pot",
            "batches": _batches(work),
            "batch_mass": format_interval(work.goods.dry_mass / max(1.0, pot.batches.high), "g"),
            "water_needed": format_interval(pot.water_needed, "L"),
            "capacity_needed": format_interval(pot.capacity_needed, "L"),
        },
        inputs={
            **inputs,
            **blamed,
            **{name: frozenset({"vessel.material"}) for name in ("material", "on_hob", "in_microwave", "on_induction")},
            "condition": frozenset({"vessel.condition"}),
            "used_for_food": frozenset({"vessel.used_for_food"}),
            "lid": frozenset({"vessel.lid"}),
            "heat_source": frozenset({"bath.heat_source"}),
        },
        how={
            "fill": work.measures["vessel.fill"].how,
            "share_of_limit": work.measures["vessel.dry_mass_limit"].how,
            "dry_mass_limit": work.measures["vessel.dry_mass_limit"].how,
        },
    )


def _batches(work: Workings) -> str:
    """How many batches an even shade takes in this pot."""
    count = work.vessel.batches
    return f"{count.low:.0f}" if count.exact else f"{count.low:.0f} to {count.high:.0f}"


def _utensil(work: Workings, utensil: Utensil, k: Knowledge, path: str, prefix: str) -> Fact:
    """A tool; `prefix` ends in a dot, or is the whole list when the plan says nothing of tools."""
    material_path, food_path = (
        f"{prefix}{key}" if prefix.endswith(".") else prefix for key in ("material", "used_for_food")
    )
    resistance, blamed = _resistance(utensil.material, k, material_path)
    sides, inputs = side_words(work, SIDES)
    return Fact(
        type="utensil",
        subject=path,
        values={
            "material": utensil.material,
            "used_for_food": yes_no(utensil.used_for_food),
            "temperature": work.plan.bath.temperature.interval.tagged("bath.temperature"),
            **resistance,
            **sides,
        },
        texts={"name": utensil.name},
        inputs={
            **inputs,
            **blamed,
            "material": frozenset({material_path}),
            "used_for_food": frozenset({food_path}),
        },
    )


def _heat(work: Workings, k: Knowledge) -> Fact:
    bath, space, aired = work.plan.bath, work.plan.space, airing(work.plan.space, k)
    rows = tuple(k.heat_sources) if bath.heat_source == UNKNOWN else (k.heat_sources[bath.heat_source],)
    tops = [row.reaches.high for row in rows]
    path = frozenset({"bath.heat_source"})
    return Fact(
        type="heat",
        subject="bath.heat_source",
        values={
            "source": bath.heat_source,
            "combustion": one_of({row.combustion for row in rows}),
            "solid_fuel": one_of({row.solid_fuel for row in rows}),
            "food_appliance": one_of({row.food_appliance for row in rows}),
            "dye_only_stated": yes_no(bath.heat_source_used_for_food is False),
            "electric": one_of({row.electric for row in rows}),
            "sealed": one_of({row.sealed for row in rows}),
            "reaches": Interval(min(tops), max(tops), path),
            "share_of_size": _share_of_size(work, rows),
            "temperature": bath.temperature.interval.tagged("bath.temperature"),
            "attended": yes_no(bath.attended),
            "indoors": UNKNOWN if space.kind == UNKNOWN else k.spaces[space.kind].indoors,
            "ventilation": aired.word,
        },
        texts={
            "name": rows[0].label if len(rows) == 1 else "the heat source",
            "size": _size(rows[0]) if len(rows) == 1 else "",
        },
        inputs={
            **dict.fromkeys(("source", "combustion", "solid_fuel", "food_appliance", "electric", "sealed"), path),
            "attended": frozenset({"bath.attended"}),
            "indoors": frozenset({"space.kind"}),
            "ventilation": aired.inputs,
        },
    )


def _size(row: HeatSource) -> str:
    """The largest bath that a heat source usually holds, where it sets one."""
    return "" if row.holds is None else format_interval(Interval.point(row.holds.high), row.holds.unit)


def _share_of_size(work: Workings, rows: tuple[HeatSource, ...]) -> Interval:
    """The water against the largest bath that the source, or any it may be, usually holds."""
    water = work.vessel.water
    shares = [water / row.holds.high if row.holds else Interval.point(0.0) for row in rows]
    open_source = frozenset({"bath.heat_source"} if len(rows) > 1 else ())
    return Interval(min(s.low for s in shares), max(s.high for s in shares), water.because | open_source)


def _gear(work: Workings, k: Knowledge) -> Iterator[Fact]:
    for gear in k.gear:
        yield Fact(
            type="gear",
            subject="people.wearing",
            values={"kind": gear.id, "worn": listed_in(gear.id, work.plan.people.wearing)},
            texts={"name": gear.label, "not_against": gear.not_against},
            inputs={"worn": frozenset({"people.wearing"})},
        )


def _protection(work: Workings, k: Knowledge) -> Iterator[Fact]:
    wearing = work.plan.people.wearing
    for exposure in k.exposures:
        stops = [gear for gear in k.gear if exposure.id in gear.protects]
        mistaken = [g for g in k.gear if wearing is not None and g.id in wearing and exposure.id in g.mistaken_for]
        covered = None if wearing is None else any(gear.id in wearing for gear in stops)
        yield Fact(
            type="protection",
            subject="people.wearing",
            values={
                "exposure": exposure.id,
                "covered": yes_no(covered),
                "mistaken": yes_no(None if wearing is None else bool(mistaken) and not covered),
            },
            texts={
                "name": exposure.label,
                "stops": " or ".join(gear.label for gear in stops),
                "mistaken_item": " and ".join(gear.label for gear in mistaken),
                "not_against": " ".join(gear.not_against for gear in mistaken),
            },
            inputs={name: frozenset({"people.wearing"}) for name in ("covered", "mistaken")},
        )
