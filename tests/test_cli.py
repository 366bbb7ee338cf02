"""The command: exit statuses, output, files, rules of one's own, the rulebook and the tables."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from making import rule_text

import advisor
from advisor.cli import main
from advisor.knowledge import knowledge
from advisor.reading import tables
from advisor.rows import Withdrawn
from advisor.rulebook import rulebook

ROOT = Path(__file__).resolve().parents[1]
GOOD, BAD, VAGUE = (
    ROOT / "examples" / f"{name}.toml" for name in ("act-two-ribbon", "first-try-lace", "unlabelled-trims")
)
Child = Callable[..., subprocess.CompletedProcess[str]]
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs the command in this process: status, stdout, stderr."""
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: str | Path) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return status, told.out, told.err

    return call


def edited(folder: Path, *changes: tuple[str, str], name: str = "plan.toml") -> Path:
    """The good example with lines changed."""
    text = GOOD.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


# ---- exit statuses


def test_status_0_when_ready(run: Run) -> None:
    status, out, err = run("check", GOOD)
    assert (status, err) == (0, "")
    assert " READY" in out


@pytest.mark.parametrize(
    ("changes", "status", "verdict"),
    [
        ([('amount = "1 g"', 'amount = "1.6 g"')], 1, "CHANGE FIRST"),
        ([('amount = "1 g"', 'amount = "1.5 g"')], 0, "READY"),  # at the maker's maximum is not over it
        ([("used_for_food = false\nlid", "used_for_food = true\nlid")], 1, "CHANGE FIRST|DO NOT START"),
        ([('maximum = "1.5 %"', 'maximum = "unknown"')], 3, "CANNOT TELL"),
        ([("used_for_food = false\nlid", "lid")], 3, "CANNOT TELL"),
        ([('fibres = "100% nylon"', 'fibres = "100% polyester"')], 1, "CHANGE FIRST|DO NOT START"),
        ([('fibres = "100% nylon"', 'fibres = "unknown"')], 3, "CANNOT TELL"),
        ([('fibres = "100% nylon"', 'fibres = "100% nylom"')], 2, ""),
    ],
    ids=str,
)
def test_the_status_says_the_verdict(
    run: Run, tmp_path: Path, changes: list[tuple[str, str]], status: int, verdict: str
) -> None:
    got, out, err = run("check", edited(tmp_path, *changes))
    assert got == status, out + err
    assert re.search(f"^ ({verdict})", out, re.MULTILINE) if verdict else out == ""
    assert bool(err) is (status == 2)


def test_the_status_is_the_same_in_both_formats_and_with_output(run: Run, tmp_path: Path) -> None:
    for number, (plan, status) in enumerate([(GOOD, 0), (BAD, 1), (edited(tmp_path, ("lid = true\n", "")), None)]):
        expected = run("check", plan)[0] if status is None else status
        assert run("check", plan, "--format", "json")[0] == expected
        assert run("check", plan, "--explain")[0] == expected
        assert run("check", plan, "--output", tmp_path / f"{number}.txt")[0] == expected


