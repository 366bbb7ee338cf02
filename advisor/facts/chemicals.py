"""Facts about substances: what each is, how it is handled at each step, and what two of them do together."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from advisor.contents import contents_of
from advisor.fact import Fact
from advisor.facts.answers import Inputs, one_of, yes_no
from advisor.facts.traits import dye_substances, trait_words
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.plan import POWDERS
from advisor.plan_values import UNKNOWN
from advisor.rows import Pair

DYE_FORMS = {
    "powder": "solid", "granules": "solid", "plant pieces": "solid",
    "liquid": "liquid", "paste": "solution", "solution": "solution",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Present:
    """A substance of the plan. `rows` are the table rows it may be; `powder` is yes, no or unknown."""

    rows: tuple[str, ...]
    name: str
    origin: str
    subject: str
    powder: str
    form: str
    strength: Interval
    paths: tuple[str, ...]
    powder_path: str = ""


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """One fact a substance, its exposures step by step, and one for each pair of substances."""
    present = list(_present(work, k))
    for item in present:
        yield _substance(item, k)
        if item.origin in ("dye", "contained", "assist"):
            yield from _handling(item, k)
    for one, other in itertools.combinations(present, 2):
        if one.subject != other.subject or one.origin not in ("dye", "contained"):  # what a maker sells as one is mixed
            yield from _pair(one, other, k)
    if work.plan.space.chemicals is None:  # anything may stand in the room, so ask what does
        anything = Present(
            k.substances.ids,
            "what stands in the room",
            "room",
            "space",
            UNKNOWN,
            UNKNOWN,
            Interval(0.0, 100.0),
            ("space.chemicals",),
        )
        for item in present:
            if item.origin in ("contained", "assist", "before"):
                yield from _pair(item, anything, k)


def _present(work: Workings, k: Knowledge) -> Iterator[Present]:
    plan = work.plan
    for number, dye in enumerate(plan.dyes):
        powder = UNKNOWN if dye.form == UNKNOWN else yes_no(dye.form in POWDERS)
        yield Present(
            rows=dye_substances(dye.dye_class, k),
            name=dye.name,
            origin="dye",
            subject=f"dyes.{number}",
            powder=powder,
            form=DYE_FORMS.get(dye.form, UNKNOWN),
            strength=Interval.point(100.0),
            paths=(f"dyes.{number}.class",),
            powder_path=f"dyes.{number}.form",
        )
        for word in contents_of(dye.contains or ()).substances:
            yield Present(
                rows=(word,),
                name=f"{k.substances[word].label} in {dye.name}",
                origin="contained",
                subject=f"dyes.{number}",
                powder=powder,
                form=DYE_FORMS.get(dye.form, UNKNOWN),
                strength=Interval.point(100.0),
                paths=(f"dyes.{number}.contains",),
                powder_path=f"dyes.{number}.form",
            )
    for number, (assist, dosed) in enumerate(zip(plan.assists or (), work.assists, strict=True)):
        known = assist.substance != UNKNOWN
        row = k.substances[assist.substance] if known else None
        yield Present(
            rows=(assist.substance,) if known else k.substances.ids,
            name=row.label if row else "an unknown chemical",
            origin="assist",
            subject=f"assists.{number}",
            powder=UNKNOWN if row is None else yes_no(row.form == "solid"),
            form=row.form if row else UNKNOWN,
            strength=dosed.strength,
            paths=(f"assists.{number}.substance", f"assists.{number}.strength"),
            powder_path=f"assists.{number}.substance",
        )
    if plan.assists is None:  # anything may be dosed, so ask what is
        anything = ("assists",)
        yield Present(
            k.substances.ids,
            "what else goes in",
            "assist",
            "assists",
            UNKNOWN,
            UNKNOWN,
            Interval(0.0, 100.0),
            anything,
            "assists",
        )
    for origin, words in (("before", plan.bath.before), ("room", plan.space.chemicals)):
        path = "bath.before" if origin == "before" else "space.chemicals"
        for word in words or ():
            row = k.substances[word]
            strength = row.strength.interval.tagged(path) if row.strength else Interval.point(100.0)
            powder = yes_no(row.form == "solid")
            yield Present((word,), row.label, origin, path, powder, row.form, strength, (path,), path)


def _substance(item: Present, k: Knowledge) -> Fact:
    traits, inputs = trait_words(item.rows, item.strength, k, *item.paths)
    rows = [k.substances[row] for row in item.rows]
    return Fact(
        type="substance",
        subject=item.subject,
        values={
            "substance": one_of(item.rows),
            "origin": item.origin,
            "role": one_of({row.roles[0] for row in rows}),
            "strength": item.strength,
            "form": item.form,
            **traits,
        },
        texts={"name": item.name, "hazards": _hazards(item, k)},
        inputs={
            **inputs,
            "substance": frozenset(item.paths[:1]),
            "role": frozenset(item.paths[:1]),
            "form": frozenset({item.powder_path}),
        },
    )


def _hazards(item: Present, k: Knowledge) -> str:
    """GHS statements that hold at this strength, with their codes and basis."""
    if len(item.rows) > 1:
        return ""
    told = [
        f"{h.code} {h.statement}{'' if h.basis == 'published' else f' ({h.basis})'}"
        for h in k.substances[item.rows[0]].hazards
        if h.holds_at(item.strength) is not False
    ]
    return "; ".join(told)


def _handling(item: Present, k: Knowledge) -> Iterator[Fact]:
    """What surely comes with every row the substance may be."""
    needs = [
        {(need.step, exposure) for need in k.substances[row].gear for exposure in need.exposures} for row in item.rows
    ]
    traits, unsure = trait_words(item.rows, item.strength, k, *item.paths)
    inputs: Inputs = {"substance": frozenset(item.paths[:1]), "powder": frozenset({item.powder_path})}
    if "corrosive" in unsure:
        inputs["corrosive"] = unsure["corrosive"]
    for step, exposure in sorted(set.intersection(*needs)):
        yield Fact(
            type="handling",
            subject=item.subject,
            values={
                "substance": one_of(item.rows),
                "step": step,
                "exposure": exposure,
                "powder": item.powder,
                "corrosive": traits["corrosive"],
            },
            texts={"name": item.name},
            inputs=inputs,
        )


def _pair(one: Present, other: Present, k: Knowledge) -> Iterator[Fact]:
    """One fact; what depends on which of several substances one is stays unknown, and asks."""
    met = [look_up(k, a, b) for a in one.rows for b in other.rows if a != b]
    if not met:
        return
    values = {
        "first": one_of({m.first for m in met}),
        "second": one_of({m.second for m in met}),
        "outcome": one_of({m.row.outcome for m in met}),
        "together": yes_no("room" not in (one.origin, other.origin)),
    }
    gravest = min((m.row for m in met), key=_gravity)
    unsure = frozenset(path for item in (one, other) if len(item.rows) > 1 for path in item.paths[:1])
    yield Fact(
        type="pair",
        subject=one.subject if one.origin == "assist" else other.subject,
        values=values,
        texts={"name": f"{one.name} and {other.name}", "effect": gravest.effect},
        inputs={name: unsure for name, word in values.items() if word == UNKNOWN},
    )


_GRAVITY = ("dangerous", "wasteful", "harmless", "looked at")


def _gravity(row: Pair) -> int:
    return _GRAVITY.index(row.outcome)


@dataclass(frozen=True, slots=True)
class Met:
    """The row that decides a pair, and the two substances in the order of its `a` and `b`."""

    row: Pair
    first: str
    second: str


@cache
def look_up(k: Knowledge, one: str, other: str) -> Met:
    """What two substances do to each other: the row that names the most of them, among equals the gravest.

    A row names a substance by its id, or by a role or a reactivity group of it. Raises KeyError when no row
    speaks of the pair; the tables are tested to leave no such gap.
    """
    one, other = sorted((one, other), key=k.substances.ids.index)
    rows = _rows_by_names(k)
    found = [
        ((a == one) + (b == other), row, Met(row, *((one, other) if row.a == a else (other, one))))
        for a in _names(k, one)
        for b in _names(k, other)
        if (row := rows.get(frozenset((a, b)))) is not None
    ]
    if not found:
        raise KeyError(f"no row of pairs.toml speaks of {one!r} and {other!r}")
    return min(found, key=lambda item: (-item[0], _gravity(item[1])))[2]


def _names(k: Knowledge, substance: str) -> tuple[str, ...]:
    row = k.substances[substance]
    return (substance, *row.roles, *row.reactivity_groups)


@cache
def _rows_by_names(k: Knowledge) -> dict[frozenset[str], Pair]:
    return {frozenset((row.a, row.b)): row for row in k.pairs}
