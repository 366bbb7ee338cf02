"""A plan without an editor: asks, at a terminal or over a pipe, what matters next, and saves every answer.

First the essentials of goods and dye; then, after each answer, the plan as far as it goes is checked, and the
questions of that report, most telling first, say what to ask next.
"""

from __future__ import annotations

import copy
import io
import re
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TextIO

from advisor.asking import Asked, asked_at
from advisor.checking import Checker
from advisor.findings import Report
from advisor.knowledge import knowledge
from advisor.plan import InputError, Plan, load_plan, read_plan
from advisor.plan_values import LONGEST_TEXT, UNKNOWN, clean, in_words
from advisor.planfile import PlanFile
from advisor.remedies.changes import value_at
from advisor.shelf import KIND_OF_PART, KINDS, Shelf, named_shelf

STOPPED = 2  # exit status after Ctrl-C
_LONGEST_LINE = 10 * LONGEST_TEXT
_MOST_TOPICS = 3  # named as the reason of a question
_WIDTHS = (40, 100)
_GOODS = ("name", "fibres", "dry_mass")
_DYE = ("name", "class", "amount", "maximum")
_DONT_KNOW = frozenset({"don't know", "dont know", "don’t know", "do not know", "unknown"})
_COMMANDS = "Type an answer, or: ? for the accepted words, don't know, back, stop (saves and checks what there is)."
# questions that are about the dialogue and leave nothing in the file
_MORE = {"goods": "Are there other goods in the same bath?", "dyes": "Is there another dye in the same bath?"}
_WORTH = "worth"


class Finished(Exception):
    """The person has said stop, or there are no more answers to read."""


class Talk:
    """The two sides of the conversation. At a terminal it edits lines and completes words, where that is there."""

    def __init__(self, source: TextIO, told: TextIO, *, interactive: bool) -> None:
        self._source, self._told, self._interactive = source, told, interactive
        low, high = _WIDTHS
        self._width = max(low, min(high, shutil.get_terminal_size().columns))
        self._words: Sequence[str] = ()
        if interactive:
            self._complete_words()

    def say(self, text: str = "", *, indent: int = 0) -> None:
        """Tell something, in lines of the terminal's width."""
        space = " " * indent
        lines = textwrap.wrap(
            clean(text), self._width, initial_indent=space, subsequent_indent=space, break_on_hyphens=False
        )
        self._told.write("\n".join(lines) + "\n")
        self._told.flush()

    def read(self, words: Sequence[str] = ()) -> str | None:
        """One answer; None when there are no more."""
        self._words = words
        if self._interactive:
            try:
                line = input("> ")
            except EOFError:
                self._told.write("\n")
                return None
        else:
            self._told.write("> ")
            self._told.flush()
            line = self._source.readline(_LONGEST_LINE)
            if not line:
                self._told.write("\n")
                return None
            rest = line
            while rest and not rest.endswith("\n"):  # a line without end is not kept
                rest = self._source.readline(_LONGEST_LINE)
            self._told.write(f"{clean(line.rstrip())[:LONGEST_TEXT]}\n")
        return clean(line.strip())

    def _complete_words(self) -> None:
        try:
            import readline
        except ImportError:  # not everywhere
            return

        def complete(text: str, number: int) -> str | None:
            fits = [word for word in self._words if word.startswith(text.lstrip().casefold())]
            return fits[number] if number < len(fits) else None

        readline.set_completer_delims(",")
        readline.set_completer(complete)
        readline.parse_and_bind("tab: complete")


@dataclass(frozen=True)
class State:
    """How far the conversation is: the plan's data, and what was answered or is not to be asked again."""

    data: dict[str, Any]
    closed: frozenset[str] = frozenset()

    def with_value(self, path: str, value: Any) -> State:
        """The state after an answer."""
        return replace(self, data=_set(self.data, path, value), closed=self.closed | {path})

    def without(self, path: str) -> State:
        """The state after a question was left unanswered."""
        return replace(self, closed=self.closed | {path})


