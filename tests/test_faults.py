"""Crashes, cut tables, full and read-only disks, odd surroundings, many threads, long runs: never a wrong verdict.

That a fault inside one process ends without a verdict is tested in test_fail_closed.py; here the fault lies around it.
"""

from __future__ import annotations

import builtins
import hashlib
import json
import os
import pickle
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from making import rule_text
from renew import counted_files, with_count

import advisor.rulebook as rulebook_module
import advisor.screening.tables as trials_module
import advisor.wording as wording_module
from advisor import chemistry, store
from advisor.checking import Checker
from advisor.cli import main
from advisor.ending import CutShort, rows_in, without_end
from advisor.errors import AdvisorError
from advisor.knowledge import _FILES, TableError, _load, knowledge
from advisor.output import OutputError, write_new
from advisor.physics import Physics
from advisor.plan import Plan
from advisor.render.data import report_json
from advisor.rulebook import RuleError, load_rules

ROOT = Path(__file__).resolve().parents[1]
RULES = ROOT / "rules"
PLAN = str(RULES / "plans" / "acid-on-nylon.toml")
VERDICTS = ("READY", "DO NOT START", "CHANGE FIRST", "CANNOT TELL", 'VERDICT":')
Child = Callable[..., subprocess.CompletedProcess[str]]
Base = Callable[..., Plan]


def no_answer(status: int, stdout: str, stderr: str) -> None:
    """No exit status that means an answer, no word of a verdict, no traceback."""
    assert status not in (0, 1, 3), (status, stdout, stderr)
    assert not any(word in (stdout + stderr).upper() for word in VERDICTS), stdout
    assert "Traceback" not in stderr
    assert "Exception ignored" not in stderr


# --- a crash of the engine, at each call into its C code ----------------------------------------------------

_CRASHES = """
import os, sys
import advisor.engine as engine_module
class Crashes:
    def __getattr__(self, name):
        return (lambda *a: os.kill(os.getpid(), SIGNAL)) if name == "CALL" else getattr(real, name)
real, engine_module.native = engine_module.native, Crashes()
from advisor.cli import main
sys.exit(main(["check", sys.argv[1], *sys.argv[2:]]))
"""
_CALLS = ("create_ruleset", "assert_fact", "start_action_for_state", "complete_and_start_action", "delete_state")


@pytest.mark.parametrize("call", _CALLS)
def test_a_crash_in_any_call_of_the_engine(call: str, child: Child, tmp_path: Path) -> None:
    page = tmp_path / "report.json"
    script = _CRASHES.replace("CALL", call).replace("SIGNAL", "11")
    done = child("-c", script, PLAN, "--format", "json", "--output", str(page))
    no_answer(done.returncode, done.stdout, done.stderr)
    assert done.stdout == ""
    assert not page.exists()
    whole = child("-c", script.replace(f'== "{call}"', '== "none"'), PLAN, "--format", "json")
    assert json.loads(whole.stdout)["verdict"] == "ready", "without the crash the same script answers"


@pytest.mark.parametrize("signal", [6, 9, 15])
def test_a_process_that_is_ended_from_outside(signal: int, child: Child) -> None:
    done = child("-c", _CRASHES.replace("CALL", "assert_fact").replace("SIGNAL", str(signal)), PLAN)
    no_answer(done.returncode, done.stdout, done.stderr)


# --- tables and rules that are cut off ----------------------------------------------------------------------


def read_table(folder: Path, file: str, patch: pytest.MonkeyPatch) -> None:
    """Read one file under rules/knowledge by the reader that is its own."""
    if file in _FILES:
        _load(folder, file)
    elif file == "physics.toml":
        Physics(folder / file)
    elif file == "chemistry.toml":
        chemistry.load(folder)
    elif file == "topics.toml":
        patch.setattr(rulebook_module, "rules_root", lambda: folder.parent)
        rulebook_module.load_topics.__wrapped__()
    elif file == "trials.toml":
        patch.setattr(trials_module, "rules_root", lambda: folder.parent)
        trials_module.screen_tables.__wrapped__()
    else:
        assert file.startswith("wording/")
        patch.setattr(wording_module, "rules_root", lambda: folder.parent)
        wording_module._read(file.removeprefix("wording/").removesuffix(".toml"))


