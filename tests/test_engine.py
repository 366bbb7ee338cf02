"""The engine behind its guards: right answers, and every surprise fatal.

What could crash or hang the process runs in a child with a deadline. The traps were found by experiment with
durable-rules 2.0.28 and are named in each test.
"""

from __future__ import annotations

import json
import math
import os
import random
import subprocess
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from making import (
    Native,
    agreed_firings,
    by_engine,
    by_evaluator,
    made_checker,
    made_fact,
    made_rules,
    nothing,
    run_program,
)

import advisor.engine as engine_module
from advisor.checking import Checker
from advisor.compiler import MOST_BUCKETS, RULES_PER_BUCKET, Program, compile_rules
from advisor.encoding import EngineFault, encode
from advisor.engine import Engine
from advisor.fact import Fact, Firing
from advisor.interval import Interval
from advisor.rulebook import Rule

Child = Callable[..., subprocess.CompletedProcess[str]]


def program_of(*definitions: dict[str, Any], fields: tuple[str, ...] = ()) -> Program:
    """A program from definitions in the engine's own format, one alias `m` each, over facts of the type "made"."""
    names = {f"d{n}": d for n, d in enumerate(definitions)}
    return Program(names, {name: (name, True, ("m",)) for name in names}, {}, {"made": fields})


@pytest.fixture
def engine(tmp_path: Path) -> Any:
    """An engine with one rule on the dose."""
    made = Engine(compile_rules(made_rules(tmp_path, [{"dose": ["share_owf > 1"]}])))
    yield made
    made.close()


# --- values -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1e-9, "1.0e-09"), (1e16, "1.0e+16"), (-1e-7, "-1.0e-07"), (0.1, "0.1"), (2.0, "2.0"), (1.5e300, "1.5e+300"),
        (7, "7"), (-(2**63), "-9223372036854775808"), ("ab\"c", '"ab\\"c"'), ({"a": [1.0, "b"]}, '{"a":[1.0,"b"]}'),
    ],
)  # fmt: skip
def test_values_are_written_as_the_engine_reads_them(value: object, text: str) -> None:
    """The engine refuses 1e-09 but reads 1.0e-09."""
    assert encode(value) == text
    assert json.loads(text) == value


@pytest.mark.parametrize(
    "value",
    [
        math.nan,
        math.inf,
        -math.inf,
        2**63,
        -(2**63) - 1,
        "x" * 60_001,
        "é" * 30_001,
        None,
        True,
        (1,),
        {"a": math.nan},
        [None],
    ],
    ids=lambda value: repr(value)[:20],
)
def test_values_the_engine_gets_wrong_are_refused(value: object) -> None:
    """NaN reads as null and silently matches nothing; words from 65,536 bytes compare as equal when they are not."""
    with pytest.raises(EngineFault):
        encode(value)


@pytest.mark.parametrize("number", [1e-9, 1e-7, 1e16, 1e-300, 9e298, 123456789.0, 2.0**53 + 2, 0.1 + 0.2, -0.0])
def test_small_and_great_numbers_compare_right(number: float, tmp_path: Path) -> None:
    rules = made_rules(
        tmp_path,
        [{"part": ["temperature > heat_limit"]}, {"part": ["temperature >= heat_limit"]}, {"part": ["share > 0"]}],
    )
    above = math.nextafter(number, math.inf)
    for hot, limit in ((number, number), (above, number), (number, above)):
        numbers = {
            "temperature": hot,
            "heat_limit": limit,
            "share": number,
        }  # as they are: made_fact would round them
        values = {**made_fact("part").values, **{name: Interval.point(n) for name, n in numbers.items()}}
        facts = [Fact("part", "made", values)]
        firings = {f.rule for f in agreed_firings(rules, facts) if f.certain}
        assert ("r0" in firings) == (hot > limit)
        assert ("r1" in firings) == (hot >= limit)
        assert ("r2" in firings) == (number > 0)


def test_a_whole_number_and_a_float_join(tmp_path: Path) -> None:
    """An equality join of 2 and 2.0 misses silently in the engine: numbers are floats there, and '==' is refused."""
    rules = made_rules(tmp_path, [{"goods": [], "vessel": ["dry_mass >= goods.dry_mass"]}])
    values = {**made_fact("vessel").values, "dry_mass": Interval(2, 2)}  # whole numbers slip through the types
    facts = [made_fact("goods", dry_mass=2.0), Fact("vessel", "made", values)]
    assert len(agreed_firings(rules, facts)) == 2


