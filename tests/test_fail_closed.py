"""Whatever breaks, the command ends with exit status 2, one clear line on stderr, and no verdict on stdout."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from making import Native, made_checker, made_fact, made_rules, rule_text

import advisor
import advisor.checking as checking
import advisor.compiler as compiler
import advisor.engine as engine_module
import advisor.evaluator as evaluator_module
from advisor.checking import Checker, CheckFailure
from advisor.cli import main
from advisor.fact import Fact, Firing
from advisor.facts import FactError, checked
from advisor.interval import Interval
from advisor.knowledge import _FILES, Knowledge, TableError
from advisor.plan import Plan, load_plan

ROOT = Path(__file__).resolve().parents[1]
PLAN = ROOT / "rules" / "plans" / "acid-on-nylon.toml"
OVERDOSED = {"dyes.0.amount": "2 g"}
VERDICTS = ("READY", "DO NOT START", "CHANGE FIRST", "CANNOT TELL", 'verdict":')
Ended = Callable[..., str]
Child = Callable[..., subprocess.CompletedProcess[str]]


def _refused(status: int, stdout: str, stderr: str) -> str:
    assert status == 2, (status, stdout, stderr)
    assert stdout == ""
    assert stderr.startswith("advisor: ")
    assert stderr.count("\n") == 1, stderr
    assert stderr.endswith("\n"), stderr
    assert "Traceback" not in stderr
    assert not any(word in stderr.upper() for word in VERDICTS)
    return stderr


@pytest.fixture
def ended(capsys: pytest.CaptureFixture[str]) -> Ended:
    """Runs the command, makes sure it was refused in both formats' way, and returns the line."""

    def run(*arguments: str) -> str:
        status = main(arguments or ["check", str(PLAN)])
        told = capsys.readouterr()
        return _refused(status, told.out, told.err)

    return run


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Checker:
    """A checker of three rules, which the command uses instead of the shipped one."""
    made = made_checker(
        made_rules(
            tmp_path,
            {
                "over": {"dose": ["share_of_maximum > 1"]},
                "sound-pot": {"vessel": ["condition == 'sound'"], "dose": ["share_owf > 0"]},
                "many": {"dose": ["share_of_maximum <= 1"]},
            },
        )
    )
    monkeypatch.setattr(checking, "checker", lambda: made)
    return made


def test_nothing_broken_gives_a_verdict(small: Checker, capsys: pytest.CaptureFixture[str]) -> None:
    """The tests below can fail: with nothing broken the same command answers."""
    assert main(["check", str(PLAN)]) == 1
    told = capsys.readouterr()
    assert "CHANGE FIRST" in told.out.upper()
    assert told.err == ""


# --- the engine --------------------------------------------------------------------------------------------


def _raises(*_: Any) -> Any:
    raise Exception("planted")


def _real(name: str) -> Any:
    return getattr(engine_module.native, name)


def _for_fact(key: str, answer: Any) -> Callable[..., Any]:
    """assert_fact that answers this for the fact with this id, or for facts of this type."""
    real = _real("assert_fact")

    def replaced(handle: Any, text: str) -> Any:
        fact = json.loads(text)
        if key in (fact["id"], fact["t"]):
            return answer() if callable(answer) else answer
        return real(handle, text)

    return replaced


def _one_dropped() -> Callable[..., Any]:
    """start_action_for_state that keeps one firing of the plan's facts to itself."""
    real, dropped = _real("start_action_for_state"), []

    def replaced(handle: Any, offset: int) -> Any:
        started = real(handle, offset)
        if started and "|" in started[1] and not dropped:
            dropped.append(started)
            following = engine_module.native.complete_and_start_action(handle, offset)
            return (started[0], following, *started[2:]) if following else None
        return started

    return replaced


_ENGINE_FAULTS: dict[str, tuple[Callable[[], dict[str, Any]], str]] = {
    "rules refused": (lambda: {"create_ruleset": _raises}, "the engine refused the rules: planted"),
    "action raises": (lambda: {"start_action_for_state": _raises}, "planted"),
    "completing raises": (lambda: {"complete_and_start_action": _raises}, "planted"),
    "assert raises": (lambda: {"assert_fact": _for_fact("dose", _raises)}, "planted"),
    "fact seen already": (lambda: {"assert_fact": _for_fact("dose", (2, 0))}, "answered 2"),
    "fact put off": (lambda: {"assert_fact": _for_fact("dose", (3, 0))}, "answered 3"),
    "no canary": (lambda: {"assert_fact": _for_fact("c", (1, 0))}, "canary"),
    "no end marker": (lambda: {"assert_fact": _for_fact("e", (1, 0))}, "end marker"),
    "no action at all": (lambda: {"start_action_for_state": lambda *_: None}, "canary"),
    "a firing kept back": (lambda: {"start_action_for_state": _one_dropped()}, "two evaluations"),
}


