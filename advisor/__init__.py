"""A rules-based safety and suitability advisor for small-lot textile dyeing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from advisor.findings import Report
    from advisor.plan import Plan

__version__ = "0.1.0"
__all__ = ["check", "load_plan"]


def check(plan: Plan | Mapping[str, Any] | str | Path) -> Report:
    """Check the plan of one bath before it is made.

    `plan` is a Plan, the plain data of one, or the path of a plan file. Raises advisor.plan.InputError for
    bad input and advisor.checking.CheckFailure when the program cannot give an answer it can stand by.
    """
    from advisor.checking import checker
    from advisor.plan import load_plan, read_plan

    if isinstance(plan, (str, Path)):
        plan = load_plan(plan)
    return checker().check(read_plan(plan))


def load_plan(path: str | Path) -> Plan:
    """Read and check a plan file (TOML or JSON). Raises advisor.plan.InputError."""
    from advisor.plan import load_plan as load

    return load(path)
