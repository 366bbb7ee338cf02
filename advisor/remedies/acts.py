"""What changes ask somebody to do, and what a plan no longer knows when another dye is taken.

A change of a word is no act: a pot that holds food is not made fit by calling it something else, and another dye does
not have the old dye's papers. So each step says the act it stands for, and what the old jar's label and sheet said is
unknown again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.knowledge import Knowledge
from advisor.plan_values import UNKNOWN, in_words
from advisor.remedies.changes import Changes

PAPERS = ("maximum", "safety_data_sheet", "contains")  # what is read off the jar or its sheet


def acts_of(k: Knowledge, changes: Changes, ways: Mapping[str, str]) -> dict[str, str]:
    """For each changed path what somebody does to make it so, where that needs saying; `ways`: path -> way out."""
    acts: dict[str, str] = {}
    for path, value in changes.items():
        field = ".".join("*" if part.isdigit() else part for part in path.split("."))
        for act in k.acts:
            if act.field == field and act.to in ("", in_words(value)) and act.way in ("", ways.get(path, "")):
                acts[path] = act.says
                break
    return acts


def another_dye(data: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    """What goes with taking another dye: a name of its own, and the label and sheet of the old one unknown."""
    fresh: dict[str, Any] = {}
    for number, dye in enumerate(data["dyes"]):
        path = f"dyes.{number}"
        if path in changes or not _is_another(dye, path, changes):
            continue
        kind = changes.get(f"{path}.class", dye.get("class"))
        liquid = changes.get(f"{path}.form") == "liquid"
        fresh[f"{path}.name"] = f"another dye, {kind}{', liquid' if liquid else ''}"
        for name in PAPERS:
            if name in dye and dye[name] != UNKNOWN:
                fresh[f"{path}.{name}"] = UNKNOWN
        if dye.get("old_stock") is True:
            fresh[f"{path}.old_stock"] = False
    return fresh


def _is_another(dye: Mapping[str, Any], path: str, changes: Changes) -> bool:
    """Whether the changes can only be made with another jar."""
    liquid = changes.get(f"{path}.form") == "liquid" and dye.get("form") != "liquid"
    return liquid or any(f"{path}.{name}" in changes for name in ("class", "old_stock", "contains"))
