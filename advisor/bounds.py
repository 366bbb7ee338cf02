"""How far each number of a plan may go before the verdict is another: found on the real rulebook.

For each quantity that is stated exactly the value is moved up and down in growing steps until the verdict
changes, and the place is then narrowed down by bisection. What lies between two steps is not seen, so a range
says where the verdict was found to hold, not that it holds at each point in between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

from advisor.checking import Checker
from advisor.evaluator import CONCLUDED
from advisor.findings import Verdict
from advisor.knowledge import units
from advisor.plan import InputError, Plan, read_plan
from advisor.quantities import Quantity
from advisor.remedies.amounts import Scale, scale_of
from advisor.remedies.changes import applied, value_at

STEPS = 14  # outwards, each so much more than the last; in all about a hundred times
GROWTH = 1.4
CLOSE = 0.004  # relative width at which the bisection stops
MOST_DIGITS = 3
FALLBACK_DIGITS = 4
NOT_LOOKED_AT = "0 cannot be scaled"
_DEGREES = "temperature"
_STEP_DEGREES = 1.0  # degC; temperatures are moved by adding
_CLOSE_DEGREES = 0.05


@dataclass(frozen=True)
class End:
    """One end of a range: the last value with the same verdict, as text; what comes beyond it, and the rules that
    fire there and not before (none where an open question is what changes).

    `value` is None where the verdict holds as far as was looked; `beyond` is then None too.
    """

    value: str | None
    beyond: Verdict | None
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Bound:
    """The range of one input over which the verdict stays; no ends for a value that was not looked at."""

    path: str
    stated: str
    ends: tuple[End, End] | None


@dataclass(frozen=True)
class Limits:
    """All ranges of one plan."""

    title: str
    verdict: Verdict
    bounds: tuple[Bound, ...]


def limits(checker: Checker, plan: Plan) -> Limits:
    """The range of each exactly stated quantity of a plan over which its verdict stays.

    Raises CheckFailure when the two evaluations of the rules differ on an end of a range, and ValueError for a
    plan that was not read from data.
    """
    if plan.said is None:
        raise ValueError("the plan was not read from data")
    look = _Look(checker, plan.said)
    verdict, _ = look.at({})
    assert verdict is not None  # it has been read once already
    bounds = tuple(_bound(look, path, quantity, verdict) for path, quantity in stated_numbers(plan))
    return Limits(plan.title, verdict, bounds)


def stated_numbers(plan: Plan) -> Iterator[tuple[str, Quantity]]:
    """Path and quantity of all that the plan states exactly."""
    for name, value in plan:
        members = [(f"{name}.{i}", m) for i, m in enumerate(value)] if isinstance(value, tuple) else [(name, value)]
        for path, section in members:
            for key, field in getattr(type(section), "model_fields", {}).items():
                quantity = getattr(section, key)
                if isinstance(quantity, Quantity) and quantity.stated and quantity.interval.exact:
                    yield f"{path}.{field.alias or key}", quantity


class _Look:
    """What the rulebook says of the plan with one value changed."""

    def __init__(self, checker: Checker, data: Mapping[str, Any]) -> None:
        self._checker, self.data = checker, data
        self._rules = checker.rulebook.by_id

    def at(self, changes: Mapping[str, Any], *, surely: bool = False) -> tuple[Verdict | None, frozenset[str]]:
        """Verdict and rules that fire for sure; no verdict for what is no plan. `surely` asks both evaluations."""
        try:
            plan = read_plan(applied(self.data, changes)[0])
        except InputError:
            return None, frozenset()
        _, facts, firings = self._checker.try_out(plan)
        if surely:
            self._checker.fire([fact for fact in facts if fact.type != CONCLUDED])
        fired = frozenset(f.rule for f in firings if f.certain and self._rules[f.rule].concludes is None)
        return self._checker.verdict_on(facts, firings), fired


def _bound(look: _Look, path: str, quantity: Quantity, verdict: Verdict) -> Bound:
    raw = value_at(look.data, path)
    if quantity.interval.low == 0 and quantity.kind != _DEGREES:
        return Bound(path, str(raw), None)
    scale = scale_of(raw, quantity.kind)
    low, high = (_end(look, path, quantity, scale, verdict, outwards) for outwards in (-1, 1))
    return Bound(path, str(raw), (low, high))


def _end(look: _Look, path: str, quantity: Quantity, scale: Scale, verdict: Verdict, outwards: int) -> End:
    kind = units().kinds[quantity.kind]
    start = quantity.interval.low

    def text(value: float) -> str:
        return scale.text(Decimal(f"{scale.number(value):.9g}"))

    inside, outside = start, None
    for value in _outwards(start, outwards, quantity.kind):
        value = min(max(value, kind.low), kind.high)
        found, _ = look.at({path: text(value)})
        if found is None:  # no longer a plan: a dose above nothing, a share up to all of it
            break
        if found != verdict:
            outside = value
            break
        if value == inside:
            break
        inside = value
    if outside is None:
        return End(None, None, ())
    inside, outside = _narrowed(lambda v: look.at({path: text(v)})[0] == verdict, inside, outside, quantity.kind)
    last = _plainest(look, path, scale, verdict, scale.number(inside), scale.number(outside))
    _, before = look.at({path: last}, surely=True)
    beyond, rules = look.at({path: text(outside)}, surely=True)
    return End(last, beyond, tuple(sorted(rules - before)))


def _outwards(start: float, way: int, kind: str) -> Iterator[float]:
    for step in range(1, STEPS + 1):
        if kind == _DEGREES:
            yield start + way * _STEP_DEGREES * step * (step + 1) / 2
        else:
            yield start * GROWTH ** (way * step)


def _narrowed(holds: Callable[[float], bool], inside: float, outside: float, kind: str) -> tuple[float, float]:
    """The two values brought close together, one on each side of the change."""
    close = _CLOSE_DEGREES if kind == _DEGREES else CLOSE * abs(outside)
    while abs(outside - inside) > close:
        middle = (inside + outside) / 2
        if holds(middle):
            inside = middle
        else:
            outside = middle
    return inside, outside


def _plainest(look: _Look, path: str, scale: Scale, verdict: Verdict, inside: float, outside: float) -> str:
    """The number with the fewest digits between the two that still has the verdict."""
    exact = Decimal(f"{inside:.9g}"), Decimal(f"{outside:.9g}")
    low, high = sorted(exact)
    towards = ROUND_FLOOR if outside > inside else ROUND_CEILING
    for digits in range(1, MOST_DIGITS + 1):
        unit = Decimal(1).scaleb(exact[1].adjusted() - digits + 1)
        number = exact[1].quantize(unit, towards)
        for candidate in (number, number - unit if outside > inside else number + unit):
            if low <= candidate <= high and look.at({path: scale.text(candidate)})[0] == verdict:
                return scale.text(candidate)
    unit = Decimal(1).scaleb(exact[0].adjusted() - FALLBACK_DIGITS + 1)
    return scale.text(exact[0].quantize(unit, towards))  # a little nearer to what was stated


def limits_data(found: Limits) -> dict[str, Any]:
    """The ranges as plain data; null where the verdict holds as far as was looked."""
    return {
        "title": found.title,
        "verdict": found.verdict,
        "limits": {bound.path: {"stated": bound.stated, **_ends_data(bound)} for bound in found.bounds},
    }


def _ends_data(bound: Bound) -> dict[str, Any]:
    if bound.ends is None:
        return {"not_looked_at": NOT_LOOKED_AT}
    low, high = map(_end_data, bound.ends)
    return {"low": low, "high": high}


def _end_data(end: End) -> dict[str, Any] | None:
    return None if end.value is None else {"value": end.value, "beyond": end.beyond, "rules": list(end.rules)}
