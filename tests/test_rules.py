"""The shipped rules: every case of every rule, and what must be true of all of them.

Each case runs through both evaluations of the rules; a difference between them fails the case.

Nothing here knows a particular rule; a new rule file is covered as soon as it is there.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import pytest

from advisor.cases import case_facts, case_findings, cases_of, run_case
from advisor.checking import Checker
from advisor.evaluator import FALSE, Test, compare, condition_test
from advisor.fact import Fact
from advisor.rulebook import EFFECTS, PLACEHOLDER, SIGNALS, Case, Condition, Ref, Rule, RuleError, rulebook

try:
    RULES = rulebook().rules
except RuleError:  # a broken rule file is one failing test, not a module that cannot be collected
    RULES = ()

ids = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
SAFE = re.compile(r"\bun?safe|\bsafe(st|ly|r|ty first)?\b", re.IGNORECASE)
SHEET = re.compile(r"safety data sheets?", re.IGNORECASE)  # the name of a document


def shown_texts(rule: Rule) -> Iterator[str]:
    """Every text of a rule that a user may see."""
    yield from (rule.title, rule.message, rule.reason, *rule.do)


def test_the_rulebook_loads() -> None:
    assert len(rulebook().rules) >= 70
    assert "dose-over-maximum" in {rule.id for rule in rulebook().rules}


@ids
def test_every_case_holds(rule: Rule, checker: Checker) -> None:
    wrong = [
        f"{outcome.case.plan} {dict(outcome.case.change)}: expected {outcome.expected}, got {outcome.got}"
        for outcome in (run_case(checker, rule, expected, case) for expected, case in cases_of(rule))
        if not outcome.holds
    ]
    assert not wrong, "\n".join(wrong)


@ids
def test_every_rule_has_cases_both_ways_and_words_to_show(rule: Rule) -> None:
    assert rule.cases.fires
    assert rule.cases.silent
    assert rule.sources
    if rule.concludes is None:
        assert rule.topic in rulebook().topics
        assert rule.signal in SIGNALS
        assert rule.effect in EFFECTS
        for text in (rule.message, *rule.do):
            assert text.endswith((".", "?", "!", "}")), text
    assert not rule.title.endswith(".")


@ids
def test_no_rule_calls_anything_safe(rule: Rule) -> None:
    for text in shown_texts(rule):
        assert not SAFE.search(SHEET.sub("", text)), text


@ids
def test_no_case_stands_there_twice_or_both_ways(rule: Rule) -> None:
    counted = Counter(repr((case.plan, sorted(case.change.items()))) for _, case in cases_of(rule))
    assert [case for case, times in counted.items() if times > 1] == []


@ids
def test_conditions_do_not_repeat(rule: Rule) -> None:
    counted = Counter((c.alias, c.field, c.op, c.operand) for c in rule.conditions)
    assert [key for key, times in counted.items() if times > 1] == []


@ids
def test_a_rule_can_ask_or_says_why_not(rule: Rule) -> None:
    """A case with the input unknown, unless no field of the rule can ever be unknown or uncertain."""
    if rule.cases.asks or rule.concludes is not None:
        return
    assert rule.id in NO_ASKS, f"{rule.id}: give cases.asks, or no_asks with the reason"


def _no_asks() -> dict[str, str]:
    """`no_asks` is for authors and stays in the files; the rule objects do not carry it."""
    import tomllib

    from advisor.paths import rules_root, toml_files

    rows = [
        row for file in toml_files(rules_root() / "checks") for row in tomllib.loads(file.read_text("utf-8"))["rule"]
    ]
    return {row["id"]: row["no_asks"] for row in rows if row.get("no_asks")}


NO_ASKS = _no_asks() if RULES else {}


def test_no_two_rules_are_the_same() -> None:
    seen = Counter(
        (tuple(r.aliases.values()), frozenset((c.alias, c.field, c.op, c.operand) for c in r.conditions)) for r in RULES
    )
    twins = [key for key, times in seen.items() if times > 1]
    assert twins == []


def test_every_topic_has_a_rule_with_its_id_or_at_least_one_rule() -> None:
    used = {rule.topic for rule in RULES if rule.concludes is None}
    assert used <= set(rulebook().topics)


@ids
def test_a_finding_reads_well_with_its_placeholders_filled(rule: Rule, checker: Checker) -> None:
    if rule.concludes is not None:
        return
    case = rule.cases.fires[0]
    found = [finding for finding in case_findings(checker, case) if finding.rule == rule.id]
    assert found
    for finding in found:
        for text in (finding.title, finding.message, finding.reason, *finding.do, *finding.because):
            assert not PLACEHOLDER.search(text), text
            assert not SAFE.search(SHEET.sub("", text)), text
            assert not re.search(r"  |\.\.| \.| ,|\(\)|\bnan\b|\binf\b|\d+e[+-]?\d+", text), text
        for text in (finding.message, *finding.do):
            assert text.endswith((".", "?", "!")), text


# --- does a silent case break each condition alone? A report for authors: python tests/test_rules.py ------


def broken_alone(rule: Rule, case: Case) -> set[Condition]:
    """The conditions that alone keep the rule from firing on some choice of facts of this case."""
    facts = case_facts(case)
    rows: list[dict[str, Fact]] = [{}]
    for alias, fact_type in rule.aliases.items():
        own = [(c, condition_test(c, fact_type)) for c in rule.own(alias)]
        column = [fact for fact in facts if fact.type == fact_type and _false(own, fact) <= 1]
        rows = [{**row, alias: fact} for row in rows for fact in column if fact not in row.values()][:4000]
    alone = set()
    for row in rows:
        failing = [c for c in rule.conditions if _fails(c, row)]
        if len(failing) == 1:
            alone.add(failing[0])
    return alone


def _false(tests: list[tuple[Condition, Test]], fact: Fact) -> int:
    return sum(test(fact) == FALSE for _, test in tests)


def _fails(condition: Condition, row: dict[str, Fact]) -> bool:
    fact = row[condition.alias]
    if isinstance(condition.operand, Ref) and condition.operand.alias != condition.alias:
        left, right = fact.values[condition.field], row[condition.operand.alias].values[condition.operand.field]
        return compare(condition.op, left, right) == FALSE  # type: ignore[arg-type]
    return condition_test(condition, fact.type)(fact) == FALSE


def unbroken(rule: Rule) -> list[str]:
    """The conditions of a rule that no silent case breaks alone."""
    if "hazard" in rule.aliases.values():
        return []  # hazards are concluded on the way; their cases are judged by the run
    alone: set[Condition] = set()
    for case in rule.cases.silent:
        alone |= broken_alone(rule, case)
    return [f"{c.alias}: {c.text}" for c in rule.conditions if c not in alone]


if __name__ == "__main__":
    for made in RULES:
        for line in unbroken(made):
            print(f"{made.file} {made.id}: {line}")
