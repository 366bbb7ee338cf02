"""The handout of a class, as data, as HTML and as Markdown; and the report of a bath in the same look."""

from __future__ import annotations

import itertools
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import html5lib
import jsonschema
import pytest
from markdown_it import MarkdownIt

import advisor
from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.cli import main
from advisor.handouts import Handout, make_handout, pictograms
from advisor.knowledge import knowledge
from advisor.plan import InputError, Plan, load_plan
from advisor.quantities import format_interval
from advisor.render.data import report_data
from advisor.render.html import as_html
from advisor.render.markdown import as_markdown
from advisor.render.pictograms import pictogram
from advisor.render.report import report_page
from advisor.render.schema import session_schema
from advisor.session import load_session, read_session
from advisor.wording import PLACEHOLDER, languages, wording

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
SESSIONS = sorted((EXAMPLES / "sessions").glob("*.toml"))
SAFE = re.compile(r"\b(un)?safe(st|ly|r)?\b", re.IGNORECASE)
HTML = "{http://www.w3.org/1999/xhtml}"
Make = Callable[..., Handout]


@pytest.fixture(scope="module")
def make(checker: Checker) -> Make:
    """The handout of an example session, or of a base session with dotted changes."""

    def made(name: str, **change: Any) -> Handout:
        if name.startswith("sessions/"):
            paths = {path.replace("__", "."): value for path, value in change.items()}
            return make_handout(read_session(changed(base_plan(name), paths)), checker)
        return make_handout(load_session(EXAMPLES / "sessions" / f"{name}.toml"), checker)

    return made


def parsed(text: str) -> Any:
    """The page, read by a parser that takes no error."""
    return html5lib.HTMLParser(strict=True).parse(text)


def words(tree: Any) -> str:
    """The text of a page that a reader sees."""
    return " ".join(" ".join(tree.find(f"{HTML}body").itertext()).split())


# --- the page -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("session", [path.stem for path in SESSIONS])
def test_markup_is_valid_and_asks_for_nothing(session: str, make: Make) -> None:
    text = make(session).html()
    tree = parsed(text)
    assert not list(tree.iter(f"{HTML}script"))
    for element in tree.iter():
        for name, value in element.attrib.items():
            assert not name.startswith("on")
            assert name not in ("src", "srcset", "style", "action")
            if name == "href":
                assert value.startswith("#")
    assert "url(" not in text
    assert "@import" not in text
    assert "http" not in re.sub(r'http-equiv="Content-Security-Policy"', "", text)
    ids = [element.attrib["id"] for element in tree.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids))
    assert {a.attrib["href"][1:] for a in tree.iter(f"{HTML}a")} <= set(ids)