TABLES = sorted(str(path.relative_to(RULES / "knowledge")) for path in (RULES / "knowledge").rglob("*.toml"))
CHECKS = sorted(path.name for path in (RULES / "checks").glob("*.toml"))
FAULTS = (TableError, RuleError)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty rules/knowledge."""
    (tmp_path / "knowledge" / "wording").mkdir(parents=True)
    return tmp_path / "knowledge"


def test_a_topic_without_a_key_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "topics.toml").write_text('[[topic]]\nid = "x"\nfamily = "y"\n[end]\nrows = 1\n', encoding="utf-8")
    with pytest.raises(
        RuleError, match=r"topics\.toml: 'title' is missing; each \[\[topic\]\] has id, family and title"
    ):
        read_table(folder, "topics.toml", monkeypatch)


def cuts(whole: bytes, most: int) -> list[int]:
    """Lengths to cut to: between two rows, at line ends, inside lines, and the last bytes one by one."""
    ends = [at + 1 for at, byte in enumerate(whole) if byte == 10]
    between = [at for at in ends if whole[at : at + 2] == b"[["]
    chosen = {*between[:: max(1, len(between) // most)], *ends[:: max(1, len(ends) // most)]}
    chosen |= {len(whole) * step // most for step in range(most)} | set(range(len(whole) - 12, len(whole)))
    return sorted(length for length in chosen if length < len(whole) - 1)  # without its last line end it is whole


@pytest.mark.parametrize("file", TABLES)
def test_a_table_cut_anywhere_is_refused_by_name(file: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = (RULES / "knowledge" / file).read_bytes()
    (folder / file).write_bytes(whole)
    read_table(folder, file, monkeypatch)
    for length in cuts(whole, 12):
        (folder / file).write_bytes(whole[:length])
        with pytest.raises(FAULTS, match=rf"^{file}: "):
            read_table(folder, file, monkeypatch)


@pytest.mark.parametrize("file", ["people.toml"])
def test_a_small_table_cut_at_every_byte(file: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = (RULES / "knowledge" / file).read_bytes()
    for length in range(len(whole) - 1):  # the last byte is the line end, and its loss loses nothing
        (folder / file).write_bytes(whole[:length])
        with pytest.raises(FAULTS, match=rf"^{file}: "):
            read_table(folder, file, monkeypatch)


@pytest.mark.parametrize("file", CHECKS)
def test_a_rule_file_cut_anywhere_is_refused_by_name(file: str, tmp_path: Path) -> None:
    whole = (RULES / "checks" / file).read_bytes()
    for length in cuts(whole, 6):
        (tmp_path / file).write_bytes(whole[:length])
        with pytest.raises(RuleError, match=rf"^{file}: "):
            load_rules(tmp_path, knowledge(), counted=True)


def test_a_small_rule_file_cut_at_every_byte(tmp_path: Path) -> None:
    whole = with_count("\n".join(rule_text(f"r{n}", {"dose": ["share_owf > 1"]}) for n in range(2))).encode()
    (tmp_path / "made.toml").write_bytes(whole)
    assert len(load_rules(tmp_path, knowledge(), counted=True)) == 2
    for length in range(len(whole) - 1):
        (tmp_path / "made.toml").write_bytes(whole[:length])
        with pytest.raises(RuleError, match=r"^made\.toml: "):
            load_rules(tmp_path, knowledge(), counted=True)


def test_rows_lost_from_the_middle_or_added_are_noticed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (RULES / "knowledge" / "people.toml").read_text(encoding="utf-8")
    head, row, tail = text.partition("[[person]]")
    one = row + tail.partition("[[person]]")[0]
    assert one.count("[[person]]") == 1
    for wrong in (text.replace(one, ""), head + one.replace('id = "', 'id = "made ') + row + tail):
        (folder / "people.toml").write_text(wrong, encoding="utf-8")
        with pytest.raises(TableError, match=r"the file ends early or rows were added without counting them: .*counts"):
            read_table(folder, "people.toml", monkeypatch)


def test_the_end_marker_of_a_users_own_rules_is_theirs_to_leave_out(tmp_path: Path) -> None:
    text = rule_text("mine", {"dose": ["share_owf > 1"]})
    (tmp_path / "made.toml").write_text(text, encoding="utf-8")
    assert load_rules(tmp_path, knowledge())
    (tmp_path / "made.toml").write_text(text + "[end]\nrows = 2\n", encoding="utf-8")
    with pytest.raises(RuleError, match=r"made\.toml: .*\[end\] counts 2 rows, the file has 1"):
        load_rules(tmp_path, knowledge())


@pytest.mark.parametrize("marker", [3, {}, {"rows": "1"}, {"rows": True}, {"rows": 1.0}, {"rows": 1, "more": 1}, []])
def test_an_end_marker_of_another_shape(marker: object) -> None:
    with pytest.raises(CutShort, match="no more and no less"):
        without_end({"row": [1], "end": marker})


def test_every_shipped_file_counts_its_rows_as_renew_does() -> None:
    for path in counted_files(RULES):
        text = path.read_text(encoding="utf-8")
        assert with_count(text) == text, f"{path.name}: run python -m tests.renew counts"
    assert rows_in({"a": [1, 2], "b": {"c": {"d": 1}, "e": 5}, "f": "x"}) == 3


@pytest.mark.parametrize("file", TABLES)
def test_a_table_that_is_missing_a_folder_or_no_text(file: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FAULTS, match=rf"^{file}: the file is missing"):
        read_table(folder, file, monkeypatch)
    (folder / file).mkdir()
    with pytest.raises(FAULTS, match=rf"^{file}: cannot be read: Is a directory"):
        read_table(folder, file, monkeypatch)
    (folder / file).rmdir()
    (folder / file).write_bytes(b"\xff\xfe\x00[")
    with pytest.raises(FAULTS, match=rf"^{file}: not readable as TOML: "):
        read_table(folder, file, monkeypatch)


# --- disks --------------------------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 kB, empty."""
    place = tmp_path / "disk"
    place.mkdir()
    made = (
        os.geteuid() == 0
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=64k,mode=700", "none", str(place)], capture_output=True, check=False
        ).returncode
    )
    if not made:
        pytest.skip("a small disk can be mounted by root only, and not in every container")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def filled(disk: Path) -> None:
    """Leave no byte free."""
    with (disk / "filler").open("wb", buffering=0) as stream:
        try:
            while stream.write(b"x" * 4096):
                pass
        except OSError:
            return


