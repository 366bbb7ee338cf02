"""Two plans side by side."""

from __future__ import annotations

import io
import json
import subprocess
from collections.abc import Callable
from pathlib import Path

from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.comparing import compared, comparison_data, same
from advisor.plan import Plan
from advisor.render.compare import print_comparison


def test_what_differs_is_told(checker: Checker, base: Callable[..., Plan]) -> None:
    change = {"dyes.0.amount": "2 g", "goods.0.trims": ["polyester thread"]}
    comparison = compared(checker.check(base("acid-on-nylon")), checker.check(base("acid-on-nylon", change)))
    assert {f.rule for f in comparison.gained} == {"dose-over-maximum", "trims-stay-undyed"}
    assert comparison.lost == ()
    data = comparison_data(comparison)
    assert data["first"]["verdict"] == "ready"
    assert data["second"]["verdict"] == "change first"
    assert data["measures"]["dye.share_owf"]["first"]["value"] == 1.0
    assert data["measures"]["dye.share_owf"]["second"]["value"] == 2.0  # 2 g on 100 g
    assert data["measures"]["bath.liquor_ratio"]["same"]
    assert not data["measures"]["dye.share_owf"]["same"]
    json.dumps(data, allow_nan=False)


def test_the_other_way_round_gained_is_lost(checker: Checker, base: Callable[..., Plan]) -> None:
    first, second = checker.check(base("acid-on-nylon")), checker.check(base("acid-on-nylon", {"dyes.0.amount": "2 g"}))
    there, back = compared(first, second), compared(second, first)
    assert there.gained == back.lost
    assert there.lost == back.gained == ()


def test_a_plan_against_itself(checker: Checker, base: Callable[..., Plan]) -> None:
    report = checker.check(base("vat-on-cotton"))
    comparison = compared(report, report)
    assert comparison.gained == comparison.lost == comparison.asked == comparison.settled == ()
    assert [f.rule for f in comparison.kept] == [f.rule for f in report.findings]
    assert all(same(one, other) for _, one, other in comparison.measures())


def test_questions_gained(checker: Checker, base: Callable[..., Plan]) -> None:
    known, open_ = checker.check(base("acid-on-nylon")), checker.check(base("acid-on-nylon", {"bath.water": "unknown"}))
    assert "bath.water" in [q.field for q in compared(known, open_).asked]
    assert "bath.water" in [q.field for q in compared(open_, known).settled]


def test_on_the_terminal(checker: Checker, base: Callable[..., Plan]) -> None:
    stream = io.StringIO()
    reports = checker.check(base("acid-on-nylon")), checker.check(base("acid-on-nylon", {"vessel.used_for_food": True}))
    print_comparison(compared(*reports), stream, width=80)
    assert "DO NOT START" in stream.getvalue()
    assert "food-vessel" in stream.getvalue()
    assert max(len(line.rstrip()) for line in stream.getvalue().splitlines()) <= 80


def test_the_command(child: Callable[..., subprocess.CompletedProcess[str]], tmp_path: Path) -> None:
    paths = []
    for name, change in (("a", {}), ("b", {"dyes.0.amount": "2 g"})):
        paths.append(tmp_path / f"{name}.json")
        paths[-1].write_text(json.dumps(changed(base_plan("acid-on-nylon"), change)), encoding="utf-8")
    done = child("-m", "advisor", "compare", *map(str, paths), "--format", "json")
    assert done.returncode == 1, done.stderr  # that of the second plan
    assert [f["rule"] for f in json.loads(done.stdout)["gained"]] == ["dose-over-maximum"]
    assert child("-m", "advisor", "compare", *map(str, reversed(paths))).returncode == 0
    assert child("-m", "advisor", "compare", str(paths[0]), str(tmp_path / "none.toml")).returncode == 2