def test_wrong_use_is_status_2(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (
        [],
        ["check"],
        ["chek", "x"],
        ["check", "x", "--format", "xml"],
        ["check", "x", "--loud"],
        ["schema", "world"],
    ):
        with pytest.raises(SystemExit) as left:
            main(arguments)
        assert left.value.code == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert "advisor" in err


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--version"])
    assert left.value.code == 0
    book = rulebook()
    told = f"advisor {advisor.__version__}\nrulebook {book.version}, {len(book.rules)} rules, {book.digest}\n"
    assert capsys.readouterr().out == told
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0
    told = " ".join(capsys.readouterr().out.split())
    for word in (
        "check",
        "rules",
        "facts",
        "schema",
        "0 ready",
        "1 something must change",
        "3 cannot tell",
        "2 bad input",
    ):
        assert word in told


@pytest.mark.parametrize("command", ["check", "rules", "facts", "schema", "completion"])
def test_the_help_of_a_command_shows_an_example(command: str, capsys: pytest.CaptureFixture[str], run: Run) -> None:
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    found = re.search(r"example: advisor (.*)", capsys.readouterr().out)
    assert found
    words = [word.strip("'") for word in re.findall(r"'[^']*'|\S+", found[1])]
    status, out, err = run(*(str(ROOT / word) if word.startswith("examples/") else word for word in words))
    assert (status, err) == (0, "")
    assert out


# ---- output


def test_json_on_stdout_and_in_a_file_are_the_same(run: Run, tmp_path: Path) -> None:
    _, out, _ = run("check", BAD, "--format", "json")
    status, nothing, err = run("check", BAD, "--format", "json", "--output", tmp_path / "report.json")
    assert (status, nothing, err) == (1, "", "")
    assert (tmp_path / "report.json").read_text(encoding="utf-8") == out
    assert json.loads(out)["verdict"] == "do not start"
    assert out.endswith("}\n")


def test_text_in_a_file_is_80_columns_without_escape_codes(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    assert run("check", BAD, "--output", tmp_path / "report.txt")[0] == 1
    text = (tmp_path / "report.txt").read_text(encoding="utf-8")
    assert "DO NOT START" in text
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(
    "command", [["check", GOOD], ["check", GOOD, "--format", "json"], ["rules"], ["facts", "gear"]], ids=str
)
def test_no_file_is_replaced_unasked(run: Run, tmp_path: Path, command: list[str | Path]) -> None:
    target = tmp_path / "mine.txt"
    target.write_text("mine", encoding="utf-8")
    status, out, err = run(*command, "--output", target)
    assert (status, out) == (2, "")
    assert err == f"advisor: {target}: exists already; --force replaces it\n"
    assert target.read_text(encoding="utf-8") == "mine"
    assert run(*command, "--output", target, "--force")[0] == 0
    assert target.read_text(encoding="utf-8") != "mine"


def test_a_write_that_fails_leaves_the_old_file_whole(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "mine.txt"
    target.write_text("mine", encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    status, out, err = run("check", GOOD, "--output", target, "--force")
    assert (status, out) == (2, "")
    assert err == f"advisor: {target}: cannot be written: No space left on device\n"
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_write_that_fails_leaves_nothing_behind(run: Run, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    assert run("check", GOOD, "--output", tmp_path / "folder", "--force")[0] == 2
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_a_written_file_leaves_nothing_else_behind(run: Run, tmp_path: Path) -> None:
    assert run("check", GOOD, "--output", tmp_path / "report.txt")[0] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["report.txt"]


@pytest.mark.parametrize("target", ["missing/report.txt", "."])
def test_where_nothing_can_be_written(run: Run, tmp_path: Path, target: str) -> None:
    status, out, err = run("check", GOOD, "--output", tmp_path / target)
    assert (status, out) == (2, "")
    assert err.startswith(f"advisor: {tmp_path / target}: ")
    assert err.count("\n") == 1


def test_bad_input_writes_no_file(run: Run, tmp_path: Path) -> None:
    status, *_ = run("check", edited(tmp_path, ('amount = "1 g"', 'amount = "1"')), "--output", tmp_path / "report.txt")
    assert status == 2
    assert not (tmp_path / "report.txt").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", str(GOOD)],
        ["check", str(GOOD), "--format", "json"],
        ["rules"],
        ["schema", "plan"],
        ["--version"],
    ],
    ids=str,
)
def test_a_closed_pipe_gives_no_pass(arguments: list[str]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "advisor", *arguments],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=writer,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    finally:
        os.close(writer)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


# ---- standard input, formats, options that would change nothing


def given(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))


@pytest.mark.parametrize("command", [["check", "-"], ["limits", "-"], ["compare", BAD, "-"]], ids=str)
def test_a_dash_is_standard_input(run: Run, monkeypatch: pytest.MonkeyPatch, command: list[str | Path]) -> None:
    expected = run(*(GOOD if word == "-" else word for word in command))
    text = GOOD.read_text(encoding="utf-8")
    for plan in (text, " " + json.dumps(tomllib.loads(text))):
        given(monkeypatch, plan)
        assert run(*command) == expected


def test_a_session_from_standard_input(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    session = ROOT / "examples" / "sessions" / "wardrobe-evening.toml"
    monkeypatch.chdir(session.parent)
    given(monkeypatch, session.read_text(encoding="utf-8"))
    assert run("handout", "-", "--format", "markdown") == run("handout", session, "--format", "markdown")


def test_a_session_cannot_make_its_stations_read_standard_input(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("class.toml").write_text('[[stations]]\nplan = "-"\n', encoding="utf-8")
    given(monkeypatch, GOOD.read_text(encoding="utf-8"))
    status, out, err = run("handout", "class.toml")
    assert (status, out) == (2, "")
    assert "'-' cannot be read: No such file" in err


def test_what_is_wrong_with_standard_input_is_said(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    given(monkeypatch, "x = 1")
    assert run("check", "-")[2].startswith("advisor: standard input: x: unknown key")
    monkeypatch.setattr(sys, "stdin", None)
    assert run("check", "-") == (2, "", "advisor: standard input: is closed\n")
    assert run("compare", "-", "-")[2] == (
        "advisor: compare: standard input holds one plan; accepted: a file for one of the two\n"
    )
    assert run("check", "-", "--amend", "x.toml")[2] == (
        "advisor: --amend: needs a plan file to amend, and standard input is none\n"
    )


def test_a_dash_is_standard_output_and_no_other_file(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for command in (["check", GOOD], ["rules"], ["screen", "cotton"]):
        assert run(*command, "--output", "-") == run(*command)
    for command in (
        ["plan", "-"],
        ["check", str(GOOD), "--amend", "-"],
        ["check", str(GOOD), "--shelf", "-"],
        ["screen", "cotton", "--trial", "-"],
    ):
        with pytest.raises(SystemExit) as left:
            main(command)
        assert left.value.code == 2
        assert "'-' is no file here; accepted: the name of a file, ./- for one named so" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
    assert run("rules", "--output", "./-")[0] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["-"]


@pytest.mark.parametrize(
    ("command", "names"),
    [
        (["check", GOOD], {"r.json": "json", "r.HTML": "html", "r.md": "markdown", "r.txt": "terminal"}),
        (["rules"], {"r.json": "json", "r.md": "markdown", "r.html": "terminal"}),
        (["screen", "cotton", "wool"], {"r.csv": "csv", "r.jsonl": "jsonl", "r.htm": "html", "r.json": "json"}),
        (["handout", ROOT / "examples" / "sessions" / "wardrobe-evening.toml"], {"r.md": "markdown", "r.htm": "html"}),
    ],
    ids=lambda value: str(value[0]) if isinstance(value, list) else "",
)
def test_the_name_of_the_file_says_the_format(
    run: Run, tmp_path: Path, command: list[str | Path], names: dict[str, str]
) -> None:
    for name, form in names.items():
        run(*command, "--output", tmp_path / name)
        run(*command, "--output", tmp_path / "other.txt", "--format", form, "--force")
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert text
        assert text == (tmp_path / "other.txt").read_text(encoding="utf-8"), name
        last = list(names.values())[-1]
        run(*command, "--output", tmp_path / name, "--format", last, "--force")  # what is said goes before the name
        again = (tmp_path / name).read_text(encoding="utf-8")
        assert (again == text) is (form == last)


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (
            ["check", GOOD, "--explain", "--format", "json"],
            "--explain: changes nothing in the format json; accepted with: ",
        ),
        (["check", GOOD, "--explain", "--output", "r.html"], "--explain: changes nothing in the format html"),
        (
            ["handout", "x", "--large-print", "--format", "markdown"],
            "--large-print: changes nothing in the format markdown",
        ),
        (["screen", "cotton", "--match", "--format", "csv"], "--match: changes nothing in the format csv"),
        (["screen", "cotton", "--identify", "--format", "jsonl"], "--identify: changes nothing in the format jsonl"),
        (["screen", "cotton", "--strict"], "--strict: is for a list of goods; accepted with: --list FILE"),
        (["screen", "cotton", "--column", "fibres=x"], "--column: is for a list of goods"),
        (["screen", "--list", "x", "--column", "fibres"], "--column: 'fibres' names no column; accepted: ROLE=HEADER"),
        (["screen", "--list", "x", "--column", "fibres= "], "--column: 'fibres= ' names no column"),
        (["screen", "--list", "x", "--column", "use=a", "--column", "use=b"], "--column: 'use' has two columns"),
        (["facts", "fibres", "wool", "--search", "x"], "give an ENTRY, or --search TEXT, but not both"),
        (["facts", "list", "wool"], "takes no ENTRY"),
    ],
    ids=str,
)
def test_an_option_that_would_change_nothing_is_refused(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: list[str | Path], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, err = run(*command)
    assert (status, out) == (2, "")
    assert err.startswith("advisor: ")
    assert says in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_gives_no_pass() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "advisor", "check", str(GOOD)],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert "No space left" in done.stderr


def test_a_terminal_that_lacks_a_sign_still_gets_the_report(child: Child, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    done = child("-m", "advisor", "check", str(GOOD))
    assert done.returncode == 0
    assert "READY" in done.stdout


# ---- started in other ways


def test_python_m_advisor(child: Child) -> None:
    done = child("-m", "advisor", "check", str(BAD), "--format", "json")
    assert done.returncode == 1, done.stderr
    assert json.loads(done.stdout)["verdict"] == "do not start"
    assert done.stderr == ""


def test_it_works_from_any_folder(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copy(GOOD, tmp_path / "mine.toml")
    monkeypatch.chdir(tmp_path)
    assert run("check", "mine.toml")[0] == 0


def test_import_advisor_is_light(child: Child) -> None:
    code = "import sys, advisor; print({'pint', 'rich', 'durable', 'pydantic', 'argparse'} & {*sys.modules})"
    assert child("-c", code).stdout == "set()\n"


def test_a_check_of_plain_units_loads_no_pint(child: Child) -> None:
    code = f"import sys, advisor; r = advisor.check({str(GOOD)!r}); print({{'pint', 'rich'}} & {{*sys.modules}})"
    assert child("-c", code).stdout == "set()\n"


def test_the_python_interface_takes_a_path_data_or_a_plan() -> None:
    import tomllib

    by_path = advisor.check(GOOD)
    assert advisor.check(str(GOOD)) == by_path
    assert advisor.check(tomllib.loads(GOOD.read_text(encoding="utf-8"))) == by_path
    assert advisor.check(advisor.load_plan(GOOD)) == by_path


# ---- rules of one's own


@pytest.fixture
def own_rules(tmp_path: Path) -> Path:
    folder = tmp_path / "own"
    folder.mkdir()
    text = rule_text("own-even-shade", {"bath": ["shade == 'even'"]})
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_folder_of_own_rules_is_added(run: Run, own_rules: Path) -> None:
    assert run("check", GOOD)[0] == 0
    status, out, _ = run("check", GOOD, "--rules", own_rules, "--format", "json")
    report = json.loads(out)
    assert status == 1
    assert [f["rule"] for f in report["findings"] if f["effect"] == "change"] == ["own-even-shade"]
    assert report["rulebook"]["rules"] == len(rulebook().rules) + 1
    assert report["rulebook"]["digest"] != rulebook().digest
    status, out, _ = run("rules", "own-even-shade", "--rules", own_rules)
    assert (status, "A reason." in out) == (0, True)
    assert run("check", GOOD)[0] == 0  # nothing of it stays


def test_two_folders_of_own_rules(run: Run, own_rules: Path, tmp_path: Path) -> None:
    more = tmp_path / "more"
    more.mkdir()
    (more / "more.toml").write_text(rule_text("more-stirring", {"bath": ["stirring == 'yes'"]}), encoding="utf-8")
    _, out, _ = run("check", GOOD, "--rules", own_rules, "--rules", more, "--format", "json")
    assert {"own-even-shade", "more-stirring"} <= {f["rule"] for f in json.loads(out)["findings"]}


@pytest.mark.parametrize("taken", ["dose-over-maximum", "own-even-shade"])
def test_an_id_that_is_taken_is_an_error(run: Run, own_rules: Path, taken: str) -> None:
    (own_rules / "twice.toml").write_text(rule_text(taken, {"bath": ["shade == 'even'"]}), encoding="utf-8")
    status, out, err = run("check", GOOD, "--rules", own_rules)
    assert (status, out) == (2, "")
    assert taken in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    "content", ["[[rule]]\nid = 5\n", "nonsense", "[[rules]]\n", rule_text("own", {"bath": ["shade == 'evn'"]})]
)
def test_own_rules_that_are_wrong_are_an_error(run: Run, own_rules: Path, content: str) -> None:
    (own_rules / "wrong.toml").write_text(content, encoding="utf-8")
    status, out, err = run("check", GOOD, "--rules", own_rules)
    assert (status, out) == (2, "")
    assert "wrong.toml" in err
    assert err.count("\n") == 1


# ---- advisor schema


@pytest.mark.parametrize("what", ["plan", "report"])
def test_schema(run: Run, what: str) -> None:
    from jsonschema import Draft202012Validator

    status, out, err = run("schema", what)
    assert (status, err) == (0, "")
    Draft202012Validator.check_schema(json.loads(out))
    assert json.loads(out)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


# ---- advisor rules


def listed(run: Run, *arguments: str) -> list[dict[str, Any]]:
    status, out, err = run("rules", *arguments, "--format", "json")
    assert (status, err) == (0, "")
    rules: list[dict[str, Any]] = json.loads(out)["rules"]
    return rules


def test_rules_lists_every_rule(run: Run) -> None:
    assert [rule["id"] for rule in listed(run)] == [rule.id for rule in rulebook().rules]
    status, out, _ = run("rules")
    assert status == 0
    assert f"{len(rulebook().rules)} of {len(rulebook().rules)} rules" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("option", "key", "value"),
    [
        ("--topic", "topic", "food-vessel"),
        ("--signal", "signal", "DANGER"),
        ("--effect", "effect", "stop"),
    ],
)
def test_rules_by_topic_signal_and_effect(run: Run, option: str, key: str, value: str) -> None:
    every = listed(run)
    found = listed(run, option, value)
    assert found
    assert found == [rule for rule in every if rule.get(key) == value]
    assert len(found) < len(every)


def test_rules_by_substance_fibre_and_text(run: Run) -> None:
    assert "acid-on-cotton" not in [rule["id"] for rule in listed(run, "--substance", "sodium hydrosulfite")]
    assert listed(run, "--substance", "sodium hydrosulfite")
    assert listed(run, "--fibre", "silk")
    found = listed(run, "--search", "MOTTLED")
    assert found
    assert all("mottled" in json.dumps(rule).casefold() for rule in found)
    assert listed(run, "--search", "xyzzy") == []
    assert listed(run, "--topic", "food-vessel", "--effect", "stop", "--search", "xyzzy") == []


def test_a_rule_whole(run: Run) -> None:
    status, out, _ = run("rules", "dose-over-maximum")
    assert status == 0
    for word in ("dose-over-maximum:", "when ", "says: ", "why: ", "do: ", "source (", "case fires: ", "case silent: "):
        assert word in out, word
    (rule,) = listed(run, "dose-over-maximum")
    assert rule["cases"]["fires"]
    assert all(source["basis"] in ("published", "from memory", "common practice") for source in rule["sources"])


def test_a_rule_with_known_gaps_shows_them(run: Run) -> None:
    gaps = rulebook().rule("lift-heavy").gaps
    assert gaps
    assert f"known gaps: {gaps}" in " ".join(run("rules", "lift-heavy")[1].split())
    assert f"\nKnown gaps: {gaps}\n" in run("rules", "--format", "markdown")[1]
    assert "known gaps" not in run("rules", "dose-too-low")[1]


def test_a_withdrawn_rule_is_still_found(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    gone = Withdrawn(id="made-old", on=date(2030, 1, 31), why="It counted twice.", instead=("dose-too-low",))
    monkeypatch.setitem(knowledge().withdrawn_rules, "made-old", gone)
    monkeypatch.setitem(knowledge().withdrawn_topics, "made-old", gone)
    told = "'made-old' was withdrawn on 2030-01-31. It counted twice. In its place: dose-too-low.\n"
    assert run("rules", "made-old") == (2, "", f"advisor: advisor rules: {told}")
    assert run("rules", "--topic", "made-old") == (2, "", f"advisor: --topic: {told}")


def test_the_rulebook_as_markdown_names_every_rule(run: Run, tmp_path: Path) -> None:
    assert run("rules", "--format", "markdown", "--output", tmp_path / "rulebook.md")[0] == 0
    text = (tmp_path / "rulebook.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^### (\S+)$", text, re.MULTILINE)) == sorted(rule.id for rule in rulebook().rules)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["rules", "dose-over-maximun"], "did you mean 'dose-over-maximum'?"),
        (["rules", "--topic", "food"], "accepted: "),
        (["facts", "fibers"], "did you mean 'fibres'?"),
        (["facts", "substances", "citric acis"], "did you mean 'citric acid'?"),
        (["facts", "xyzzy"], "accepted: fibres, "),
        (["facts", "uptake", "woool"], "did you mean 'wool'?"),
        (["facts", "pairs", "blech"], "did you mean 'bleach'?"),
        (["rules", "--substance", "soda-asch"], "did you mean 'soda ash'?"),
        (["rules", "--substance", "nosuch"], "`advisor facts substances` lists them"),
        (["rules", "--fibre", "woool"], "did you mean 'wool'?"),
        (
            ["rules", "fibre-stains-only", "--topic", "food-vessel"],
            "'fibre-stains-only' is not among those of the other",
        ),
    ],
    ids=str,
)
def test_what_is_not_there_gets_the_nearest(run: Run, arguments: list[str], says: str) -> None:
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1


def test_filters_hold_in_every_format(run: Run) -> None:
    for options in (["--topic", "food-vessel"], ["--fibre", "silk"], ["fibre-stains-only"]):
        found = [rule["id"] for rule in listed(run, *options)]
        page = run("rules", *options, "--format", "markdown")[1]
        assert sorted(re.findall(r"^### (\S+)$", page, re.MULTILINE)) == sorted(found)
        assert f"\n{len(found)} of the {len(rulebook().rules)} rules" in page


def test_all_words_for_a_substance_or_a_fibre_find_the_same_rules(run: Run) -> None:
    for option, *words in (
        ("--substance", "soda ash", "Sodium  Carbonate", "soda-ash"),
        ("--fibre", "polyamide", "nylon", "polyamides"),
    ):
        found = [listed(run, option, word) for word in words]
        assert found[0]
        assert all(rules == found[0] for rules in found)


# ---- advisor facts

TABLES = list(tables(knowledge()))


def test_facts_list_names_every_table(run: Run) -> None:
    assert run("facts", "list") == (0, "\n".join(TABLES) + "\n", "")


@pytest.mark.parametrize("table", TABLES)
def test_facts_of_every_table(run: Run, table: str) -> None:
    rows = tables(knowledge())[table]
    status, out, err = run("facts", table)
    assert (status, err) == (0, "")
    assert f"{len(rows)} rows; " in out
    assert max(map(len, out.splitlines())) <= 80
    status, out, _ = run("facts", table, "--format", "json")
    data = json.loads(out)
    assert (status, data["table"], data["count"], len(data["rows"])) == (0, table, len(rows), len(rows))


def test_an_entry_by_id_or_by_another_word_shows_its_sources(run: Run) -> None:
    status, out, _ = run("facts", "substances", "citric acid")
    assert status == 0
    assert "id: citric acid" in out
    assert "source" in out
    assert "basis" in out
    _, by_synonym, _ = run("facts", "substances", "sodium carbonate")
    assert "id: soda ash" in by_synonym


def test_facts_search(run: Run) -> None:
    _, out, _ = run("facts", "fibres", "--search", "silk", "--format", "json")
    found = json.loads(out)
    assert 0 < found["count"] < len(tables(knowledge())["fibres"])
    assert all("silk" in json.dumps(row).casefold() for row in found["rows"])
