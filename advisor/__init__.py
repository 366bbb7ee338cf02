"""A rules-based safety and suitability advisor for small-lot textile dyeing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from advisor.findings import Report
    from advisor.handouts import Handout
    from advisor.plan import Plan
    from advisor.screening import Screening
    from advisor.session import Session

__version__ = "0.1.0"
__all__ = ["check", "handout", "load_plan", "screen"]


def check(plan: Plan | Mapping[str, Any] | str | Path) -> Report:
    """Check the plan of one bath before it is made.

    `plan` is a Plan, the plain data of one, or the path of a plan file. Raises advisor.plan.InputError for
    bad input and advisor.checking.CheckFailure when the program cannot give an answer it can stand by.
    """
    from advisor.checking import checker
    from advisor.plan import load_plan, read_plan

    if isinstance(plan, (str, Path)):
        plan = load_plan(plan)
    return checker().check(read_plan(plan), remedies=True)


def handout(session: Session | Mapping[str, Any] | str | Path) -> Handout:
    """Check a class and put its handout together; `.html()` and `.markdown()` of the answer are the page.

    `session` is a Session, the plain data of one, or the path of a session file. Raises advisor.plan.InputError for
    bad input and advisor.checking.CheckFailure when the program cannot give an answer it can stand by.
    """
    from advisor.checking import checker
    from advisor.handouts import make_handout
    from advisor.session import load_session, read_session

    if isinstance(session, (str, Path)):
        session = load_session(session)
    return make_handout(read_session(session), checker())


def load_plan(path: str | Path) -> Plan:
    """Read and check a plan file (TOML or JSON). Raises advisor.plan.InputError."""
    from advisor.plan import load_plan as load

    return load(path)


def screen(
    labels: str | Mapping[str, str] | Iterable[str | Mapping[str, str]],
    *,
    dye_class: str = "",
    use: str = "",
    colour: str = "",
    match: bool = False,
) -> Screening:
    """Say of goods, from their labels, whether they take dye, which dye and how much of them.

    `labels` is label text, a table with name, fibres, dye_class, use and colour, or several of these. Without
    a dye class the answer is that of the best one. Raises advisor.plan.InputError for bad input.
    """
    from advisor.screening import screen as run

    return run(labels, dye_class=dye_class, use=use, colour=colour, match=match)
