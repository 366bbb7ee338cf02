"""A class at the dye bath: who comes, who watches, which room, and the stations with their plans.

A session file is TOML or JSON. It is read like a plan: what is left out, or written as "unknown", is unknown
and makes a question; an empty list says none. The plan of a station is the path of a plan file, seen from
the session file, or a table with the plan itself.
"""

from __future__ import annotations

import datetime
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationError, field_validator

from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.plan import InputError, Plan, Section, file_name, first_error, load_plan, read_data, read_plan
from advisor.plan_values import (
    ANY_CASE,
    MOST_ENTRIES,
    UNKNOWN,
    Chosen,
    Country,
    Measured,
    Plain,
    Text,
    YesNo,
    as_typed,
    clean,
    not_endless,
    wrong,
)
from advisor.quantities import Quantity, unknown
from advisor.wording import languages

MOST_PEOPLE = 500
MOST_STATIONS = 20
_STATION_PLAN = "the path of a plan file, or a table with the plan"
OLDEST = 120  # years
DUST = frozenset({"dust to lungs", "sensitiser dust to lungs", "dust on skin"})  # exposures
_ANY_NUMBER, _ANY_AGE = Interval(0, MOST_PEOPLE), Interval(0, OLDEST)
_RANGE = re.compile(r"(\d{1,3})\s*(?:to|-|–|bis|a)\s*(\d{1,3})", re.IGNORECASE)
_OR_MORE = re.compile(r"(\d{1,3})\s*(?:\+|and over|or more|and up|or older)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Count:
    """A number of people or things, as an interval; `stated` is False when nobody said."""

    interval: Interval = _ANY_NUMBER
    text: str = UNKNOWN
    stated: bool = False


@dataclass(frozen=True, slots=True)
class Ages:
    """The ages of the learners in years: of the youngest and of the oldest, each as an interval."""

    youngest: Interval = _ANY_AGE
    oldest: Interval = _ANY_AGE
    text: str = UNKNOWN
    stated: bool = False
    listed: tuple[int, ...] = ()

    def any_between(self, low: float, high: float) -> bool | None:
        """Whether somebody is of an age from low to high; None when that is open.

        A stated span such as "8 to 15" is taken to hold every age in it.
        """
        if not self.stated:
            return None
        if self.listed:
            return any(low <= age <= high for age in self.listed)
        return self.youngest.low <= high and self.oldest.high >= low


def _read_count(value: Any) -> Count:
    if isinstance(value, Count):
        return value
    text = str(value).strip() if isinstance(value, (int, str)) and not isinstance(value, bool) else ""
    if text.casefold() == UNKNOWN:
        return Count()
    if text.isascii() and text.isdigit() and len(text) <= 3:
        low = high = int(text)
    elif found := _RANGE.fullmatch(text):
        low, high = int(found[1]), int(found[2])
    else:
        raise wrong(f"{as_typed(value)} is no number of people or things; accepted: 12, '10 to 14', or 'unknown'")
    if not low <= high <= MOST_PEOPLE:
        raise wrong(f"{as_typed(value)} cannot be; accepted: 0 to {MOST_PEOPLE}, the smaller number first")
    return Count(Interval(low, high), text, stated=True)


def _read_area(value: Any) -> Count:
    """Whole square metres, with or without the unit."""
    return _read_count(re.sub(r"\s*(?:m²|m2|m\^2)$", "", value) if isinstance(value, str) else value)


def _read_ages(value: Any) -> Ages:
    accepted = "accepted: 14, [13, 14, 16], '13 to 16', '18 and over', 'adults', or 'unknown'"
    match value:
        case Ages():
            return value
        case int() if not isinstance(value, bool):
            ages, text = [value], str(value)
        case list() | tuple() if value and all(isinstance(age, int) and not isinstance(age, bool) for age in value):
            not_endless(value)
            ages, text = list(value), ", ".join(str(age) for age in value)
        case str():
            return _ages_of(clean(value.strip()), accepted)
        case _:
            raise wrong(f"{as_typed(value)} are no ages; {accepted}")
    if not all(0 <= age <= OLDEST for age in ages):
        raise wrong(f"{as_typed(value)} are no ages in years; {accepted}")
    return Ages(
        Interval.point(min(ages)), Interval.point(max(ages)), text, stated=True, listed=tuple(sorted(set(ages)))
    )


def _ages_of(text: str, accepted: str) -> Ages:
    if text.casefold() == UNKNOWN:
        return Ages()
    if text.casefold() in ("adult", "adults", "grown-ups"):
        adult = knowledge().class_limits["adult_from"].low
        return Ages(Interval.point(adult), Interval.point(OLDEST), text, stated=True)
    if text.isascii() and text.isdigit() and len(text) <= 3:
        low = high = int(text)
    elif found := _RANGE.fullmatch(text):
        low, high = int(found[1]), int(found[2])
    elif found := _OR_MORE.fullmatch(text):
        low, high = int(found[1]), OLDEST
    else:
        raise wrong(f"{as_typed(text)} are no ages; {accepted}")
    if not low <= high <= OLDEST:
        raise wrong(f"{as_typed(text)} are no ages in years, the lower one first; {accepted}")
    return Ages(Interval.point(low), Interval.point(high), text, stated=True)


def _read_needs(value: Any) -> tuple[str, ...] | None:
    if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
        return None
    if not isinstance(value, (list, tuple)):
        raise wrong(f"expected a list of words, [] for none, or 'unknown'; got {as_typed(value)}")
    not_endless(value)
    k = knowledge()
    words = []
    for word in value:
        row = (k.needs.find(word) or k.people.find(word)) if isinstance(word, str) else None
        if row is None:
            raise wrong(f"{as_typed(word)} is not a known need; accepted: {', '.join((*k.people.ids, *k.needs.ids))}")
        words.append(row.id)
    return tuple(dict.fromkeys(words))


class _NeedWords(Plain):
    """Names the words for needs only when a schema is made, as they stand in the tables."""

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        rows = (*knowledge().people, *knowledge().needs)
        words = dict.fromkeys(word for row in rows for word in (row.id, row.title, *row.synonyms) if word)
        return {
            "anyOf": [{"type": "array", "items": {"enum": list(words)}, "maxItems": MOST_ENTRIES}, {"const": UNKNOWN}],
            "description": ANY_CASE,
        }


def _read_date(value: Any) -> str:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    if isinstance(value, str):
        if value.casefold().strip() == UNKNOWN:
            return UNKNOWN
        try:
            return datetime.date.fromisoformat(value.strip()).isoformat()
        except ValueError:
            pass
    raise wrong(f"{as_typed(value)} is no day; accepted: 2027-03-14 (year, month, day), or 'unknown'")


def _read_names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, (list, tuple)) or not all(isinstance(name, str) and name.strip() for name in value):
        raise wrong(f"expected a list of names or roles; got {as_typed(value)}")
    not_endless(value)
    if any(len(name) > 200 for name in value):
        raise wrong("a name has more than 200 characters; accepted: up to 200")
    return tuple(clean(name.strip()) for name in value)


