"""Input that means harm: every parser is fuzzed, and nothing but its own refusal comes out.

About 20 s in all by default. `-m sweep` goes on for ten minutes with new seeds, and prints how many inputs it tried.
"""

from __future__ import annotations

import io
import json
import os
import random
import time
from collections.abc import Callable
from copy import deepcopy
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from advisor.cases import base_plan
from advisor.checking import Checker
from advisor.cli import main
from advisor.knowledge import units
from advisor.labels import LabelError, read_label, read_table
from advisor.plan import InputError, load_plan, read_plan
from advisor.quantities import QuantityError, parse
from advisor.screening import screen
from advisor.screening.lists import BadRow, ListReader
from advisor.session import load_session, read_session
from advisor.shelf import load_shelf, read_shelf

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"
REFUSALS = (InputError, LabelError, QuantityError)
# what must not reach a terminal: escapes, controls, direction marks, line separators, tags, surrogates
FORBIDDEN = {chr(code) for code in (*range(9), *range(11, 32), *range(0x7F, 0xA0), 0x61C, 0x200E, 0x200F, 0xFEFF)}
FORBIDDEN |= {chr(code) for code in (*range(0x2028, 0x202F), *range(0x2066, 0x2070), *range(0xE0000, 0xE0080), 0xD800)}
HOSTILE = "\x1b[31mred\x1b]0;title\x07\x9b1m\r\u202etxt\u2066\u061c\u200e\u2028\ufeff\U000e0041[bold]x[/bold]\ud800"
LONGEST_REFUSAL = 6000

One = Callable[[Any], None]


def refused_well(error: Exception) -> None:
    """A refusal is one line that a terminal can take, and not endless."""
    text = str(error)
    assert text.strip()
    assert not FORBIDDEN & set(text), ascii(text)
    assert "\n" not in text
    assert len(text) < LONGEST_REFUSAL, len(text)


# --- what is tried ----------------------------------------------------------------------------------------------

_WORDS = (
    "wool", "nylon", "80%", "100 %", "%", "g", "kg", "mL", "L", "degC", "°F", "to", "±", "+/-", "about", "1/2", "½", "tsp",
    "1e999", "-1", "0", "NaN", "inf", "1,5", "1.5", "1,000.5", "9" * 400, "unknown", "none", ",", ";", "/", "(", ")", "[",
    "]", "{", "}", "'", '"', "=", ":", "\n", "\t", "\0", "\x1b[31m", "\u202e", "\ufeff", "\ud800", "fibres", "cuerpo",
    "lining", "other fibres", "60/40", "CO", "PES", "WO", "elastan", "laine", "ſ", "İ", "ß", "Ⅷ", "²", "٣", "−", "–", "·",
    "e", "E5", "0x10", "1_000", "½½", "×", "*", "^", "**9999999", "g**9**9", "__import__('os')", "{0.__class__}", "%s%n",
    "../" * 20, "=cmd|'/c x'!A1", "\u0301" * 50, "𝟘", "①", "㎏", "％", "＋", "，",
)  # fmt: skip
soup = st.lists(st.one_of(st.sampled_from(_WORDS), st.text(max_size=4)), max_size=14).map(" ".join)
texts = st.one_of(soup, soup.map(lambda text: text.replace(" ", "")), st.text(max_size=60))
numbers = st.one_of(
    st.integers(), st.floats(), st.sampled_from([10**400, -(10**400), 2**63, 5e-324, 1.8e308, float("nan")])
)
leaves = st.one_of(st.none(), st.booleans(), numbers, texts, st.sampled_from(["unknown", "none", ""]))
values = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(texts, inner, max_size=4)),
    max_leaves=12,
)