COMMANDS = (
    ("check", PLAN),
    ("check", PLAN, "--format", "json"),
    ("screen", "100% wool", "--format", "csv"),
    ("handout", str(ROOT / "examples" / "sessions" / "wardrobe-evening.toml")),
    ("facts", "substances", "--format", "json"),
)


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(w for w in command if "/" not in w))
def test_an_output_file_on_a_full_disk(
    command: tuple[str, ...], small_disk: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    page = small_disk / "page"
    page.write_text("what stood there", encoding="utf-8")
    filled(small_disk)
    status = main([*command, "--output", str(page), "--force"])
    told = capfd.readouterr()
    no_answer(status, told.out, told.err)
    assert told.err.startswith("advisor: ")
    assert "No space left" in told.err
    assert page.read_text(encoding="utf-8") == "what stood there", "the old file is whole"
    assert sorted(path.name for path in small_disk.iterdir()) == ["filler", "page"], "no half-written file is left"


def test_an_amended_plan_on_a_full_disk(small_disk: Path, capfd: pytest.CaptureFixture[str]) -> None:
    filled(small_disk)
    status = main(["check", str(ROOT / "examples" / "mixed-braid-navy.toml"), "--amend", str(small_disk / "new.toml")])
    told = capfd.readouterr()
    no_answer(status, told.out, told.err)
    assert [path.name for path in small_disk.iterdir()] == ["filler"]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(w for w in command if "/" not in w))
