"""`advisor plan`: the conversation over a pipe, at a pseudo-terminal, and what it leaves in the file."""

from __future__ import annotations

import codecs
import io
import json
import os
import re
import select
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from advisor.asking import asked_at
from advisor.checking import Checker
from advisor.cli import main
from advisor.dialogue import Dialogue, Talk
from advisor.knowledge import knowledge
from advisor.plan import Plan, load_plan, read_plan
from advisor.planfile import PlanFile, PlanFileError

pty = pytest.importorskip("pty")  # not on every system

ROOT = Path(__file__).resolve().parents[1]
# answers as a person at the theatre's wash house would type them, by field
ANSWERS = {
    "title": "Act two ribbon, slate blue",
    "goods.*.name": "satin ribbon",
    "goods.*.fibres": "100% nylon",
    "goods.*.dry_mass": "100 g",
    "goods.*.colour": "undyed",
    "goods.*.finishes": "none",
    "goods.*.next_to_skin": "no",
    "goods.*.trims": "none",
    "dyes.*.name": "slate blue",
    "dyes.*.class": "acid levelling",
    "dyes.*.form": "powder",
    "dyes.*.amount": "1 g",
    "dyes.*.maximum": "1.5 %",
    "dyes.*.safety_data_sheet": "read",
    "dyes.*.contains": "[]",
    "dyes.*.old_stock": "no",
    "assists": "white vinegar",
    "assists.*.amount": "30 mL",
    "assists.*.strength": "5 %",
    "bath.water": "4 L",
    "bath.temperature": "190 °F",
    "bath.hold": "30 min",
    "bath.rise": "1.5 delta_degC/min",
    "bath.heat_source": "electric hob",
    "bath.attended": "yes",
    "bath.stirring": "y",
    "bath.alkalinity": "60 mg/L",
    "bath.shade": "even",
    "bath.altitude": "50 m",
    "bath.before": "none",
    "bath.heat_source_used_for_food": "no",
    "vessel.material": "stainless steel",
    "vessel.capacity": "8 L",
    "vessel.condition": "sound",
    "vessel.used_for_food": "no",
    "vessel.lid": "yes",
    "vessel.empty_mass": "1800 g",
    "utensils": "tongs",
    "utensils.*.material": "stainless steel",
    "utensils.*.used_for_food": "no",
    "scale.resolution": "0.01 g",
    "people.wearing": "nitrile gloves, half-mask respirator P100, splash goggles, apron, long sleeves, closed shoes, "
    "heat-resistant gloves",
    "people.present": "nobody",
    "space.kind": "laundry room",
    "space.volume": "20 m^3",
    "space.ventilation": "window open",
    "space.food_out": "no",
    "space.chemicals": "none",
    "aftercare.rinse_water": "4 L",
    "aftercare.drain": "sewer",
    "aftercare.leftover": "none",
    "storage.stock_labelled": "yes",
    "storage.out_of_reach": "yes",
    "place": "GB",
}
ESSENTIALS = [
    "Ribbon",
    "satin ribbon",
    "100% nylon",
    "100 g",
    "",
    "slate blue",
    "acid levelling",
    "1 g",
    "1.5 %",
    "",
    "GB",
]


def one_line(text: str) -> str:
    return " ".join(text.split())


def beginning(field: str) -> str:
    return one_line(re.sub(r" Write \[\].*", "", knowledge().question(field.replace("*", "0"))))


def answer_to(told: str) -> str:
    """The answer to the last question put."""
    told = one_line(told)
    fits = [(told.rfind(beginning(field)), len(beginning(field)), field) for field in ANSWERS]
    place, _, field = max(fits)
    others = max(told.rfind("in the same bath?"), told.rfind("worth knowing. Ask?"))
    return "" if others > place else ANSWERS[field]


