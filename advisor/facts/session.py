"""Facts about a class and its stations."""

from __future__ import annotations

import math

from advisor.fact import NONE, Fact
from advisor.facts import checked
from advisor.facts.answers import one_of, yes_no
from advisor.facts.traits import dye_substances, trait_words
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.plan import POWDERS, Plan
from advisor.plan_values import UNKNOWN
from advisor.rows import Space
from advisor.session import Count, Session


def session_facts(session: Session, plans: tuple[Plan, ...], k: Knowledge) -> list[Fact]:
    """The fact of the class and one for each station; `plans` are the stations' plans as checked.

    Raises FactError when one does not fit the schema.
    """
    stations = [_station(session, plan, number, k) for number, plan in enumerate(plans)]
    return [checked(_session(session, stations, k)), *(checked(fact) for fact in stations)]


def _tagged(count: Count, path: str) -> Interval:
    return count.interval.tagged(path)


def group_limit(session: Session, name: str, k: Knowledge) -> Interval:
    """A limit of class.toml that goes by the age of the youngest learner; a range while that age is open."""
    age = session.learners.ages.youngest
    figures = {group: k.class_limits[f"{name}_{group}"].low for group in _GROUPS if f"{name}_{group}" in k.class_limits}
    low, high = _group(age.low, k), _group(age.high, k)
    within = [figures[group] for group in _GROUPS[_GROUPS.index(low) : _GROUPS.index(high) + 1] if group in figures]
    within = within or [figures["child"]]
    return Interval(min(within), max(within)).tagged("learners.ages")


_GROUPS = ("small_child", "child", "teenager", "adult")


def _group(age: float, k: Knowledge) -> str:
    limits = k.class_limits
    if age <= limits["small_child_until"].low:
        return "small_child"
    if age <= limits["child_until"].low:
        return "child"
    return "teenager" if age < limits["adult_from"].low else "adult"


def _session(session: Session, stations: list[Fact], k: Knowledge) -> Fact:
    learners, supervisors = session.learners, session.supervisors
    room, papers, gear = session.room, session.papers, session.gear
    number = _tagged(learners.number, "learners.number")
    adults = _tagged(supervisors.number, "supervisors.number")
    limit = group_limit(session, "learners_per_adult", k)
    least = _least_adults(session, k)
    people = (number + adults).at_least(1)
    area = _tagged(room.floor_area, "room.floor_area")
    minding = [fact.values["adults"] for fact in stations]
    minders = sum((count for count in minding if isinstance(count, Interval)), Interval.point(0))
    places = [fact.values["learners"] for fact in stations]
    seats = sum((place for place in places if isinstance(place, Interval)), Interval.point(0))
    filled = [place.at_least(1) for place in places if isinstance(place, Interval)]
    fewest = Interval(min(p.low for p in filled), min(p.high for p in filled), NONE.union(*(p.because for p in filled)))
    needed = max(math.ceil(number.high / limit.low), int(least.high))
    words = {
        "minors": yes_no(session.minors),
        "trained": yes_no(supervisors.trained),
        "first_aider": yes_no(supervisors.first_aider),
        "allergies_asked": yes_no(learners.allergies_asked),
        "consent_asked": yes_no(learners.consent_asked),
        "running_water": yes_no(room.running_water),
        "eyewash": room.eyewash,
        "first_aid_kit": yes_no(room.first_aid_kit),
        "fire_blanket": yes_no(room.fire_blanket),
        "telephone": yes_no(room.telephone),
        "soap": yes_no(room.soap),
        "food_or_drink": yes_no(room.food_or_drink),
        "exits_clear": yes_no(room.exits_clear),
        "data_sheets": yes_no(papers.data_sheets),
        "school_rules": yes_no(papers.school_rules),
        "sizes_fit": yes_no(gear.sizes_fit),
        "goggles_cleaned": yes_no(gear.goggles_cleaned),
    }
    any_heat, heat_inputs = _any(stations, "heated")
    any_strong, strong_inputs = _any(stations, "strong_chemical")
    return Fact(
        type="session",
        subject="session",
        values={
            "learners": number,
            "youngest": learners.ages.youngest.tagged("learners.ages"),
            "least_age": k.class_limits["youngest_learner"].interval,
            "supervisors": adults,
            "supervisors_least": least,
            "learners_per_adult": _per_head(number, adults),
            "learners_per_adult_limit": limit,
            "places_short": number - seats,
            "places_over": seats - number,
            "fewest_places": fewest,
            "in_turn": yes_no(learners.in_turn is True),
            "adults_short": minders - adults,
            "needs_stated": yes_no(learners.needs is not None),
            "area_per_person": area / people,
            "area_limit": k.class_limits["floor_area_per_person"].interval,
            "area_stated": yes_no(room.floor_area.stated),
            "spares": _tagged(gear.spares, "gear.spares"),
            "any_heat": any_heat,
            "any_strong": any_strong,
            **words,
        },
        texts={
            "name": "the class",
            "ages": learners.ages.text,
            "supervisors_needed": str(needed),
            "sheets": ", ".join(dict.fromkeys(fact.texts["dyes"] for fact in stations)),
        },
        inputs={name: frozenset({_SESSION_PATHS[name]}) for name in words}
        | {"any_heat": heat_inputs, "any_strong": strong_inputs},
    )