def test_a_terminal_that_takes_no_more(command: tuple[str, ...], child: Child) -> None:
    """/dev/full refuses each byte as a full disk does."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full here")
    done = child("-c", "import os, sys; os.execv(sys.executable, [sys.executable, '-m', 'advisor', *sys.argv[2:]])"
                 " if not os.dup2(os.open(sys.argv[1], os.O_WRONLY), 1) == 0 else 0", "/dev/full", *command)  # fmt: skip
    no_answer(done.returncode, done.stdout, done.stderr)
    assert done.returncode == 2
    assert "No space left" in done.stderr


def test_a_read_only_disk_makes_no_difference_but_to_output(small_disk: Path, child: Child) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    script = (
        "import os, sys; os.environ['ADVISOR_CACHE'] = os.environ['TMPDIR'] = sys.argv[1];"
        "from advisor.cli import main; sys.exit(main(sys.argv[2:]))"
    )
    done = child("-c", script, str(small_disk), "check", PLAN, "--format", "json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["verdict"] == "ready"
    done = child("-c", script, str(small_disk), "check", PLAN, "--output", str(small_disk / "page"))
    no_answer(done.returncode, done.stdout, done.stderr)
    assert "Read-only file system" in done.stderr


@pytest.mark.parametrize("error", [OSError(5, "Input/output error"), KeyboardInterrupt()])
def test_a_write_broken_off(error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.txt"
    page.write_text("old", encoding="utf-8")

    def planted(*_: Any) -> None:
        raise error

    monkeypatch.setattr(os, "replace", planted)
    with pytest.raises((OutputError, KeyboardInterrupt)):
        write_new(page, "new", force=True)
    assert page.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["page.txt"]


def test_a_process_killed_while_it_writes_leaves_the_old_file(child: Child, tmp_path: Path) -> None:
    page = tmp_path / "page.json"
    page.write_text("old", encoding="utf-8")
    script = "import os, sys; os.replace = lambda *a: os.kill(os.getpid(), 9)\nfrom advisor.cli import main; main(sys.argv[1:])"
    done = child("-c", script, "check", PLAN, "--output", str(page), "--force")
    no_answer(done.returncode, done.stdout, done.stderr)
    assert page.read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize("what", ["a folder", "missing", "no rights"])
def test_a_plan_that_cannot_be_read(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "plan.toml"
    if what == "a folder":
        plan.mkdir()
    elif what == "no rights":
        if os.geteuid() == 0:
            pytest.skip("root may read every file")
        shutil.copy(PLAN, plan)
        plan.chmod(0)
    for command in ("check", "limits", "handout"):
        status = main([command, str(plan)])
        told = capsys.readouterr()
        no_answer(status, told.out, told.err)
        assert "plan.toml" in told.err
        assert told.err.count("\n") == 1


def test_a_file_without_rights_is_refused_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As above, for root too: the system's own refusal is planted."""
    plan = tmp_path / "plan.toml"
    shutil.copy(PLAN, plan)

    real = builtins.open

    def refused(file: Any, *arguments: Any, **named: Any) -> Any:
        if str(file) == str(plan):
            raise PermissionError(13, "Permission denied")
        return real(file, *arguments, **named)

    monkeypatch.setattr(builtins, "open", refused)
    status = main(["check", str(plan)])
    monkeypatch.undo()
    told = capsys.readouterr()
    no_answer(status, told.out, told.err)
    assert told.err == f"advisor: {plan}: cannot be read: Permission denied\n"


# --- what is kept between runs --------------------------------------------------------------------------------