def test_headings_run_in_order_and_landmarks_are_there(make: Make) -> None:
    tree = parsed(make("circle-with-children").html())
    levels = [int(e.tag[-1]) for e in tree.iter() if re.fullmatch(r"\{.*\}h[1-6]", str(e.tag))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    for landmark in ("header", "nav", "main", "footer"):
        assert len(list(tree.iter(f"{HTML}{landmark}"))) == 1
    for table in tree.iter(f"{HTML}table"):
        assert table.find(f"{HTML}caption") is not None
        assert all("scope" in th.attrib for th in table.iter(f"{HTML}th"))


@pytest.mark.parametrize("session", [path.stem for path in SESSIONS])
def test_it_opens_with_who_where_when_and_the_verdicts_and_has_every_part(session: str, make: Make) -> None:
    handout = make(session)
    text = words(parsed(handout.html()))
    say = wording("en")
    order = [
        handout.session.title, handout.session.date, handout.session.venue, say("front.stations"),
        *(say(key) for key in say.all_of("section")),
    ]  # fmt: skip
    at = 0
    text_without_contents = text.replace(" ".join(say(key) for key in say.all_of("section")), "")
    for part in order:
        found = text_without_contents.find(part, at)
        assert found >= 0, part
        at = found
    for key in ("eyes", "skin", "scald", "breathed", "swallowed", "spill", "fire"):
        assert say(f"wrong.{key}") in text
    assert handout.place.emergency in text
    assert handout.place.poison in text
    for pointer in ("safety data sheet", handout.place.rules_in_schools, handout.place.local):
        assert pointer in text
    for station in handout.report.stations:
        assert say("card.quantities", station=station.station.name) in text


@pytest.mark.parametrize("session", [path.stem for path in SESSIONS])
def test_every_number_is_that_of_the_report(session: str, make: Make) -> None:
    """Each value on a station card carries what the JSON holds, and shows it in its digits."""
    handout = make(session)
    tree = parsed(handout.html())
    cards = [e for e in tree.iter(f"{HTML}div") if e.attrib.get("class") == "box station"]
    assert len(cards) == len(handout.report.stations)
    for card, station in zip(cards, handout.report.stations, strict=True):
        measures = json.loads(json.dumps(report_data(station.report)))["measures"]
        shown = list(card.iter(f"{HTML}data"))
        assert len(shown) > 8
        for value in shown:
            key = value.attrib["data-measure"]
            low, high, *unit = value.attrib["value"].split(" ")
            assert (float(low), float(high)) == (measures[key]["low"], measures[key]["high"])
            assert " ".join(unit) == measures[key]["unit"]
            assert "".join(value.itertext()) == format_interval(
                station.report.measures[key].interval, measures[key]["unit"]
            )
        text = " ".join("".join(card.itertext()).split())
        for finding in station.report.findings:
            assert (" ".join(finding.message.split()) in text) is (finding not in station.about_people)
        assert {f"dyes.{n}.mass" for n in range(len(station.plan.dyes))} <= {v.attrib["data-measure"] for v in shown}


def test_numbers_equal_those_of_the_check_of_the_plan_file(make: Make, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", str(EXAMPLES / "class-shirts-blue.toml"), "--format", "json"])
    measures = json.loads(capsys.readouterr().out)["measures"]
    assert report_data(make("school-shirts").report.stations[0].report)["measures"] == measures


# --- a session that is not ready ----------------------------------------------------------------------------


def test_what_is_not_ready_says_so_first_and_everywhere(make: Make) -> None:
    handout = make("circle-with-children")
    text = handout.html()
    tree = parsed(text)
    seen = words(tree)
    assert handout.exit_status == 1
    assert seen.index("NOT READY") < seen.index(handout.session.title)
    assert "@top-center" in text  # repeated on each sheet; test_html_browser looks at the sheets
    assert "position: fixed" in text
    for finding in handout.report.findings:
        if finding.effect != "caution":
            assert finding.title in seen
    for question in handout.report.questions:
        if question.effect != "caution":
            assert question.ask in seen
    assert "Nobody signs" in seen
    assert "Signature" not in seen
    assert wording("en")("verdict.ready_sentence") not in seen
    markdown = handout.markdown()
    assert markdown.count("NOT READY") > len(re.findall(r"^## ", markdown, re.MULTILINE)) - 3


def test_an_unknown_alone_is_not_ready_either(make: Make) -> None:
    handout = make("sessions/evening-class", learners__ages="unknown")
    assert handout.exit_status == 3
    text = words(parsed(handout.html()))
    assert "NOT READY" in text
    assert "How old are the learners" in text


def test_what_is_ready_does_not_say_not_ready(make: Make) -> None:
    text = words(parsed(make("wardrobe-evening").html())).replace(wording("en")("supervisor.not_ready"), "")
    assert "NOT READY" not in text
    assert "signature" in text


# --- hostile and long texts ---------------------------------------------------------------------------------

HOSTILE = "<script>alert(1)</script>\"'&amp;</style></title><img src=x onerror=alert(1)> | `x` *y* [z](javascript:1) \\"


def hostile(make: Make) -> Handout:
    change = {
        "title": HOSTILE, "venue": HOSTILE, "time": HOSTILE, "supervisors__names": [HOSTILE[:190]],
        "stations__0__name": HOSTILE, "stations__0__plan__title": HOSTILE,
        "stations__0__plan__goods__0__name": HOSTILE, "stations__0__plan__dyes__0__name": HOSTILE,
    }  # fmt: skip
    return make("sessions/evening-class", **change, learners__number=30)


def test_every_text_is_escaped_in_html(make: Make) -> None:
    text = hostile(make).html()
    tree = parsed(text)
    assert not list(tree.iter(f"{HTML}script")) + list(tree.iter(f"{HTML}img"))
    assert "<script" not in text
    assert words(tree).count("<script>alert(1)</script>") >= 5


def test_every_text_is_escaped_in_markdown(make: Make) -> None:
    rendered = MarkdownIt("commonmark").enable("table").render(hostile(make).markdown())
    assert "<script" not in rendered
    assert "<img" not in rendered
    assert "<a " not in rendered
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in rendered
    for row in re.findall(r"<tr>(.*?)</tr>", rendered, re.DOTALL):
        assert len(re.findall("<t[dh]", row)) in (2, 3, 4)


def test_the_running_line_cannot_leave_its_style() -> None:
    from advisor.render.html import _css_text

    assert _css_text('a"; } </style>') == '"a\\000022\\00003b \\00007d \\00003c\\00002fstyle\\00003e"'


def test_names_of_ten_thousand_characters_are_refused_and_long_ones_do_no_harm(make: Make) -> None:
    with pytest.raises(advisor.plan.InputError, match="up to 500"):  # type: ignore[attr-defined]
        make("sessions/evening-class", title="x" * 10_000)
    parsed(make("sessions/evening-class", title="x" * 500, stations__0__name="y" * 500).html())


# --- wording ------------------------------------------------------------------------------------------------


def test_the_catalogues_hold_the_same_sentences() -> None:
    assert set(languages()) >= {"en", "de", "es"}
    english = wording("en").sentences
    for language in languages():
        catalogue = wording(language)
        assert catalogue.sentences.keys() == english.keys()
        for key, sentence in catalogue.sentences.items():
            assert sorted(PLACEHOLDER.findall(sentence)) == sorted(PLACEHOLDER.findall(english[key])), key
        if language != "en":
            assert catalogue.reviewed == "not reviewed by a professional"
            same = [
                key
                for key, sentence in catalogue.sentences.items()
                if sentence == english[key] and len(sentence.split()) > 3
            ]
            assert same == []


@pytest.mark.parametrize("language", ["de", "es"])
def test_a_translation_says_that_nobody_reviewed_it_and_marks_what_is_english(language: str, make: Make) -> None:
    handout = make("sessions/evening-class", language=language)
    text = handout.html()
    tree = parsed(text)
    assert tree.attrib["lang"] == language
    assert wording(language)("page.unreviewed") in words(tree)
    assert sum(span.attrib.get("lang") == "en" for span in tree.iter(f"{HTML}span")) > 50
    assert wording(language)("section.wrong") in words(tree)
    assert wording("en")("section.wrong") not in words(tree)
    assert wording(language)("page.unreviewed") in handout.markdown().replace("\\", "")


@pytest.mark.parametrize("language", ["en", "de", "es"])
def test_nothing_is_called_safe(language: str, make: Make) -> None:
    for session in ("sessions/evening-class", "sessions/school-group"):
        for change in ({}, {"learners__ages": "unknown", "room__eyewash": "none"}):
            handout = make(session, language=language, **change)
            for text in (handout.html(), handout.markdown()):
                assert not SAFE.search(text)
    for sentence in wording(language).sentences.values():
        assert not re.search(r"\bsicher(er|e|en)?\b|\bsegur[oa]s?\b", sentence, re.IGNORECASE)


# --- parts --------------------------------------------------------------------------------------------------


def test_gear_by_step_follows_the_plan(make: Make) -> None:
    handout = make("sessions/evening-class")
    weigh, _, dye, *_ = handout.gear[0]
    assert "Splash goggles" in weigh.worn
    assert "Heat-resistant gloves" in dye.worn
    bare = make("sessions/evening-class", stations__0__plan__people__wearing=["apron"])
    missing = {exposure for exposure, _ in bare.gear[0][0].missing}
    assert "Splash in the eyes" in missing
    assert "MISSING against: Splash in the eyes" in words(parsed(bare.html()))


def test_what_is_only_advised_is_not_called_missing_where_the_bath_is_ready(make: Make) -> None:
    acid = {"stations__0__plan__assists__0": {"substance": "acetic acid", "amount": "7 mL", "strength": "60 %"}}
    handout = make("sessions/evening-class", **acid)
    assert handout.report.stations[0].report.exit_status == 0
    assert "gear-missing-face" in {finding.rule for finding in handout.report.stations[0].report.findings}
    told = handout.markdown()
    assert "**Add, against Splash in the face: Face shield.**" in told
    assert "MISSING" not in told


def tasks(handout: Handout) -> dict[str, str]:
    """Who does what where all stations have it done by the same."""
    assert len({task.id for task in handout.tasks}) == len(handout.tasks)
    return {task.id: task.who for task in handout.tasks}


def section(handout: Handout, name: str) -> str:
    """The text of one section of the page."""
    (found,) = [e for e in parsed(handout.html()).iter(f"{HTML}section") if e.attrib["id"] == name]
    return " ".join(" ".join(found.itertext()).split())


def test_children_leave_powder_strong_chemicals_and_heat_to_adults(make: Make) -> None:
    acid = {"stations__0__plan__assists": [{"substance": "formic acid", "amount": "5 mL", "strength": "85 %"}]}
    young = tasks(make("sessions/school-group", learners__ages="8 to 11", **acid))
    assert {
        young[task] for task in ("weigh powder", "strong chemical", "light heat", "goods in and out", "lift and pour")
    } == {"adult"}
    teens = tasks(make("sessions/school-group", **acid))
    assert {teens[task] for task in ("weigh powder", "strong chemical", "light heat")} == {"adult"}
    assert teens["goods in and out"] == "adult"  # the session says so, and the baths are too hot
    unsure = tasks(make("sessions/school-group", learners__ages="unknown", **acid))
    assert unsure == young  # while the ages are open, learners count as children
    grown = tasks(make("sessions/evening-class"))
    assert "strong chemical" not in grown


SOLUTION = {"stations__1__plan__dyes__0__form": "solution", "stations__1__plan__dyes__0__strength": "1 %"}


def test_the_stricter_of_age_station_and_temperature_says_who_works_at_the_bath(make: Make) -> None:
    """Above 60 °C no teenager works (common practice, no source); what the session gives to an adult stays there."""
    cool = {f"stations__{n}__plan__bath__temperature": "60 degC" for n in (0, 1)}
    cool |= {"stations__0__plan__bath__heat_source": "electric hob", "stations__1__plan__bath__heat_source": "urn"}
    warm = {**cool, "stations__0__plan__bath__temperature": "61 degC"}
    learners = {f"stations__{n}__hot": "learners" for n in (0, 1)}

    def who(**change: Any) -> dict[str, tuple[str, ...]]:
        made = make("sessions/school-group", **change)
        return {task.who: task.stations for task in made.tasks if task.id == "goods in and out"}

    assert who(**cool, **learners) == {"with adult": ("wool", "cotton")}
    assert who(**warm, **learners) == {"adult": ("wool",), "with adult": ("cotton",)}
    assert who(**cool) == {"adult": ("wool", "cotton")}
    assert who(**cool, **{**learners, "stations__1__hot": "unknown"}) == {"adult": ("cotton",), "with adult": ("wool",)}
    grown = make("sessions/evening-class", stations__0__hot="adult", stations__1__plan__bath__heat_source="urn")
    assert [(task.who, task.stations) for task in grown.tasks if task.id == "goods in and out"] == [
        ("adult", ("wool",)), ("learner", ("cotton",)),
    ]  # fmt: skip


def test_dry_dye_is_opened_by_whom_the_session_names_and_when(make: Make) -> None:
    before, grown = "an adult weighs and dissolves dry dye before", "one person at a time opens dry dye"
    apart = make("sessions/evening-class")
    assert tasks(apart)["weigh powder"] == "adult"
    assert f"wool, cotton: {before}" in section(apart, "before")  # each station once
    assert "wool, cotton: no jar of dry dye is opened" in section(apart, "during")
    assert grown not in section(apart, "during")
    mixed = make("sessions/evening-class", stations__0__powder="learners", stations__1__powder="adult in class")
    assert [(t.who, t.stations) for t in mixed.tasks if t.id == "weigh powder"] == [
        ("adult", ("cotton",)), ("with adult", ("wool",)),
    ]  # fmt: skip
    assert before not in section(mixed, "before")
    assert f"wool: {grown}" in section(mixed, "during")
    assert "cotton: an adult opens dry dye" in section(mixed, "during")
    for change in (
        {"stations__0__powder": "unknown"},
        {"stations__0__powder": "learners", "learners__ages": "unknown"},
    ):
        unsure = make("sessions/evening-class", **change)
        assert tasks(unsure)["weigh powder"] == "adult"
        assert f"wool, cotton: {before}" in section(unsure, "before")
    dissolved = make("sessions/evening-class", **SOLUTION)
    assert f"wool, cotton: {before}" in section(dissolved, "before")


def test_somebody_is_named_for_every_chemical(make: Make) -> None:
    """Soda ash and vinegar dust by no table; borax does; strong alkali is an adult's whoever learns."""
    school = tasks(make("school-shirts"))
    assert school["measure mild chemical"] == "with adult"
    assert "weigh dusty chemical" not in school
    borax = {"stations__1__plan__assists__2": {"substance": "borax", "amount": "5 g"}}
    assert tasks(make("sessions/school-group", **borax))["weigh dusty chemical"] == "adult"
    assert tasks(make("sessions/evening-class", **borax))["weigh dusty chemical"] == "with adult"
    lye = {"stations__0__plan__assists": [{"substance": "sodium hydroxide", "amount": "5 g"}]}
    lye["stations__1__plan__assists"] = []
    for strong in ("adult", "learners", "unknown"):
        grown = tasks(make("sessions/evening-class", stations__0__strong=strong, **lye))
        assert grown["strong chemical"] == "adult"
        assert "measure mild chemical" not in grown
    unsure = tasks(make("sessions/evening-class", stations__0__plan__assists="unknown"))
    assert {"strong chemical", "weigh dusty chemical", "measure mild chemical"} <= unsure.keys()
    assert "by whom the table “Who does what” names" in section(make("school-shirts"), "supervisor")


def test_a_label_for_every_jar(make: Make) -> None:
    handout = make("school-shirts")
    assert [(label.station, label.name) for label in handout.labels] == [
        (station.station.name, name)
        for station in handout.report.stations
        for name in (station.plan.dyes[0].name, "Salt (sodium chloride)", "Soda ash (sodium carbonate)")
    ]
    text = words(parsed(handout.html()))
    assert text.count("NOT FOR FOOD OR DRINK") == len(handout.labels)


def test_a_statement_holds_only_at_its_strength(make: Make) -> None:
    """Acetic acid: H314 from 25 %, irritant from 10 % (CLP Annex VI, see the substance table)."""

    def codes(strength: str) -> set[str]:
        assist = [{"substance": "acetic acid", "amount": "10 mL", "strength": strength}]
        handout = make("sessions/evening-class", stations__0__plan__assists=assist)
        (found,) = [chemical for chemical in handout.chemicals if "cetic" in chemical.name]
        return {hazard.code for hazard in found.hazards}

    assert "H314" in codes("80 %")
    assert "H314" not in codes("5 %")


@pytest.mark.parametrize(
    ("codes", "marks"),
    # UN GHS, Annex 1 and 1.4.10.5.3 (from memory): the graver symbol stands alone
    [
        (["H319"], ("GHS07",)),
        (["H314", "H319"], ("GHS05",)),
        (["H314", "H335"], ("GHS05", "GHS07")),
        (["H301", "H302"], ("GHS06",)),
        (["H334", "H317", "H319"], ("GHS08",)),
        (["H334", "H302"], ("GHS08", "GHS07")),
        (["H318", "H302", "H410"], ("GHS05", "GHS07", "GHS09")),
        (["H350", "H317"], ("GHS08", "GHS07")),
        (["H290", "H319"], ("GHS05", "GHS07")),
        (["H272"], ("GHS03",)),
        (["H251"], ("GHS02",)),
        (["H360FD", "H361d"], ("GHS08",)),
        (["H412", "H303", "H320"], ()),
    ],
)
def test_pictograms_by_statement(codes: list[str], marks: tuple[str, ...]) -> None:
    assert pictograms(codes, knowledge()) == marks


def test_every_statement_of_the_tables_has_its_pictogram_or_needs_none() -> None:
    # UN GHS, Annex 1, and CLP, Annex II (from memory): no symbol
    without = {"H303", "H320", "H401", "H402", "H412", "H413", "EUH0"}
    drawn = {code for row in knowledge().pictograms for code in row.codes}
    used = {hazard.code[:4] for row in knowledge().substances for hazard in row.hazards}
    assert used - drawn <= without
    for row in knowledge().pictograms:
        html5lib.HTMLParser(strict=True).parseFragment(pictogram(row.id, "x"))


def test_needs_stand_on_the_supervisors_sheet_only(make: Make) -> None:
    handout = make("school-shirts")
    tree = parsed(handout.html())
    (sheet,) = [e for e in tree.iter(f"{HTML}section") if e.attrib["id"] == "supervisor"]
    assert "colour blind" in " ".join(sheet.itertext())
    assert words(tree).count("colour blind") == 1


def test_what_is_found_about_somebody_stands_on_the_supervisors_sheet_only(make: Make) -> None:
    """The sheet is a page of its own, so that it can be taken out; what is found of children is no secret."""
    ammonia = {"substance": "ammonia", "amount": "20 mL", "strength": "10 %"}
    handout = make(
        "sessions/evening-class", learners__needs=["asthma", "pregnant"], stations__0__plan__assists__0=ammonia
    )
    found = [finding for station in handout.report.stations for finding in station.about_people]
    assert {"asthma-sharp-gas", "asthma-after-the-powder", "pregnant-heat"} <= {finding.rule for finding in found}
    sheet, cards = section(handout, "supervisor"), section(handout, "stations")
    for finding in found:
        message = " ".join(finding.message.split())
        assert message in sheet
        assert message not in cards
        assert finding.title not in cards
    assert "vapour-over-limit" in {f.rule for f in handout.report.stations[0].report.findings}
    assert "with asthma" not in cards
    tree = parsed(handout.html())
    own = {e.attrib["id"] for e in tree.iter(f"{HTML}section") if e.attrib.get("class") == "own-page"}
    assert {"supervisor", "sources"} <= own
    young = make("sessions/school-group", learners__ages="8 to 11")
    assert "child-dissolved-before" in {f.rule for f in young.report.stations[1].report.findings}
    assert young.report.stations[1].about_people == ()


def test_help_that_is_not_there_is_not_told_to_be(make: Make) -> None:
    bare = make("sessions/evening-class", room__eyewash="none", room__fire_blanket=False)
    for name in ("before", "supervisor"):
        told = section(bare, name)
        assert not re.search("eyewash stands|the eyewash,|eyewash and|blanket hangs within|blanket is", told)
    assert "so the tap is where an eye is rinsed" in section(bare, "before")
    assert "Cold tap and soap were tried" in section(bare, "supervisor")
    for eyewash in ("bottle", "unknown"):
        there = make("sessions/evening-class", room__eyewash=eyewash)
        assert "An eyewash stands where it is reached within 10 s" in section(there, "before")
        assert "Show everybody the tap, the eyewash," in section(there, "before")
        assert "Cold tap, eyewash and soap were tried" in section(there, "supervisor")
        assert "A fire blanket hangs within reach" in section(there, "before")


def test_what_is_missing_stands_out_whole_in_markdown(make: Make) -> None:
    text = make("sessions/evening-class", stations__0__plan__people__wearing=["apron"]).markdown()
    assert re.search(r"\*\*MISSING against: Splash in the eyes\. Needed: [^*]+\.\*\*", text)
    assert "****" not in text


@pytest.mark.parametrize(("language", "between"), [("de", " bis "), ("es", " a ")])
def test_ranges_are_in_the_page_s_language_and_numbers_to_call_marked_as_english(
    language: str, between: str, make: Make
) -> None:
    handout = make(
        "sessions/evening-class", language=language, stations__0__plan__goods__0__dry_mass="200 g ± 5 g", place="GB"
    )
    tree = parsed(handout.html())
    values = ["".join(value.itertext()) for value in tree.iter(f"{HTML}data")]
    assert f"195{between}205 g" in values
    assert not [value for value in values if " to " in value]
    assert f"(195{between}205 g)" in section(handout, "stations")
    english = {"".join(span.itertext()) for span in tree.iter(f"{HTML}span") if span.attrib.get("lang") == "en"}
    assert handout.place.poison in english
    wrong = next(e for e in tree.iter(f"{HTML}section") if e.attrib["id"] == "wrong")
    for item in wrong.iter(f"{HTML}li"):
        own = (item.text or "") + "".join(child.tail or "" for child in item)
        assert handout.place.poison not in own


def test_sources_name_their_basis(make: Make) -> None:
    handout = make("wardrobe-evening")
    assert {note.basis for note in handout.sources} == {"published", "from memory", "common practice"}
    assert len(handout.sources) == len(set(handout.sources))


def test_a_country_without_an_entry_leaves_room_to_write(make: Make) -> None:
    text = words(parsed(make("sessions/evening-class", place="ZZ").html()))
    assert wording("en")("wrong.no_place") in text


# --- the command and the report page ------------------------------------------------------------------------


def run(*arguments: str) -> int:
    return main(["handout", *arguments])


def test_the_command_writes_once_and_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "h.html"
    session = str(EXAMPLES / "sessions" / "wardrobe-evening.toml")
    assert run(session, "--output", str(out)) == 0
    first = out.read_text(encoding="utf-8")
    assert first.startswith("<!DOCTYPE html>")
    assert run(session, "--output", str(out), "--large-print") == 2
    assert "--force" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == first
    assert run(session, "--output", str(out), "--large-print", "--force") == 0
    assert "18pt" in out.read_text(encoding="utf-8")
    assert list(tmp_path.iterdir()) == [out]
    assert run(session, "--output", str(tmp_path / "h.md")) == 0
    assert (tmp_path / "h.md").read_text(encoding="utf-8").startswith("# Dye evening")


def test_the_command_tells_what_is_not_ready(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(EXAMPLES / "sessions" / "circle-with-children.toml"), "--output", str(tmp_path / "c.html")) == 1
    assert "NOT READY" in capsys.readouterr().err
    assert run(str(EXAMPLES / "act-two-ribbon.toml")) == 2
    assert "unknown key" in capsys.readouterr().err
    assert run(str(EXAMPLES / "sessions" / "wardrobe-evening.toml"), "--output", str(tmp_path / "c.pdf")) == 2
    assert "print it to a PDF" in capsys.readouterr().err
    assert not (tmp_path / "c.pdf").exists()


def test_the_schema_takes_the_examples_and_nothing_odd(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "session"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema == session_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    for path in SESSIONS:
        jsonschema.validate(tomllib.loads(path.read_text(encoding="utf-8")), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"stations": [{"plan": "a.toml", "pan": 1}]}, schema)


STATION = {"plan": "a.toml"}


@pytest.mark.parametrize("part", ["learners", "supervisors", "room", "papers", "gear"])
def test_reader_and_schema_of_a_session_take_an_unknown_part(part: str, base: Callable[..., Plan]) -> None:
    read_session({part: "unknown", "stations": [{"plan": base("acid-on-nylon")}]})
    jsonschema.validate({part: "unknown", "stations": [STATION]}, session_schema())


@pytest.mark.parametrize(
    ("change", "fine"),
    [
        ({"date": "2027-03-14"}, True),
        ({"date": "20270314"}, True),
        ({"date": "unknown"}, True),
        ({"date": "14 March"}, False),
        ({"learners": {"needs": "unknown"}}, True),
        ({"learners": {"needs": []}}, True),
        ({"learners": {"needs": ["asthma"]}}, True),
        ({"learners": {"needs": ["astma"]}}, False),
        ({"learners": {"needs": "asthma"}}, False),
        ({"stations": []}, False),
        ({"stations": 20}, True),
        ({"stations": 21}, False),
    ],
    ids=str,
)
def test_reader_and_schema_of_a_session_agree(change: dict[str, Any], fine: bool, base: Callable[..., Plan]) -> None:
    said = {"stations": 1, **change}

    def data(station: dict[str, Any]) -> dict[str, Any]:
        return {**said, "stations": [station] * said["stations"] if isinstance(said["stations"], int) else []}

    for checks, refusal, station in (
        (read_session, InputError, {"plan": base("acid-on-nylon")}),
        (lambda made: jsonschema.validate(made, session_schema()), jsonschema.ValidationError, STATION),
    ):
        if fine:
            checks(data(station))
        else:
            with pytest.raises(refusal):
                checks(data(station))


def test_the_public_function_can_be_called_twice() -> None:
    path = EXAMPLES / "sessions" / "school-shirts.toml"
    assert advisor.handout(path).verdict == advisor.handout(load_session(path)).verdict == "ready with cautions"


@pytest.mark.parametrize(
    "path", [*sorted(EXAMPLES.glob("*.toml")), EXAMPLES / "shelf" / "act-three-braid.toml"], ids=lambda path: path.stem
)
def test_the_report_page_says_all_that_the_report_says(path: Path, checker: Checker) -> None:
    plan = load_plan(path)
    report = checker.check(plan, remedies=True)
    page = report_page(report, plan)
    text = words(parsed(as_html(page)))
    rendered = re.sub(r"<[^>]+>", " ", MarkdownIt("commonmark").enable("table").render(as_markdown(page)))
    for shown in (
        text,
        " ".join(
            rendered.replace("&quot;", '"').replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">").split()
        ),
    ):
        assert ("NOT READY" in shown) == (report.exit_status != 0)
        for finding in report.findings:
            for told in (finding.title, finding.message, finding.reason, *finding.do, *finding.because):
                assert " ".join(told.split()) in shown
            for step in finding.remedy.steps if finding.remedy else ():
                assert "{}: {} -> {}".format(*step) in shown
        for question in report.questions:
            assert question.ask in shown
        assert ("All of it together" in shown) == bool(report.way_out and report.way_out.steps)
        for step in report.way_out.steps if report.way_out else ():
            assert "{}: {} -> {}".format(*step) in shown
        for stuck in report.way_out.left if report.way_out else ():
            assert f"{stuck.title}: {stuck.why}" in shown
        assert ("From the shelf" in shown) == bool(report.from_shelf)
        for taken in report.from_shelf:
            assert taken.value in shown
            assert f"{taken.entry!r}: " in shown
        assert report.rulebook_digest[:19] in shown
    assert not SAFE.search(as_html(page))


def test_check_writes_html_and_markdown(tmp_path: Path) -> None:
    plan = str(EXAMPLES / "act-two-ribbon.toml")
    for form, begins in (("html", "<!DOCTYPE html>"), ("markdown", "# Act two ribbon")):
        out = tmp_path / form
        assert main(["check", plan, "--format", form, "--output", str(out)]) == 0
        assert out.read_text(encoding="utf-8").startswith(begins)
