"""Fixtures that many tests share. Rules and facts made for a test are in making.py."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:  # loaded in the fixtures, so that tests of one table do not need the whole program
    from advisor.checking import Checker
    from advisor.plan import Plan

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def checker() -> Checker:
    """The checker of the shipped rulebook."""
    from advisor.checking import make_checker

    return make_checker()


@pytest.fixture(scope="session")
def base() -> Callable[..., Plan]:
    """Loads a base plan of rules/plans with dotted changes: base("acid-on-nylon", {"dyes.0.amount": "2 g"})."""

    from advisor.cases import base_plan, changed
    from advisor.plan import read_plan

    def load(name: str, change: dict[str, Any] | None = None) -> Plan:
        return read_plan(changed(base_plan(name), change or {}))

    return load


@pytest.fixture(scope="session")
def child() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs Python in a child process with a deadline, for what might crash or hang; `root` is another checkout."""

    def run(*arguments: str, root: Path = ROOT, seconds: float = 60.0) -> subprocess.CompletedProcess[str]:
        paths = [str(root), str(ROOT / "tests"), os.environ.get("PYTHONPATH", "")]
        return subprocess.run(
            [sys.executable, *arguments],
            cwd=root,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths))},
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )

    return run
