"""A handout as a page: which sentences stand where."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from advisor.findings import Finding, Question
from advisor.handouts import STEPS, Chemical, GearNeed, Handout, JarLabel
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.plan import Goods
from advisor.plan_values import UNKNOWN
from advisor.quantities import Quantity, format_interval
from advisor.render.blocks import (
    Blanks,
    Block,
    Box,
    Boxes,
    Cell,
    Grid,
    Heading,
    Items,
    Line,
    Page,
    Paragraph,
    Pictures,
    Section,
    Words,
    bullets,
    cell,
    line,
    strong,
)
from advisor.render.parts import Speaker, two_columns, verdict_box
from advisor.session import Count
from advisor.session_check import StationReport
from advisor.wording import wording

BASES = ("published", "from memory", "common practice")
_COLUMNS = 3  # stations side by side in a table: more would be too narrow for large print and for a telephone


def handout_page(handout: Handout) -> Page:
    """The whole handout."""
    return _Writer(handout).page()


class _Writer:
    def __init__(self, handout: Handout) -> None:
        self.handout, self.session, self.report = handout, handout.session, handout.report
        self.speaker = Speaker(wording(handout.session.language))
        self.say, self.english = self.speaker.say, self.speaker.english

    def page(self) -> Page:
        say, title = self.say, self.session.title
        ready = self.report.ready
        sections = [
            self._section("before", bullets(self._before(), "check")),
            self._section("during", bullets(self._during())),
            self._section("after", bullets(self._after(), "check")),
            self._section("tasks", self._tasks()),
            self._section("gear", *self._gear()),
            self._section("stations", *(self._card(station) for station in self.report.stations), own_page=True),
            self._section("hazards", *self._hazards()),
            self._section("wrong", *self._wrong(), own_page=True),
            self._section("labels", *self._labels(), own_page=True),
            self._section("supervisor", *self._supervisor(), own_page=True),
            self._section("sources", *self._sources(), own_page=True),
        ]
        return Page(
            title=say("page.title", title=title),
            language=say.language,
            heading=title,
            intro=tuple(self._front(ready)),
            sections=tuple(sections),
            footer=(
                line(say("page.no_law")),
                line(say("page.made", rulebook=self.handout.rulebook)),
                *((line(say("page.unreviewed")),) if say("page.unreviewed") else ()),
            ),
            running="" if ready else say("not_ready.running"),
            skip=say("page.skip"),
            contents=say("page.contents"),
        )

    def _section(self, name: str, *blocks: Block, own_page: bool = False) -> Section:
        return Section(name, self.say(f"section.{name}"), blocks, own_page)

    # --- first page

    def _front(self, ready: bool) -> Iterator[Block]:
        say = self.say
        if not ready:
            verdict = say("verdict.class_is", verdict=self.speaker.verdict(self.report.verdict))
            yield Box(
                "stop",
                line(strong(say("not_ready.title"))),
                (
                    Paragraph(line(say("not_ready.call")), "call"),
                    Paragraph(line(verdict), "lead"),
                    Paragraph(line(say("not_ready.lead"))),
                ),
                grade=self.report.verdict,
                level=2,
            )
        yield Paragraph(line(say("page.heading")), "lead")
        if say("page.unreviewed"):
            yield Paragraph(line(say("page.unreviewed"), " ", say("page.english_parts")), "small")
        yield self._facts()
        yield self._stations()
        if ready:
            verdict = say("verdict.class_is", verdict=self.speaker.verdict(self.report.verdict))
            yield verdict_box(verdict, say("verdict.ready_sentence"), self.report.verdict)
            if self.report.findings:
                yield Heading(say("front.cautions"), 2)
                yield from (self.speaker.finding(finding, level=3) for finding in self.report.findings)
            if self.report.questions:
                yield Heading(say("report.questions"), 2)
                yield bullets(self.speaker.questions(self.report.questions))
        else:
            yield from self._open(say("not_ready.must_change"), self._changes())
            yield from self._open(say("not_ready.must_answer"), self._asks())

    def _open(self, title: str, items: list[Line]) -> Iterator[Block]:
        if items:
            yield Heading(title, 2)
            yield bullets(items, "number")

    def _changes(self) -> list[Line]:
        groups: list[tuple[str, Iterable[Finding]]] = [(self.say("not_ready.the_class"), self.report.findings)]
        groups += [(station.station.name, station.report.findings) for station in self.report.stations]
        return [
            line(
                strong(f"{name}: "),
                self.english(f"{finding.signal}: {finding.title}. ", strong=True),
                self.english(finding.message),
            )
            for name, findings in groups
            for finding in findings
            if finding.effect != "caution"
        ]

    def _asks(self) -> list[Line]:
        groups: list[tuple[str, Iterable[Question]]] = [(self.say("not_ready.the_class"), self.report.questions)]
        groups += [(station.station.name, station.report.questions) for station in self.report.stations]
        return [
            line(strong(f"{name}: "), *asked)
            for name, questions in groups
            for asked in self.speaker.questions(q for q in questions if q.effect != "caution")
        ]

    def _facts(self) -> Grid:
        say, session = self.say, self.session
        learners = say(
            "front.learners_are",
            number=self._count(session.learners.number),
            ages=self._stated(session.learners.ages.text),
        )
        supervisors = ", ".join((self._count(session.supervisors.number), *session.supervisors.names))
        kind = session.room.kind
        room = self.english(knowledge().spaces[kind].label) if kind != UNKNOWN else Words(say("page.unknown"))
        country = (
            self.english(self.handout.place.label) if self.handout.place_known else Words(self._stated(session.place))
        )
        rows: list[tuple[str | Words, Cell]] = [
            (say("front.day"), cell(self._stated(session.date))),
            (say("front.hours"), cell(self._stated(session.time))),
            (say("front.venue"), cell(self._stated(session.venue))),
            (say("front.room"), cell(line(room))),
            (say("front.country"), cell(line(country))),
            (say("front.learners"), cell(learners)),
            (say("front.supervisors"), cell(supervisors)),
        ]
        return two_columns(say("front.facts"), (say("front.item"), say("front.answer")), rows)

    def _stations(self) -> Grid:
        say = self.say
        head = tuple(line(say(f"front.{key}")) for key in ("station", "bath", "people", "verdict"))
        rows = tuple(
            (
                cell(station.station.name),
                cell(station.plan.title),
                cell(self._people(station)),
                cell(line(strong(self.speaker.verdict(station.report.verdict)))),
            )
            for station in self.report.stations
        )
        return Grid(say("front.stations"), head, rows)

    def _people(self, station: StationReport) -> str:
        learners, adults = self._count(station.station.learners), self._count(station.station.adults)
        return self.say("front.people_are", learners=learners, adults=adults)

    def _stated(self, text: str) -> str:
        return self.say("page.unknown") if text == UNKNOWN else text

    def _count(self, count: Count) -> str:
        if not count.stated:
            return self.say("page.unknown")
        return self._whole(count.interval)

    def _whole(self, interval: Interval) -> str:
        if interval.exact:
            return f"{interval.low:.0f}"
        return self.say("page.from_to", low=f"{interval.low:.0f}", high=f"{interval.high:.0f}")

    def _limit(self, name: str) -> str:
        figure = self.handout.limits[name]
        return format_interval(figure.interval, figure.unit)

    # --- before, during, after

    def _where(self, task: str) -> str:
        """The stations where a task occurs, or nothing."""
        return ", ".join(dict.fromkeys(n for found in self.handout.tasks if found.id == task for n in found.stations))

    def _powder(self) -> dict[str, list[str]]:
        """The stations by when dry dye is opened: before the class unless the session says in class, to the grown."""
        grown = self.session.minors is False
        names: dict[str, list[str]] = {"before": [], "adult in class": [], "learners": []}
        dry = {name for task in self.handout.tasks if task.id == "weigh powder" for name in task.stations}
        for station in self.session.stations:
            if station.name in dry or station.powder == "adult before class":
                in_class = grown and station.powder in names
                names[station.powder if in_class else "before"].append(station.name)
        return {when: list(dict.fromkeys(stations)) for when, stations in names.items()}

    def _before(self) -> Iterator[Line]:
        say, session = self.say, self.session
        names = ", ".join(dict.fromkeys(chemical.what or chemical.name for chemical in self.handout.chemicals))
        yield self.speaker.mixed("before.sheets", names=self.english(names))
        yield line(say("before.house"))
        yield line(say("before.asked"))
        if session.minors is not False:
            yield line(say("before.consent"))
        if powder := self._powder()["before"]:
            yield line(say("before.powder", stations=", ".join(powder)))
        yield line(say("before.gear", sets=self._gear_sets(), spares=self._count(session.gear.spares)))
        yield line(say("before.labels"))
        eyewash = session.room.eyewash != "none"
        yield line(say("before.water" if eyewash else "before.water_tap", reach=self._limit("eyewash_reach")))
        if self._where("light heat") and session.room.fire_blanket is not False:
            yield line(say("before.fire"))
        yield line(say("before.food"))
        air = session.room.ventilation
        if air != UNKNOWN:
            yield self.speaker.mixed("before.air", ventilation=self.english(knowledge().ventilation[air].label))
        yield line(say("before.show" if eyewash else "before.show_tap"))

    def _gear_sets(self) -> str:
        """One full set for each person at the stations."""
        stations = self.session.stations
        if not all(s.learners.stated and s.adults.stated for s in stations):
            return self.say("page.unknown")
        return self._whole(sum((s.learners.interval + s.adults.interval for s in stations), Interval.point(0)))

    def _during(self) -> Iterator[Line]:
        say, session = self.say, self.session
        yield line(say("during.worn"))
        powder = self._powder()
        for when, key in (("before", "powder"), ("adult in class", "powder_adult"), ("learners", "powder_grown")):
            if powder[when]:
                yield line(say(f"during.{key}", stations=", ".join(powder[when])))
        if heated := self._where("light heat"):
            yield line(say("during.heat", stations=heated))
            if session.minors is not False:
                warmest = "warmest_for_teenager" if session.children is False else "warmest_for_child"
                yield line(say("during.warm", warmest=self._limit(warmest)))
        if self._where("strong chemical"):
            yield line(say("during.strong"))
        yield line(say("during.crowd", most=self._most_at_station()))
        yield from (line(say(f"during.{key}")) for key in ("mouth", "hair", "breath", "stop"))

    def _most_at_station(self) -> str:
        group = "child" if self.session.children is not False else "teenager" if self.session.minors else "adult"
        return f"{self.handout.limits[f'learners_per_station_{group}'].low:.0f}"

    def _after(self) -> Iterator[Line]:
        say = self.say
        if self._where("light heat"):
            yield line(say("after.off"))
        yield line(say("after.rinse"))
        for station in self.report.stations:
            drain = station.plan.aftercare.drain
            word = self.english(knowledge().drains[drain].label) if drain != UNKNOWN else Words(say("page.unknown"))
            yield self.speaker.mixed("after.drain", station=Words(station.station.name), drain=word)
        yield from (line(say(f"after.{key}")) for key in ("jars", "wipe", "goggles", "hands", "home", "watch", "write"))

    def _tasks(self) -> Grid:
        say = self.say
        head = tuple(line(say(f"task.{key}")) for key in ("task", "who", "where"))
        rows = tuple(
            (
                cell(say(f"task.{task.id.replace(' ', '_')}")),
                cell(line(strong(say(f"task.{task.who.replace(' ', '_')}")))),
                cell(", ".join(task.stations)),
            )
            for task in self.handout.tasks
        )
        return Grid(say("task.caption", ages=self._stated(self.session.learners.ages.text)), head, rows)

    # --- gear

    def _gear(self) -> Iterator[Block]:
        say = self.say
        yield Paragraph(line(say("gear.lead")))
        stations = list(zip(self.report.stations, self.handout.gear, strict=True))
        for start in range(0, len(stations), _COLUMNS):
            group = stations[start : start + _COLUMNS]
            names = [station.station.name for station, _ in group]
            rows = tuple(
                (
                    cell(say(f"step.{step.replace(' ', '_')}")),
                    *(self._gear_cell(gear[number], at) for at, gear in group),
                )
                for number, step in enumerate(STEPS)
            )
            head = (line(say("step.step")), *(line(name) for name in names))
            yield Grid(say("gear.caption", stations=", ".join(names)), head, rows)

    def _gear_cell(self, need: GearNeed, station: StationReport) -> Cell:
        # where the bath is ready all the same, the rules only advise it: a caution of the station says so
        key = "gear.advised" if station.report.exit_status == 0 else "gear.missing"
        lines = [line(self.english(item)) for item in need.worn]
        for exposure, items in need.missing:
            told = self.speaker.mixed(key, exposure=self.english(exposure), items=self.english(items))
            lines.append(tuple(Words(w.text, w.language, strong=True) for w in told))
        lines += [self.speaker.mixed("gear.open", exposure=self.english(exposure)) for exposure in need.open]
        return Cell(tuple(lines) or (line(self.say("gear.nothing")),))

    # --- station cards

    def _card(self, station: StationReport) -> Box:
        say, name = self.say, station.station.name
        blocks: list[Block] = [
            Paragraph(line(say("card.plan", title=station.plan.title))),
            two_columns(
                say("card.quantities", station=name),
                (say("card.what"), say("card.how_much")),
                self._quantities(station),
            ),
            self.speaker.measures(say("card.worked_out", station=name), station.report.measures, station.plan),
        ]
        shown = [finding for finding in station.report.findings if finding not in station.about_people]
        for title, findings in (
            ("card.changes", [f for f in shown if f.effect != "caution"]),
            ("card.findings", [f for f in shown if f.effect == "caution"]),
        ):
            if findings:
                blocks.append(Heading(say(title), 4))
                blocks += [self.speaker.finding(finding, level=5) for finding in findings]
        if station.report.questions:
            blocks.append(Heading(say("card.questions"), 4))
            blocks.append(bullets(self.speaker.questions(station.report.questions)))
        verdict = self.speaker.verdict(station.report.verdict)
        return Box("station", line(name, ": ", verdict), tuple(blocks), grade=station.report.verdict)

    def _quantities(self, station: StationReport) -> Iterator[tuple[str | Words, Cell]]:
        say, plan, measures = self.say, station.plan, station.report.measures
        for goods in plan.goods:
            yield (
                say("card.goods", name=goods.name),
                cell(line(self._amount(goods.dry_mass, "g")), line(self.english(_fibres(goods)))),
            )
        if len(plan.goods) > 1:
            yield say("card.all_goods"), cell(line(self.speaker.figure(measures["goods.dry_mass"])))
        for number, dye in enumerate(plan.dyes):
            mass = self.speaker.figure(measures[f"dyes.{number}.mass"])
            amount = dye.amount.text if dye.amount.stated else say("page.unknown")
            if dye.strength.stated:
                amount = say("card.strength", amount=amount, strength=dye.strength.text)
            told = (
                line(mass) if amount == mass.text else self.speaker.mixed("card.holds", amount=Words(amount), mass=mass)
            )
            yield say("card.dye", name=dye.name), cell(told, line(self.english(dye.dye_class)))
        if plan.assists is None:
            yield say("card.assists"), cell(say("page.unknown"))
        for assist in plan.assists or ():
            label = (
                knowledge().substances[assist.substance].label if assist.substance != UNKNOWN else say("page.unknown")
            )
            amount = assist.amount.text if assist.amount.stated else say("page.unknown")
            if assist.strength.stated:
                amount = say("card.strength", amount=amount, strength=assist.strength.text)
            yield self.english(label), cell(amount)
        yield say("card.water"), cell(line(self._amount(plan.bath.water, "L")))
        yield say("card.temperature"), cell(line(self._amount(plan.bath.temperature, "degC")))
        yield say("card.hold"), cell(line(self._amount(plan.bath.hold, "min")))
        source = plan.bath.heat_source
        yield (
            say("card.heat"),
            cell(
                line(self.english(knowledge().heat_sources[source].label) if source != UNKNOWN else say("page.unknown"))
            ),
        )
        material = plan.vessel.material
        pot = self.english(knowledge().materials[material].label) if material != UNKNOWN else Words(say("page.unknown"))
        yield say("card.pot"), cell(line(pot, ", ", self._amount(plan.vessel.capacity, "L")))
        drain = plan.aftercare.drain
        yield (
            say("card.drain"),
            cell(line(self.english(knowledge().drains[drain].label) if drain != UNKNOWN else say("page.unknown"))),
        )
        yield say("card.people"), cell(self._people(station))

    def _amount(self, quantity: Quantity, unit: str) -> str:
        """As the plan says it, and in the unit of the report where that is another."""
        if not quantity.stated:
            return self.say("page.unknown")
        worked = self.speaker.interval(quantity.interval, unit)
        said = quantity.text.strip()
        return said if said == worked else f"{said} ({worked})"

    # --- hazards, first aid, labels

    def _hazards(self) -> Iterator[Block]:
        say = self.say
        yield Paragraph(line(say("hazard.lead")))
        head = tuple(line(say(f"hazard.{key}")) for key in ("name", "signs", "statements"))
        yield Grid(
            say("hazard.caption"), head, tuple(self._hazard(chemical) for chemical in self.handout.chemicals), "signs"
        )
        told: dict[str, None] = {}
        for station in self.report.stations:
            told.update(dict.fromkeys(station.report.cautions))
        if told:
            yield Heading(say("hazard.usual"), 3)
            yield bullets(line(self.english(text)) for text in told)

    def _hazard(self, chemical: Chemical) -> tuple[Cell, ...]:
        say = self.say
        names = [line(self.english(chemical.name))]
        if chemical.what:
            names.append(line("(", self.english(chemical.what), ")"))
        names.append(line(say("hazard.at", stations=", ".join(chemical.stations))))
        marks = self.marks(chemical.pictograms)
        statements = [
            line(strong(hazard.code), " ", self.english(f"{hazard.statement} [{hazard.basis}]"))
            for hazard in chemical.hazards
        ]
        if chemical.signal_word:
            statements.insert(0, self.speaker.mixed("hazard.signal", word=self.english(chemical.signal_word)))
        if not statements:
            statements = [line(say("hazard.none" if chemical.known else "hazard.unknown"))]
        return Cell(tuple(names)), Cell(() if marks else (line("–"),), marks), Cell(tuple(statements))

    def _wrong(self) -> Iterator[Block]:
        say, place = self.say, self.handout.place
        values = {
            "eye": Words(self._limit("eye_rinse")),
            "burn": Words(self._limit("burn_cooling")),
            "emergency": self.english(place.emergency),
            "poison": self.english(place.poison),
        }
        numbers: list[Block] = [
            Paragraph(
                self.speaker.mixed("wrong.numbers_of", place=self.english(place.label), basis=self.english(place.basis))
            )
        ]
        if not self.handout.place_known:
            numbers.append(Paragraph(line(strong(say("wrong.no_place")))))
        title = self.speaker.mixed(
            "wrong.numbers", emergency=self.english(place.emergency), poison=self.english(place.poison)
        )
        yield Box("card", title, (*numbers, Paragraph(line(say("wrong.first")))))
        cases = ("eyes", "skin", "scald", "breathed", "swallowed", "spill", "fire")
        yield Boxes(tuple(self._case(name, values) for name in cases))
        lines = [
            line(strong(chemical.what or chemical.name), ": ", self.english(chemical.first_aid))
            for chemical in self.handout.chemicals
            if chemical.first_aid
        ]
        if lines:
            yield Heading(say("wrong.by_chemical"), 3)
            yield bullets(dict.fromkeys(lines))

    def _case(self, name: str, values: Mapping[str, Words]) -> Box:
        keys = [key for key in self.say.all_of("wrong") if key.startswith(f"wrong.{name}_")]
        return Box(
            "card",
            line(self.say(f"wrong.{name}")),
            (bullets((self.speaker.mixed(key, **values) for key in keys), "number"),),
        )

    def _labels(self) -> Iterator[Block]:
        yield Paragraph(line(self.say("label.lead")))
        yield Boxes(tuple(self._label(label) for label in self.handout.labels))

    def _label(self, label: JarLabel) -> Box:
        say, chemical = self.say, label.chemical
        lines: list[Line] = [line(self.english(label.what))] if label.what else []
        lines.append(line(say("label.station", station=label.station)))
        if label.strength:
            lines.append(line(say("label.strength", strength=label.strength)))
        if label.amount:
            lines.append(line(say("label.amount", amount=label.amount)))
        if chemical.signal_word:
            lines.append(self.speaker.mixed("hazard.signal", word=self.english(chemical.signal_word, strong=True)))
        lines += [line(strong(hazard.code), " ", self.english(hazard.statement)) for hazard in chemical.hazards]
        if not chemical.hazards:
            lines.append(line(say("label.read")))
        blocks: list[Block] = [Pictures(self.marks(chemical.pictograms))] if chemical.pictograms else []
        blocks.append(Items(tuple(lines)))
        blocks.append(Paragraph(line(say("label.made"))))
        blocks.append(Paragraph(line(strong(say("label.not_food")))))
        blocks.append(
            Paragraph(self.speaker.mixed("label.poison", poison=self.english(self.handout.place.poison)), "small")
        )
        return Box("label", line(self.english(label.name)), tuple(blocks))

    def marks(self, pictograms: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """Pictograms with the words that stand for them."""
        return tuple((mark, self.say(f"hazard.{mark}")) for mark in pictograms)

    # --- the supervisor's sheet, sources

    def _supervisor(self) -> Iterator[Block]:
        say, session = self.say, self.session
        yield Paragraph(line(strong(say("supervisor.lead"))))
        if self.handout.needs:
            rows = [(self.english(label), cell(line(self.english(note)))) for label, note in self.handout.needs]
            yield two_columns(say("supervisor.needs"), (say("supervisor.need"), say("supervisor.do")), rows)
        else:
            yield Paragraph(
                line(say("supervisor.needs_unknown" if session.learners.needs is None else "supervisor.needs_none"))
            )
        for station in self.report.stations:
            if station.about_people:
                yield Heading(say("supervisor.findings", station=station.station.name), 3)
                yield from (self.speaker.finding(finding, level=4) for finding in station.about_people)
        yield Heading(say("supervisor.checklist"), 3)
        yield bullets(self._checklist(), "check")
        if not self.report.ready:
            yield Paragraph(line(strong(say("supervisor.not_ready"))), "lead")
            return
        yield Heading(say("supervisor.sign"), 3)
        yield Paragraph(line(say("supervisor.sign_1")))
        names = [line(say("supervisor.sign_known", name=name)) for name in session.supervisors.names]
        yield Blanks(tuple(names) or (line(say("supervisor.sign_name")), line(say("supervisor.sign_name"))))

    def _checklist(self) -> Iterator[Line]:
        say, session = self.say, self.session
        numbers = {
            "learners": self._count(session.learners.number),
            "supervisors": self._count(session.supervisors.number),
            "stations": self._where("light heat"),
            "tasks": say("section.tasks"),
        }
        left_out = {"check.water_tap" if session.room.eyewash != "none" else "check.water"}
        left_out.add("check.fire_exit" if session.room.fire_blanket is not False else "check.fire")
        if session.minors is False:
            left_out.add("check.consent")
        if not numbers["stations"]:
            left_out.add("check.heat")
        yield from (line(say(key, **numbers)) for key in say.all_of("check") if key not in left_out)

    def _sources(self) -> Iterator[Block]:
        say, place = self.say, self.handout.place
        yield Heading(say("sources.local"), 3)
        told = [line(say("sources.sheets_first"))]
        for key, rules in (
            ("work", place.rules_at_work),
            ("schools", place.rules_in_schools),
            ("waste", place.rules_on_waste_water),
        ):
            told.append(self.speaker.mixed(f"sources.{key}", rules=self.english(f"{rules} [{place.basis}]")))
        told.append(line(self.english(place.local)))
        yield bullets(told)
        rows = [
            (
                cell(line(self.english(limit.title))),
                cell(line(self.english(format_interval(limit.figure.interval, limit.figure.unit)))),
                cell(line(self.english(limit.figure.basis))),
            )
            for limit in knowledge().class_limit_rows
        ]
        yield Grid(
            say("sources.figures"),
            tuple(line(say(f"sources.{key}")) for key in ("limit", "value", "basis")),
            tuple(rows),
            "limits",
        )
        for basis in BASES:
            notes = [note for note in self.handout.sources if note.basis == basis]
            if notes:
                yield Heading(say(f"sources.{basis.replace(' ', '_')}"), 3)
                yield bullets(line(self.english(note.text)) for note in notes)


def _fibres(goods: Goods) -> str:
    """The label as written, or the shares that were given."""
    if goods.fibres.text:
        return goods.fibres.text
    return ", ".join(
        f"{format_interval(component.share, '%')} {component.fibre}"
        for part in goods.fibres.parts
        for component in part.components
    )