def _set(data: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    result = copy.deepcopy(data)
    *steps, last = path.split(".")
    node: Any = result
    for step in steps:
        if step.isdigit():
            node = node[int(step)]
        else:
            if not isinstance(node.get(step), (dict, list)):  # absent, or "unknown"
                node[step] = {}
            node = node[step]
    node[last] = value
    return result


def _is_unknown(value: Any) -> bool:
    return isinstance(value, str) and value.casefold().strip() == UNKNOWN


@dataclass
class Dialogue:
    """One conversation about one plan file."""

    file: PlanFile
    folder: Path
    checker: Checker
    talk: Talk
    shelf: Shelf | None
    past: list[State] = field(default_factory=list)

    def run(self) -> None:
        """Ask until nothing is left that matters, or until there are no more answers."""
        state = self._first_state()
        report = self._report(self._plan(state))
        try:
            while (path := self._next(state, report)) is not None:
                after = self._ask(path, state, report)
                if after is None:
                    state = self.past.pop()
                    told = self._report(self._plan(state))
                else:
                    self.past.append(state)
                    state = after
                    told = self._report(self._plan(state))
                    self._news(report, told)
                report = told
                self.file.save(state.data)
        except Finished:
            self.talk.say("No more answers: this is how far the plan goes.")
        else:
            self.talk.say("Nothing more is to be asked.")

    def _first_state(self) -> State:
        """The state of the file as it is; what it already shows to be done with is not asked again."""
        data, closed = self.file.data, set[str]()
        if any(data["dyes"]):
            closed.add("more.goods")
        if set(data) - {"title", "place", "shelf", "goods", "dyes"}:
            closed |= {"more.goods", "more.dyes"}
        return State(data, frozenset(closed))

    def _plan(self, state: State) -> Plan:
        return read_plan(state.data, file=self.file.name, folder=self.folder, shelf=self.shelf)

    def _report(self, plan: Plan) -> Report:
        return self.checker.check(plan)

    # ---------------------------------------------------------------------------------------- what to ask

    def _next(self, state: State, report: Report) -> str | None:
        """The path, or the question about the dialogue, that comes next; None when nothing does."""
        said = self._plan(state).said or {}
        for path in self._essentials(state):
            if path not in state.closed and value_at(said, path) is None:
                return path
        deciding = [q.field for q in report.questions if q.effect != "caution" and self._open(q.field, state)]
        if deciding:
            return deciding[0]
        useful = self._worth_knowing(state, report)
        if useful and _WORTH not in state.closed:
            return _WORTH
        return useful[0] if useful and f"{_WORTH}.yes" in state.closed else None

    def _worth_knowing(self, state: State, report: Report) -> list[str]:
        """The fields whose answers decide no verdict: those the report asks about, and trims.

        Trims that are left out make a finding, and so no question.
        """
        fields = [question.field for question in report.questions if question.effect == "caution"]
        said = self._plan(state).said or {}
        trims = [f"goods.{number}.trims" for number in range(len(state.data["goods"]))]
        fields += [path for path in trims if path not in fields and value_at(said, path) is None]
        return [path for path in fields if self._open(path, state)]

    @staticmethod
    def _essentials(state: State) -> Iterator[str]:
        yield "title"
        for part, keys in (("goods", _GOODS), ("dyes", _DYE)):
            for number in range(len(state.data[part])):
                yield from (f"{part}.{number}.{key}" for key in keys)
            yield f"more.{part}"
        yield "place"

    def _open(self, path: str, state: State) -> bool:
        if not path or path in state.closed or _is_unknown(value_at(state.data, path)):
            return False
        try:
            asked_at(path)
        except KeyError:
            return False
        return True

    # ---------------------------------------------------------------------------------------- one question

    def _ask(self, path: str, state: State, report: Report) -> State | None:
        """The state after one question; None for going back. Raises Finished."""
        if path == _WORTH:
            return self._ask_worth(state, report)
        if path.startswith("more."):
            return self._ask_more(path, state)
        asked = asked_at(path)
        current = value_at(self._plan(state).said, path)
        self._put(asked, state, report, current)
        while True:
            answer = self._answer(asked.words(), lambda: self._help(asked))
            if answer is None:
                return None
            if not answer:
                if current is not None:
                    return state.without(path)
                self.talk.say(_COMMANDS, indent=2)
                continue
            if answer.casefold() in _DONT_KNOW:
                return self._not_known(path, state)
            after = self._shelved(asked, answer, state) or state.with_value(path, self._value(asked, answer))
            try:
                self._plan(after)
            except InputError as error:
                self.talk.say(f"Not taken: {error.detail}", indent=2)
                continue
            return after

    def _answer(self, words: Sequence[str], tell_help: Callable[[], None]) -> str | None:
        """An answer, or None for going back; help is given on the way. Raises Finished."""
        while True:
            line = self.talk.read(words)
            if line is None or line.casefold() == "stop":
                raise Finished
            if line == "?":
                tell_help()
            elif line.casefold() != "back":
                return line
            elif self.past:
                return None
            else:
                self.talk.say("This is the first question.", indent=2)

    def _put(self, asked: Asked, state: State, report: Report, current: Any) -> None:
        """Show a question: whose it is, what it asks, an example, and why."""
        whose = self._whose(asked.path, state)
        # a person at a terminal need not know how a list is written in a file
        ask = re.sub(r" Write \[\] [^.]*\.", " Say none if there are none.", knowledge().question(asked.path))
        example = knowledge().example(asked.path)
        self.talk.say()
        self.talk.say(f"{whose}{ask}{f' (such as: {example})' if example else ''}")
        words = asked.words()
        if words and asked.kind == "choice" and len(words) <= 6:
            self.talk.say(f"Accepted: {', '.join(words)}.", indent=2)
        if names := self._shelf_names(asked):
            self.talk.say(f"On the shelf: {', '.join(names)}.", indent=2)
        self.talk.say(f"Why: {self._why(asked.path, state, report)}", indent=2)
        if current is not None:
            self.talk.say(f"The plan says: {in_words(current)}. Enter keeps it.", indent=2)

    @staticmethod
    def _whose(path: str, state: State) -> str:
        part, _, rest = path.partition(".")
        number = rest.partition(".")[0]
        if not number.isdigit() or path.endswith(".name"):
            return ""
        entry = state.data[part][int(number)]
        name = entry.get("name") or entry.get("substance") or entry.get("shelf") or ""
        return f"{clean(str(name))}: " if name else ""

    def _why(self, path: str, state: State, report: Report) -> str:
        question = next((q for q in report.questions if q.field == path), None)
        if question is None:
            key = path.rpartition(".")[2]
            return {
                "place": "it picks the emergency numbers, and what a cup and a pint are.",
                "maximum": "the dose is measured against it.",
                "class": "the dye class decides which fibres it takes on, and how.",
                "trims": "thread, zips and elastic often stay undyed, or do not stand the heat.",
            }.get(key, "so that the report can call it by its name.")
        topics = self.checker.rulebook.topics
        titles = [topics[topic].title for topic in question.settles[:_MOST_TOPICS]]
        more = len(question.settles) - len(titles)
        left = sum(q.effect != "caution" and self._open(q.field, state) for q in report.questions)
        settles = f"it settles: {'; '.join(titles)}{f'; and {more} more' if more > 0 else ''}."
        return f"{settles} Open questions that can decide the verdict: {left}."

    def _help(self, asked: Asked) -> None:
        for line in asked.help():
            if line:
                self.talk.say(line, indent=2)
        self.talk.say(_COMMANDS, indent=2)
        self.talk.say('An answer in "quotes" is taken as it stands.', indent=2)

    @staticmethod
    def _value(asked: Asked, answer: str) -> Any:
        quoted = len(answer) > 1 and answer[0] == answer[-1] == '"'
        return asked.value(answer[1:-1] if quoted else answer)

    @staticmethod
    def _not_known(path: str, state: State) -> State:
        if path.rpartition(".")[2] in ("name", "title"):
            return state.without(path)
        return state.with_value(path, UNKNOWN)

    # ---------------------------------------------------------------------------------------- the shelf

    def _shelf_names(self, asked: Asked) -> tuple[str, ...]:
        """The names on the shelf that are an answer here."""
        part, _, rest = asked.path.partition(".")
        key = rest.rpartition(".")[2]
        if self.shelf is None or part not in KIND_OF_PART:
            return ()
        kind = KINDS[KIND_OF_PART[part]]
        fits = key in ("", "name") if kind.named else key in kind.keys
        return self.shelf.names(part) if fits else ()

    def _shelved(self, asked: Asked, answer: str, state: State) -> State | None:
        """The state in which an answer that is a name on the shelf refers to it; None when it is no such name."""
        if self.shelf is None or not self._shelf_names(asked):
            return None
        part = asked.path.partition(".")[0]
        if asked.kind == "entries":
            entries = asked.value(answer)
            found = [self.shelf.find(part, entry["name"]) for entry in entries]
            if not any(found):
                return None
            named = [{"shelf": f["name"]} if f else e for f, e in zip(found, entries, strict=True)]
            return state.with_value(asked.path, named)
        entry = self.shelf.find(part, answer)
        if entry is None:
            return None
        path = f"{asked.path.rpartition('.')[0]}.shelf"
        return replace(state, data=_set(state.data, path, entry["name"]))

    # ---------------------------------------------------------------------------------------- about the dialogue

    def _ask_more(self, path: str, state: State) -> State | None:
        part = path.partition(".")[2]
        self.talk.say()
        self.talk.say(f"{_MORE[part]} (yes or no; Enter means no)")
        yes = self._yes()
        if yes is None:
            return None
        if not yes:
            return state.without(path)
        return replace(state, data=_set(state.data, part, [*state.data[part], {}]))

    def _ask_worth(self, state: State, report: Report) -> State | None:
        number = len(self._worth_knowing(state, report))
        questions = f"{number} more {'question is' if number == 1 else 'questions are'}"
        self.talk.say()
        if report.exit_status == 3:
            self.talk.say("What the verdict still hangs on is what you do not know.")
        else:
            self.talk.say("No further answer decides the verdict.")
        self.talk.say(f"{questions} worth knowing. Ask? (yes or no; Enter means no)")
        yes = self._yes()
        if yes is None:
            return None
        after = state.without(_WORTH)
        return after.without(f"{_WORTH}.yes") if yes else after

    def _yes(self) -> bool | None:
        """Yes or no; None for going back."""
        accepted = "Accepted: yes, no, back, stop."
        while True:
            answer = self._answer(("yes", "no"), lambda: self.talk.say(accepted, indent=2))
            if answer is None:
                return None
            word = answer.casefold()
            if word in ("y", "yes"):
                return True
            if word in ("", "n", "no") or word in _DONT_KNOW:
                return False
            self.talk.say(f"Not taken: {accepted}", indent=2)

    def _news(self, before: Report, after: Report) -> None:
        """What the last answer has made certain, so that it can be taken back at once."""
        known = {(finding.rule, finding.subject) for finding in before.findings}
        for finding in after.findings:
            if finding.effect != "caution" and (finding.rule, finding.subject) not in known:
                self.talk.say(f"! {finding.signal}: {finding.title}. {finding.message}", indent=2)
                for line in finding.do[:1]:
                    self.talk.say(f"Do: {line}", indent=4)


def hold(
    path: Path | None,
    checker: Checker,
    *,
    force: bool = False,
    shelf: Shelf | None = None,
    shelf_file: Path | None = None,
) -> tuple[Plan, Report] | None:
    """Hold the conversation on standard input and output; the plan and the check of what was saved, or None on Ctrl-C.

    `path` is the plan file, new or half made; without it a new file is named after the bath. `shelf` was read from
    `shelf_file`. Raises InputError and PlanFileError.
    """
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")  # a stray byte is a wrong answer, no failure
    interactive = sys.stdin.isatty() and sys.stdout.isatty()
    talk = Talk(sys.stdin, sys.stdout if interactive else sys.stderr, interactive=interactive)
    title = ""
    file: PlanFile | None = None
    try:
        if path is None:
            talk.say(knowledge().question("title"))
            title = _as_title(talk.read())
            path = _free_name(title)
        file = PlanFile(path, force=force)
        folder = path.parent
        talk.say(f"{file.name}: {'goes on from there' if file.resumed else 'a new plan'}; every answer is saved.")
        talk.say(_COMMANDS)
        if title:
            file.save({**file.data, "title": title})
        if shelf_file is not None and "shelf" not in file.data and (name := _inside(shelf_file, folder)) is not None:
            file.save({**file.data, "shelf": name})
        found = shelf or named_shelf(file.data, file=file.name, folder=folder)
        Dialogue(file, folder, checker, talk, found).run()
    except KeyboardInterrupt:
        _tell_stopped(file)
        return None
    talk.say(f"Saved in {file.name}.")
    if shelf is not None and "shelf" not in file.data:
        talk.say("The shelf lies outside the folder of the plan: give --shelf to `advisor check` as well.")
    talk.say()
    plan = load_plan(path, shelf=shelf)
    return plan, checker.check(plan, remedies=True)


def _as_title(answer: str | None) -> str:
    """The answer when it can be a title; else nothing, and it is asked for again."""
    if answer is None or len(answer) > LONGEST_TEXT or answer.casefold() in _DONT_KNOW | {"?", "back", "stop"}:
        return ""
    return answer


def _tell_stopped(file: PlanFile | None) -> None:
    if file is None:
        print("\nadvisor: stopped; nothing was written", file=sys.stderr)
    else:
        print(f"\nadvisor: stopped; saved in {file.name}; `advisor plan {file.name}` goes on", file=sys.stderr)


def _free_name(title: str) -> Path:
    """A new file in the current folder, named after the bath."""
    plain = unicodedata.normalize("NFKD", title.casefold()).encode("ascii", "ignore").decode()
    stem = "-".join(re.findall(r"[a-z0-9]+", plain))[:40].strip("-") or "plan"
    number, path = 1, Path(f"{stem}.toml")
    while path.exists():
        number += 1
        path = Path(f"{stem}-{number}.toml")
    return path


def _inside(file: Path, folder: Path) -> str | None:
    """The path of a file as seen from the folder it lies in, or None."""
    file, folder = file.resolve(), folder.resolve()
    return file.relative_to(folder).as_posix() if file.is_relative_to(folder) else None
