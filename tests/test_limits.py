"""How far the numbers of a plan may go, against limits worked out by hand."""

from __future__ import annotations

import io
import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.bounds import Limits, limits, limits_data, stated_numbers
from advisor.cases import base_plan, changed
from advisor.checking import Checker
from advisor.plan import Plan, read_plan
from advisor.quantities import parse
from advisor.render.compare import print_limits


@pytest.fixture(scope="module")
def found(checker: Checker) -> Limits:
    """Of the base plan: 100 g of nylon, 1 g of dye, at most 1.5 %, 4 L in a pot of 8 L at 88 degC."""
    return limits(checker, read_plan(base_plan("acid-on-nylon")))


# worked out by hand from the named limits (common practice, no source): 1.5 % of 100 g; 20 L/kg for an even shade;
# the class's window from 80 degC and 20 min; one step of the scale at most a tenth of the dose
@pytest.mark.parametrize(
    ("path", "end", "value", "rule"),
    [
        ("dyes.0.amount", "high", "1.5 g", "dose-over-maximum"),
        ("goods.0.dry_mass", "high", "200 g", "vessel-crowded-tight"),
        ("bath.water", "low", "2 L", "vessel-crowded-tight"),
        ("bath.temperature", "low", "80 degC", "temperature-under-window"),
        ("bath.hold", "low", "20 min", "hold-a-little-short"),
        ("scale.resolution", "high", "0.1 g", "weighing-too-coarse"),
    ],
)
def test_ends_worked_out_by_hand(found: Limits, path: str, end: str, value: str, rule: str) -> None:
    bound = next(bound for bound in found.bounds if bound.path == path)
    assert bound.ends is not None
    got = bound.ends[0 if end == "low" else 1]
    assert got.value == value
    assert rule in got.rules


def test_the_smallest_pot(found: Limits) -> None:
    # (4 L + 0.1 kg / 1.14 kg/L) / 0.8 = 5.11 L; density of nylon 1.14 g/mL (a textbook value, from memory)
    bound = next(bound for bound in found.bounds if bound.path == "vessel.capacity")
    assert bound.ends is not None
    assert bound.ends[0].value is not None
    assert parse(bound.ends[0].value, ("volume",)).interval.low == pytest.approx(5.11, abs=0.01)


def test_every_exact_number_has_a_range(found: Limits) -> None:
    plan = read_plan(base_plan("acid-on-nylon"))
    assert [bound.path for bound in found.bounds] == [path for path, _ in stated_numbers(plan)]
    paths = {bound.path for bound in found.bounds}
    assert {"goods.0.dry_mass", "dyes.0.maximum", "assists.0.strength", "space.volume"} <= paths


def test_the_verdict_holds_at_each_end_and_not_beyond(checker: Checker, found: Limits) -> None:
    data = base_plan("acid-on-nylon")
    for bound in found.bounds:
        for end in bound.ends or ():
            if end.value is not None:
                assert checker.check(read_plan(changed(data, {bound.path: end.value}))).verdict == found.verdict
                assert end.beyond != found.verdict


def test_ranges_and_unknowns_are_left_alone(checker: Checker, base: Callable[..., Plan]) -> None:
    plan = base("acid-on-nylon", {"bath.water": "4 L to 5 L", "bath.hold": "unknown"})
    assert not {"bath.water", "bath.hold"} & {path for path, _ in stated_numbers(plan)}


def test_in_the_unit_that_was_used(checker: Checker, base: Callable[..., Plan]) -> None:
    bounds = limits(checker, base("acid-on-nylon", {"bath.temperature": "190 degF"})).bounds
    ends = next(b for b in bounds if b.path == "bath.temperature").ends
    assert ends is not None
    assert ends[0].value == "176 degF"  # 80 degC


def test_zero_is_not_looked_at_and_says_so(checker: Checker, base: Callable[..., Plan]) -> None:
    """Nothing times nothing is nothing: to call that "no end found" would be to say that one had looked."""
    found = limits(checker, base("acid-on-nylon", {"bath.alkalinity": "0 mg/L", "bath.temperature": "0 degC"}))
    assert [bound.path for bound in found.bounds if bound.ends is None] == ["bath.alkalinity"]
    entry = limits_data(found)["limits"]["bath.alkalinity"]
    assert entry == {"stated": "0 mg/L", "not_looked_at": "0 cannot be scaled"}
    stream = io.StringIO()
    print_limits(found, stream, width=80)
    assert "bath.alkalinity not looked at: 0 cannot be scaled" in stream.getvalue()


def test_as_data_and_on_the_terminal(found: Limits) -> None:
    data = limits_data(found)
    assert data["limits"]["dyes.0.amount"]["high"]["value"] == "1.5 g"
    json.dumps(data, allow_nan=False)
    stream = io.StringIO()
    print_limits(found, stream, width=80)
    assert "dyes.0.amount above 1.5 g: change first (dose-over-maximum)" in stream.getvalue()


def test_the_command(child: Callable[..., subprocess.CompletedProcess[str]], tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(base_plan("acid-on-nylon")), encoding="utf-8")
    done = child("-m", "advisor", "limits", str(path), "--format", "json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["verdict"] == "ready"