def test_a_word_of_quotes_bars_and_other_letters(tmp_path: Path) -> None:
    """Words are compared for equality only, whatever is in them."""
    words = ['a"b', "a\\b", "a'b", "naïve", "a{b}", "a b", "A B", "日本", "a"]
    program = program_of(*({"all": [{"m": {"$and": [{"t": "made"}, {"w": word}]}}]} for word in words), fields=("w",))
    for number, word in enumerate(words):
        assert {f.rule for f in run_program(program, [Fact("made", "made", {"w": word})])} == {f"d{number}"}


# --- many rules, many facts -------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [65, 200, RULES_PER_BUCKET * MOST_BUCKETS // 2])
def test_rules_satisfied_by_one_fact_all_fire(count: int, tmp_path: Path) -> None:
    """65 satisfied conditions under one node lose all rules of the fact; the buckets spread them.

    Each rule has a limit of its own, since equal conditions share one node and count once.
    """
    (rule,) = made_rules(tmp_path, [{"dose": ["share_owf > 0"]}])
    (condition,) = rule.conditions
    rules = [
        replace(rule, id=f"r{n}", conditions=(replace(condition, operand=-float(n)),)) for n in range(1, count + 1)
    ]
    assert len(agreed_firings(rules, [made_fact("dose")])) == 2 * count


@pytest.mark.parametrize("count", [200, RULES_PER_BUCKET * MOST_BUCKETS // 2])
def test_joining_rules_satisfied_by_one_fact_all_fire(count: int, tmp_path: Path) -> None:
    """A condition with a join always counts as satisfied."""
    (rule,) = made_rules(tmp_path, [{"goods": ["dry_mass > 0"], "vessel": ["dry_mass > goods.dry_mass", "fill > 0"]}])
    first, join, second = rule.conditions

    def with_limits(n: int) -> Rule:
        own = (replace(first, operand=-float(n)), join, replace(second, operand=-float(n)))
        return replace(rule, id=f"r{n}", conditions=own)

    facts = [made_fact("goods", dry_mass=1), made_fact("vessel", dry_mass=2)]
    assert len(agreed_firings([with_limits(n) for n in range(1, count + 1)], facts)) == 2 * count


def test_the_plain_engine_does_lose_65_rules() -> None:
    """The trap is there: if a later version stands it, the buckets may go."""
    program = program_of(
        *({"all": [{"m": {"$and": [{"t": "made"}, {"$gt": {"n": -float(n)}}]}}]} for n in range(65)), fields=("n",)
    )
    fact = Fact("made", "made", {"n": 1.0})  # type: ignore[dict-item]
    with pytest.raises(EngineFault, match="303"):
        run_program(program, [fact])


def test_joining_rules_with_many_facts(tmp_path: Path) -> None:
    """60 x 60 pairs: nothing missed, nothing twice."""
    rules = made_rules(tmp_path, [{"person": ["present == 'yes'"], "gear": ["worn != 'yes'"]}])
    facts = [made_fact("person", present=("yes", "no", "unknown")[n % 3]) for n in range(60)]
    facts += [made_fact("gear", worn=("yes", "no", "unknown")[n % 3]) for n in range(60)]
    firings = agreed_firings(rules, facts)
    assert len([f for f in firings if f.certain]) == 20 * 20
    assert len([f for f in firings if not f.certain]) == 40 * 40


def test_two_aliases_of_one_type_never_hold_the_same_fact(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"goods": [], "goods_2": ["dry_mass >= goods.dry_mass"]}])
    facts = [made_fact("goods", dry_mass=n) for n in (1, 1, 2)]
    certain = {f.facts for f in agreed_firings(rules, facts) if f.certain}
    assert certain == {(0, 1), (1, 0), (0, 2), (1, 2)}


def test_equal_facts_are_told_apart(tmp_path: Path) -> None:
    """Facts without an id of ours would be refused as seen already."""
    rules = made_rules(tmp_path, [{"dye": ["share_owf > 0"]}])
    twins = [made_fact("dye", share_owf=1)] * 5
    assert {f.facts for f in agreed_firings(rules, twins)} == {(n,) for n in range(5)}