PLANS = [base_plan(name) for name in ("acid-on-nylon", "reactive-on-cotton", "mordant-on-wool")]
SESSION: dict[str, Any] = {
    "title": "evening", "date": "2027-03-14", "place": "GB", "language": "en",
    "learners": {"number": 8, "ages": "16 to 60", "needs": []},
    "supervisors": {"number": 1, "names": ["a teacher"]},
    "room": {"kind": "studio", "floor_area": "40 m²", "volume": "100 m^3"},
    "stations": [{"name": "one", "plan": PLANS[0], "learners": 4, "powder": "adult before class"}],
}  # fmt: skip
SHELF: dict[str, Any] = {
    "dyes": [{"name": "slate", "class": "acid levelling", "form": "powder", "maximum": "2 %"}],
    "vessels": [{"name": "pot", "material": "enamel", "capacity": "10 L"}],
    "scales": [{"name": "scale", "resolution": "0.1 g"}],
    "gear": [{"name": "box", "wearing": ["apron"]}],
}


@st.composite
def spoiled(draw: Any, wholes: list[dict[str, Any]]) -> Any:
    """Good data with up to four places replaced, renamed, doubled or removed."""
    data = deepcopy(draw(st.sampled_from(wholes)))
    for _ in range(draw(st.integers(1, 4))):
        node: Any = data
        while isinstance(node, (dict, list)) and node:
            key = draw(st.sampled_from(list(node) if isinstance(node, dict) else list(range(len(node)))))
            if not isinstance(node[key], (dict, list)) or not node[key] or draw(st.integers(0, 2)) == 0:
                what = draw(st.integers(0, 9))
                if what == 0:
                    del node[key]
                elif what == 1 and isinstance(node, dict):
                    node[draw(texts)] = node.pop(key)
                elif what == 2 and isinstance(node, list):
                    node.extend([node[key]] * draw(st.sampled_from([1, 60])))
                else:
                    node[key] = draw(values)
                break
            node = node[key]
    return data


def spoiled_text(wholes: list[str]) -> st.SearchStrategy[str]:
    """Good text with pieces cut out, put in, doubled or swapped."""

    def spoil(parts: tuple[str, list[tuple[int, int, str]]]) -> str:
        text, changes = parts
        for at, length, piece in changes:
            start = at % (len(text) + 1)
            text = text[:start] + piece + text[start + length :]
        return text

    pieces = st.one_of(
        st.sampled_from(_WORDS), st.text(max_size=5), st.sampled_from(["[[", "]]", '"""', "'''", "\\u", ".a"])
    )
    changes = st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 30), pieces), min_size=1, max_size=5)
    return st.tuples(st.sampled_from(wholes), changes).map(spoil)


KINDS = [kind.id for kind in units().kinds]
PLAN_TEXTS = [path.read_text(encoding="utf-8") for path in sorted(EXAMPLES.glob("*.toml"))]
SESSION_TEXTS = [path.read_text(encoding="utf-8") for path in sorted((EXAMPLES / "sessions").glob("*.toml"))]
LISTS = [
    "name,fibres,colour\nlace,80% nylon 20% elastane,undyed\ncord,100% cotton,red\n",
    'item;composition\n"two\nlines";"60% wool, 40% nylon"\n\n;;;\n',
    "fibres\tuse\n100% silk\tsash\n",
]


# --- the parsers ------------------------------------------------------------------------------------------------