_SESSION_PATHS = {
    "minors": "learners.ages", "trained": "supervisors.trained",
    "first_aider": "supervisors.first_aider", "allergies_asked": "learners.allergies_asked",
    "consent_asked": "learners.consent_asked", "running_water": "room.running_water", "eyewash": "room.eyewash",
    "first_aid_kit": "room.first_aid_kit", "fire_blanket": "room.fire_blanket", "telephone": "room.telephone",
    "soap": "room.soap", "food_or_drink": "room.food_or_drink", "exits_clear": "room.exits_clear",
    "data_sheets": "papers.data_sheets", "school_rules": "papers.school_rules", "sizes_fit": "gear.sizes_fit",
    "goggles_cleaned": "gear.goggles_cleaned",
}  # fmt: skip


def _per_head(number: Interval, adults: Interval) -> Interval:
    """Learners to one supervisor; with no supervisor at all, everybody is one too many."""
    because = number.because | adults.because
    low = number.low / adults.high if adults.high else number.low + _NOBODY
    high = number.high / adults.low if adults.low else number.high + _NOBODY
    return Interval(low, high, because)


_NOBODY = 1000.0  # above any limit: stands for learners without a supervisor


def _least_adults(session: Session, k: Knowledge) -> Interval:
    two = k.class_limits["adults_with_children"].low
    match session.minors:
        case None:
            return Interval(1, two, frozenset({"learners.ages"}))
        case minors:
            return Interval.point(two if minors else 1)


def _any(stations: list[Fact], name: str) -> tuple[str, frozenset[str]]:
    """Whether a field is yes at any station, and the inputs that keep it open."""
    answers = [fact.values[name] for fact in stations]
    if "yes" in answers:
        return "yes", frozenset()
    if UNKNOWN in answers:
        return UNKNOWN, frozenset().union(*(fact.unsettled(name) for fact in stations if fact.values[name] == UNKNOWN))
    return "no", frozenset()


def _station(session: Session, plan: Plan, number: int, k: Knowledge) -> Fact:
    station, path = session.stations[number], f"stations.{number}"
    learners, adults = _tagged(station.learners, f"{path}.learners"), _tagged(station.adults, f"{path}.adults")
    strong, strong_inputs, strong_names = _strong(plan, f"{path}.plan", k)
    powder, sensitiser, powder_inputs = _powder(plan, f"{path}.plan", k)
    barred, barred_inputs, barred_names = _not_for_class(plan, f"{path}.plan", k)
    source = plan.bath.heat_source
    rooms = [
        row.label if row else UNKNOWN for row in (_room(session.room.kind, k), _room(station.plan.plan.space.kind, k))
    ]
    return Fact(
        type="station",
        subject=path,
        values={
            "learners": learners,
            "learners_limit": group_limit(session, "learners_per_station", k),
            "adults": adults,
            "people": learners + adults,
            "gear_sets": _tagged(station.gear_sets, f"{path}.gear_sets"),
            "minors": yes_no(session.minors),
            "heated": UNKNOWN if source == UNKNOWN else yes_no(source != "none"),
            "temperature": plan.bath.temperature.interval.tagged(f"{path}.plan.bath.temperature"),
            "warmest": group_limit_warm(session, k),
            "dye_powder": powder,
            "lung_sensitiser": sensitiser,
            "strong_chemical": strong,
            "not_for_class": barred,
            "powder": station.powder,
            "strong": station.strong,
            "hot": station.hot,
            "jars_labelled": yes_no(station.jars_labelled),
            "other_room": UNKNOWN
            if session.room.kind == UNKNOWN
            else yes_no(UNKNOWN not in rooms and rooms[0] != rooms[1]),
        },
        texts={
            "name": station.name,
            "dyes": ", ".join(dict.fromkeys(dye.name for dye in plan.dyes)),
            "chemicals": " and ".join(strong_names) or "the strong chemical",
            "not_for_class_names": " and ".join(barred_names),
            "room": rooms[0],
            "plan_room": rooms[1],
            "sets_needed": f"{learners.high + adults.high:.0f}",
        },
        inputs={
            "minors": frozenset({"learners.ages"}),
            "heated": frozenset({f"{path}.plan.bath.heat_source"}),
            "dye_powder": powder_inputs,
            "lung_sensitiser": powder_inputs,
            "strong_chemical": strong_inputs,
            "not_for_class": barred_inputs,
            **{name: frozenset({f"{path}.{name}"}) for name in ("powder", "strong", "hot", "jars_labelled")},
            "other_room": frozenset({"room.kind"}),
        },
    )


