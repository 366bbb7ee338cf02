"""The check of a whole class: each station's bath by all rules, then learners, supervisors and room."""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.checking import Checker, failing_closed
from advisor.fact import Fact
from advisor.facts.session import session_facts
from advisor.findings import EXIT_STATUS, VERDICTS, Finding, Question, Reader, Report, Verdict, verdict
from advisor.knowledge import Knowledge, knowledge
from advisor.plan import Plan
from advisor.session import Session, Station, plan_for


@dataclass(frozen=True)
class StationReport:
    """One station: its plan as checked, the report of it, and the facts behind the report.

    `about_people` are those findings of the report that tell what somebody needs: not for a page that is handed out.
    """

    station: Station
    plan: Plan
    report: Report
    facts: tuple[Fact, ...]
    about_people: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class SessionReport:
    """The answer to a whole session. Findings and questions are those of the class; each station has its own."""

    session: Session
    verdict: Verdict
    findings: tuple[Finding, ...]
    questions: tuple[Question, ...]
    stations: tuple[StationReport, ...]

    @property
    def ready(self) -> bool:
        """Whether the class may be held, cautions allowed."""
        return self.exit_status == 0

    @property
    def exit_status(self) -> int:
        """0 ready, 1 change something first, 3 cannot tell."""
        return EXIT_STATUS[self.verdict]


def check_session(session: Session, checker: Checker) -> SessionReport:
    """Check a session: the worst verdict of the class itself and of its stations holds.

    Raises CheckFailure when anything is not as it must be.
    """
    k = knowledge()
    stations = tuple(_station(session, station, checker, k) for station in session.stations)
    with failing_closed():
        facts, firings = checker.fire(session_facts(session, tuple(s.plan for s in stations), k))
        reader = Reader(checker.rulebook, k, facts)
        findings = reader.findings(firings)
        questions = tuple(_asked(question, session, k) for question in reader.questions(firings))
    verdicts = (verdict(findings, questions), *(station.report.verdict for station in stations))
    return SessionReport(session, min(verdicts, key=VERDICTS.index), findings, questions, stations)


def _station(session: Session, station: Station, checker: Checker, k: Knowledge) -> StationReport:
    plan = plan_for(session, station)
    report, facts, firings = checker.check_with_firings(plan)
    telling = [firing for firing in firings if any(_tells_of_somebody(facts[index]) for index in firing.facts)]
    about_people = Reader(checker.rulebook, k, facts).findings(telling)
    return StationReport(station, plan, report, facts, about_people)


def _tells_of_somebody(fact: Fact) -> bool:
    return fact.type == "person" and fact.values["kind"] not in _SEEN_BY_ALL


_SEEN_BY_ALL = ("child", "teenager", "pet")  # kinds that are no secret of anybody


def _asked(question: Question, session: Session, k: Knowledge) -> Question:
    """The question in the words of the session, or of the plan where it is about a station's plan."""
    parts = question.field.split(".")
    if parts[0] != "stations":
        return question
    name = session.stations[int(parts[1])].name
    ask = k.question(".".join(parts[3:])) if parts[2] == "plan" else question.ask
    return replace(question, ask=f"{name}: {ask}")