@dataclass(frozen=True, slots=True)
class StationPlan:
    """The plan of a station and the file it came from ("" for a plan given in place)."""

    plan: Plan
    file: str = ""


def _read_station_plan(value: Any) -> StationPlan:
    if isinstance(value, StationPlan):
        return value
    raise wrong(f"expected {_STATION_PLAN}; got {as_typed(value)}")


Number = Annotated[
    Count, Plain(_read_count, {"type": ["integer", "string"], "description": "12, '10 to 14', or 'unknown'"})
]
Area = Annotated[Count, Plain(_read_area, {"type": ["integer", "string"], "description": "60, '60 m²', or 'unknown'"})]
AgesOf = Annotated[
    Ages,
    Plain(
        _read_ages,
        {"type": ["integer", "string", "array"], "description": "14, [13, 14], '13 to 16', 'adults', or 'unknown'"},
    ),
]
Needs = Annotated[tuple[str, ...] | None, _NeedWords(_read_needs, {})]
_DAY = r"^(\d{4}-?\d\d-?\d\d|\d{4}-?W\d\d(-?\d)?|unknown)$"  # what ISO 8601 calls a date
Day = Annotated[str, Plain(_read_date, {"type": "string", "pattern": _DAY, "description": "2027-03-14, or 'unknown'"})]
Names = Annotated[tuple[str, ...], Plain(_read_names, {"type": "array", "items": {"type": "string", "maxLength": 200}})]
ThePlan = Annotated[
    StationPlan,
    Plain(_read_station_plan, {"type": ["string", "object"], "description": "path of a plan file, or a plan"}),
]


