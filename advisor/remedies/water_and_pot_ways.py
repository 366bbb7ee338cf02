"""Ways out by the water, the pot, the tools and the size of the batch."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from advisor.factors import THOUSAND
from advisor.interval import Interval
from advisor.plan_values import UNKNOWN
from advisor.remedies.amounts import scaled
from advisor.remedies.bench import Bench, number_in
from advisor.remedies.changes import value_at
from advisor.remedies.dosing import KIND_OF_AMOUNT, same_strength, scale_assist


def more_water(b: Bench) -> Iterator[Mapping[str, Any]]:
    """More water, for rinsing or in the bath; with the chemicals scaled, and a larger pot where it needs one."""
    kilograms = b.work.goods.dry_mass.high / THOUSAND
    if not all(goods.dry_mass.stated for goods in b.plan.goods):
        return
    for ratio in b.bounds("rinse_ratio", "<"):
        yield {"aftercare.rinse_water": b.anew("aftercare.rinse_water", "volume", ratio * kilograms, "up")}
        return
    even = b.limit("liquor_ratio_even") if b.plan.bath.shade != "mottled" else b.limit("liquor_ratio_mottled")
    for ratio in dict.fromkeys((even, *b.bounds("liquor_ratio", "<"))):
        water = ratio * kilograms
        if water <= b.work.vessel.water.high:
            continue
        more = {"bath.water": b.anew("bath.water", "volume", water, "up")}
        yield more
        yield more | same_strength(b, water / b.work.vessel.water.high)
        yield from (more | pot for pot in _pot_for(b, water))
        yield from (more | same_strength(b, water / b.work.vessel.water.high) | pot for pot in _pot_for(b, water))


def _pot_for(b: Bench, water: float) -> Iterator[dict[str, Any]]:
    """A pot that holds this much water with the goods in, rounded up to a usual size."""
    pot = b.work.vessel
    if not b.plan.vessel.capacity.stated:
        return
    solid = b.work.goods.dry_mass.high / THOUSAND / b.work.goods.density.low
    hot = b.plan.bath.temperature.interval.high >= b.limit("hot_bath")
    step = b.k.way_out_limits["pot_step"].low
    for full in dict.fromkeys((b.limit("fill_hot") if hot else b.limit("fill_full"), b.limit("fill_full"))):
        capacity = math.ceil((water + solid) / full / step - 1e-9) * step
        if capacity > pot.capacity.low:
            yield {"vessel.capacity": b.anew("vessel.capacity", "volume", capacity, "up")}


def larger_pot(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A larger pot, or less water where that is enough."""
    pot, bath = b.work.vessel, b.plan.bath
    if b.fields("vessel") & {"share_of_limit"} and b.plan.vessel.capacity.stated:
        water = pot.water_needed.high
        step = b.k.way_out_limits["pot_step"].low
        capacity = math.ceil(pot.capacity_needed.high / step - 1e-9) * step
        larger = {"vessel.capacity": b.anew("vessel.capacity", "volume", capacity, "up")}
        yield larger
        if water > pot.water.low:
            yield larger | {"bath.water": b.anew("bath.water", "volume", water, "up")}
        return
    if not bath.water.stated:
        return
    yield from _pot_for(b, bath.water.interval.high)
    if b.plan.vessel.capacity.stated:  # or less water, as long as that is enough
        solid = b.work.goods.dry_mass.high / THOUSAND / b.work.goods.density.low
        for full in (b.limit("fill_hot"), b.limit("fill_full")):
            less = full * pot.capacity.low - solid
            if less > 0 and (less >= pot.water_needed.high or bath.shade == "mottled"):
                yield {"bath.water": b.anew("bath.water", "volume", less, "down")}
                yield {"bath.water": b.anew("bath.water", "volume", less, "down")} | same_strength(
                    b, less / pot.water.high
                )


def split_batches(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Equal batches: goods, dyes, chemicals and water of one of them."""
    least = (
        max(2, math.ceil(min(b.work.vessel.share_of_limit.high, 1e6) - 1e-9)) if b.plan.vessel.capacity.stated else 2
    )
    for number in range(least, int(b.k.way_out_limits["batches_most"].low) + 1):
        batch = {
            f"goods.{i}.dry_mass": _part_of(b, f"goods.{i}.dry_mass", "mass", goods.dry_mass.interval, 1 / number)
            for i, goods in enumerate(b.plan.goods)
            if goods.dry_mass.stated
        }
        for i, dye in enumerate(b.plan.dyes):
            kind = b.work.dose.dyes[i].weighed.kind
            if kind not in (UNKNOWN, "share"):
                path = f"dyes.{i}.amount"
                batch[path] = _part_of(b, path, KIND_OF_AMOUNT[kind], dye.amount.interval, 1 / number)
        for i in range(len(b.plan.assists or ())):
            if b.work.assists[i].weighed.kind != "share":
                batch |= scale_assist(b, i, 1 / number, "near")
        if not b.plan.bath.water.stated:
            yield batch
            continue
        water = b.plan.bath.water.interval.high / number
        enough = b.work.vessel.water_needed.high / number if b.plan.bath.shade != "mottled" else 0.0
        yield batch | {"bath.water": b.anew("bath.water", "volume", max(water, enough), "up")}
        if water < enough:
            yield {
                **batch,
                "bath.water": b.anew("bath.water", "volume", enough, "up"),
                **same_strength(b, enough / b.plan.bath.water.interval.high),
            }


def _part_of(b: Bench, path: str, kind: str, amount: Interval, factor: float) -> str:
    raw = value_at(b.data, path)
    return scaled(raw, kind, (amount.low, amount.high), factor, "near", place=b.plan.place, digits=4)


def other_vessel(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A pot that is not used for food, is sound, or is of another material."""
    fields = b.fields("vessel")
    if "used_for_food" in fields:
        yield {"vessel.used_for_food": False}
    elif "condition" in fields:
        yield {"vessel.condition": "sound"}
    for material in b.k.choices["vessel.material"]:
        if material != b.plan.vessel.material:
            yield {"vessel.material": material}
            if b.plan.vessel.condition != "sound":
                yield {"vessel.material": material, "vessel.condition": "sound"}


def other_utensil(b: Bench) -> Iterator[Mapping[str, Any]]:
    """A tool that is not used for food, or is of another material."""
    utensil = b.fact("utensil")
    number = None if utensil is None else number_in(utensil.subject)
    if number is None or b.plan.utensils is None:
        return
    if "used_for_food" in b.fields("utensil"):
        yield {f"utensils.{number}.used_for_food": False}
    for material in b.k.choices["utensils.*.material"]:
        if material != b.plan.utensils[number].material:
            yield {f"utensils.{number}.material": material}