def test_no_facts_and_facts_of_no_rule_are_no_crash(child: Child) -> None:
    """Deleting a session in which nothing fired crashes the engine; the canary fires first."""
    done = child("-c", _EMPTY)
    assert (done.returncode, done.stdout.strip()) == (0, "[] [] []"), done.stderr


_EMPTY = """
from making import *
import tempfile
from pathlib import Path
rules = made_rules(Path(tempfile.mkdtemp()), [{"dose": ["share_owf > 0"]}])
engine = Engine(compile_rules(rules))
print(engine.run([], nothing), engine.run([made_fact("place")], nothing), engine.run([made_fact("dose")], nothing))
engine.close()
"""


def test_order_of_the_facts_does_not_matter(tmp_path: Path) -> None:
    rules = made_rules(
        tmp_path, [{"goods": ["dry_mass > vessel.dry_mass"], "vessel": [], "part": ["share > goods.dyeable_share"]}]
    )
    facts = (
        [made_fact("goods", dry_mass=n) for n in (1, 3)]
        + [made_fact("vessel", dry_mass=2)]
        + [made_fact("part", share=n) for n in (0, 1)]
    )
    chance = random.Random(7)
    for _ in range(20):
        chance.shuffle(facts)
        assert len(agreed_firings(rules, facts)) == 2


def test_concluded_facts_join_in_the_same_run(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, [{"dose": ["share_owf > 0"]}, {"hazard": ["present == 'yes'"], "dose": []}])
    seen: list[list[Firing]] = []

    def conclude(firings: list[Firing]) -> list[Fact]:
        seen.append(list(firings))
        return [made_fact("hazard")]

    engine = Engine(compile_rules(rules))
    firings = engine.run([made_fact("dose", share_owf=1)], conclude)
    engine.close()
    assert {f.rule for f in seen[0]} == {"r0"}
    assert {f.facts for f in firings if f.rule == "r1"} == {(1, 0)}


def test_one_engine_serves_many_runs_and_forgets_each(engine: Engine) -> None:
    for n in range(300):
        firings = engine.run([made_fact("dose", share_owf=n % 3)], nothing)
        assert len(firings) == (2 if n % 3 == 2 else 0)


# --- crashes, hangs and misses: in a child process ---------------------------------------------------------

_FAILING_JOIN = """
from making import *
import random, tempfile
from pathlib import Path
rules = made_rules(Path(tempfile.mkdtemp()), [
    {"goods": [], "vessel": ["dry_mass > goods.dry_mass"]},
    {"goods": ["dry_mass > vessel.dry_mass"], "vessel": ["material in ['glass', 'wood']", "fill > 1"]},
    {"goods": [], "goods_2": ["dry_mass > goods.dry_mass", "colour != 'dyed'"]},
    {"part": ["temperature > heat_limit", "take in ['none', 'stain']"], "part_2": ["temperature > part.temperature"]},
])
chance = random.Random(5)
total = 0
for _ in range(200):
    facts = [made_fact("goods", dry_mass=chance.randint(0, 3), colour=chance.choice(["dyed", "undyed"]))
             for _ in range(6)]
    facts += [made_fact("vessel", dry_mass=chance.randint(0, 3), fill=chance.randint(0, 3),
                        material=chance.choice(["glass", "wood", "brass", "unknown"])) for _ in range(6)]
    facts += [made_fact("part", temperature=chance.randint(0, 3), heat_limit=chance.randint(0, 3),
                        take=chance.choice(["none", "stain", "full"])) for _ in range(6)]
    chance.shuffle(facts)
    total += len(agreed_firings(rules, facts))
print(total > 1000)
"""


def test_failing_joins_in_last_place_and_groups_beside_joins_are_harmless(child: Child) -> None:
    """A failing join in last place reads past its array, a group beside a join is ignored or misses."""
    done = child("-c", _FAILING_JOIN)
    assert (done.returncode, done.stdout.strip()) == (0, "True"), done.stderr


_MANY_CONDITIONS = """
from making import *
import tempfile
from pathlib import Path
words = list(vocabularies()["substance"].words)
rules = made_rules(Path(tempfile.mkdtemp()), [
    {"pair": [f"first not in {words[:size]}", f"second in {words[-size:]}"]} for size in range(1, len(words) - 1, 2)
])
facts = [made_fact("pair", first=a, second=b) for a in [*words[::7], "unknown"] for b in [*words[::7], "unknown"]]
firings = agreed_firings(rules, facts)
print(len(firings) > 1000)
"""