class Learners(Section):
    """Who comes to learn. `consent_asked`: parents or carers agreed, where learners are under age.

    `in_turn`: groups go from station to station, so that some stations stand empty meanwhile; each keeps its adults
    and its gear. Left out, all stations are taken to be at work at once.
    """

    number: Number = Count()
    ages: AgesOf = Ages()
    needs: Needs = None
    allergies_asked: YesNo = None
    consent_asked: YesNo = None
    in_turn: YesNo = None


class Supervisors(Section):
    """The adults who watch."""

    number: Number = Count()
    names: Names = ()
    trained: YesNo = None
    first_aider: YesNo = None


class Room(Section):
    """The room of the class and what hangs on its walls."""

    kind: Annotated[str, Chosen("space")] = UNKNOWN
    volume: Annotated[Quantity, Measured("room volume")] = unknown("room volume")
    ventilation: Annotated[str, Chosen("ventilation")] = UNKNOWN
    floor_area: Area = Count()
    running_water: YesNo = None
    eyewash: Annotated[str, Chosen("eyewash", "plumbed", "bottle", "none")] = UNKNOWN
    first_aid_kit: YesNo = None
    fire_blanket: YesNo = None
    telephone: YesNo = None
    soap: YesNo = None
    food_or_drink: YesNo = None
    exits_clear: YesNo = None


class Papers(Section):
    """What has been read, and what lies at hand on the day."""

    data_sheets: YesNo = None
    school_rules: YesNo = None


class ClassGear(Section):
    """Gear for the whole class."""

    sizes_fit: YesNo = None
    spares: Number = Count()
    goggles_cleaned: YesNo = None


class Station(Section):
    """One bath of the class, with the people at it.

    `powder`: who opens dry dye. `strong`: who handles strong acid or alkali. `hot`: who works at the hot bath.
    """

    name: Text = "station"
    plan: ThePlan
    learners: Number = Count()
    adults: Number = Count()
    powder: Annotated[str, Chosen("answer", "adult before class", "adult in class", "learners")] = UNKNOWN
    strong: Annotated[str, Chosen("answer", "adult", "learners")] = UNKNOWN
    hot: Annotated[str, Chosen("answer", "adult", "learners")] = UNKNOWN
    gear_sets: Number = Count()
    jars_labelled: YesNo = None


class Session(Section):
    """One class at one or more dye baths. `place` is a country code, `venue` the house and room in words."""

    title: Text = "untitled session"
    date: Day = UNKNOWN
    time: Text = UNKNOWN
    place: Country = UNKNOWN
    venue: Text = UNKNOWN
    language: Annotated[str, Chosen("language", *languages())] = "en"
    learners: Learners = Learners()
    supervisors: Supervisors = Supervisors()
    room: Room = Room()
    papers: Papers = Papers()
    gear: ClassGear = ClassGear()
    stations: tuple[Station, ...] = Field(min_length=1)

    @field_validator("language")
    @classmethod
    def _a_language(cls, value: str) -> str:
        return "en" if value == UNKNOWN else value

    @field_validator("learners", "supervisors", "room", "papers", "gear", mode="before")
    @classmethod
    def _unknown_table(cls, value: Any) -> Any:
        return {} if isinstance(value, str) and value.casefold().strip() == UNKNOWN else value

    @property
    def minors(self) -> bool | None:
        """Whether a learner is under age; None when the ages are open."""
        return self.learners.ages.any_between(0, knowledge().class_limits["adult_from"].low - 1)

    @property
    def children(self) -> bool | None:
        """Whether a learner is a child; None when the ages are open."""
        return self.learners.ages.any_between(0, knowledge().class_limits["child_until"].low)

    @property
    def teenagers(self) -> bool | None:
        """Whether a learner is neither a child nor of age; None when the ages are open."""
        limits = knowledge().class_limits
        return self.learners.ages.any_between(limits["child_until"].low + 1, limits["adult_from"].low - 1)


