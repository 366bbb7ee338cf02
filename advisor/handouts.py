"""What the handout of a class says, as data: nothing here knows how a page looks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from advisor.checking import Checker
from advisor.fact import Fact
from advisor.fact_types import vocabularies
from advisor.facts.session import group_limit_warm
from advisor.findings import SourceNote
from advisor.interval import Interval
from advisor.knowledge import Knowledge, knowledge
from advisor.plan import POWDERS
from advisor.plan_values import UNKNOWN
from advisor.reminders import ANYWHERE
from advisor.rows import Duty, Figure, Hazard, Place, Substance
from advisor.session import DUST, Session
from advisor.session_check import SessionReport, StationReport, check_session

STEPS = ("weigh", "dissolve", "dye", "rinse", "clean up")
Who = Literal["adult", "with adult", "learner"]


@dataclass(frozen=True)
class GearNeed:
    """What is worn at one step of one station, and the exposures that nothing worn stops (with what would)."""

    worn: tuple[str, ...]
    missing: tuple[tuple[str, str], ...]
    open: tuple[str, ...]  # exposures that may or may not be there


@dataclass(frozen=True)
class Chemical:
    """A dye or chemical of the class with its GHS statements at the strength it comes in."""

    name: str
    what: str  # what it is, when the name does not say
    known: bool
    signal_word: str  # of the GHS; "" when the label must say
    hazards: tuple[Hazard, ...]
    pictograms: tuple[str, ...]
    first_aid: str
    storage: str
    stations: tuple[str, ...]


@dataclass(frozen=True)
class JarLabel:
    """A label to cut out for one jar or bottle."""

    station: str
    name: str
    what: str
    amount: str
    strength: str
    chemical: Chemical


@dataclass(frozen=True)
class Task:
    """A piece of the work, and who does it in this class."""

    id: str
    who: Who
    stations: tuple[str, ...]


@dataclass(frozen=True)
class Handout:
    """Everything the handout of a class says."""

    report: SessionReport
    place: Place
    place_known: bool
    tasks: tuple[Task, ...]
    gear: tuple[tuple[GearNeed, ...], ...]  # a row a station, a column a step
    chemicals: tuple[Chemical, ...]
    labels: tuple[JarLabel, ...]
    needs: tuple[tuple[str, str], ...]  # what somebody needs, and what to do
    limits: dict[str, Figure]
    sources: tuple[SourceNote, ...]
    rulebook: str

    @property
    def session(self) -> Session:
        """The session as read."""
        return self.report.session

    @property
    def verdict(self) -> str:
        """The verdict of the whole class."""
        return self.report.verdict

    @property
    def exit_status(self) -> int:
        """0 ready, 1 change something first, 3 cannot tell."""
        return self.report.exit_status

    def html(self, *, large_print: bool = False) -> str:
        """One self-contained page."""
        from advisor.render.handout import handout_page
        from advisor.render.html import as_html

        return as_html(handout_page(self), large_print=large_print)

    def markdown(self) -> str:
        """The same as Markdown."""
        from advisor.render.handout import handout_page
        from advisor.render.markdown import as_markdown

        return as_markdown(handout_page(self))


def make_handout(session: Session, checker: Checker) -> Handout:
    """Check a session and put its handout together. Raises CheckFailure."""
    k = knowledge()
    report = check_session(session, checker)
    chemicals, labels = _chemicals(report, k)
    place = k.places[session.place] if session.place in k.places else k.places[ANYWHERE]
    book = report.stations[0].report
    return Handout(
        report=report,
        place=place,
        place_known=place.id != ANYWHERE,
        tasks=tuple(_tasks(report, k)),
        gear=tuple(tuple(_gear(station, step, k) for step in STEPS) for station in report.stations),
        chemicals=chemicals,
        labels=labels,
        needs=tuple(_needs(session, k)),
        limits=k.class_limits,
        sources=_sources(report, place, k),
        rulebook=f"{book.rulebook_version}, {book.rulebook_rules}, {book.rulebook_digest[:19]}",
    )


def _needs(session: Session, k: Knowledge) -> Iterator[tuple[str, str]]:
    for need in session.learners.needs or ():
        row = k.needs[need] if need in k.needs else k.people[need]
        yield row.label, row.note


# --- who does what ------------------------------------------------------------------------------------------


def _tasks(report: SessionReport, k: Knowledge) -> Iterator[Task]:
    """Each duty that some station brings, by who does it: the stricter of the age's duty and the station's word."""
    for duty in k.duties:
        found: dict[Who, list[str]] = {}
        for station in report.stations:
            if _occurs(duty, station, k):
                found.setdefault(_who(duty, report.session, station, k), []).append(station.station.name)
        yield from (Task(duty.id, who, tuple(found[who])) for who in _STRICTEST_FIRST if who in found)


_STRICTEST_FIRST: tuple[Who, ...] = ("adult", "with adult", "learner")


def _who(duty: Duty, session: Session, station: StationReport, k: Knowledge) -> Who:
    """Who does a duty at a station. While the ages are open, learners count as children; no word counts as adult."""
    says: Mapping[str, str] = {
        "powder": station.station.powder,
        "strong": station.station.strong,
        "heat": station.station.hot,
    }
    if says.get(duty.when, "learners") != "learners":
        return "adult"
    warmest = group_limit_warm(session, k)
    if duty.when == "heat" and station.plan.bath.temperature.interval.high > warmest.low:
        return "adult"
    if session.children is not False:
        return duty.child
    return duty.teenager if session.minors is not False else duty.grown


def _occurs(duty: Duty, station: StationReport, k: Knowledge) -> bool:
    plan = station.plan
    match duty.when:
        case "powder":
            return any(dye.form in (*POWDERS, UNKNOWN) for dye in plan.dyes)
        case "solution":
            return any(dye.form not in POWDERS for dye in plan.dyes) or station.station.powder == "adult before class"
        case "strong" | "dusty" | "mild":
            return plan.assists is None or any(duty.when in _kinds(fact, k) for fact in _assists(station))
        case "heat":
            return plan.bath.heat_source != "none"
        case "cold":
            return plan.bath.heat_source in ("none", UNKNOWN)
        case _:
            return True


def _assists(station: StationReport) -> Iterator[Fact]:
    return (fact for fact in station.facts if fact.type == "substance" and fact.values["origin"] == "assist")


def _kinds(fact: Fact, k: Knowledge) -> set[str]:
    """Which duties an acid, alkali, salt or other help brings: strong, else dusty, else mild; all that it may be."""
    word = fact.values["substance"]
    if word == UNKNOWN:
        return {"strong", "dusty", "mild"}
    kinds = {"strong"} if fact.values["corrosive"] != "no" else set()
    if fact.values["corrosive"] != "yes":
        dusts = any(not DUST.isdisjoint(need.exposures) for need in k.substances[str(word)].gear)
        kinds.add("dusty" if dusts else "mild")
    return kinds


# --- gear ---------------------------------------------------------------------------------------------------


def _gear(station: StationReport, step: str, k: Knowledge) -> GearNeed:
    worn: dict[str, None] = {}
    missing: list[tuple[str, str]] = []
    unsure: list[str] = []
    wearing = station.plan.people.wearing
    for fact in _exposures(station.facts, step):
        exposure = str(fact.values["exposure"])
        name = k.exposures[exposure].label
        items = [k.gear[item].label for item in wearing or () if exposure in k.gear[item].protects]
        if items:
            worn.update(dict.fromkeys(items))
        elif fact.values["present"] == "yes":
            missing.append((name, " or ".join(row.label for row in k.gear if exposure in row.protects)))
        else:
            unsure.append(name)
    return GearNeed(tuple(worn), tuple(missing), tuple(unsure))


def _exposures(facts: Iterable[Fact], step: str) -> Iterator[Fact]:
    """The exposures that are there at a step, or may be."""
    assert step in vocabularies()["step"]
    for fact in facts:
        if (
            fact.type == "hazard"
            and fact.values["present"] != "no"
            and fact.values[f"at_{step.replace(' ', '_')}"] == "yes"
        ):
            yield fact


# --- chemicals and their labels -----------------------------------------------------------------------------


def _chemicals(report: SessionReport, k: Knowledge) -> tuple[tuple[Chemical, ...], tuple[JarLabel, ...]]:
    found: dict[tuple[str, str, tuple[Hazard, ...]], tuple[Chemical, list[str]]] = {}
    jars: list[tuple[tuple[str, str, tuple[Hazard, ...]], str, str, str]] = []
    for station in report.stations:
        for fact in station.facts:
            if fact.type != "substance" or fact.values["origin"] not in ("dye", "assist"):
                continue
            chemical = _chemical(station, fact, k)
            key = (chemical.name, chemical.what, chemical.hazards)
            found.setdefault(key, (chemical, []))[1].append(station.station.name)
            if "." in fact.subject:  # help that the plan leaves out stands in no jar yet
                jars.append((key, station.station.name, *_jar(station, fact.subject)))
    made = {
        key: Chemical(**{**chemical.__dict__, "stations": tuple(dict.fromkeys(names))})
        for key, (chemical, names) in found.items()
    }
    labels = [
        JarLabel(station, made[key].name, made[key].what, amount, strength, made[key])
        for key, station, amount, strength in jars
    ]
    return tuple(made.values()), tuple(dict.fromkeys(labels))


def _chemical(station: StationReport, fact: Fact, k: Knowledge) -> Chemical:
    name, word = fact.texts["name"], fact.values["substance"]
    row = k.substances[str(word)] if word != UNKNOWN else None
    strength = fact.values["strength"]
    assert isinstance(strength, Interval)
    hazards = _at_strength(row, strength) if row else ()
    dye = fact.values["origin"] == "dye"
    return Chemical(
        name=name,
        what=row.label if row and dye else "",
        known=row is not None,
        signal_word=row.ghs_signal_word
        if row and len(hazards) == len(row.hazards) and row.ghs_signal_word in ("Danger", "Warning")
        else "",
        hazards=hazards,
        pictograms=pictograms([hazard.code for hazard in hazards], k),
        first_aid=row.first_aid if row else "",
        storage=row.storage if row else "",
        stations=(station.station.name,),
    )


def _at_strength(row: Substance, strength: Interval) -> tuple[Hazard, ...]:
    """The statements that hold, or may hold, at this strength."""
    return tuple(h for h in row.hazards if h.holds_at(strength) is not False)


def pictograms(codes: Iterable[str], k: Knowledge) -> tuple[str, ...]:
    """The GHS pictograms of hazard statements, one symbol giving way to a graver one (GHS 1.4.10.5.3)."""
    plain = {code[:4] for code in codes}
    shown = []
    for row in k.pictograms:
        left = plain & set(row.codes)
        for rule in row.gives_way:
            if plain & set(rule.on):
                left -= set(rule.codes)
        if left:
            shown.append(row.id)
    return tuple(shown)


def _jar(station: StationReport, subject: str) -> tuple[str, str]:
    """Amount and strength of a dye or an assist, as the plan says it."""
    kind, number = subject.split(".")
    part = (station.plan.dyes if kind == "dyes" else station.plan.assists or ())[int(number)]
    amount = part.amount.text if part.amount.stated else ""
    return amount, part.strength.text if part.strength.stated else ""


# --- sources ------------------------------------------------------------------------------------------------


def _sources(report: SessionReport, place: Place, k: Knowledge) -> tuple[SourceNote, ...]:
    """Every document the handout rests on, each once; those of findings first."""
    notes: dict[SourceNote, None] = {}
    for findings in (report.findings, *(station.report.findings for station in report.stations)):
        for finding in findings:
            notes.update(dict.fromkeys(finding.sources))
    ids = dict.fromkeys(
        [
            *(figure.source for figure in k.class_limits.values()),
            *(duty.source for duty in k.duties),
            *(row.source for row in k.pictograms),
            place.source,
            *(source for station in report.stations for source in _chemical_sources(station, k)),
        ]
    )
    notes.update(dict.fromkeys(SourceNote(k.source(i).basis, k.source(i).text) for i in ids))
    return tuple(notes)


def _chemical_sources(station: StationReport, k: Knowledge) -> Iterator[str]:
    for fact in station.facts:
        if (
            fact.type == "substance"
            and fact.values["origin"] in ("dye", "assist")
            and fact.values["substance"] != UNKNOWN
        ):
            row = k.substances[str(fact.values["substance"])]
            yield row.source
            yield from (hazard.source for hazard in row.hazards)
