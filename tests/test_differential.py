"""Three readings of the same rules agree: durable-rules, the evaluator in plain Python, and CLIPS (in tests only).

By default every distinct case of every rule goes through the evaluator and CLIPS (test_rules.py runs durable-rules
and the evaluator on each), and 20,000 random plans go through all three, each in a session of its own: about 10 ms of
one processor a plan. What a plan is made of costs more than the comparison, so 1,000 plans are built, and the others
put together from their facts: the goods of one, the dyes of another, and six in ten of the types of facts left out.
Of what a plan has many of (a fact for each finish, piece of gear or handling) such a plan takes about a quarter.
Rules see facts and nothing else, so these are as good as any.

The long run of 500,000 is behind the marker: python -m pytest -m sweep tests/test_differential.py;
ADVISOR_DIFFERENTIAL_PLANS sets how many.
"""

from __future__ import annotations

import json
import os
import random
from collections.abc import Callable, Iterator, Sequence

import pytest
from clips_rules import Clips
from making import made_fact, made_rules
from plans_random import random_plan

from advisor.cases import case_facts, cases_of
from advisor.checking import Checker
from advisor.evaluator import Evaluator
from advisor.fact import Fact, Firing
from advisor.facts import build_facts, checked
from advisor.findings import Reader
from advisor.knowledge import knowledge
from advisor.measures import work_out
from advisor.plan import read_plan
from advisor.rulebook import Case, Rule

BLOCKS = 10  # so that processes can share the work
BUILT = 100  # plans a block whose facts are made, and compared as they are
MIXED = 1900  # plans a block put together from those facts
LEFT_OUT = 0.6  # of the types of facts in a plan that is put together
MANY = 5  # facts of one type; of more, a plan that is put together takes about a quarter
WHOLE = int(os.environ.get("ADVISOR_DIFFERENTIAL_PLANS", "500000"))


@pytest.fixture(scope="module")
def clips(checker: Checker) -> Clips:
    return Clips(checker.rulebook.rules)


@pytest.fixture(scope="module")
def evaluator(checker: Checker) -> Evaluator:
    return Evaluator(checker.rulebook.rules)


def concluding(checker: Checker, facts: Sequence[Fact]) -> Callable[[list[Firing]], list[Fact]]:
    """What `Checker.fire` concludes from the firings over these facts."""

    def conclude(firings: list[Firing]) -> list[Fact]:
        return [checked(fact) for fact in Reader(checker.rulebook, knowledge(), facts).conclude(firings)]

    return conclude


def the_same(one: Sequence[Firing], other: Sequence[Firing], what: object) -> None:
    """Both hold the same firings, each once; what differs is named by rule and facts."""
    odd = sorted(set(one) ^ set(other), key=lambda f: (f.rule, f.certain, f.facts))
    assert not odd, f"{what}: {odd[:5]}"
    assert len(one) == len(other) == len(set(one)), what


def distinct_cases(rules: Sequence[Rule]) -> list[Case]:
    """Every plan that a case of a rule describes, once."""
    return list(
        {(c.plan, json.dumps(c.change, sort_keys=True)): c for rule in rules for _, c in cases_of(rule)}.values()
    )


@pytest.mark.parametrize("block", range(BLOCKS))
def test_clips_agrees_on_every_case(block: int, checker: Checker, clips: Clips, evaluator: Evaluator) -> None:
    cases = distinct_cases(checker.rulebook.rules)[block::BLOCKS]
    for case in cases:
        facts = case_facts(case)
        conclude = concluding(checker, facts)
        the_same(clips.run(facts, conclude), evaluator.run(facts, conclude), case)
    assert len(cases) > 100


def built(seeds: range) -> list[list[Fact]]:
    """The facts of random plans."""
    k = knowledge()
    return [build_facts(work_out(read_plan(random_plan(random.Random(seed))), k), k) for seed in seeds]


def mixed(pool: Sequence[Sequence[Fact]], chance: random.Random) -> Iterator[list[Fact]]:
    """Without end: plans that take the facts of most types from a plan of the pool each."""
    sorted_pool: list[dict[str, list[Fact]]] = []
    for facts in pool:
        by_type: dict[str, list[Fact]] = {}
        for fact in facts:
            by_type.setdefault(fact.type, []).append(fact)
        sorted_pool.append(by_type)
    types = sorted({fact_type for by_type in sorted_pool for fact_type in by_type})
    while True:
        plan: list[Fact] = []
        for fact_type in types:
            if chance.random() < LEFT_OUT:
                continue
            facts = chance.choice(sorted_pool).get(fact_type, [])
            plan += [fact for fact in facts if len(facts) <= MANY or chance.random() < 0.25]
        yield plan


