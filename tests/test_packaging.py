"""Rules and tables come along: in a checkout, and inside a wheel as advisor/rules."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from advisor import __version__
from advisor.paths import rules_root, toml_files

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
NEEDED = (
    "knowledge/fibres.toml",
    "knowledge/sources.toml",
    "checks/dose.toml",
    "plans/acid-on-nylon.toml",
    "README.md",
)


def test_a_checkout_uses_its_own_rules() -> None:
    assert str(rules_root()) == str(ROOT / "rules")
    assert len(toml_files(rules_root() / "checks")) >= 5


def test_the_version_is_said_once() -> None:
    assert PROJECT["project"]["version"] == __version__


def test_no_rules_anywhere_is_a_clear_error(tmp_path: Path) -> None:
    (tmp_path / "advisor").mkdir()
    for name in ("__init__.py", "paths.py"):
        (tmp_path / "advisor" / name).write_text(
            (ROOT / "advisor" / name).read_text(encoding="utf-8"), encoding="utf-8"
        )
    code = "from advisor.paths import rules_root; rules_root()"
    done = _python(tmp_path, "-c", code)
    assert done.returncode == 1
    assert "FileNotFoundError: no rules found" in done.stderr


def test_typing_and_license_are_declared() -> None:
    assert (ROOT / "advisor" / "py.typed").is_file()
    assert PROJECT["project"]["scripts"] == {"advisor": "advisor.cli:main"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built by hatchling itself: no network, no isolated environment."""
    if importlib.util.find_spec("hatchling") is None:
        pytest.skip("hatchling is not installed, so no wheel can be built here")
    if not (ROOT / PROJECT["project"]["readme"]).is_file():
        pytest.skip(f"{PROJECT['project']['readme']} is missing, so no wheel can be built")
    folder = tmp_path_factory.mktemp("wheel")
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_holds_code_and_rules_and_nothing_else(wheel: Path) -> None:
    names = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    source = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "advisor").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    rules = {f"advisor/{path.relative_to(ROOT).as_posix()}" for path in (ROOT / "rules").rglob("*") if path.is_file()}
    assert {f"advisor/rules/{name}" for name in NEEDED} <= names
    assert "advisor/py.typed" in names
    assert names == source | rules


def test_the_wheel_works_away_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    plan = tmp_path / "plan.toml"
    plan.write_text((ROOT / "rules" / "plans" / "acid-on-nylon.toml").read_text(encoding="utf-8"), encoding="utf-8")
    done = _python(tmp_path / "site", "-m", "advisor", "check", str(plan))
    assert done.returncode == 0, done.stderr
    assert " READY" in done.stdout
    where = _python(tmp_path / "site", "-c", "from advisor.paths import rules_root; print(rules_root())")
    assert where.stdout.strip() == str(tmp_path / "site" / "advisor" / "rules")


def _python(path: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=path,
        env={**os.environ, "PYTHONPATH": str(path)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