@pytest.fixture
def kept_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of its own, closed to others."""
    place = tmp_path / "store"
    place.mkdir(mode=0o700)
    monkeypatch.setenv(store.SWITCH, str(place))
    return place


def stored(place: Path, name: str = "thing") -> Path:
    """The one file there of this name."""
    (found,) = place.glob(f"{name}-*.bin")
    return found


def ask(value: object, name: str = "thing") -> tuple[object, bool]:
    """What the store gives, and whether it had to be made."""
    made: list[object] = []

    def make() -> object:
        made.append(value)
        return value

    return store.kept(name, make), bool(made)


def test_a_store_gives_back_what_was_made(kept_in: Path) -> None:
    assert ask({"a": 1}) == ({"a": 1}, True)
    assert ask("not asked for") == ({"a": 1}, False)
    assert stored(kept_in).stat().st_mode & 0o077 == 0


def test_a_store_changed_or_cut_at_any_byte_is_made_anew(kept_in: Path) -> None:
    ask({"a": 1})
    path = stored(kept_in)
    whole = path.read_bytes()
    for at in range(len(whole)):
        for broken in (whole[:at], whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]):
            path.write_bytes(broken)
            assert ask({"a": 2}) == ({"a": 2}, True)


def test_a_store_of_another_version_or_of_another_table_is_not_taken(
    kept_in: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask("old")
    old = stored(kept_in)
    content = old.read_bytes()
    monkeypatch.setattr(store, "_seal", lambda root: "0" * 40)
    assert ask("new") == ("new", True)
    path = stored(kept_in)
    assert path.name == f"thing-{'0' * 40}.bin"
    path.write_bytes(content)  # the old version under the name of the new one
    assert ask("new") == ("new", True)
    path.rename(path.with_name(path.name.replace("thing", "other")))
    assert ask("other", "other") == ("other", True)


def test_a_changed_rule_or_line_of_code_changes_the_seal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = tmp_path / "rules"
    shutil.copytree(RULES / "knowledge", root / "knowledge")
    monkeypatch.setattr(store, "rules_root", lambda: root)
    before = store._seal.__wrapped__("x")
    with (root / "knowledge" / "people.toml").open("a", encoding="utf-8") as stream:
        stream.write("#")
    assert store._seal.__wrapped__("x") != before


class _Bomb:
    """Unpickling it leaves a trace."""

    def __init__(self, trace: Path) -> None:
        self.trace = trace

    def __reduce__(self) -> tuple[Any, ...]:
        return (Path.touch, (self.trace,))


def planted_bomb(place: Path, trace: Path) -> Path:
    """A file as the store would write it, that runs code when it is read."""
    ask("ours")
    path = stored(place)
    payload = pickle.dumps(_Bomb(trace))
    path.write_bytes(hashlib.sha256(path.name.encode() + b"\0" + payload).digest() + payload)
    return path


@pytest.mark.parametrize("mode", [0o777, 0o770, 0o1777, 0o702])
def test_a_folder_that_others_may_write_to_is_not_used(mode: int, kept_in: Path, tmp_path: Path) -> None:
    trace = tmp_path / "trace"
    planted_bomb(kept_in, trace)
    kept_in.chmod(mode)
    assert ask("ours") == ("ours", True)
    assert not trace.exists(), "nothing there is unpickled"
    stored(kept_in).unlink()
    assert ask("ours") == ("ours", True)
    assert not list(kept_in.iterdir()), "and nothing is left there"
    kept_in.chmod(0o700)
    assert ask("ours")[1]
    assert not ask("ours")[1]


def test_a_file_that_others_may_write_to_is_not_read(kept_in: Path, tmp_path: Path) -> None:
    trace = tmp_path / "trace"
    planted_bomb(kept_in, trace).chmod(0o666)
    assert ask("ours") == ("ours", True)
    assert not trace.exists()


def test_a_folder_or_file_of_somebody_else_is_not_used(
    kept_in: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trace = tmp_path / "trace"
    planted_bomb(kept_in, trace)
    if os.geteuid() == 0:
        os.chown(kept_in, 12345, 12345)
        assert ask("ours") == ("ours", True)
        os.chown(kept_in, 0, 0)
        os.chown(stored(kept_in), 12345, 12345)
        assert ask("ours") == ("ours", True)
    else:
        monkeypatch.setattr(os, "geteuid", lambda: 12345)
        assert ask("ours") == ("ours", True)
    assert not trace.exists()


def test_the_bomb_would_go_off_in_a_folder_of_ours(kept_in: Path, tmp_path: Path) -> None:
    """The tests above can fail."""
    planted_bomb(kept_in, tmp_path / "trace")
    ask("ours")
    assert (tmp_path / "trace").exists()


def test_a_store_that_is_a_file_or_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    for place in (str(tmp_path / "file"), "/proc/nowhere", "\0", "/dev/null/x"):
        monkeypatch.setattr(os, "environ", {**os.environ, store.SWITCH: place})
        assert ask("ours") == ("ours", True)


def test_what_cannot_be_pickled_or_written_whole_leaves_nothing(kept_in: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    value = threading.Lock()
    assert ask(value) == (value, True)

    def planted(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", planted)
    assert ask("ours") == ("ours", True)
    assert not list(kept_in.iterdir())


def test_a_store_on_a_full_disk(small_disk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(small_disk)
    monkeypatch.setenv(store.SWITCH, str(small_disk))
    assert ask("x" * 100_000) == ("x" * 100_000, True)
    assert [path.name for path in small_disk.iterdir()] == ["filler"]


def test_the_command_answers_the_same_with_every_state_of_the_store(child: Child, tmp_path: Path) -> None:
    place = tmp_path / "store"
    place.mkdir(mode=0o700)
    script = (
        "import os, sys; os.environ['ADVISOR_CACHE'] = sys.argv[1];"
        "from advisor.cli import main; sys.exit(main(['check', sys.argv[2], '--format', 'json']))"
    )
    states: dict[str, Callable[[], object]] = {
        "empty": lambda: None,
        "full": lambda: None,
        "cut": lambda: [p.write_bytes(p.read_bytes()[:-9]) for p in place.iterdir()],
        "swapped": lambda: [
            p.write_bytes(max(place.iterdir(), key=lambda q: q.stat().st_size).read_bytes()) for p in place.iterdir()
        ],
        "open": lambda: place.chmod(0o777),
    }
    answers = {}
    for name, change in states.items():
        change()
        done = child("-c", script, str(place), PLAN)
        answers[name] = (done.returncode, done.stdout, done.stderr)
    assert len(set(answers.values())) == 1, answers
    assert answers["empty"][0] == 0


# --- clock, locale, terminal ----------------------------------------------------------------------------------

_AT = """
import sys, time
for name in ("time", "time_ns", "monotonic", "localtime"):
    setattr(time, name, lambda *a: CLOCK)
