"""The fact about the bath."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.fact import Fact
from advisor.facts.answers import best, side_words, worst, yes_no
from advisor.facts.goods import SIDES
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval

NOTHING = Interval.point(0.0)


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """One fact."""
    bath = work.plan.bath
    sides, inputs = side_words(work, SIDES)
    warmth, fumes = work.warmth, work.fumes
    acid_and_alkali, both_inputs = _both(work, k)
    over_bath = max((ppm.high for ppm in fumes.headspace.values()), default=0.0)
    yield Fact(
        type="bath",
        subject="bath",
        values={
            "water": work.vessel.water,
            "temperature": bath.temperature.interval.tagged("bath.temperature"),
            "hold": bath.hold.interval.tagged("bath.hold"),
            "liquor_ratio": work.vessel.liquor_ratio,
            "attended": yes_no(bath.attended),
            "stirring": yes_no(bath.stirring),
            "tools": yes_no(None if work.plan.utensils is None else bool(work.plan.utensils)),
            "shade": bath.shade,
            "alkalinity": bath.alkalinity.interval.tagged("bath.alkalinity"),
            "alkalinity_stated": yes_no(bath.alkalinity.stated),
            "ph": work.liquor.ph,
            "acid": work.liquor.acid,
            "alkali": work.liquor.alkali,
            "water_alkali": work.liquor.water_alkali,
            "acid_eaten": work.liquor.acid_eaten,
            "acid_and_alkali": acid_and_alkali,
            "class_count": Interval.point(len({dye.dye_class for dye in work.plan.dyes})),
            "altitude_stated": yes_no(bath.altitude.stated),
            "left_before": UNKNOWN if bath.before is None else yes_no(bool(bath.before)),
            "boiling_point": warmth.boiling_point,
            "scald_time": best(warmth.scald_time),
            "time_to_temperature": worst(warmth.time_to_temperature),
            "fastest_rise": worst(warmth.fastest_rise),
            "lift_mass": NOTHING if _stays_put(bath.heat_source, k) else worst(warmth.lift_mass),
            "boils_away": worst(warmth.boils_away),
            "air_acetic": worst(fumes.room["acetic"]),
            "air_formic": worst(fumes.room["formic"]),
            "air_ammonia": worst(fumes.room["ammonia"]),
            "air_limit_share": worst(fumes.limit_share),
            "volume_stated": yes_no(work.plan.space.volume.stated),
            "heat_source": bath.heat_source,
            **sides,
        },
        texts={
            "name": "the bath",
            "ph_how": work.liquor.how,
            "full_pot": _full_pot(work),
            "over_bath": format_interval(Interval.point(over_bath), "ppm"),
        },
        inputs={
            **inputs,
            "acid_and_alkali": both_inputs,
            "attended": frozenset({"bath.attended"}),
            "stirring": frozenset({"bath.stirring"}),
            "tools": frozenset({"utensils"}),
            "left_before": frozenset({"bath.before"}),
            "shade": frozenset({"bath.shade"}),
            "heat_source": frozenset({"bath.heat_source"}),
        },
        how={
            "liquor_ratio": work.measures["bath.liquor_ratio"].how,
            "ph": work.liquor.how,
            "scald_time": work.measures["heat.scald_time"].how,
            "lift_mass": work.measures["lift.mass"].how,
            "time_to_temperature": work.measures["heat.time_to_temperature"].how,
        },
    )


def _stays_put(heat_source: str, k: Knowledge) -> bool:
    """Whether the bath is made in something that is emptied where it stands."""
    return heat_source != UNKNOWN and k.heat_sources[heat_source].emptied_in_place == "yes"


def _full_pot(work: Workings) -> str:
    """The mass of the full pot; where the tables leave it open, at the most and at the least."""
    mass = work.warmth.lift_mass
    most = format_interval(Interval.point(mass.high), "kg")
    if mass.exact:
        return most
    least = format_interval(Interval.point(mass.low), "kg")
    return f"up to {most} ({least} at the least)"


def _both(work: Workings, k: Knowledge) -> tuple[str, frozenset[str]]:
    """Whether an acid and an alkali are dosed that eat each other. Ammonium is no rival of ammonia."""
    roles: set[str] = set()
    unsure: set[str] = set()
    for number, assist in enumerate(work.plan.assists or ()):
        if assist.substance == UNKNOWN:
            unsure.add(f"assists.{number}.substance")
        elif not assist.substance.startswith("ammoni"):
            roles |= set(k.substances[assist.substance].roles)
    if {"acid", "alkali"} <= roles:
        return "yes", frozenset()
    if work.plan.assists is None:
        unsure.add("assists")
    return (UNKNOWN, frozenset(unsure)) if unsure else ("no", frozenset())
