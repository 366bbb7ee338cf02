"""Rules and facts made for a test: small, over the real schema, read by the real rule reader."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import advisor.engine as engine_module
from advisor.checking import Checker
from advisor.compiler import Program, compile_rules
from advisor.engine import Engine
from advisor.evaluator import Evaluator
from advisor.fact import Fact, Firing
from advisor.fact_types import FACT_TYPES, Choice, vocabularies
from advisor.facts import checked
from advisor.interval import Interval
from advisor.knowledge import knowledge
from advisor.rulebook import Rule, Rulebook, load_rules, load_topics

When = Mapping[str, Sequence[str]]

_REST = """\
topic = "dose-over-maximum"
signal = "NOTICE"
effect = "change"
title = "A title"
message = "A message."
reason = "A reason."
do = ["Do something else."]
sources = ["common-practice/hand-dyeing"]
cases.fires = [{ plan = "acid-on-nylon" }]
cases.silent = [{ plan = "acid-on-nylon" }]
"""


def rule_text(rule_id: str, when: When) -> str:
    """One [[rule]] of TOML: a complete finding rule with these conditions (JSON strings are TOML strings)."""
    conditions = "".join(f"when.{alias} = {json.dumps(list(texts))}\n" for alias, texts in when.items())
    return f"[[rule]]\nid = {json.dumps(rule_id)}\n{conditions}{_REST}"


def made_rules(folder: Path, whens: Mapping[str, When] | Iterable[When]) -> tuple[Rule, ...]:
    """Write rules to a folder and read them back; without ids they are called r0, r1 ..."""
    named = whens if isinstance(whens, Mapping) else {f"r{n}": when for n, when in enumerate(whens)}
    folder.mkdir(exist_ok=True)
    (folder / "made.toml").write_text("\n".join(rule_text(i, w) for i, w in named.items()), encoding="utf-8")
    return load_rules(folder, knowledge())


def made_checker(rules: Sequence[Rule]) -> Checker:
    """A checker for these rules only."""
    return Checker(Rulebook(tuple(rules), load_topics(), "sha256:made"), knowledge())


def made_fact(fact_type: str, subject: str = "made", **values: Any) -> Fact:
    """A fact of a type: numbers 0 and first words, but for the fields given (a number, (low, high) or a word)."""
    filled: dict[str, Interval | str] = {}
    for name, spec in FACT_TYPES[fact_type].fields.items():
        value = values.pop(name, None)
        if isinstance(spec, Choice):
            filled[name] = vocabularies()[spec.vocabulary].words[0] if value is None else value
        elif isinstance(value, tuple):
            filled[name] = Interval(float(value[0]), float(value[1]))
        else:
            filled[name] = Interval.point(float(value or 0.0))
    assert not values, f"{fact_type} has no {sorted(values)}"
    return checked(Fact(fact_type, subject, filled, texts=dict.fromkeys(FACT_TYPES[fact_type].texts, "text")))


class Native:
    """The engine's C module with some functions replaced."""

    def __init__(self, **replaced: Any) -> None:
        self._real = engine_module.native
        self.__dict__.update(replaced)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)


def nothing(firings: list[Firing]) -> list[Fact]:
    """Concludes no further facts."""
    return []


def by_engine(rules: Sequence[Rule], facts: Sequence[Fact]) -> list[Firing]:
    """What durable-rules makes of the facts. The engine's rules are given back, so that many runs do not pile up."""
    return run_program(compile_rules(rules), facts)


def run_program(program: Program, facts: Sequence[Fact]) -> list[Firing]:
    """One run of a compiled program."""
    engine = Engine(program)
    try:
        return engine.run(facts, nothing)
    finally:
        engine.close()


def by_evaluator(rules: Sequence[Rule], facts: Sequence[Fact]) -> list[Firing]:
    """What plain Python makes of the facts."""
    return Evaluator(rules).run(facts, nothing)


def agreed_firings(rules: Sequence[Rule], facts: Sequence[Fact]) -> set[Firing]:
    """The firings, after making sure that both evaluations give the same ones, each once."""
    engine, evaluator = by_engine(rules, facts), by_evaluator(rules, facts)
    assert len(set(engine)) == len(engine)
    assert len(set(evaluator)) == len(evaluator)
    assert set(engine) == set(evaluator)
    return set(engine)


def kleene(rules: Sequence[Rule], facts: Sequence[Fact]) -> dict[str, str]:
    """For each rule: 'must', 'may' or 'not', as both evaluations say."""
    firings = agreed_firings(rules, facts)
    must = {f.rule for f in firings if f.certain}
    may = {f.rule for f in firings if not f.certain}
    assert must <= may, "what must hold may hold as well"
    return {rule.id: "must" if rule.id in must else "may" if rule.id in may else "not" for rule in rules}