def test_hundreds_of_conditions_on_one_type_neither_hang_nor_miss(child: Child) -> None:
    """512 different conditions under one node loop for ever in the engine."""
    done = child("-c", _MANY_CONDITIONS)
    assert (done.returncode, done.stdout.strip()) == (0, "True"), done.stderr


_MANY_RULES = """
from making import *
import sys, tempfile
from pathlib import Path
from dataclasses import replace
(rule,) = made_rules(Path(tempfile.mkdtemp()), [{"dose": ["share_owf > 0"]}])
try:
    program = compile_rules([replace(rule, id=f"r{n}") for n in range(int(sys.argv[1]))])
    print(len(run_program(program, [made_fact("dose", share_owf=1)])))
except Exception as error:
    print(type(error).__name__)
"""


@pytest.mark.parametrize(("count", "answer"), [(480, "960"), (481, "CompileError"), (2300, "CompileError")])
def test_more_rules_than_the_engine_holds_are_refused(count: int, answer: str, child: Child) -> None:
    done = child("-c", _MANY_RULES, str(count))
    assert (done.returncode, done.stdout.strip()) == (0, answer), done.stderr


_WIDE_FACTS = """
from making import *
import tempfile
from pathlib import Path
from advisor.fact_types import FACT_TYPES
rules = made_rules(Path(tempfile.mkdtemp()), {name.replace("_", "-"): {name: []} for name in FACT_TYPES})
facts = [made_fact(name) for name in FACT_TYPES] * 100
print(len(agreed_firings(rules, facts)) == 2 * len(facts))
"""


def test_every_type_of_fact_a_hundred_times_over(child: Child) -> None:
    done = child("-c", _WIDE_FACTS)
    assert (done.returncode, done.stdout.strip()) == (0, "True"), done.stderr


# --- facts that are refused -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact", "message"),
    [
        (Fact("dose", "made", {"name": "x" * 65_536}), "too long"),
        (Fact("dose", "made", {"id": "x"}), "reserved"),
        (Fact("dose", "made", {"sid": "x"}), "reserved"),
        (Fact("dose", "made", {"t": "dye"}), "reserved"),
        (Fact("_canary", "made", {}), "reserved"),
        (Fact("_end", "made", {}), "reserved"),
        (Fact("dose", "made", {f"f{n}": "x" for n in range(260)}), "fields"),
        (Fact("dose", "made", {"f": None}), "takes no NoneType"),  # type: ignore[dict-item]
        (Fact("dose", "made", {"f": True}), "takes no bool"),  # type: ignore[dict-item]
        (Fact("dose", "made", {"f": math.nan}), "no number"),  # type: ignore[dict-item]
    ],
    ids=["long word", "id", "sid", "type", "canary", "end", "wide", "null", "truth", "nan"],
)
def test_a_fact_the_engine_gets_wrong_is_a_fault_and_latches(fact: Fact, message: str, tmp_path: Path) -> None:
    """Given that a rule looks at all its fields; what no rule looks at is not given to the engine."""
    program = compile_rules(made_rules(tmp_path, [{"bath": ["water > 1"]}]))
    engine = Engine(replace(program, fields={**program.fields, fact.type: tuple(fact.values)}))
    good = made_fact("bath", water=2)
    assert len(engine.run([good], nothing)) == 2
    with pytest.raises(EngineFault, match=message):
        engine.run([good, fact], nothing)
    with pytest.raises(EngineFault, match=f"out of use: .*{message}"):
        engine.run([good], nothing)