from advisor.cli import main
sys.exit(main(["check", sys.argv[1], "--format", "json"]))
"""


def test_clock_and_time_zone_change_nothing(child: Child, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = child("-m", "advisor", "check", PLAN, "--format", "json")
    assert plain.returncode == 0
    for clock, zone in (("-1e9", "Pacific/Kiritimati"), ("4e12", "nowhere/at-all"), ("0", "")):
        monkeypatch.setenv("TZ", zone)
        done = child("-c", _AT.replace("CLOCK", clock), PLAN)
        assert (done.returncode, done.stdout, done.stderr) == (0, plain.stdout, "")


@pytest.fixture(scope="module")
def locales(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Locales with a decimal comma (de_DE) and with a dotless i (tr_TR), made for these tests."""
    place = tmp_path_factory.mktemp("locales")
    for name in ("de_DE", "tr_TR"):
        if (
            shutil.which("localedef") is None
            or subprocess.run(
                ["localedef", "-i", name, "-f", "UTF-8", str(place / f"{name}.UTF-8")], capture_output=True, check=False
            ).returncode
        ):
            pytest.skip("locales cannot be made here: localedef, or its sources, are missing")
    return place


@pytest.mark.parametrize("name", ["de_DE.UTF-8", "tr_TR.UTF-8", "C", "xx_XX.nowhere"])
def test_the_users_locale_changes_nothing(
    name: str, locales: Path, child: Child, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = child("-m", "advisor", "check", PLAN, "--format", "json").stdout
    for variable, value in (("LOCPATH", str(locales)), ("LC_ALL", name), ("LANGUAGE", name[:2])):
        monkeypatch.setenv(variable, value)
    done = child("-m", "advisor", "check", PLAN, "--format", "json")
    assert (done.returncode, done.stdout, done.stderr) == (0, plain, "")


@pytest.mark.parametrize("name", ["de_DE.UTF-8", "tr_TR.UTF-8"])
def test_a_program_that_sets_a_decimal_comma_gets_no_verdict(name: str, locales: Path, child: Child) -> None:
    """The engine's C code would read 1.7 as 1: such a process is told so, and nothing is latched."""
    script = f"""
import locale, os
os.environ["LOCPATH"] = {str(locales)!r}
import advisor
from advisor.checking import CheckFailure
print(advisor.check({PLAN!r}).verdict)
locale.setlocale(locale.LC_ALL, {name!r})
try:
    print(advisor.check({PLAN!r}).verdict)
except CheckFailure as error:
    print("refused:", error)
locale.setlocale(locale.LC_NUMERIC, "C")
print(advisor.check({PLAN!r}).verdict)
"""
    done = child("-c", script)
    first, second, third = done.stdout.splitlines()
    assert (first, third) == ("ready", "ready"), done.stderr
    assert second.startswith("refused: the check failed, so there is no verdict")
    assert "the decimal sign of this process is ','" in second


@pytest.mark.parametrize("word", ["SİLK", "sılk", "ﬁbre", "LİNEN", "AcrylİC", "NYLON", "ſilk", "wool\u0307"])
def test_letters_that_change_with_case_never_name_another_fibre(word: str) -> None:
    """İ, ı, ſ and ligatures fold to more, or other, letters: what is read is the fibre meant, or a refusal."""
    from advisor.labels import LabelError, read_label

    try:
        fibres = {part.fibre for whole in read_label(f"100% {word}").parts for part in whole.components}
    except LabelError:
        return
    assert fibres <= {"unknown", "silk", "linen", "flax", "acrylic", "nylon", "wool"}
    assert len(fibres) == 1


@pytest.mark.parametrize(
    "surroundings",
    [
        {"TERM": "", "COLUMNS": "0"},
        {"COLUMNS": "3"},
        {"TERM": "dumb", "COLUMNS": "-5", "LINES": "x"},
        {"TERM": "xterm", "COLUMNS": "99999999"},
        {"NO_COLOR": "1", "PYTHONIOENCODING": "ascii"},
        {"HOME": "/nowhere", "XDG_CACHE_HOME": "/proc/x", "PYTHONUTF8": "0", "LC_ALL": "C"},
    ],
    ids=lambda s: "+".join(s),
)
def test_without_a_terminal_a_home_or_an_encoding(surroundings: dict[str, str]) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **surroundings}
    done = subprocess.run(
        [sys.executable, "-m", "advisor", "check", PLAN],
        env=environment, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, check=False,
        start_new_session=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"READY" in done.stdout
    assert b"replaces neither" in b" ".join(done.stdout.split()), "no word is lost"
    assert done.stderr == b""


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(w for w in command if "/" not in w))
def test_a_pipe_that_nobody_reads(command: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "advisor", *command],
        env={**os.environ, "PYTHONPATH": str(ROOT)}, cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, check=False,
        timeout=60,
    )  # fmt: skip
    os.close(writing)
    no_answer(done.returncode, "", done.stderr.decode())
    assert done.returncode == 2
    assert done.stderr == b""


