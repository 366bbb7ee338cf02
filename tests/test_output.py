"""Where commands write: whole files or none, links kept, folders and devices refused, a file for each output."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.cli import main
from advisor.output import OutputError, write_new
from advisor.planfile import PlanFile, PlanFileError

ROOT = Path(__file__).resolve().parents[1]
GOOD, BAD = (ROOT / "examples" / f"{name}.toml" for name in ("act-two-ribbon", "first-try-lace"))
Run = Callable[..., tuple[int, str, str]]
COMMANDS = (["check", GOOD], ["rules"], ["screen", "100% wool"])


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs the command in this process: status, stdout, stderr."""

    def call(*arguments: str | Path) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return status, told.out, told.err

    return call


@pytest.mark.parametrize("command", COMMANDS, ids=str)
def test_a_device_a_pipe_and_a_folder_stay_what_they_are(run: Run, tmp_path: Path, command: list[str | Path]) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "null").symlink_to("/dev/null")
    for name, word in (("folder", "folder"), ("pipe", "device or pipe"), ("null", "device or pipe")):
        for more in ([], ["--force"]):
            status, out, err = run(*command, "--output", tmp_path / name, *more)
            assert (status, out) == (2, "")
            assert err == f"advisor: {tmp_path / name}: is a {word}; accepted: the name of a file\n"
    assert (tmp_path / "folder").is_dir()
    assert (tmp_path / "pipe").is_fifo()
    assert (tmp_path / "null").is_symlink()


@pytest.mark.parametrize("command", COMMANDS, ids=str)
def test_a_link_stays_a_link(run: Run, tmp_path: Path, command: list[str | Path]) -> None:
    link, file = tmp_path / "link.txt", tmp_path / "file.txt"
    link.symlink_to(file)
    assert run(*command, "--output", link)[0] == 0
    first = file.read_text(encoding="utf-8")
    file.write_text("mine", encoding="utf-8")
    assert run(*command, "--output", link)[0] == 2
    assert run(*command, "--output", link, "--force")[0] == 0
    assert link.is_symlink()
    assert file.read_text(encoding="utf-8") == first


@pytest.mark.parametrize("command", COMMANDS, ids=str)
def test_a_name_that_cannot_be_is_one_line(run: Run, tmp_path: Path, command: list[str | Path]) -> None:
    status, out, err = run(*command, "--output", tmp_path / ("x" * 300))
    assert (status, out) == (2, "")
    assert err.endswith("cannot be written: File name too long\n")
    assert "the program failed" not in err
    circle = tmp_path / "circle"
    circle.symlink_to(circle)
    assert run(*command, "--output", circle, "--force")[2].endswith(
        "cannot be written: Too many levels of symbolic links\n"
    )


def test_no_name_of_a_file_in_python() -> None:
    for name in ("a\0b", "x" * 300, "."):
        with pytest.raises(OutputError):
            write_new(Path(name), "text", force=True)
        with pytest.raises(PlanFileError):
            PlanFile(Path(name), force=True)


def test_two_outputs_are_never_one_file(run: Run, tmp_path: Path) -> None:
    link, file = tmp_path / "link.toml", tmp_path / "a.toml"
    link.symlink_to(file)
    told = "two things would be written to this file; accepted: a file for each\n"
    for other in (file, link, tmp_path / "." / "a.toml"):
        for command in (["check", BAD, "--amend"], ["screen", "cotton", "--trial"]):
            status, out, err = run(*command, file, "--output", other, "--force")
            assert (status, out, err) == (2, "", f"advisor: {other}: {told}")
    assert not file.exists()


def test_nothing_is_written_when_one_of_two_cannot_be(run: Run, tmp_path: Path) -> None:
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    for command in (["check", BAD, "--amend"], ["screen", "cotton", "--trial"]):
        for other in (mine, tmp_path / "missing" / "file.txt"):
            status, out, err = run(*command, tmp_path / "new.toml", "--output", other)
            assert (status, out) == (2, "")
            assert err.startswith(f"advisor: {other}: ")
            assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