class Parsers:
    """One method a parser: takes an input, and lets nothing out but a refusal."""

    def __init__(self, folder: Path, checker: Checker) -> None:
        self._folder, self._checker = folder, checker
        self.taken = 0  # inputs that were accepted, and then answered

    def _tried(self, read: Callable[[], Any]) -> Any:
        try:
            result = read()
        except REFUSALS as error:
            refused_well(error)
            return None
        self.taken += 1
        return result

    def _file(self, text: str, name: str) -> Path:
        path = self._folder / name
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        return path

    def quantity(self, given: tuple[Any, list[str]]) -> None:
        """A quantity of one or two kinds."""
        found = self._tried(lambda: parse(given[0], tuple(given[1])))
        if found is not None:
            kind = units().kinds[found.kind]
            assert kind.low <= found.interval.low <= found.interval.high <= kind.high

    def label(self, text: str) -> None:
        """Label text, read as a shop's and as a plan's."""
        for strict in (False, True):
            found = self._tried(partial(read_label, text, strict=strict))
            for part in found.parts if found is not None else ():
                assert all(0 <= c.share.low <= c.share.high <= 100 for c in part.components)

    def table(self, shares: dict[str, Any]) -> None:
        """A table of shares."""
        self._tried(lambda: read_table(shares))

    def screen(self, text: str) -> None:
        """A label on its way to an answer."""
        self._tried(lambda: screen(text))

    def plan(self, data: Any) -> None:
        """Plan data; what is accepted must come to an answer."""
        plan = self._tried(lambda: read_plan(data))
        if plan is not None:
            assert self._checker.check(plan).exit_status in (0, 1, 3)

    def plan_text(self, text: str) -> None:
        """A plan file."""
        plan = self._tried(lambda: load_plan(self._file(text, "plan.toml")))
        if plan is not None:
            assert self._checker.check(plan).exit_status in (0, 1, 3)

    def plan_json(self, data: Any) -> None:
        """A plan file in JSON."""
        self._tried(lambda: load_plan(self._file(json.dumps(data, default=str), "plan.json")))

    def session(self, data: Any) -> None:
        """Session data."""
        self._tried(lambda: read_session(data, folder=self._folder))

    def session_text(self, text: str) -> None:
        """A session file; the plans it names are not there."""
        self._tried(lambda: load_session(self._file(text, "session.toml")))

    def shelf(self, data: Any) -> None:
        """Shelf data."""
        self._tried(lambda: read_shelf(data))

    def shelf_text(self, text: str) -> None:
        """A shelf file."""
        self._tried(lambda: load_shelf(self._file(text, "shelf.toml")))

    def goods_list(self, text: str) -> None:
        """A list of goods: every row is a row or a bad row."""

        def read() -> int:
            reader = ListReader(io.BytesIO(text.encode("utf-8", "surrogatepass")), "list.csv", {})
            rows = list(reader)
            for row in rows:
                if isinstance(row, BadRow):
                    refused_well(ValueError(str(row)))
            return len(rows)

        self._tried(read)


SHELF_TEXT = '[[dyes]]\nname = "slate"\nclass = "acid levelling"\n\n[[vessels]]\nname = "pot"\nmaterial = "enamel"\n'
FUZZ: dict[str, tuple[st.SearchStrategy[Any], int]] = {
    "quantity": (st.tuples(st.one_of(texts, numbers), st.lists(st.sampled_from(KINDS), min_size=1, max_size=2)), 400),
    "label": (st.one_of(texts, spoiled_text(["80% nylon, 20% elastane", "Body: 60/40 CO/PES; lining 100% silk"])), 200),
    "table": (st.dictionaries(st.one_of(texts, st.sampled_from(["wool", "silk"])), leaves, max_size=4), 200),
    "screen": (st.one_of(texts, spoiled_text(["80% nylon, 20% elastane"])), 100),
    "plan": (spoiled(PLANS), 100),
    "plan_text": (spoiled_text(PLAN_TEXTS), 100),
    "plan_json": (spoiled(PLANS), 60),
    "session": (spoiled([SESSION]), 60),
    "session_text": (spoiled_text(SESSION_TEXTS), 100),
    "shelf": (spoiled([SHELF]), 80),
    "shelf_text": (spoiled_text([SHELF_TEXT]), 100),
    "goods_list": (st.one_of(texts, spoiled_text(LISTS)), 200),
}


def fuzz(name: str, parsers: Parsers, turn: int, examples: int) -> None:
    """Try so many inputs on one parser; the same turn gives the same inputs."""
    strategy = FUZZ[name][0]

    @settings(
        max_examples=examples, deadline=None, database=None, print_blob=False, suppress_health_check=list(HealthCheck)
    )
    @seed(turn)
    @given(strategy)
    def run(tried: Any) -> None:
        getattr(parsers, name)(tried)

    run()


@pytest.mark.parametrize("name", FUZZ)
def test_a_parser_lets_nothing_out_but_a_refusal(name: str, checker: Checker, tmp_path: Path) -> None:
    fuzz(name, Parsers(tmp_path, checker), 0, FUZZ[name][1])


