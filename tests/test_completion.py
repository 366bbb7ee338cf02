"""Completion of words in the shells, from the command's own parser. What a shell does is asked of that shell."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from advisor.cli import _parser, main
from advisor.completion import _commands, script

SHELLS = ("bash", "zsh", "fish")
COMMANDS = [command for command in _commands(_parser()) if command.name]


def completed(folder: Path, *words: str) -> list[str]:
    """What bash offers for a line of words, the last one being typed."""
    line = " ".join(f'"{word}"' for word in words)
    ask = f'COMP_WORDS=({line}); COMP_CWORD={len(words) - 1}; _advisor; printf "%s\\n" "${{COMPREPLY[@]}}"'
    code = f"{script('bash', _parser())}\n{ask}"
    bash = shutil.which("bash")
    assert bash
    done = subprocess.run([bash, "-c", code], cwd=folder, capture_output=True, text=True, timeout=20, check=True)
    return done.stdout.split("\n")[:-1]


needs_bash = pytest.mark.skipif(not shutil.which("bash"), reason="no bash here")


@needs_bash
def test_bash_offers_commands_options_words_and_files(tmp_path: Path) -> None:
    (tmp_path / "my plan.toml").touch()
    assert set(completed(tmp_path, "advisor", "")) == {command.name for command in COMMANDS}
    assert completed(tmp_path, "advisor", "com") == ["compare", "completion"]
    assert completed(tmp_path, "advisor", "check", "my") == ["my plan.toml"]
    assert completed(tmp_path, "advisor", "check", "--am") == ["--amend"]
    assert completed(tmp_path, "advisor", "check", "x.toml", "--format", "m") == ["markdown"]
    assert completed(tmp_path, "advisor", "rules", "--topic", "food-v") == ["food-vessel"]
    assert completed(tmp_path, "advisor", "completion", "") == list(SHELLS)
    assert completed(tmp_path, "advisor", "plan", "--shelf", "my") == ["my plan.toml"]
    assert completed(tmp_path, "advisor", "--v") == ["--version"]


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_and_option_is_in_the_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    told = capsys.readouterr().out
    for command in COMMANDS:
        assert command.name in told
        for flag in (flag for option in command.options for flag in option.flags):
            assert (f"-l {flag[2:]}" if shell == "fish" and flag.startswith("--") else flag[-2:]) in told


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shell_itself_can_read_it(shell: str, tmp_path: Path) -> None:
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"no {shell} here")
    path = tmp_path / "script"
    path.write_text(script(shell, _parser()), encoding="utf-8")
    done = subprocess.run([program, "-n", str(path)], capture_output=True, text=True, timeout=20, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(not shutil.which("fish"), reason="no fish here")
def test_fish_offers_the_same() -> None:
    fish = shutil.which("fish")
    assert fish
    for line, expected in (("advisor com", ["compare", "completion"]), ("advisor check --format m", ["markdown"])):
        code = f"{script('fish', _parser())}\ncomplete -C '{line}'"
        done = subprocess.run([fish, "-N", "-c", code], capture_output=True, text=True, timeout=20, check=True)
        assert sorted(told.split("\t")[0] for told in done.stdout.splitlines()) == expected


@pytest.mark.parametrize("command", [command.name for command in COMMANDS])
def test_the_help_of_every_command_shows_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    assert f"example: advisor {command} " in " ".join(capsys.readouterr().out.split())
