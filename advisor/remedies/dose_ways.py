"""Ways out by the dye: less of it, or measured in another form."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from advisor.factors import HUNDRED, THOUSAND
from advisor.interval import Interval
from advisor.plan import POWDERS
from advisor.plan_values import UNKNOWN
from advisor.remedies.amounts import restated
from advisor.remedies.bench import Bench, number_in
from advisor.remedies.changes import value_at
from advisor.remedies.dosing import FACTORS, cut_dyes, scale_step


def reduce_dye(b: Bench) -> Iterator[Mapping[str, Any]]:
    """Less dye: down to the share that is allowed, then step by step."""
    everything = range(len(b.plan.dyes))
    dye = b.fact("dye")
    numbers = everything if dye is None else [number_in(dye.subject) or 0]
    most = max(1.0, *(each.share_of_maximum.high for each in b.work.dose.dyes)) if dye is None else 1.0
    for fact in filter(None, (dye, b.fact("dose"))):
        for name in ("share_of_maximum", "share_of_maximum_dyeable", "share_of_usual_deep", "share_of_ceiling"):
            share = fact.values.get(name)
            if name in b.fields(fact.type) and isinstance(share, Interval) and share.high > 1:
                yield from _cut_to(b, numbers, 1 / max(share.high, most))
    for share in [b.work.dose.share_of_maximum]:
        if share.high > 1:
            yield from _cut_to(b, everything, 1 / share.high)
    yield from (cut_dyes(b, everything, factor) for factor in FACTORS[1::2])


def _cut_to(b: Bench, numbers: Iterable[int], factor: float) -> Iterator[Mapping[str, Any]]:
    """These dyes cut to what is allowed; where the scale may show that for a whole step more, what it still can weigh."""
    numbers = list(numbers)
    cut, step = cut_dyes(b, numbers, factor), scale_step(b)
    weighed = [b.work.dose.dyes[n] for n in numbers if b.work.dose.dyes[n].weighed.kind in ("mass", "spoon")]
    least = min((dose.weighed.mass.high * factor for dose in weighed), default=0.0)
    if step > b.limit("weighing_error_coarse") * least > 0:
        if step <= b.limit("weighing_error_wild") * (least - step):
            yield cut_dyes(b, numbers, factor * (least - step) / least)
        fine = 10.0 ** math.floor(math.log10(b.limit("weighing_error_coarse") * least))
        yield {**cut, "scale.resolution": b.anew("scale.resolution", "mass", fine, "down")}
    yield cut


def stock_solution(b: Bench) -> Iterator[Mapping[str, Any]]:
    """The same dye as a stock solution, for several guesses at how much the spoon held."""
    dye = b.fact("dye")
    numbers = range(len(b.plan.dyes)) if dye is None else [number_in(dye.subject) or 0]
    for share in (0.5, 0.0, 1.0):  # of the way from the low to the high end of what a spoon may hold
        yield {path: value for number in numbers for path, value in _as_solution(b, number, share).items()}


def _as_solution(b: Bench, number: int, share: float) -> dict[str, Any]:
    """The same dose as a stock solution of the usual strength (1 % = 1 g in 100 mL)."""
    mass = b.work.dose.dyes[number].weighed.mass
    if b.work.dose.dyes[number].weighed.kind == UNKNOWN or mass.low <= 0:
        return {}
    strength = b.limit("stock_strength")
    grams = mass.low + (mass.high - mass.low) * share
    litres = grams * HUNDRED / strength / THOUSAND
    path = f"dyes.{number}"
    raw = value_at(b.data, f"{path}.amount")
    return {
        f"{path}.form": "solution",
        f"{path}.strength": f"{strength:g} %",
        f"{path}.amount": restated(raw if "L" in str(raw) else "", "volume", litres, "down"),
    }


def replace_form(b: Bench) -> Iterator[Mapping[str, Any]]:
    """The dye weighed, as a solution or as a liquid, instead of powder."""
    dye = b.fact("dye")
    powders = [n for n, d in enumerate(b.plan.dyes) if d.form in POWDERS]
    numbers = powders if dye is None else [n for n in powders if n == number_in(dye.subject)]
    if dye is not None and "amount_kind" in b.fields("dye"):  # a powder measured like a liquid: weigh it
        for number in numbers:
            mass = b.work.dose.dyes[number].weighed.mass
            yield {f"dyes.{number}.amount": restated("", "mass", mass.low, "near", step=scale_step(b))}
    yield {path: value for number in numbers for path, value in _as_solution(b, number, 0.0).items()}
    yield {f"dyes.{number}.form": "liquid" for number in numbers}