def test_fields_and_types_that_no_rule_looks_at_stay_out_of_the_engine(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, given = engine_module.native.assert_fact, []

    def spy(handle: Any, text: str) -> Any:
        given.append(json.loads(text))
        return real(handle, text)

    monkeypatch.setattr(engine_module, "native", Native(assert_fact=spy))
    assert len(engine.run([made_fact("vessel"), made_fact("dose", share_owf=2)], nothing)) == 2
    assert [(fact["id"], fact["t"]) for fact in given] == [("c", "_canary"), ("f1", "dose"), ("e", "_end")]
    assert given[1].keys() == {"sid", "id", "t", "bucket_0", "share_owf_lo", "share_owf_hi"}


def test_no_interval_holds_what_is_no_number() -> None:
    with pytest.raises(ValueError, match="not an interval"):
        made_fact("dose", share_owf=(math.nan, 1))


def test_rules_the_engine_refuses_are_a_fault() -> None:
    with pytest.raises(EngineFault, match="the engine refused the rules"):
        Engine(program_of({"every": []}))
    with pytest.raises(EngineFault, match="no number"):
        Engine(program_of({"all": [{"m": {"$gt": {"n": math.nan}}}]}))


# --- faults of the engine ---------------------------------------------------------------------------------


def _raises(*_: Any) -> Any:
    raise Exception("a fault of the engine")


def _on_fact(what: Any, fact_id: str) -> Callable[..., Any]:
    """assert_fact that answers `what` for one fact, and is itself for the others."""
    real = engine_module.native.assert_fact

    def replaced(handle: Any, text: str) -> Any:
        if json.loads(text)["id"] != fact_id:
            return real(handle, text)
        return what() if callable(what) else what

    return replaced


def _actions(change: Callable[[str], Any]) -> Callable[..., Any]:
    """start_action_for_state whose message is changed."""
    real = engine_module.native.start_action_for_state

    def replaced(handle: Any, offset: int) -> Any:
        started = real(handle, offset)
        return started and (started[0], change(started[1]), *started[2:])

    return replaced


_FAULTS: dict[str, tuple[Callable[[], dict[str, Any]], str]] = {
    "assert raises": (lambda: {"assert_fact": _on_fact(_raises, "f0")}, "a fault of the engine"),
    "assert raises at the canary": (lambda: {"assert_fact": _on_fact(_raises, "c")}, "a fault of the engine"),
    "fact seen already": (lambda: {"assert_fact": _on_fact((2, 0), "f0")}, "answered 2"),
    "fact put off": (lambda: {"assert_fact": _on_fact((3, 0), "f0")}, "answered 3"),
    "canary not handled": (lambda: {"assert_fact": _on_fact((1, 0), "c")}, "canary did not fire"),
    "end marker not handled": (lambda: {"assert_fact": _on_fact((1, 0), "e")}, "end marker did not fire alone"),
    "start raises": (lambda: {"start_action_for_state": _raises}, "a fault of the engine"),
    "nothing starts": (lambda: {"start_action_for_state": lambda *_: None}, "canary did not fire"),
    "complete raises": (lambda: {"complete_and_start_action": _raises}, "a fault of the engine"),
    "complete repeats": (lambda: {"complete_and_start_action": _repeating()}, "canary did not fire"),
    "a stranger fires": (lambda: {"start_action_for_state": _actions(lambda m: m.replace("r0|", "r9|"))}, "KeyError"),
    "an action is not JSON": (lambda: {"start_action_for_state": _actions(lambda m: m[:-1])}, "Error"),
    "two actions in one": (lambda: {"start_action_for_state": _actions(_doubled)}, "ValueError"),
}


def _doubled(message: str) -> str:
    return '{"x":{},' + message[1:] if "r0|" in message else message


def _repeating() -> Callable[..., Any]:
    left = ['{"_canary":{"m":{"id":"c"}}}']
    real = engine_module.native.complete_and_start_action
    return lambda *a: left.pop() if left else real(*a)


@pytest.mark.parametrize("name", _FAULTS)
def test_a_fault_of_the_engine_gives_no_answer_and_latches(
    name: str, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    fact = made_fact("dose", share_owf=2)
    assert len(engine.run([fact], nothing)) == 2
    make, message = _FAULTS[name]
    with monkeypatch.context() as patch:
        patch.setattr(engine_module, "native", Native(**make()))
        with pytest.raises(EngineFault, match=message):
            engine.run([fact], nothing)
    with pytest.raises(EngineFault, match="out of use"):
        engine.run([fact], nothing)


def test_the_same_firing_twice_is_a_fault(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    real, said = engine_module.native.complete_and_start_action, []

    def twice(handle: Any, offset: int) -> Any:
        if len(said) == 1:
            said.append("")
            return said[0]
        message = real(handle, offset)
        if message and not said:
            said.append(message)
        return message

    monkeypatch.setattr(engine_module, "native", Native(complete_and_start_action=twice))
    with pytest.raises(EngineFault, match="fired twice"):
        engine.run([made_fact("dose", share_owf=2)], nothing)


def test_a_session_that_cannot_be_deleted_ends_the_work(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(engine_module, "native", Native(delete_state=_raises))
        engine.run([made_fact("dose")], nothing)
    with pytest.raises(EngineFault, match="could not be deleted"):
        engine.run([made_fact("dose")], nothing)


def test_an_error_while_concluding_is_a_fault(engine: Engine) -> None:
    with pytest.raises(EngineFault, match="ZeroDivisionError"):
        engine.run([made_fact("dose")], lambda firings: [made_fact("dose", share_owf=1 / 0)])
    with pytest.raises(EngineFault, match="out of use"):
        engine.run([], nothing)


def test_a_session_left_over_is_a_fault(engine: Engine) -> None:
    """What a broken-off run left behind must not flow into the next."""
    handle = engine._handle
    engine_module.native.assert_fact(handle, '{"sid":"s","id":"c","t":"_canary"}')
    with pytest.raises(EngineFault):
        engine.run([], nothing)


def test_a_closed_engine_is_of_no_use(engine: Engine) -> None:
    engine.close()
    engine.close()
    with pytest.raises(EngineFault, match="out of use: closed"):
        engine.run([], nothing)


# --- threads and processes --------------------------------------------------------------------------------


def test_another_thread_is_refused(engine: Engine) -> None:
    caught: list[BaseException] = []

    def work() -> None:
        try:
            engine.run([], nothing)
        except EngineFault as fault:
            caught.append(fault)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert "another thread" in str(caught[0])
    assert len(engine.run([made_fact("dose", share_owf=2)], nothing)) == 2  # the owner goes on


_FORKED = """
from making import *
import os, tempfile
from pathlib import Path
rules = made_rules(Path(tempfile.mkdtemp()), [{"dose": ["share_owf > 1"]}])
facts = [made_fact("dose", share_owf=2)]
checker = made_checker(rules)
before = checker.fire(facts)[1]
engine = checker._engine()
if (pid := os.fork()) == 0:
    try:
        engine.run(facts, nothing)
        os._exit(1)  # the parent's engine must be refused
    except Exception as fault:
        refused = "another thread or process" in str(fault)
    fresh = checker.fire(facts)[1] == before  # the checker makes its own
    os._exit(0 if refused and fresh else 2)
_, status = os.waitpid(pid, 0)
print(os.waitstatus_to_exitcode(status), checker.fire(facts)[1] == before)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
def test_after_a_fork_the_old_engine_is_refused_and_a_fresh_one_works(child: Child) -> None:
    done = child("-c", _FORKED)
    assert (done.returncode, done.stdout.strip()) == (0, "0 True"), done.stderr


_THREADS = """
from making import *
import tempfile, threading
from pathlib import Path
words = list(vocabularies()["take"].words)
rules = made_rules(Path(tempfile.mkdtemp()), [
    {"part": [f"take == '{word}'", "share > 0"], "goods": ["dry_mass > 0"]} for word in words
])
checker = made_checker(rules)
right = []
def work(number):
    facts = [made_fact("goods", dry_mass=1)]
    facts += [made_fact("part", take=words[(number + n) % 5], share=1) for n in range(number + 1)]
    expected = set(by_evaluator(rules, facts))
    right.append(all(set(checker.fire(facts)[1]) == expected for _ in range(50)))
threads = [threading.Thread(target=work, args=(n,)) for n in range(8)]
for t in threads: t.start()
for t in threads: t.join()
print(right == [True] * 8)
"""


def test_eight_threads_of_fifty_checks(child: Child) -> None:
    """Each thread gets an engine of its own."""
    done = child("-c", _THREADS, seconds=120.0)
    assert (done.returncode, done.stdout.strip()) == (0, "True"), done.stderr


def test_the_checker_keeps_one_engine_a_thread(tmp_path: Path) -> None:
    checker: Checker = made_checker(made_rules(tmp_path, [{"dose": ["share_owf > 1"]}]))
    mine, theirs = checker._engine(), []
    thread = threading.Thread(target=lambda: theirs.append(checker._engine()))
    thread.start()
    thread.join()
    assert checker._engine() is mine
    assert theirs[0] is not mine


def test_by_engine_is_what_the_tests_above_mean(tmp_path: Path) -> None:
    """The helper runs the engine and not the evaluator."""
    rules = made_rules(tmp_path, [{"dose": ["share_owf > 1"]}])
    with pytest.raises(EngineFault):
        by_engine(rules, [Fact("dose", "made", {"share_owf": "x" * 65_536})])
    assert by_evaluator(rules, [made_fact("dose")]) == []
