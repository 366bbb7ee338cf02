"""Facts about people, room, aftercare, storage and country."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.contents import contents_of
from advisor.fact import Fact
from advisor.facts.answers import agreed, listed_in, side_words, worst, yes_no
from advisor.facts.traits import dye_substances
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.measures.airing import airing
from advisor.plan_values import UNKNOWN


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """Each kind of person present or not, the room, the drain and leftovers, the country."""
    for person in k.people:
        yield Fact(
            type="person",
            subject="people.present",
            values={
                "kind": person.id,
                "present": listed_in(person.id, work.plan.people.present),
                "at_powder": yes_no(person.id not in (work.plan.people.away_from_powder or ())),
            },
            texts={"name": person.label, "note": person.note},
            inputs={"present": frozenset({"people.present"})},
        )
    yield _space(work, k)
    yield _aftercare(work, k)
    yield _storage(work)
    place = work.plan.place
    yield Fact(
        type="place",
        subject="place",
        values={"stated": yes_no(place != UNKNOWN)},
        texts={"name": k.places[place].label if place in k.places else place},
    )


def _space(work: Workings, k: Knowledge) -> Fact:
    space, aired = work.plan.space, airing(work.plan.space, k)
    row = None if space.kind == UNKNOWN else k.spaces[space.kind]
    return Fact(
        type="space",
        subject="space",
        values={
            "kind": space.kind,
            "volume": space.volume.interval.tagged("space.volume"),
            "ventilation": aired.word,
            "aired_otherwise": yes_no(aired.otherwise),
            "food_out": yes_no(space.food_out),
            "food_room": row.food if row else UNKNOWN,
            "indoors": row.indoors if row else UNKNOWN,
        },
        texts={"name": row.label if row else "the room"},
        inputs={
            **{name: frozenset({"space.kind"}) for name in ("kind", "food_room", "indoors", "aired_otherwise")},
            "ventilation": aired.inputs,
            "food_out": frozenset({"space.food_out"}),
        },
    )


def _aftercare(work: Workings, k: Knowledge) -> Fact:
    after = work.plan.aftercare
    sides, inputs = side_words(work, ("bath_metal_salt", "bath_reducing", "bath_bleach"))
    rinse = after.rinse_water.interval.tagged("aftercare.rinse_water")
    toxic, toxic_inputs, metals = _toxic_metal(work, k)
    return Fact(
        type="aftercare",
        subject="aftercare",
        values={
            "drain": after.drain,
            "leftover": after.leftover,
            "rinse_water": rinse,
            "rinse_ratio": rinse * 1000.0 / work.goods.dry_mass,
            "rinse_water_stated": yes_no(after.rinse_water.stated),
            "rinse_count": worst(work.fate.rinses),
            "waste_ph": work.waste.ph,
            "waste_volume": worst(work.waste.volume),
            "unfixed_mass": worst(work.fate.unfixed),
            "temperature": work.plan.bath.temperature.interval.tagged("bath.temperature"),
            "bath_toxic_metal": toxic,
            **sides,
        },
        texts={"name": "the spent bath", "metals": metals, "neutralise": work.waste.neutralise},
        inputs={
            **inputs,
            "drain": frozenset({"aftercare.drain"}),
            "leftover": frozenset({"aftercare.leftover"}),
            "bath_toxic_metal": toxic_inputs,
        },
        how={
            "waste_ph": work.liquor.how,
            "unfixed_mass": work.measures["dye.unfixed_mass"].how,
            "rinse_count": work.measures["rinse.count"].how,
        },
    )


def _storage(work: Workings) -> Fact:
    storage = work.plan.storage
    return Fact(
        type="storage",
        subject="storage",
        values={
            "stock_labelled": yes_no(storage.stock_labelled),
            "stock_labelled_stated": yes_no(storage.stock_labelled is not None),
            "out_of_reach": yes_no(storage.out_of_reach),
            "out_of_reach_stated": yes_no(storage.out_of_reach is not None),
        },
        texts={"name": "the stock"},
        inputs={
            "stock_labelled": frozenset({"storage.stock_labelled"}),
            "out_of_reach": frozenset({"storage.out_of_reach"}),
        },
    )


def _toxic_metal(work: Workings, k: Knowledge) -> tuple[str, frozenset[str], str]:
    """Whether a metal that drains and plants object to is in the bath: of dyes, their contents, assists, from before."""
    found: set[str] = set()
    answers, inputs = [], set()

    def toxic(substance: str) -> set[str]:
        return {metal for metal in k.substances[substance].metals if k.contents[metal].toxic == "yes"}

    for number, dye in enumerate(work.plan.dyes):
        stated = contents_of(dye.contains or ())
        found |= set(stated.metals(toxic=True))
        substances = dye_substances(dye.dye_class, k)
        inherent = agreed(bool(toxic(s)) for s in substances)
        if inherent == "yes":  # another metal may stand in for it; "none" may not: there the class knows better
            if not stated.metals():
                found |= {metal for s in substances for metal in toxic(s)}
        elif dye.contains is None:  # dyes of every class may hold copper or chromium
            answers.append(UNKNOWN)
            inputs |= {f"dyes.{number}.contains"} | ({f"dyes.{number}.class"} if inherent == UNKNOWN else set())
    for substance in work.plan.bath.before or ():
        found |= toxic(substance)
    for number, assist in enumerate(work.plan.assists or ()):
        if assist.substance == UNKNOWN:
            answers.append(UNKNOWN)
            inputs.add(f"assists.{number}.substance")
        else:
            found |= toxic(assist.substance)
    if work.plan.assists is None:
        answers.append(UNKNOWN)
        inputs.add("assists")
    if found:
        return "yes", frozenset(), ", ".join(sorted(found))
    return (UNKNOWN, frozenset(inputs), "") if answers else ("no", frozenset(), "")