def all_three(checker: Checker, clips: Clips, facts: Sequence[Fact], what: object) -> set[tuple[str, bool]]:
    """Compare one plan; what fired."""
    _, firings = checker.fire(facts)  # raises CheckFailure when durable-rules and the evaluator differ
    the_same(clips.run(facts, concluding(checker, facts)), firings, what)
    return {(f.rule, f.certain) for f in firings}


@pytest.mark.parametrize("block", range(BLOCKS))
def test_three_engines_agree_on_random_plans(block: int, checker: Checker, clips: Clips) -> None:
    first = block * BUILT
    pool = built(range(first, first + BUILT))
    seen: set[tuple[str, bool]] = set()
    for number, facts in enumerate(pool, start=first):
        seen |= all_three(checker, clips, facts, f"random plan {number}")
    mixing = mixed(pool, random.Random(block))
    for number in range(MIXED):
        seen |= all_three(checker, clips, next(mixing), f"block {block}, mixed plan {number}")
    # agreement on silence would say little: many rules fire and many may fire in each block
    many = len(checker.rulebook.rules) / 2
    assert len({rule for rule, certain in seen if certain}) > many
    assert len({rule for rule, certain in seen if not certain}) > many


@pytest.mark.sweep
@pytest.mark.parametrize("block", range(BLOCKS))
def test_three_engines_agree_on_many_random_plans(block: int, checker: Checker, clips: Clips) -> None:
    count = WHOLE // BLOCKS
    many = 10 * BUILT
    first = 20_000 + block * many
    pool = built(range(first, first + min(many, count)))
    seen: set[tuple[str, bool]] = set()
    for number, facts in enumerate(pool):
        seen |= all_three(checker, clips, facts, f"random plan {first + number}")
    mixing = mixed(pool, random.Random(1000 + block))
    for number in range(count - len(pool)):
        seen |= all_three(checker, clips, next(mixing), f"block {block}, mixed plan {number}")
    silent = sorted({r.id for r in checker.rulebook.rules} - {rule for rule, certain in seen if certain})
    print(f"\nblock {block}: {count} random plans; never certain: {', '.join(silent) or 'no rule'}")


# ------------------------------------------------------------------ that the comparison can fail: CLIPS read by hand


def test_clips_reads_ends_families_and_joins_as_the_design_says(tmp_path: object) -> None:
    """Expected answers written by hand from DESIGN's Kleene rules; no engine is asked."""
    rules = made_rules(
        tmp_path,  # type: ignore[arg-type]
        {
            "over": {"dose": ["share_of_maximum > 1"]},
            "at-least": {"dose": ["share_of_maximum >= 1"]},
            "acid": {"process": ["dye_class == 'acid'"]},
            "hot": {"part": ["temperature > heat_limit"]},
            "join": {"goods": ["dry_mass > 0"], "vessel": ["dry_mass_limit < goods.dry_mass"]},
            "two": {"goods_1": ["dry_mass > 1"], "goods_2": ["dry_mass < 1"]},
        },
    )
    clips = Clips(rules)

    def answers(*facts: Fact) -> set[tuple[str, bool]]:
        return {(f.rule, f.certain) for f in clips.run(facts, lambda firings: [])}

    assert answers(made_fact("dose", share_of_maximum=1)) == {("at-least", True), ("at-least", False)}
    assert answers(made_fact("dose", share_of_maximum=(0.5, 2))) == {("over", False), ("at-least", False)}
    assert answers(made_fact("dose", share_of_maximum=(1, 2))) == {
        ("over", False),
        ("at-least", True),
        ("at-least", False),
    }
    for word, expected in (
        ("acid milling", {("acid", True), ("acid", False)}),
        ("acid", {("acid", True), ("acid", False)}),
        ("unknown", {("acid", False)}),
        ("vat", set()),
    ):
        assert answers(made_fact("process", dye_class=word)) == expected, word
    assert answers(made_fact("part", temperature=(50, 60), heat_limit=60)) == set()
    assert answers(made_fact("part", temperature=(50, 61), heat_limit=60)) == {("hot", False)}
    assert answers(made_fact("part", temperature=(61, 62), heat_limit=(50, 60))) == {("hot", True), ("hot", False)}
    pot = made_fact("vessel", dry_mass_limit=(1, 3))
    assert answers(made_fact("goods", dry_mass=2), pot) == {("join", False)}
    assert answers(made_fact("goods", dry_mass=4), pot) == {("join", True), ("join", False)}
    # one lot is not two, and two that are alike are two
    assert answers(made_fact("goods", dry_mass=(0, 2))) == set()
    like = made_fact("goods", dry_mass=(0, 2))
    assert [f.facts for f in clips.run([like, like], lambda firings: [])] != []
