"""Engine and evaluator give the same firings: on the largest plan, on random rules and facts.

Random plans go through both, and through CLIPS, in test_differential.py, and every case of every rule in
test_rules.py: `Checker.fire` runs both and raises when they differ; test_fail_closed.py shows that it does.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import agreed_firings, made_fact, made_rules, rule_text
from plans_random import random_plan
from strangers import inputs, stated

from advisor.cases import base_plan
from advisor.checking import Checker
from advisor.compiler import CompileError
from advisor.fact import Fact
from advisor.fact_types import FACT_TYPES, UNKNOWN, Choice, Number, vocabularies
from advisor.facts import build_facts
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.plan import Plan, read_plan
from advisor.plan_values import MOST_ENTRIES
from advisor.rulebook import RuleError, load_rules


def fired(checker: Checker, plan: Plan) -> set[tuple[str, bool]]:
    """Rules that fired; `fire` raises CheckFailure when the two evaluations differ."""
    _, firings = checker.fire(build_facts(work_out(plan, knowledge()), knowledge()))
    return {(f.rule, f.certain) for f in firings}


def test_on_the_largest_plan_that_is_taken(checker: Checker) -> None:
    """50 lots of two fibres, 50 dyes of every class, 50 assists: thousands of facts and firings."""
    k, data = knowledge(), base_plan("acid-on-nylon")
    classes, substances, fibres = list(k.dye_classes.ids), list(k.substances.ids), list(k.fibres.ids)

    def fibre(number: int) -> str:
        return fibres[number % len(fibres)]

    most = range(MOST_ENTRIES)
    data["goods"] = [{**data["goods"][0], "fibres": {fibre(n): 50, fibre(n + 7): 50}} for n in most]
    data["dyes"] = [{**data["dyes"][0], "class": classes[n % len(classes)]} for n in most]
    data["assists"] = [{"substance": substances[n % len(substances)], "amount": "1 g"} for n in most]
    assert len(fired(checker, read_plan(data))) > 50


def test_random_plans_are_the_same_for_the_same_seed_and_cover_the_unknown() -> None:
    assert random_plan(random.Random(11)) == random_plan(random.Random(11))
    plans = [random_plan(random.Random(seed)) for seed in range(200)]
    for section in ("assists", "bath", "vessel", "people", "space", "aftercare", "scale", "storage", "utensils"):
        present = sum(section in plan for plan in plans)
        assert 0 < present < len(plans), section
    assert any(UNKNOWN in plan.get("bath", {}).values() for plan in plans)


def test_random_plans_leave_no_input_out() -> None:
    """Every key that a plan may have, but those that refer to a shelf, is in some of them."""
    found = set[str]().union(*(stated(random_plan(random.Random(seed))) for seed in range(200)))
    assert [path for path in inputs() if path not in found and path.split(".")[-1] != "shelf"] == []


# --- random rules over the real schema, random facts ------------------------------------------------------

_LIMITS_BY_UNIT: dict[str, list[str]] = {}


def limits_in(unit: str) -> list[str]:
    """Names of the limits that a field in this unit may be compared with."""
    if not _LIMITS_BY_UNIT:
        for limit in knowledge().limits.values():
            if limit.figure.low == limit.figure.high:
                unit_of = "" if limit.figure.unit == "ratio" else limit.figure.unit
                _LIMITS_BY_UNIT.setdefault(unit_of, []).append(limit.id)
    return _LIMITS_BY_UNIT.get(unit, [])


@st.composite
def whens(draw: Any) -> dict[str, list[str]]:
    """The `when` of a rule: one to three facts, each with up to four conditions of every kind there is."""
    types = draw(st.lists(st.sampled_from(list(FACT_TYPES)), min_size=1, max_size=3))
    aliases = {f"{t}_{n}" if n else t: t for n, t in enumerate(types)}
    when: dict[str, list[str]] = {}
    for alias, fact_type in aliases.items():
        fields = FACT_TYPES[fact_type].fields
        names = draw(st.lists(st.sampled_from(list(fields)), max_size=4))
        when[alias] = [draw(conditions(name, fields[name], alias, aliases)) for name in names]
    return when


@st.composite
def conditions(draw: Any, name: str, spec: Number | Choice, alias: str, aliases: dict[str, str]) -> str:
    """One condition on a field."""
    if isinstance(spec, Choice):
        vocabulary = vocabularies()[spec.vocabulary]
        words = draw(
            st.lists(st.sampled_from([*vocabulary.words, *vocabulary.families]), min_size=1, max_size=6, unique=True)
        )
        if len(words) == 1:
            return f"{name} {draw(st.sampled_from(['==', '!=']))} {words[0]!r}"
        return f"{name} {draw(st.sampled_from(['in', 'not in']))} {words!r}"
    others = [
        other if there == alias else f"{there}.{other}"
        for there, fact_type in aliases.items()
        for other, its in FACT_TYPES[fact_type].fields.items()
        if isinstance(its, Number) and its.unit == spec.unit
    ]
    right = draw(st.sampled_from(["0", "1", *others, *(f"limit.{limit}" for limit in limits_in(spec.unit))]))
    return f"{name} {draw(st.sampled_from(['>', '>=', '<', '<=']))} {right}"


@st.composite
def facts(draw: Any, types: Sequence[str]) -> list[Fact]:
    """Facts of these types; numbers sit on the limits often, words are unknown often."""
    made = []
    for fact_type in draw(st.lists(st.sampled_from(list(types)), min_size=1, max_size=10)):
        values: dict[str, Interval | str] = {}
        for name, spec in FACT_TYPES[fact_type].fields.items():
            if isinstance(spec, Choice):
                tokens = vocabularies()[spec.vocabulary].tokens
                values[name] = draw(st.sampled_from([*tokens, UNKNOWN, *tokens[:2]]))
            else:
                limits = [knowledge().limits[limit].figure.low for limit in limits_in(spec.unit)]
                edge = st.sampled_from([0.0, 1.0, 1e-9, 1e16, 0.5, 2.0, *limits, *(n * (1 + 1e-8) for n in limits)])
                ends = sorted((draw(edge), draw(edge)))
                values[name] = Interval(ends[0], ends[draw(st.integers(0, 1))])
        made.append(Fact(fact_type, "made", values))
    return made


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_on_random_rules_and_facts(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    drawn = data.draw(st.lists(whens(), min_size=1, max_size=5))
    folder = tmp_path_factory.getbasetemp() / "random-rules"
    rules = []
    for number, when in enumerate(drawn):
        folder.mkdir(exist_ok=True)
        (folder / "made.toml").write_text(rule_text(f"r{number}", when), encoding="utf-8")
        try:
            rules.extend(load_rules(folder, knowledge()))
        except RuleError as error:  # a list of all words of a short vocabulary decides nothing, and is refused
            if "decides nothing" not in str(error):
                raise
    types = sorted({t for rule in rules for t in rule.aliases.values()} or {"dose"})
    made = data.draw(facts(types))
    try:
        agreed_firings(rules, made)
    except CompileError as error:  # refused at loading, with the rule's name: as good as an answer
        if "too many combinations of words" not in str(error):
            raise


@pytest.mark.parametrize("seed", range(3))
def test_on_many_random_rules_at_once(seed: int, tmp_path: Path) -> None:
    """Rules that share nodes of the network: the same fields and words over and over."""
    chance = random.Random(seed)
    pools = {
        "part": [
            "take in ['none', 'stain']",
            "take != 'full'",
            "share > 0",
            "share >= 1",
            "temperature > heat_limit",
            "kind == 'protein'",
        ],
        "goods": ["dry_mass > 1", "colour == 'dyed'", "blend != 'yes'", "lots > 1"],
        "vessel": ["fill > 1", "heat_limit < part.temperature", "dry_mass >= goods.dry_mass", "lid == 'no'"],
    }
    whens_made = [
        {alias: chance.sample(pool, chance.randint(0, 3)) for alias, pool in pools.items()} for _ in range(100)
    ]
    rules = made_rules(tmp_path, whens_made)
    total = 0
    for _ in range(10):
        total += len(agreed_firings(rules, [_random_fact(chance, chance.choice(list(pools))) for _ in range(9)]))
    assert total > 500


def _random_fact(chance: random.Random, fact_type: str) -> Fact:
    values: dict[str, Any] = {}
    for name, spec in FACT_TYPES[fact_type].fields.items():
        if isinstance(spec, Choice):
            values[name] = chance.choice((*vocabularies()[spec.vocabulary].words[:3], UNKNOWN))
        else:
            values[name] = (low := chance.choice((0, 1, 2)), low + chance.choice((0, 0, 1)))
    return made_fact(fact_type, **values)
