"""The rules with something wrong in them: each rule's own cases must notice, and break each condition alone.

The score of every file is printed by `pytest -m sweep -s tests/test_mutation.py`; the default run looks at a part of
the rules. Mutants that no plan can tell from their rule stand in equivalent_mutants.toml, each with the reason.
Common practice in testing, no outside figures.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from making import made_rules
from rule_mutants import Ground, Scores, answer, equivalents, mutants_of, run, score

from advisor.cases import case_facts
from advisor.evaluator import Evaluator
from advisor.rulebook import Case, Cases, Rule, RuleError, rulebook
from advisor.store import pack

LEAST = 0.95  # of the mutants that differ from their rule
PART = 12  # the default run looks at one rule in so many

try:
    RULES = rulebook().rules
except RuleError:  # a broken rule file is one failing test elsewhere, not a module that cannot be collected
    RULES = ()


@pytest.fixture(scope="module")
def ground() -> Ground:
    return Ground(rulebook())


def holds(scores: Scores) -> None:
    """Enough mutants are killed, and every condition has its pair."""
    print("\n" + scores.table())
    unpaired = [mutant for mutant in scores.alive if mutant[1].endswith("| dropped")]
    assert not unpaired, f"no silent or asking case breaks these alone: {unpaired}"
    assert scores.share >= LEAST, scores.alive


def test_a_part_of_the_rules_notices_its_mutants(ground: Ground) -> None:
    holds(run(RULES[::PART], ground))


@pytest.mark.sweep
def test_every_rule_notices_its_mutants(ground: Ground) -> None:
    holds(run(RULES, ground))


def test_what_is_listed_as_equivalent_is_a_mutant_that_survives(ground: Ground) -> None:
    """Neither a rule that has changed since, nor a mutant that some case kills after all, stays on the list."""
    listed = equivalents()
    rules = [rule for rule in RULES if rule.id in {rule_id for rule_id, _ in listed}]
    surviving = {(s.rule.id, key) for s in run(rules, ground).rules for key in s.survivors}
    assert set(listed) - surviving == set()
    assert all(reason.strip() for reason in listed.values())


# --- the machine itself -----------------------------------------------------------------------------------


def keys(folder: Path, **when: list[str]) -> set[str]:
    (rule,) = made_rules(folder, [when])
    return {mutant.key.split(" | ")[1] for mutant in mutants_of(rule)}


def test_mutants_of_a_limit(tmp_path: Path) -> None:
    assert keys(tmp_path, dose=["share_of_maximum > 1"]) == {
        "dropped", ">=", "negated", "limit 0.95", "limit 1.05", "limit 0", "limit 2",
        "field share_of_maximum_dyeable", "field rinse_count",
    }  # fmt: skip


def test_mutants_of_a_count_move_by_one(tmp_path: Path) -> None:
    found = keys(tmp_path, bath=["class_count > 1"])
    assert {key for key in found if key.startswith("limit")} == {"limit 0", "limit 2"}


def test_mutants_of_words(tmp_path: Path) -> None:
    found = keys(tmp_path, dye=["form in ['powder', 'granules']"])
    assert found == {"dropped", "negated", "without powder", "without granules", "with liquid", "liquid for powder"}
    assert keys(tmp_path, place=["stated == 'yes'"]) == {"dropped", "negated"}, "each meaning once"


def test_mutants_of_a_comparison_of_two_fields(tmp_path: Path) -> None:
    found = keys(tmp_path, vessel=["temperature > heat_limit"])
    assert found == {"dropped", ">=", "negated"}, "no third temperature to take one for"


def mcdc_rule(folder: Path, *silent: Case, **fires: Case) -> Rule:
    (rule,) = made_rules(folder, [{"dye": ["share_of_maximum > 1"], "dose": ["dye_count <= 1"]}])
    return replace(rule, packed_cases=pack(Cases(tuple(fires.values()), silent, ())))


def test_cases_at_the_limit_and_on_either_side_kill(tmp_path: Path, ground: Ground) -> None:
    def dose(amount: str) -> Case:
        return Case("acid-on-nylon", {"dyes.0.amount": amount})

    over = mcdc_rule(tmp_path, dose("0.5 g"), fires=dose("2.5 g"))
    survivors = {key.split(" | ")[1] for key in score(over, ground).survivors if key.startswith("dye:")}
    assert {"limit 0.95", "limit 1.05", ">="} <= survivors
    closer = mcdc_rule(tmp_path, dose("1.5 g"), fires=dose("1.51 g"))
    survivors = {key.split(" | ")[1] for key in score(closer, ground).survivors if key.startswith("dye:")}
    assert not {"limit 0.95", "limit 1.05", ">="} & survivors


def test_a_condition_is_paired_when_it_alone_stands_in_the_way(tmp_path: Path, ground: Ground) -> None:
    more = {"class": "acid levelling", "form": "powder", "amount": "0.1 g", "maximum": "2 %"}
    fires = Case("acid-on-nylon", {"dyes.0.amount": "2 g"})
    two, one = Case("acid-on-nylon", {"dyes.0.amount": "2 g", "dyes.1": more}), Case("acid-on-nylon", {})
    both = Case("acid-on-nylon", {"dyes.1": more})  # breaks two conditions at once: a pair for neither
    assert score(mcdc_rule(tmp_path, both, fires=fires), ground).strictly == 0
    assert score(mcdc_rule(tmp_path, both, two, fires=fires), ground).strictly == 1
    assert score(mcdc_rule(tmp_path, two, one, fires=fires), ground).strictly == 2


def test_rules_that_join_hazards_find_them_concluded(ground: Ground) -> None:
    rule = next(r for r in RULES if "hazard" in r.aliases.values())
    ready = Evaluator([rule])
    assert answer(ready, ground.facts(rule.cases.fires[0], hazards=True)) == "fires"
    assert answer(ready, case_facts(rule.cases.fires[0])) == "silent"