@pytest.mark.parametrize("closed", [(1,), (2,), (0, 1, 2), (0,)])
def test_streams_that_are_closed_from_the_start(closed: tuple[int, ...]) -> None:
    close = "; ".join(f"os.close({number})" for number in closed)
    script = (
        f"import os, sys; {close}; os.execv(sys.executable, [sys.executable, '-m', 'advisor', 'check', sys.argv[1]])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, PLAN], env={**os.environ, "PYTHONPATH": str(ROOT)}, cwd=ROOT,
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    if 1 in closed:
        assert done.returncode == 2
        no_answer(done.returncode, done.stdout, done.stderr)
    else:
        assert (done.returncode, "READY" in done.stdout) == (0, True)
    assert "Traceback" not in done.stderr


# --- many threads, many processes, many checks ----------------------------------------------------------------

_CHANGES: tuple[dict[str, Any], ...] = (
    {},
    {"dyes.0.amount": "2 g"},
    {"dyes.0.maximum": "unknown"},
    {"vessel.capacity": "unknown"},
    {"bath.temperature": "120 degC"},
    {"vessel.used_for_food": True},
    {"people.wearing": []},
    {"space.ventilation": "none"},
)


@pytest.fixture(scope="module")
def expected(checker: Checker, base: Base) -> list[tuple[Plan, str]]:
    """Plans, and the whole report of each as one thread makes it."""
    plans = [base("acid-on-nylon", change) for change in _CHANGES]
    reports = [report_json(checker.check(plan)) for plan in plans]
    assert len({json.loads(report)["verdict"] for report in reports}) >= 3
    return [*zip(plans, reports, strict=True)]


def test_a_thousand_checks_in_eight_threads(checker: Checker, expected: list[tuple[Plan, str]]) -> None:
    def one(number: int) -> bool:
        plan, report = expected[(number * 5 + number // 8) % len(expected)]
        return report_json(checker.check(plan)) == report

    with ThreadPoolExecutor(8) as threads:
        assert sum(threads.map(one, range(1000))) == 1000


def test_a_fork_after_loading(checker: Checker, expected: list[tuple[Plan, str]]) -> None:
    """Each child has an engine of its own; the parent's goes on afterwards."""
    plan, report = expected[1]
    children = []
    for _ in range(4):
        pid = os.fork()
        if pid == 0:
            same = False
            try:
                same = report_json(checker.check(plan)) == report
            finally:
                os._exit(0 if same else 1)
        children.append(pid)
    assert [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children] == [0, 0, 0, 0]
    assert report_json(checker.check(plan)) == report


_LONG = """
import sys, time
from advisor.cases import base_plan, changed
from advisor.checking import checker
from advisor.plan import read_plan
from test_faults import _CHANGES
total = int(sys.argv[1])
made, plans = checker(), [read_plan(changed(base_plan("acid-on-nylon"), change)) for change in _CHANGES]
verdicts = [made.check(plan).verdict for plan in plans]
def memory():
    with open("/proc/self/statm") as stream:
        return int(stream.read().split()[1]) * 4096 / 1e6
sizes = []
for number in range(total):
    assert made.check(plans[number % len(plans)]).verdict == verdicts[number % len(plans)], number
    if number % (total // 10) == total // 10 - 1:
        sizes.append(memory())
print(*(f"{size:.1f}" for size in sizes))
"""


def _memory_over(total: int, child: Child, seconds: float) -> list[float]:
    if not Path("/proc/self/statm").exists():
        pytest.skip("there is no /proc here to read the memory from")
    done = child("-c", _LONG, str(total), seconds=seconds)
    assert done.returncode == 0, done.stderr
    return [float(size) for size in done.stdout.split()]


def test_two_thousand_checks_in_one_process(child: Child) -> None:
    sizes = _memory_over(2000, child, 300)
    print("MB:", sizes)
    assert sizes[-1] - sizes[2] < 3, sizes


@pytest.mark.sweep
def test_two_hundred_thousand_checks_in_one_process(child: Child) -> None:
    begin = time.monotonic()
    sizes = _memory_over(200_000, child, 4 * 3600)
    print(f"200,000 checks in {time.monotonic() - begin:.0f} s; memory in MB at each tenth: {sizes}")
    assert sizes[-1] - sizes[0] < 8, sizes


def test_every_fault_here_is_an_error_of_our_own() -> None:
    for error in (TableError, RuleError, OutputError):
        assert issubclass(error, AdvisorError)