def _room(kind: str, k: Knowledge) -> Space | None:
    return None if kind == UNKNOWN else k.spaces[kind]


def group_limit_warm(session: Session, k: Knowledge) -> Interval:
    """The warmest liquor learners of this age work at; for adults there is no line of its own."""
    child, teenager = k.class_limits["warmest_for_child"].low, k.class_limits["warmest_for_teenager"].low
    match session.children, session.minors:
        case True, _:
            return Interval.point(child)
        case False, True:
            return Interval.point(teenager)
        case False, False:
            return Interval.point(_NO_LINE)
    return Interval(child, _NO_LINE, frozenset({"learners.ages"}))


_NO_LINE = 1000.0  # degC: hotter than any bath


def _powder(plan: Plan, path: str, k: Knowledge) -> tuple[str, str, frozenset[str]]:
    """Whether a dye of the plan is dry, whether its dust can bring on asthma, and what keeps that open."""
    dry = [UNKNOWN if dye.form == UNKNOWN else yes_no(dye.form in POWDERS) for dye in plan.dyes]
    lungs = []
    for dye, answer in zip(plan.dyes, dry, strict=True):
        trait = one_of({yes_no("lung sensitiser" in k.substances[s].traits) for s in dye_substances(dye.dye_class, k)})
        lungs.append("no" if "no" in (answer, trait) else UNKNOWN if UNKNOWN in (answer, trait) else "yes")
    inputs = frozenset(
        f"{path}.dyes.{number}.{key}"
        for number, dye in enumerate(plan.dyes)
        for key, value in (("form", dye.form), ("class", dye.dye_class))
        if value == UNKNOWN
    )
    return _either(dry), _either(lungs), inputs


def _either(answers: list[str]) -> str:
    return "yes" if "yes" in answers else UNKNOWN if UNKNOWN in answers else "no"


def _strong(plan: Plan, path: str, k: Knowledge) -> tuple[str, frozenset[str], list[str]]:
    """Whether something corrosive is dosed at the strength it comes in, what keeps that open, and its names."""
    answers, inputs, names = [], set(), []
    for number, assist in enumerate(plan.assists or ()):
        where = f"{path}.assists.{number}"
        if assist.substance == UNKNOWN:
            answers.append(UNKNOWN)
            inputs.add(f"{where}.substance")
            continue
        strength = assist.strength.interval if assist.strength.stated else None
        words, _ = trait_words((assist.substance,), strength, k, f"{where}.strength")
        answers.append(words["corrosive"])
        if words["corrosive"] == UNKNOWN:
            inputs.add(f"{where}.strength")
        if words["corrosive"] != "no":
            names.append(k.substances[assist.substance].label)
    if plan.assists is None:
        answers.append(UNKNOWN)
        inputs.add(f"{path}.assists")
    return _either(answers), frozenset(inputs), names


def _not_for_class(plan: Plan, path: str, k: Knowledge) -> tuple[str, frozenset[str], list[str]]:
    """Whether a dye or help is not for a class by its row, what keeps that open, and the names."""
    answers, inputs, names = [], set(), []
    used = [(f"{path}.dyes.{n}.class", dye_substances(dye.dye_class, k)) for n, dye in enumerate(plan.dyes)]
    for number, assist in enumerate(plan.assists or ()):
        known = (assist.substance,) if assist.substance != UNKNOWN else k.substances.ids
        used.append((f"{path}.assists.{number}.substance", known))
    if plan.assists is None:
        used.append((f"{path}.assists", k.substances.ids))
    for where, may_be in used:
        answer = one_of({yes_no(k.substances[substance].not_for_class) for substance in may_be})
        answers.append(answer)
        if answer == UNKNOWN:
            inputs.add(where)
        elif answer == "yes":
            names += [k.substances[substance].label for substance in may_be]
    return _either(answers), frozenset(inputs), list(dict.fromkeys(names))