def piped(folder: Path, *lines: str, arguments: tuple[str, ...] = ("plan.toml",)) -> subprocess.CompletedProcess[str]:
    """The command with answers from a pipe."""
    return subprocess.run(
        [sys.executable, "-m", "advisor", "plan", *arguments],
        input="".join(f"{line}\n" for line in lines),
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


class Seat:
    """A person at a pseudo-terminal."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:  # the child
            os.chdir(folder)
            signal.signal(signal.SIGINT, signal.SIG_DFL)  # ignored where tests run in the background
            os.environ.update(PYTHONPATH=str(ROOT), COLUMNS="100", TERM="dumb")
            os.execv(sys.executable, [sys.executable, "-m", "advisor", "plan", *arguments])
        self.seen = ""

    def read_prompt(self, seconds: float = 60) -> str:
        """What is told up to the next prompt, or to the end."""
        end, told = time.monotonic() + seconds, ""
        decoder = codecs.getincrementaldecoder("utf-8")()  # a read may end within a character
        while not re.search(r"(^|\n)> (\x1b\[\?2004h)?$", told):
            if not select.select([self.terminal], [], [], max(0, end - time.monotonic()))[0]:
                raise AssertionError(f"nothing more was told after: {self.seen}{told}")
            try:
                piece = os.read(self.terminal, 65536)
            except OSError:  # Linux says so when the child has gone
                piece = b""
            if not piece:
                break
            told += decoder.decode(piece).replace("\r\n", "\n").replace("\r", "")
        self.seen += told
        return told

    def type(self, text: str) -> str:
        """Type a line; what is told after it."""
        os.write(self.terminal, f"{text}\n".encode())
        return self.read_prompt()

    def interrupt(self) -> None:
        """Press Ctrl-C, as a person does: not in the very moment in which the prompt appears."""
        time.sleep(0.3)  # Python's readline loses a signal that comes between its prompt and its waiting
        os.write(self.terminal, b"\x03")

    def status(self) -> int:
        """Read to the end; the exit status."""
        while self.read_prompt():
            pass
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])

    def leave(self) -> None:
        """End the child, should it still be there."""
        os.close(self.terminal)
        try:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        except (ProcessLookupError, ChildProcessError):
            pass


@pytest.fixture
def seat(tmp_path: Path) -> Iterator[Callable[..., Seat]]:
    seats: list[Seat] = []

    def sit(*arguments: str) -> Seat:
        seats.append(Seat(tmp_path, *arguments))
        return seats[-1]

    yield sit
    for taken in seats:
        taken.leave()


# ---- at a terminal


def test_end_to_end_with_a_wrong_answer_and_a_go_back(seat: Callable[..., Seat], tmp_path: Path) -> None:
    me = seat("ribbon.toml")
    told = me.read_prompt()
    assert "a new plan; every answer is saved" in told
    for _ in range(3):
        told = me.type(answer_to(told))
    assert "How much do the goods weigh" in told
    assert "Why: it settles:" in told
    told = me.type("100 bananas")
    assert "Not taken: " in told
    assert "bananas" in told
    told = me.type("10000 g")
    told = me.type("back")  # from "other goods?" to the mass
    assert "How much do the goods weigh" in told
    assert "dry_mass" not in (tmp_path / "ribbon.toml").read_text(encoding="utf-8")
    told = me.type("?")
    assert "a number with its unit: g, kg" in one_line(told)
    told = me.type("100 g")
    asked = 0
    while told.endswith(("> ", "> \x1b[?2004h")):
        told = me.type(answer_to(told))
        asked += 1
        assert asked < 60
    assert me.status() == 0
    assert "Saved in ribbon.toml." in me.seen
    assert re.search(r"^ READY ", me.seen, re.MULTILINE)
    assert me.seen.count("Not taken") == 1
    plan = load_plan(tmp_path / "ribbon.toml")
    assert plan.goods[0].dry_mass.text == "100 g"
    assert plan.assists is not None
    assert plan.assists[0].amount.text == "30 mL"


def test_ctrl_c_leaves_a_valid_file_and_says_where(seat: Callable[..., Seat], tmp_path: Path) -> None:
    me = seat("ribbon.toml")
    told = me.read_prompt()
    for _ in range(4):
        told = me.type(answer_to(told))
    me.interrupt()
    assert me.status() == 2
    assert "stopped; saved in ribbon.toml; `advisor plan ribbon.toml` goes on" in me.seen
    plan = load_plan(tmp_path / "ribbon.toml")
    assert (plan.title, plan.goods[0].dry_mass.text) == (ANSWERS["title"], "100 g")
    assert [path.name for path in tmp_path.iterdir()] == ["ribbon.toml"]


def test_ctrl_c_at_once(seat: Callable[..., Seat], tmp_path: Path) -> None:
    me = seat()  # no name yet
    me.read_prompt()
    me.interrupt()
    assert me.status() == 2
    assert "nothing was written" in me.seen
    assert list(tmp_path.iterdir()) == []


def test_ctrl_d_ends_with_the_check(seat: Callable[..., Seat], tmp_path: Path) -> None:
    me = seat("ribbon.toml")
    me.type(answer_to(me.read_prompt()))
    os.write(me.terminal, b"\x04")
    assert me.status() == 3
    assert "CANNOT TELL" in me.seen
    load_plan(tmp_path / "ribbon.toml")


def test_words_are_completed(seat: Callable[..., Seat]) -> None:
    pytest.importorskip("readline")
    me = seat("ribbon.toml")
    me.read_prompt()
    for answer in ESSENTIALS[:6]:
        told = me.type(answer)
    assert "Which class of dye" in told
    assert "acid levelling" in me.type("acid lev\t")
    assert 'class = "acid levelling"' in (Path(f"/proc/{me.pid}/cwd") / "ribbon.toml").read_text(encoding="utf-8")


# ---- over a pipe


def test_a_pipe_that_ends_leaves_a_valid_file_and_the_status_of_the_check(tmp_path: Path) -> None:
    done = piped(tmp_path, *ESSENTIALS)
    assert done.returncode == 3
    assert "CANNOT TELL" in done.stdout
    assert "CANNOT TELL" not in done.stderr  # the conversation and the report do not mix
    data = tomllib.loads((tmp_path / "plan.toml").read_text(encoding="utf-8"))
    assert data == {
        "title": "Ribbon",
        "place": "GB",
        "goods": [{"name": "satin ribbon", "fibres": "100% nylon", "dry_mass": "100 g"}],
        "dyes": [{"name": "slate blue", "class": "acid levelling", "amount": "1 g", "maximum": "1.5 %"}],
    }


def test_an_empty_pipe(tmp_path: Path) -> None:
    assert piped(tmp_path).returncode == 3
    assert load_plan(tmp_path / "plan.toml") == read_plan({"goods": [{}], "dyes": [{}]})
    assert piped(tmp_path, arguments=()).returncode == 3
    assert (tmp_path / "plan-2.toml").exists()  # a name that is free
    assert piped(tmp_path, "Été à la mer!", arguments=()).returncode == 3
    assert load_plan(tmp_path / "ete-a-la-mer.toml").title == "Été à la mer!"


def test_the_status_is_that_of_the_check(tmp_path: Path) -> None:
    answers = [*ESSENTIALS]
    answers[7] = "9 g"
    done = piped(tmp_path, *answers)
    assert done.returncode == 1
    assert "! NOTICE: More dye than the maker's maximum" in one_line(done.stderr)  # said at once, and again at the end
    assert "CHANGE FIRST" in done.stdout


def test_each_wrong_answer_gets_the_plans_own_message_and_another_go(tmp_path: Path) -> None:
    done = piped(
        tmp_path, "Ribbon", "ribbon", "100% nylom", "100% nylon", "100", "100 g", "maybe", "no", "slate", "acid levling"
    )
    told = one_line(done.stderr)
    assert "did you mean nylon?" in told
    assert re.search(r"Not taken: '100'", told)
    assert "Not taken: Accepted: yes, no, back, stop." in told
    assert "did you mean 'acid leveling'?" in told
    assert tomllib.loads((tmp_path / "plan.toml").read_text(encoding="utf-8"))["dyes"] == [{"name": "slate"}]


def test_back_at_the_first_question_and_over_added_entries(tmp_path: Path) -> None:
    done = piped(tmp_path, "back", "Ribbon", "r", "100% nylon", "100 g", "yes", "lace", "back", "back", "no", "slate")
    assert "This is the first question." in done.stderr
    data = tomllib.loads((tmp_path / "plan.toml").read_text(encoding="utf-8"))
    assert len(data["goods"]) == 1
    assert data["dyes"] == [{"name": "slate"}]


def test_several_goods_and_dyes(tmp_path: Path) -> None:
    piped(
        tmp_path, "Two", "r", "100% nylon", "100 g", "yes", "lace", "100% silk", "20 g", "no",
        "slate", "acid levelling", "1 g", "1.5 %", "y", "moss", "acid milling", "1 g", "2 %", "n",
    )  # fmt: skip
    plan = load_plan(tmp_path / "plan.toml")
    assert [goods.name for goods in plan.goods] == ["r", "lace"]
    assert [dye.dye_class for dye in plan.dyes] == ["acid levelling", "acid milling"]


@pytest.mark.parametrize("words", ["don't know", "Don’t know", "dont know", "unknown"])
def test_do_not_know_is_written_down_and_not_asked_again(tmp_path: Path, words: str) -> None:
    done = piped(tmp_path, *ESSENTIALS[:2], words, words)
    data = tomllib.loads((tmp_path / "plan.toml").read_text(encoding="utf-8"))
    assert data["goods"][0] == {"name": "satin ribbon", "fibres": "unknown", "dry_mass": "unknown"}
    again = piped(tmp_path)
    assert beginning("goods.0.fibres") in one_line(done.stderr)
    assert beginning("goods.0.fibres") not in one_line(again.stderr)
    assert "slate" not in again.stderr or "What is the dye called?" in again.stderr


def test_a_word_in_quotes_is_no_command(tmp_path: Path) -> None:
    piped(tmp_path, "Ribbon", '"back"')
    assert load_plan(tmp_path / "plan.toml").goods[0].name == "back"


def test_odd_bytes_and_endless_lines_are_answers_like_others(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "advisor", "plan", "plan.toml"],
        input=b"Rib\xff\x1b[2Jbon\x00\n" + b"x" * 1_000_000 + b"\nlace\n",
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 3, done.stderr[-500:]
    assert b"\x1b" not in done.stdout + done.stderr
    plan = load_plan(tmp_path / "plan.toml")
    assert plan.goods[0].name == "lace"


# ---- files


def test_a_half_made_plan_is_gone_on_with(tmp_path: Path) -> None:
    piped(tmp_path, *ESSENTIALS[:4])
    done = piped(tmp_path, *ESSENTIALS[4:])
    assert "goes on from there" in done.stderr
    once = tmp_path / "once"
    once.mkdir()
    piped(once, *ESSENTIALS)
    assert dict(load_plan(tmp_path / "plan.toml")) == dict(load_plan(once / "plan.toml"))
    done = piped(tmp_path, "back")
    assert "in the same bath" not in done.stderr or "This is the first question." in done.stderr


def test_what_stands_in_a_file_stays_there(tmp_path: Path) -> None:
    mine = (
        "# my own words\r\n[[goods]] # the ribbon\r\nfibres = { nylon = 100 }\r\n"
        '[[dyes]]\r\nclass = "acid levelling"  # says the jar\r\n[bath]\r\nwater = "4 L"\r\n'
    )
    path = tmp_path / "plan.toml"
    path.write_bytes(mine.encode())
    piped(tmp_path, "Ribbon", "satin ribbon", "100 g", "slate", "1 g", "1.5 %", "GB", "electric hob")
    text = path.read_bytes().decode()
    for kept in ("# my own words", "# the ribbon", "fibres = { nylon = 100 }", "# says the jar"):
        assert kept in text
    data = tomllib.loads(text)
    assert (data["title"], data["place"], data["goods"][0]["dry_mass"]) == ("Ribbon", "GB", "100 g")
    assert data["bath"]["water"] == "4 L"


@pytest.mark.parametrize("text", ["", "# nothing yet\n", 'title = "x"\n', 'assists = "unknown"\n[[dyes]]\n'])
def test_a_file_that_holds_little_is_a_start(tmp_path: Path, text: str) -> None:
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    answers = ESSENTIALS[1:] if "title" in text else ESSENTIALS
    assert piped(tmp_path, *answers).returncode == 3
    assert load_plan(tmp_path / "plan.toml").goods[0].name == "satin ribbon"


def test_json_is_written_as_json(tmp_path: Path) -> None:
    piped(tmp_path, *ESSENTIALS, arguments=("plan.json",))
    data = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert data["dyes"][0]["maximum"] == "1.5 %"


def test_a_file_that_is_no_plan_is_left_alone(tmp_path: Path) -> None:
    for text in ("not toml at all", '[[goods]]\nfibres = "100% nylom"\n', "goods = []\n", "goods = 3\n", 'pot = "x"\n'):
        path = tmp_path / "plan.toml"
        path.write_text(text, encoding="utf-8")
        done = piped(tmp_path, *ESSENTIALS)
        assert done.returncode == 2, text
        assert done.stderr.splitlines()[-1].startswith("advisor: plan.toml: ")
        assert path.read_text(encoding="utf-8") == text
    assert piped(tmp_path, *ESSENTIALS, arguments=("plan.toml", "--force")).returncode == 3
    assert load_plan(path).title == "Ribbon"


def test_a_file_another_program_changes_meanwhile_is_left_as_it_is(tmp_path: Path) -> None:
    file = PlanFile(tmp_path / "plan.toml")
    file.save({**file.data, "title": "mine"})
    (tmp_path / "plan.toml").write_text('title = "yours"\n', encoding="utf-8")
    with pytest.raises(PlanFileError, match="another program"):
        file.save({**file.data, "title": "mine again"})
    assert (tmp_path / "plan.toml").read_text(encoding="utf-8") == 'title = "yours"\n'


def test_no_file_can_be_written(tmp_path: Path) -> None:
    assert piped(tmp_path, arguments=("nowhere/plan.toml",)).returncode == 2
    assert piped(tmp_path, arguments=(".",)).returncode == 2


def test_a_failed_write_keeps_what_was_saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = PlanFile(tmp_path / "plan.toml")
    file.save({**file.data, "title": "saved"})

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(PlanFileError, match="No space left"):
        file.save({**file.data, "title": "lost"})
    assert load_plan(tmp_path / "plan.toml").title == "saved"
    assert [path.name for path in tmp_path.iterdir()] == ["plan.toml"]


# ---- what is asked


class Listener(Talk):
    """Answers by field, and keeps what was asked."""

    def __init__(self, answer: Callable[[str], str | None]) -> None:
        self.told = io.StringIO()
        super().__init__(io.StringIO(), self.told, interactive=False)
        self._answer = answer

    def read(self, words: object = ()) -> str | None:
        return self._answer(self.told.getvalue())


def held(folder: Path, checker: Checker, answer: Callable[[str], str | None]) -> tuple[Plan, str]:
    """A conversation in this process: the plan, and all that was told."""
    file, talk = PlanFile(folder / "plan.toml"), Listener(answer)
    Dialogue(file, folder, checker, talk, None).run()
    return load_plan(folder / "plan.toml"), talk.told.getvalue()


def test_the_first_question_of_the_report_comes_next(tmp_path: Path, checker: Checker) -> None:
    seen = []

    def answer(told: str) -> str | None:
        plan = load_plan(tmp_path / "plan.toml")
        if plan.place == "GB" and "worth knowing" not in told:
            first = checker.check(plan).questions[0]
            seen.append(first.field)
            last = one_line(told.rpartition("\n\n")[2])
            assert beginning(first.field) in last
            topics = checker.rulebook.topics
            assert topics[first.settles[0]].title in last
        return answer_to(told)

    plan, _ = held(tmp_path, checker, answer)
    assert len(seen) > 15
    assert checker.check(plan).exit_status == 0


def test_who_knows_nothing_is_asked_everything_once(tmp_path: Path, checker: Checker) -> None:
    plan, told = held(tmp_path, checker, lambda told: "yes" if "Ask? (yes" in told.splitlines()[-1] else "don't know")
    blocks = told.split("\n\n")
    asked = [one_line(block.partition("Why:")[0]) for block in blocks if "Why:" in block]
    assert len(asked) == len(set(asked)) > 30
    assert "What the verdict still hangs on is what you do not know." in one_line(told)
    assert checker.check(plan).verdict == "cannot tell"
    assert dict(read_plan({"goods": [{}], "dyes": [{}]})) == dict(plan)


def test_worth_knowing_is_asked_only_on_a_yes(tmp_path: Path, checker: Checker) -> None:
    plan, told = held(tmp_path, checker, answer_to)
    assert "worth knowing. Ask?" in one_line(told)
    assert not plan.scale.resolution.stated
    (tmp_path / "plan.toml").unlink()
    plan, told = held(tmp_path, checker, lambda t: "yes" if "Ask? (yes" in t.splitlines()[-1] else answer_to(t))
    assert plan.scale.resolution.stated
    assert checker.check(plan).verdict == "ready"


def test_every_field_of_a_plan_has_its_own_question_and_help() -> None:
    for part, value in Plan.model_json_schema(by_alias=True)["$defs"].items():
        where = {"Goods": "goods.0", "Dye": "dyes.0", "Assist": "assists.0", "Utensil": "utensils.0"}.get(
            part, part.lower()
        )
        for key in value["properties"]:
            if key == "shelf":
                continue
            asked = asked_at(f"{where}.{key}")
            assert not knowledge().question(asked.path).startswith("Please state"), asked.path
            assert list(asked.help()) or asked.kind == "text", asked.path
    with pytest.raises(KeyError):
        asked_at("goods")
    with pytest.raises(KeyError):
        asked_at("bath.soap")


EXAMPLES = {field.replace("*", "0"): knowledge().example(field) for field in ANSWERS if knowledge().example(field)}


@pytest.mark.parametrize("path", EXAMPLES)
def test_the_example_of_a_question_is_an_answer_to_it(path: str) -> None:
    data: dict[str, Any] = {"goods": [{}], "dyes": [{}], "assists": [{}], "utensils": [{}]}
    part, _, rest = path.partition(".")
    value = asked_at(path).value(EXAMPLES[path])
    if not rest:
        data[part] = value
    elif rest.startswith("0."):
        data[part][0][rest[2:]] = value
    else:
        data[part] = {rest: value}
    assert dict(read_plan(data)) != dict(read_plan({"goods": [{}], "dyes": [{}], "assists": [{}], "utensils": [{}]}))


@pytest.mark.parametrize(
    ("path", "answer", "value"),
    [
        ("goods.0.trims", "polyester thread, nylon zip", ["polyester thread", "nylon zip"]),
        (
            "goods.0.trims",
            "80% nylon, 20% elastane lace; polyester thread",
            ["80% nylon, 20% elastane lace", "polyester thread"],
        ),
        ("people.present", '["child", "pet"]', ["child", "pet"]),
        ("people.present", "None", []),
        ("aftercare.leftover", "none", "none"),
        ("vessel.lid", "Y", True),
        ("vessel.lid", "perhaps", "perhaps"),
        ("assists", "salt, soda ash", [{"substance": "salt"}, {"substance": "soda ash"}]),
        ("utensils", "[]", []),
    ],
)
def test_answers_in_the_form_a_plan_has(path: str, answer: str, value: object) -> None:
    assert asked_at(path).value(answer) == value


# ---- the shelf


def test_names_on_the_shelf_are_answers(tmp_path: Path) -> None:
    text = (ROOT / "examples" / "shelf" / "shelf.toml").read_text(encoding="utf-8")
    (tmp_path / "shelf.toml").write_text(text, encoding="utf-8")
    answers = [*ESSENTIALS[:5], "Slate  Blue", "1 g", "", "GB"]
    done = piped(tmp_path, *answers, arguments=("plan.toml", "--shelf", "shelf.toml"))
    assert "On the shelf: slate blue, curtain plum, backdrop moss." in one_line(done.stderr)
    data = tomllib.loads((tmp_path / "plan.toml").read_text(encoding="utf-8"))
    assert data["shelf"] == "shelf.toml"
    assert data["dyes"] == [{"shelf": "slate blue", "amount": "1 g"}]
    assert load_plan(tmp_path / "plan.toml").dyes[0].maximum.interval.low == 1.5
    assert "From the shelf" in done.stdout


def test_a_shelf_elsewhere_is_used_and_has_to_be_named_again(tmp_path: Path) -> None:
    shelf = str(ROOT / "examples" / "shelf" / "shelf.toml")
    done = piped(tmp_path, *ESSENTIALS[:5], "slate blue", "1 g", arguments=("plan.toml", "--shelf", shelf))
    assert done.returncode == 3
    assert "give --shelf to `advisor check` as well" in one_line(done.stderr)
    assert main(["check", str(tmp_path / "plan.toml"), "--shelf", shelf]) == 3
    assert main(["check", str(tmp_path / "plan.toml")]) == 2