def read_session(data: Any, *, file: str = "session", folder: Path | None = None) -> Session:
    """Check a session given as plain data; plan files are looked up from `folder` (default: where the program runs).

    Raises InputError with the file, the key path, what was wrong and what is accepted; what is wrong inside a
    plan file names that file.
    """
    if isinstance(data, Session):
        return data
    if not isinstance(data, Mapping):
        raise InputError("expected a table of session fields", file=file)
    data = dict(data)
    stations = data.get("stations")
    if isinstance(stations, (list, tuple)):
        if len(stations) > MOST_STATIONS:
            raise InputError(f"{len(stations)} stations; accepted: up to {MOST_STATIONS}", file=file, field="stations")
        data["stations"] = [_with_plan(station, number, file, folder) for number, station in enumerate(stations)]
    try:
        return Session.model_validate(data)
    except ValidationError as error:
        raise _session_error(error, file) from None


def _with_plan(station: Any, number: int, file: str, folder: Path | None) -> Any:
    if not isinstance(station, Mapping) or "plan" not in station:
        return station
    given, path = station["plan"], f"stations.{number}.plan"
    if isinstance(given, str):
        where = (folder or Path()) / given
        try:
            if os.path.exists(where) and not os.path.isfile(where):
                raise InputError("is no file", file=clean(str(where)))  # a pipe would keep us waiting for ever
            plan = StationPlan(load_plan(where), clean(given))
        except InputError as error:
            if error.field or os.path.isfile(where):
                raise
            message = f"{as_typed(given)} {error.detail}; accepted: the path of a plan file, seen from the session file"
            raise InputError(message, file=file, field=path) from None
    elif isinstance(given, (Mapping, Plan)):
        plan = StationPlan(read_plan(given, file=f"{file}: {path}", folder=folder))
    else:
        return station
    return {**station, "plan": plan}


def _session_error(error: ValidationError, file: str) -> InputError:
    first = first_error(error, Session, file)
    detail = first.detail.replace("a plan needs", "a session needs")
    if detail == "is missing" and first.field.endswith(".plan"):
        detail = f"is missing; accepted: {_STATION_PLAN}"
    return InputError(detail, file=file, field=first.field)


def load_session(path: str | Path) -> Session:
    """Read and check a session file (.toml, or .json) and the plan files it names. Raises InputError."""
    return read_session(read_data(path), file=file_name(path), folder=Path(path).parent)


def _kinds_of_learners(session: Session) -> list[str]:
    """The kinds of people that the rules of a bath know among the learners."""
    people = knowledge().people
    kinds = [need for need in session.learners.needs or () if need in people]
    return kinds + ["child"] * bool(session.children) + ["teenager"] * bool(session.teenagers)


def _only_dye_dusts(plan: Plan) -> bool:
    """Whether no powder but the dye gives off dust: who opens the others in class, the session does not say."""
    substances = knowledge().substances
    return plan.assists is not None and not any(
        assist.substance == UNKNOWN
        or any(not DUST.isdisjoint(need.exposures) for need in substances[assist.substance].gear)
        for assist in plan.assists
    )


def plan_for(session: Session, station: Station) -> Plan:
    """The plan of a station with this session's learners, and its room and country where the plan says none.

    Where an adult opens the dye before class, and nothing else in the bath dusts, the learners count as away from
    powder. Nothing that the plan states is taken away, so that its figures stay those of the plan itself.
    """
    plan = station.plan.plan
    update: dict[str, Any] = {}
    if plan.people.present is not None or session.learners.needs is not None:
        learners = _kinds_of_learners(session)
        apart = station.powder == "adult before class" and _only_dye_dusts(plan)
        away = (*(plan.people.away_from_powder or ()), *(learners if apart else ()))
        update["people"] = plan.people.model_copy(
            update={
                "present": tuple(dict.fromkeys((*(plan.people.present or ()), *learners))),
                "away_from_powder": tuple(dict.fromkeys(away)),
            }
        )
    if plan.place == UNKNOWN:
        update["place"] = session.place
    room, space = session.room, plan.space
    silent = {
        name: getattr(room, name)
        for name in ("kind", "ventilation")
        if getattr(space, name) == UNKNOWN and getattr(room, name) != UNKNOWN
    }
    if not space.volume.stated and room.volume.stated and space.kind in (UNKNOWN, room.kind):
        silent["volume"] = room.volume
    if space.food_out is None and room.food_or_drink is not None:
        silent["food_out"] = room.food_or_drink
    if silent:
        update["space"] = space.model_copy(update=silent)
    return plan.model_copy(update=update) if update else plan