@pytest.mark.parametrize("name", _ENGINE_FAULTS)
def test_a_fault_of_the_engine(name: str, small: Checker, ended: Ended, monkeypatch: pytest.MonkeyPatch) -> None:
    make, expected = _ENGINE_FAULTS[name]
    monkeypatch.setattr(engine_module, "native", Native(**make()))
    assert expected in ended()


def test_after_a_fault_the_engine_stays_out_of_use(
    small: Checker, ended: Ended, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(engine_module, "native", Native(complete_and_start_action=_raises))
        ended()
    assert "out of use" in ended(), "the engine is sound again, but no longer trusted"


@pytest.mark.parametrize("number", range(0, 60, 7))
def test_a_fact_lost_on_the_way_is_noticed(number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine answers 1 to a fact that no rule knows; for a fact that rules do know, the evaluator objects."""
    checker = made_checker(made_rules(tmp_path, [{"gear": []}, {"person": []}, {"goods": []}, {"finish": []}]))
    facts = [made_fact(t) for t in ("gear", "person", "goods", "finish") for _ in range(15)]
    monkeypatch.setattr(engine_module, "native", Native(assert_fact=_for_fact(f"f{number}", (1, 0))))
    with pytest.raises(CheckFailure, match="two evaluations of the rules differ"):
        checker.fire(facts)


# --- a fault planted in either evaluation ------------------------------------------------------------------


def _swapped(table: Any, one: str, other: str) -> dict[str, Any]:
    return {**table, one: table[other], other: table[one]}


def _program(change: Callable[[dict[str, Any]], dict[str, Any]]) -> Callable[..., Any]:
    real = checking.compile_rules

    def replaced(rules: Any) -> Any:
        program = real(rules)
        return replace(program, definitions=change(dict(program.definitions)))

    return replaced


def _without_first(definitions: dict[str, Any]) -> dict[str, Any]:
    definitions.pop(next(name for name in definitions if name.startswith("many|certain")))
    return definitions


def _with_lost_condition(definitions: dict[str, Any]) -> dict[str, Any]:
    name = next(name for name in definitions if name.startswith("over|certain"))
    ((alias, body),) = definitions[name]["all"][0].items()
    return {**definitions, name: {"all": [{alias: {"$and": body["$and"][:2]}}]}}


def _with_other_word(definitions: dict[str, Any]) -> dict[str, Any]:
    return json.loads(json.dumps(definitions).replace('"sound"', '"chipped"'))  # type: ignore[no-any-return]


_PLANTED: dict[str, Callable[[pytest.MonkeyPatch], None]] = {
    "compiler: > as <": lambda p: p.setattr(compiler, "ENGINE_OP", _swapped(compiler.ENGINE_OP, ">", "<")),
    "compiler: <= as <": lambda p: p.setattr(compiler, "ENGINE_OP", {**compiler.ENGINE_OP, "<=": "$gt"}),
    "compiler: a definition lost": lambda p: p.setattr(checking, "compile_rules", _program(_without_first)),
    "compiler: a condition lost": lambda p: p.setattr(checking, "compile_rules", _program(_with_lost_condition)),
    "compiler: another word": lambda p: p.setattr(checking, "compile_rules", _program(_with_other_word)),
    "evaluator: <= as >": lambda p: p.setattr(
        evaluator_module, "_OPERATORS", {**evaluator_module._OPERATORS, "<=": evaluator_module._OPERATORS[">"]}
    ),
    "evaluator: a firing added": lambda p: p.setattr(
        evaluator_module.Evaluator, "run", _with(Firing("over", True, (0,)))
    ),
    "evaluator: a firing dropped": lambda p: p.setattr(evaluator_module.Evaluator, "run", _with(None)),
    "evaluator: a firing twice": lambda p: p.setattr(evaluator_module.Evaluator, "run", _with("twice")),
}
_real_run = evaluator_module.Evaluator.run


def _with(extra: Any) -> Callable[..., Any]:
    def replaced(self: Any, facts: Any, conclude: Any) -> Any:
        firings = list(_real_run(self, facts, conclude))
        return [*firings, firings[0]] if extra == "twice" else [*firings, extra] if extra else firings[1:]

    return replaced


@pytest.mark.parametrize("name", _PLANTED)
def test_a_fault_planted_in_one_evaluation_is_caught(
    name: str, tmp_path: Path, ended: Ended, small: Checker, monkeypatch: pytest.MonkeyPatch
) -> None:
    evaluator_module.condition_test.cache_clear()
    _PLANTED[name](monkeypatch)
    planted = Checker(small.rulebook, small._knowledge)
    monkeypatch.setattr(checking, "checker", lambda: planted)
    assert "two evaluations of the rules differ" in ended()
    evaluator_module.condition_test.cache_clear()


# --- facts, measures, findings -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"share_owf": "much"}, "share_owf is no number"),
        ({"all_maxima_stated": "perhaps"}, "all_maxima_stated is 'perhaps', not in 'yes/no'"),
        ({"all_maxima_stated": Interval.point(1.0)}, "not in 'yes/no'"),
        ({"extra": "yes"}, "not declared: extra"),
        ({"share_owf": None}, "no number"),
    ],
)
def test_a_fact_that_does_not_fit_the_schema_is_refused(change: dict[str, Any], message: str) -> None:
    good = made_fact("dose")
    with pytest.raises(FactError, match=message):
        checked(replace(good, values={**good.values, **change}))


def test_a_fact_with_a_field_missing_is_refused() -> None:
    good = made_fact("dose")
    with pytest.raises(FactError, match="fields missing or not declared: dry_mass"):
        checked(replace(good, values={n: v for n, v in good.values.items() if n != "dry_mass"}))
    with pytest.raises(FactError, match="text 'dyes' is missing"):
        checked(replace(good, texts={}))


@pytest.mark.parametrize(
    ("values", "expected"),
    [({"share_owf": "x" * 65_536}, "too long"), ({"share_owf": None}, "NoneType"), ({"sid": "x"}, "reserved")],
    ids=["long word", "null", "reserved name"],
)
def test_a_fact_the_engine_refuses(
    values: dict[str, Any], expected: str, small: Checker, ended: Ended, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fact that got past the schema check all the same."""
    real = checking.build_facts
    odd = Fact("dose", "planted", {**made_fact("dose").values, **values})
    monkeypatch.setattr(checking, "build_facts", lambda *a: [*real(*a), odd])
    assert expected in ended()


@pytest.mark.parametrize("name", ["work_out", "build_facts", "verdict", "cautions", "pointers"])
def test_an_error_at_any_step(name: str, small: Checker, ended: Ended, monkeypatch: pytest.MonkeyPatch) -> None:
    def planted(*_: Any) -> Any:
        raise ZeroDivisionError("planted\nover two lines")

    monkeypatch.setattr(checking, name, planted)
    assert "ZeroDivisionError: planted over two lines" in ended()
    with pytest.raises(CheckFailure, match="there is no verdict"):
        small.check(load_plan(PLAN))


def test_no_number_at_all_is_refused_before_it_becomes_a_fact(
    small: Checker, ended: Ended, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = checking.build_facts
    monkeypatch.setattr(checking, "build_facts", lambda *a: [*real(*a), made_fact("dose", share_owf=(float("nan"), 1))])
    assert "not an interval" in ended()


def test_the_python_interface_raises_and_never_returns_a_report(
    small: Checker, base: Callable[..., Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert advisor.check(base("acid-on-nylon", OVERDOSED)).verdict == "change first"
    monkeypatch.setattr(engine_module, "native", Native(complete_and_start_action=_raises))
    with pytest.raises(CheckFailure):
        advisor.check(base("acid-on-nylon", OVERDOSED))


def test_json_output_and_files_hold_no_verdict_either(
    small: Checker, ended: Ended, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine_module, "native", Native(complete_and_start_action=_raises))
    ended("check", str(PLAN), "--format", "json")
    ended("check", str(PLAN), "--output", str(tmp_path / "report.txt"))
    assert not (tmp_path / "report.txt").exists()


# --- rules and tables --------------------------------------------------------------------------------------


def test_a_rule_file_with_an_unknown_field(ended: Ended, tmp_path: Path) -> None:
    text = rule_text("mine", {"dose": ["share_owf > 0"]}).replace(
        'signal = "NOTICE"', 'signal = "NOTICE"\nseverity = 3'
    )
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    line = ended("check", str(PLAN), "--rules", str(tmp_path))
    assert "mine.toml: rule 'mine': severity" in line


def test_more_rules_than_the_engine_stands(ended: Ended, tmp_path: Path) -> None:
    made_rules(tmp_path, {f"mine-{n}": {"dose": ["share_owf > 0"]} for n in range(500)})
    assert "more than 960 patterns" in ended("check", str(PLAN), "--rules", str(tmp_path))


def test_a_folder_of_rules_that_is_not_there(ended: Ended, tmp_path: Path) -> None:
    assert "no such folder of rules" in ended("check", str(PLAN), "--rules", str(tmp_path / "none"))


@pytest.mark.parametrize("file", sorted(_FILES))
def test_a_table_that_is_missing_cut_off_or_empty_names_itself(file: str, tmp_path: Path) -> None:
    folder = tmp_path / "knowledge"
    shutil.copytree(ROOT / "rules" / "knowledge", folder)
    Knowledge(folder)
    whole = (folder / file).read_text(encoding="utf-8")
    (folder / file).unlink()
    with pytest.raises(TableError, match=rf"^{file}: the file is missing"):
        Knowledge(folder)
    for broken in (_cut_in_a_word(whole), "", "nothing = 1\n"):
        (folder / file).write_text(broken, encoding="utf-8")
        with pytest.raises(TableError, match=rf"^{file}: "):
            Knowledge(folder)


def _cut_in_a_word(text: str) -> str:
    """The first half, broken off inside a quoted text."""
    for line_end in range(len(text) // 2, len(text)):
        if text[line_end] == '"' and text[line_end - 2 : line_end] == "= ":
            return text[: line_end + 1]
    raise AssertionError("no text to cut")


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program and its rules, with one small rule file."""
    root = tmp_path_factory.mktemp("checkout")
    for name in ("advisor", "rules"):
        shutil.copytree(ROOT / name, root / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", root)
    for file in (root / "rules" / "checks").glob("*.toml"):
        file.unlink()
    (root / "rules" / "checks" / "made.toml").write_text(
        rule_text("over", {"dose": ["share_of_maximum > 1"]}) + "[end]\nrows = 1\n", encoding="utf-8"
    )
    return root


@pytest.fixture
def broken(checkout: Path) -> Iterator[Path]:
    """The copy, put right again after the test."""
    kept = {path: path.read_bytes() for path in (checkout / "rules").rglob("*.*")}
    yield checkout
    for path, content in kept.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def test_the_copy_works(checkout: Path, child: Child) -> None:
    done = child("-m", "advisor", "check", "rules/plans/acid-on-nylon.toml", root=checkout)
    assert done.returncode == 0, done.stderr
    assert "READY" in done.stdout


@pytest.mark.parametrize(
    "file", ["units", "fibres", "labels", "substances", "limits", "sources", "questions", "topics"]
)
def test_the_command_with_a_table_missing(file: str, broken: Path, child: Child) -> None:
    (broken / "rules" / "knowledge" / f"{file}.toml").unlink()
    done = child("-m", "advisor", "check", "rules/plans/acid-on-nylon.toml", root=broken)
    assert f"{file}.toml" in _refused(done.returncode, done.stdout, done.stderr)


@pytest.mark.parametrize("file", ["units", "dye_classes", "topics"])
def test_the_command_with_a_table_cut_off(file: str, broken: Path, child: Child) -> None:
    path = broken / "rules" / "knowledge" / f"{file}.toml"
    path.write_text(_cut_in_a_word(path.read_text(encoding="utf-8")), encoding="utf-8")
    done = child("-m", "advisor", "check", "rules/plans/acid-on-nylon.toml", root=broken)
    assert f"{file}.toml" in _refused(done.returncode, done.stdout, done.stderr)


def test_the_command_without_its_rules(broken: Path, child: Child) -> None:
    (broken / "rules" / "checks" / "made.toml").unlink()
    done = child("-m", "advisor", "check", "rules/plans/acid-on-nylon.toml", root=broken)
    assert "no rule in this folder" in _refused(done.returncode, done.stdout, done.stderr)


def test_the_command_without_its_folder_of_rules(broken: Path, child: Child) -> None:
    shutil.copy(broken / "rules" / "plans" / "acid-on-nylon.toml", broken / "plan.toml")
    shutil.rmtree(broken / "rules")
    done = child("-m", "advisor", "check", "plan.toml", root=broken)
    assert "no rules found" in _refused(done.returncode, done.stdout, done.stderr)


def test_the_command_with_a_broken_rule_file(broken: Path, child: Child) -> None:
    text = rule_text("worse", {"dose": ["share_owf > 3"]}) + "[end]\nrows = 1\n"
    (broken / "rules" / "checks" / "made.toml").write_text(text, encoding="utf-8")
    done = child("-m", "advisor", "check", "rules/plans/acid-on-nylon.toml", root=broken)
    assert "made.toml: rule 'worse'" in _refused(done.returncode, done.stdout, done.stderr)


_CRASHING = """
import os, sys
from advisor.cli import main
import advisor.engine as engine_module
class Crashes:
    def __getattr__(self, name): return getattr(real, name)
    def complete_and_start_action(self, *a): os.kill(os.getpid(), 11)
real, engine_module.native = engine_module.native, Crashes()
sys.exit(main(["check", "rules/plans/acid-on-nylon.toml"]))
"""


def test_a_crash_of_the_engine_prints_no_verdict(checkout: Path, child: Child) -> None:
    """A crash of the C code ends the process before anything is printed."""
    done = child("-c", _CRASHING, root=checkout)
    assert done.returncode not in (0, 1, 3)
    assert done.stdout == ""