@pytest.mark.sweep
@pytest.mark.parametrize("name", FUZZ)
def test_ten_minutes_of_the_same(name: str, checker: Checker, tmp_path: Path) -> None:
    parsers, turn, begin = Parsers(tmp_path, checker), 0, time.monotonic()
    while time.monotonic() - begin < 600 / len(FUZZ):
        turn += 1
        fuzz(name, parsers, turn, 500)
    print(f"{name}: {turn * 500} inputs, {parsers.taken} accepted and answered")


def test_the_fuzz_reaches_both_sides(checker: Checker, tmp_path: Path) -> None:
    """Inputs that are all refused would test little."""
    parsers = Parsers(tmp_path, checker)
    fuzz("plan", parsers, 1, 60)
    assert 4 < parsers.taken < 60


# --- by hand: depth, size, twins ----------------------------------------------------------------------------------

DEEP = 100_000
_GOOD = '[[goods]]\nfibres = "100% wool"\n[[dyes]]\nclass = "acid"\n'
BAD_FILES: dict[str, tuple[str, str]] = {
    "nested arrays": ("plan.toml", "x = " + "[" * DEEP),
    "nested arrays, closed": ("plan.toml", "x = " + "[" * 2000 + "]" * 2000),
    "nested inline tables": ("plan.toml", "x = " + "{a=" * 5000 + "1" + "}" * 5000),
    "nested JSON": ("plan.json", "[" * DEEP),
    "nested JSON objects": ("plan.json", '{"goods":' * DEEP),
    "a key of many parts": ("plan.toml", ".".join("a" * 50_000) + " = 1"),
    "a header of many parts": ("plan.toml", "[" + ".".join("a" * 50_000) + "]"),
    "a huge number": ("plan.toml", _GOOD + f"[bath]\nwater = {'9' * 5000}\n"),
    "a huge JSON number": ("plan.json", '{"goods": [{"dry_mass": ' + "9" * 5000 + "}]}"),
    "a huge exponent": ("plan.toml", _GOOD + "[bath]\nwater = 1e99999\n"),
    "a huge exponent in text": ("plan.toml", _GOOD + '[bath]\nwater = "1e99999999 L"\n'),
    "a huge hexadecimal": ("plan.toml", _GOOD + f"[bath]\nwater = 0x{'f' * 100_000}\n"),
    "not a number": ("plan.toml", _GOOD + "[bath]\nwater = nan\n"),
    "twin keys": ("plan.toml", _GOOD + "place = 1\n"),
    "twin tables": ("plan.toml", _GOOD + '[bath]\nwater = "1 L"\n[bath]\nwater = "2 L"\n'),
    "twin JSON keys": ("plan.json", '{"goods": [], "goods": [{"fibres": "100% wool"}]}'),
    "many entries": ("plan.toml", '[[goods]]\nfibres = "100% wool"\n' * 20_000),
    "a long label": ("plan.toml", f'[[goods]]\nfibres = "{"100% wool, " * 50_000}"\n[[dyes]]\nclass = "acid"\n'),
    "a long name": ("plan.toml", _GOOD + f'[[utensils]]\nname = "{"x" * 900_000}"\n'),
    "too long a file": ("plan.toml", "#" * 1_000_001),
    "a date for a mass": ("plan.toml", _GOOD.replace('fibres = "100% wool"', "dry_mass = 2027-01-01T00:00:00Z")),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_deep_huge_and_twin_files_are_refused_at_once(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, text = BAD_FILES[name]
    (tmp_path / file).write_text(text, encoding="utf-8")
    begin = time.monotonic()
    for command in ("check", "handout"):
        status = main([command, str(tmp_path / file)])
        told = capsys.readouterr()
        assert (status, told.out) == (2, ""), told
        assert told.err.startswith("advisor: ")
        assert "the program failed" not in told.err
        assert told.err.count("\n") == 1
        assert len(told.err) < LONGEST_REFUSAL
    assert time.monotonic() - begin < 10


def test_a_line_or_cell_that_never_ends_is_not_held_in_memory() -> None:
    """A list as a stream without an end: it is given up, not read to the last byte."""
    given_out = 0

    class Endless(io.RawIOBase):
        def read(self, size: int = -1) -> bytes:
            nonlocal given_out
            given_out += 1
            assert given_out < 3000
            return (b'name,fibres\n"' if given_out == 1 else b"") + b"x" * 60_000 if given_out < 500 else b""

    rows = list(ListReader(Endless(), "endless", {}))  # type: ignore[arg-type]
    assert all(isinstance(row, BadRow) for row in rows)


# --- escapes and direction marks never reach the terminal -----------------------------------------------------------


def hostile_plan(**more: Any) -> dict[str, Any]:
    """A plan whose every free text is hostile."""
    data = base_plan("acid-on-nylon")
    text = HOSTILE.replace("\ud800", "")
    data["title"] = text
    data["goods"][0].update(name=text, colour="undyed")
    data["dyes"][0].update(name=text, amount="3 g")
    data["utensils"] = [{"name": text, "material": "wood"}]
    return data | more


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    """Run the command; nothing forbidden may be on either stream."""
    status = main(arguments)
    told = capsys.readouterr()
    for stream in (told.out, told.err):
        assert not FORBIDDEN & set(stream), ascii(sorted(FORBIDDEN & set(stream)))
    assert "the program failed" not in told.err, told.err
    return status, told.out + told.err


def test_names_with_escapes_in_every_output(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan, session = tmp_path / "plan.json", tmp_path / "session.json"
    plan.write_text(json.dumps(hostile_plan()), encoding="utf-8")
    short = tmp_path / "short.json"  # few numbers, so that their limits are soon found
    short.write_text(json.dumps({key: hostile_plan()[key] for key in ("title", "goods", "dyes")}), encoding="utf-8")
    text = HOSTILE.replace("\ud800", "")
    station = {"name": text, "plan": "plan.json", "learners": 2}
    session.write_text(
        json.dumps({"title": text, "venue": text, "supervisors": {"names": [text]}, "stations": [station]}),
        encoding="utf-8",
    )
    told = ""
    for form in ("terminal", "json", "markdown", "html"):
        told += shown(capsys, "check", str(plan), "--format", form)[1]
    for command in (
        ("check", str(plan), "--explain"),
        ("check", str(plan), "--amend", str(tmp_path / "new.json")),
        ("compare", str(plan), str(plan)),
        ("compare", str(plan), str(EXAMPLES / "act-two-ribbon.toml"), "--format", "json"),
        ("limits", str(short)),
        ("handout", str(session)),
        ("handout", str(session), "--format", "markdown"),
    ):
        told += shown(capsys, *command)[1]
    assert "red" in told, "the names do get there, cleaned"


@pytest.mark.parametrize("form", ["terminal", "json", "csv", "jsonl", "html"])
def test_labels_and_lists_with_escapes_in_every_output(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """CSV and JSON keep names as they came in a file or pipe; a terminal never gets them so."""
    if form != "terminal":
        monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    text = HOSTILE.replace("\ud800", "").replace("\r", "")
    shown(capsys, "screen", f"100% wool {text}", "--use", text, "--colour", text, "--format", form)
    goods = tmp_path / "list.csv"
    goods.write_text(f'name,fibres,{text},use\n"{text}","100% wool {text}",{text},{text}\n', encoding="utf-8")
    if form != "json":
        shown(capsys, "screen", "--list", str(goods), "--format", form)


@pytest.mark.parametrize(
    "where", ["goods.0.fibres", "dyes.0.class", "bath.water", "vessel.material", "place", "assists.0"]
)
def test_refused_values_with_escapes(where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data: Any = hostile_plan()
    *steps, last = where.split(".")
    node = data
    for step in steps:
        node = node[int(step)] if isinstance(node, list) else node.setdefault(step, {})
    node[int(last) if isinstance(node, list) else last] = HOSTILE
    (tmp_path / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    assert shown(capsys, "check", str(tmp_path / "plan.json"))[0] == 2


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", HOSTILE), ("check", "x", "--rules", HOSTILE), ("handout", HOSTILE), ("compare", HOSTILE, HOSTILE),
        ("facts", HOSTILE), ("facts", "substances", HOSTILE), ("rules", HOSTILE), ("rules", "--topic", HOSTILE),
        ("screen", "--list", HOSTILE), ("screen", "wool", "--dye-class", HOSTILE), ("screen", "wool", "--column", HOSTILE),
        ("check", str(EXAMPLES / "act-two-ribbon.toml"), "--output", "/nowhere/" + HOSTILE),
        ("rules", "--search", HOSTILE), ("limits", "a\0b"), ("check", "x" * 10_000),
    ],
    ids=lambda a: " ".join(word for word in a if word.isascii() and word.isprintable())[:40],
)  # fmt: skip
def test_arguments_with_escapes(arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    shown(capsys, *arguments)


# --- paths in fields --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "/etc/passwd", "../../../../../../etc/passwd", "/dev/zero", "/dev/stdin", "/proc/self/environ", ".", "", "\0", "a\0b",
        "x" * 5000, "~/.bashrc", "$HOME/x", "file:///etc/passwd", "http://localhost/plan.toml", "|cat", "pipe", "circle",
        "session.json", "CON", "C:\\x", "//server/share",
    ],
    ids=lambda path: ascii(path)[:25],
)  # fmt: skip
def test_a_session_that_names_odd_files(path: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No hanging on pipes, no endless reading, nothing of the file in the message."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "circle").symlink_to("circle")
    session = tmp_path / "session.json"
    session.write_text(json.dumps({"stations": [{"plan": path}]}), encoding="utf-8")
    status, told = shown(capsys, "handout", str(session))
    assert status == 2
    assert "root:" not in told
    assert "PATH=" not in told
    assert len(told) < LONGEST_REFUSAL


@pytest.mark.parametrize(
    "path", ["/etc/passwd", "../shelf.toml", "link/shelf.toml", "pipe", "circle", "\0", "x" * 5000, "", ".", 3, ["a"]],
    ids=lambda path: ascii(path)[:25],
)  # fmt: skip
def test_a_plan_that_names_an_odd_shelf(path: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    os.mkfifo(inner / "pipe")
    (inner / "circle").symlink_to("circle")
    (inner / "link").symlink_to(tmp_path)
    (tmp_path / "shelf.toml").write_text(SHELF_TEXT, encoding="utf-8")
    (inner / "plan.json").write_text(json.dumps(hostile_plan(shelf=path)), encoding="utf-8")
    status, told = shown(capsys, "check", str(inner / "plan.json"))
    assert status == 2
    assert "root:" not in told


def test_a_rule_of_a_stranger_is_never_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from making import rule_text

    trace = tmp_path / "trace"
    for number, text in enumerate(
        (
            f"share_owf > __import__('pathlib').Path({str(trace)!r}).touch()",
            "share_owf > (lambda: 1)()",
            "share_owf > 9**9**9**9",
            "(" * 5000 + "share_owf" + ")" * 5000 + " > 1",
            "share_owf > " + "-" * 5000 + "1",
        )
    ):
        (tmp_path / "own.toml").write_text(rule_text(f"r{number}", {"dose": [text]}), encoding="utf-8")
        status, _ = shown(capsys, "check", str(EXAMPLES / "act-two-ribbon.toml"), "--rules", str(tmp_path))
        assert status == 2
    assert not trace.exists()


def test_random_bytes_for_every_kind_of_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chance = random.Random(1)
    for number in range(60):
        content = bytes(chance.choices(range(256), k=chance.choice((1, 50, 3000))))
        for name, command in (("p.toml", "check"), ("p.json", "check"), ("s.toml", "handout"), ("l.csv", "screen")):
            (tmp_path / name).write_bytes(content)
            flags = ("--list",) if command == "screen" else ()
            status, _ = shown(capsys, command, *flags, str(tmp_path / name))
            assert status == 2 or (command == "screen" and status == 3), (number, name)
