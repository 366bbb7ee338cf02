"""What must stay true when a plan is changed in a way whose effect is known beforehand.

Plans come from the rules' own cases (a base plan with one thing changed, so that something is found) and from
plans_random. The properties are those of physics and of Kleene logic; no outside source is needed. Only which rules
speak is compared, about what and how surely: the wording may differ ("3 g", "0.003 kg").

Rules alone are run, by the evaluator (test_differential.py shows that the three readings agree).
"""

from __future__ import annotations

import copy
import json
import os
import random
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st
from plans_random import random_plan

from advisor.cases import base_plan, cases_of, changed
from advisor.checking import Checker
from advisor.fact import Fact
from advisor.fact_types import FACT_TYPES
from advisor.findings import Reader
from advisor.knowledge import Table, knowledge
from advisor.plan import InputError, read_plan
from advisor.rulebook import EFFECTS, Rule, rulebook

Data = dict[str, Any]
EXAMPLES = int(os.environ.get("ADVISOR_EXAMPLES", "60"))  # more, to look farther by hand
checked_often = settings(
    max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


# ------------------------------------------------------------------------------------------------ what is compared


@dataclass(frozen=True)
class Heard:
    """What the rules say of a plan: certain firings, firings that ask, and what each rule's firing was about."""

    verdict: str
    certain: Counter[str]
    asking: frozenset[str]
    asked: frozenset[tuple[str, str]]  # plan paths that are asked for, with the gravest effect they decide
    exposures: frozenset[str]  # ways of harm for which something is wrong with what is worn

    @property
    def found(self) -> frozenset[str]:
        return frozenset(self.certain)

    def graveness(self, *topics: str) -> tuple[int, int]:
        """The gravest effect of a finding of these topics, 0 for none; and the gravest that is found or asked about."""
        effect = {rule.id: 1 + EFFECTS[::-1].index(rule.effect) for rule in rulebook().rules if rule.topic in topics}
        found = max((effect[rule] for rule in self.certain if rule in effect), default=0)
        return found, max((found, *(effect[rule] for rule in self.asking if rule in effect)))


def hear(checker: Checker, data: Data) -> Heard:
    """Read the plan and run the rules; a firing asks when it may hold and a plan input would settle it."""
    _, facts, firings = checker.try_out(read_plan(data))
    rules = {rule.id: rule for rule in checker.rulebook.rules}
    reader = Reader(checker.rulebook, knowledge(), facts)
    findings, questions = reader.findings(firings), reader.questions(firings)
    settled = {(f.rule, f.facts) for f in firings if f.certain}
    asking = {
        f.rule
        for f in firings
        if rules[f.rule].concludes is None and (f.rule, f.facts) not in settled and any(reader.questions([f]))
    }
    gear = {r.id for r in checker.rulebook.rules if r.topic in ("gear-missing", "gear-inadequate")}
    return Heard(
        verdict=checker.verdict_on(facts, firings),
        certain=Counter(f.rule for f in findings),
        asking=frozenset(asking),
        asked=frozenset((question.field, question.effect) for question in questions),
        exposures=frozenset(
            _exposure(facts[index]) for f in firings if f.certain and f.rule in gear for index in f.facts[:1]
        ),
    )


def _exposure(fact: Fact) -> str:
    return str(fact.values.get("exposure", fact.type))


# ---------------------------------------------------------------------------------------------------- where from


@lru_cache(maxsize=1)
def case_plans() -> tuple[str, ...]:
    """Every plan for which a rule has something to find, as JSON (a plan is changed by whoever gets it)."""
    found: dict[str, None] = {}
    for rule in rulebook().rules:
        for expected, case in cases_of(rule):
            if expected == "fires" and not case.plan.startswith("sessions/"):
                found[json.dumps(changed(base_plan(case.plan), case.change), sort_keys=True)] = None
    return tuple(found)


plans_of_cases = st.integers(0, 10**6).map(lambda n: json.loads(case_plans()[n % len(case_plans())]))
plans_at_random = st.integers(0, 10**6).map(lambda seed: random_plan(random.Random(seed)))
plans = st.one_of(plans_of_cases, plans_of_cases, plans_at_random)


# ---------------------------------------------------------------------------------------------------- changing plans


def scaled(text: Any, factor: float) -> Any:
    """An amount with all its numbers multiplied; a share in % and what is unknown stay as they are."""
    if not isinstance(text, str) or "%" in text or text == "unknown":
        return text
    plain = re.sub(r"(\d+)/(\d+) ", lambda m: f"{int(m[1]) / int(m[2])} ", text)
    return re.sub(r"\d+(?:\.\d+)?", lambda m: f"{float(m[0]) * factor:.12g}", plain)


def leaves(node: Any, above: str = "") -> Iterator[tuple[str, Any]]:
    """Every key path of a plan with its value; tables, lists and lists of tables as well."""
    items = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in items:
        path = f"{above}{key}"
        if not isinstance(node, list):
            yield path, value
        if (isinstance(value, dict) and key != "fibres") or (
            isinstance(value, list) and value and isinstance(value[0], dict)
        ):
            yield from leaves(value, f"{path}.")


def without(data: Data, path: str) -> Data:
    """The plan with one key left out."""
    result: Any = copy.deepcopy(data)
    *steps, last = path.split(".")
    node = result
    for step in steps:
        node = node[int(step) if isinstance(node, list) else step]
    del node[last]
    return dict(result)


def each(data: Data, section: str) -> list[Data]:
    entries = data.get(section, ())
    return [entry for entry in entries if isinstance(entry, dict)]


# ------------------------------------------------------------------------------------------------------- more, less


@checked_often
@given(plans, st.data())
def test_more_gear_never_adds_a_gear_finding(checker: Checker, plan: Data, data: st.DataObject) -> None:
    """Per way of harm: a cloth mask may turn "missing" into "inadequate", but a way that was stopped stays so."""
    worn = plan.get("people", {}).get("wearing") if isinstance(plan.get("people"), dict) else None
    assume(isinstance(worn, list))
    more = data.draw(st.lists(st.sampled_from(knowledge().gear.ids), min_size=1, max_size=3))
    before, after = hear(checker, plan), hear(checker, changed(plan, {"people.wearing": [*worn, *more]}))
    assert after.exposures <= before.exposures, more


OVERDOSE = ("dose-over-maximum", "dose-over-maximum-dyeable", "dose-over-saturation")


@checked_often
@given(plans, st.sampled_from((0.0001, 0.1, 0.5, 0.9, 0.999)))
def test_less_dye_never_adds_an_overdose(checker: Checker, plan: Data, factor: float) -> None:
    less = copy.deepcopy(plan)
    for dye in each(less, "dyes"):
        if "amount" in dye:  # a share of the goods is an amount as well
            dye["amount"] = scaled(dye["amount"].replace("%", "PER"), factor).replace("PER", "%")
    before, after = hear(checker, plan), hear(checker, less)
    # jointly: over the maximum on the fibres that take it is only told when it is not over it on all the goods
    worse, was = after.graveness(*OVERDOSE), before.graveness(*OVERDOSE)
    assert worse[0] <= was[0]
    assert worse[1] <= was[1]


@checked_often
@given(plans, st.sampled_from((1.001, 1.5, 2.0, 10.0)))
def test_a_larger_pot_never_adds_crowding(checker: Checker, plan: Data, factor: float) -> None:
    capacity = plan.get("vessel", {}).get("capacity")
    assume(isinstance(capacity, str) and capacity != "unknown")
    larger = changed(plan, {"vessel.capacity": scaled(capacity, factor)})
    crowding = ("vessel-crowded", "vessel-overfull", "vessel-too-small")
    try:
        before, after = hear(checker, plan), hear(checker, larger)
    except InputError:  # more than a pot can be
        assume(False)
    for topic in crowding:
        worse, was = after.graveness(topic), before.graveness(topic)
        assert worse[0] <= was[0], topic
        assert worse[1] <= was[1], topic


# --------------------------------------------------------------------------------------------------------- the same

EXTENSIVE = frozenset({"g", "L", "kg", "mmol", "ppm"})  # units of what grows with the bath, or with the vapour of it
BY_SIZE = frozenset({"weighing_error", "time_to_temperature", "fastest_rise", "air_limit_share", "share_of_size"})


def depends_on_size(rule: Rule) -> bool:
    """Whether a rule holds an amount itself, not a proportion, against a limit: the scale's step, what is carried."""
    return any(
        isinstance(c.operand, float)
        and c.operand != 0
        and (c.field in BY_SIZE or FACT_TYPES[rule.aliases[c.alias]].fields[c.field].unit in EXTENSIVE)  # type: ignore[union-attr]
        for c in rule.conditions
    )


SCALED = re.compile(
    r"((goods\.\d+\.dry_mass|(dyes|assists)\.\d+\.amount|bath\.water|vessel\.(capacity|empty_mass)|aftercare\.rinse_water))$"
)


@checked_often
@given(plans, st.sampled_from((0.25, 0.5, 2.0, 3.0, 8.0)))
def test_scaling_the_whole_bath_changes_no_finding_of_proportions(checker: Checker, plan: Data, factor: float) -> None:
    said = {path: value for path, value in leaves(plan) if value != "unknown"}
    needed = [f"goods.{n}.dry_mass" for n in range(len(plan["goods"]))] + ["bath.water", "vessel.capacity", "assists"]
    needed += [f"{part}.{n}.amount" for part in ("dyes", "assists") for n in range(len(each(plan, part)))]
    # an unknown amount may be anything up to a fixed end, which does not grow with the bath
    assume(all(path in said for path in [*needed, "aftercare.rinse_water"]))
    larger = changed(plan, {path: scaled(value, factor) for path, value in said.items() if SCALED.match(path)})
    try:
        before, after = hear(checker, plan), hear(checker, larger)
    except InputError:  # more than anything can be
        assume(False)
    proportions = {rule.id for rule in checker.rulebook.rules if not depends_on_size(rule)}
    odd = (before.found ^ after.found) & proportions
    assert not odd


EQUALS: dict[str, Callable[[float], str]] = {
    "g": lambda x: f"{x / 1000:.12g} kg",
    "kg": lambda x: f"{x * 1000:.12g} g",
    "L": lambda x: f"{x * 1000:.12g} mL",
    "mL": lambda x: f"{x / 1000:.12g} L",
    "degC": lambda x: f"{x * 9 / 5 + 32:.12g} degF",
    "min": lambda x: f"{x * 60:.12g} s",
    "m": lambda x: f"{x / 1000:.12g} km",
    "mg/L": lambda x: f"{x:.12g} ppm",
    "m^3": lambda x: f"{x * 1000:.12g} L",
    "tbsp": lambda x: f"{x:.12g} tablespoons",
    "tsp": lambda x: f"{x:.12g} teaspoon",
    "delta_degC/min": lambda x: f"{x * 1.8:.12g} delta_degF/min",
}


def otherwise(value: str) -> str:
    """The same amount in another unit, for "3 g" and "3 g to 5 g"; other texts as they are."""
    amount = r"(\d+(?:\.\d+)?) ([A-Za-z_/^3]+)"
    if re.fullmatch(f"{amount}(?: to {amount})?", value):
        return re.sub(amount, lambda m: EQUALS[m[2]](float(m[1])) if m[2] in EQUALS else m[0], value)
    return value


def synonym(field: str, word: str, chance: random.Random) -> str:
    """Another spelling of a word of a table, or capitals."""
    k = knowledge()
    tables: dict[str, Table[Any]] = {
        "class": k.dye_classes, "substance": k.substances, "chemicals": k.substances, "before": k.substances,
        "material": k.materials, "heat_source": k.heat_sources, "wearing": k.gear, "present": k.people,
        "kind": k.spaces, "ventilation": k.ventilation, "drain": k.drains, "leftover": k.leftovers, "finishes": k.finishes,
    }  # fmt: skip
    row = tables[field].find(word) if field in tables and word in tables[field].ids else None
    if row is not None and row.synonyms:
        return chance.choice(row.synonyms)
    return word.upper()


AMOUNTS = frozenset(
    [
        "dry_mass",
        "amount",
        "water",
        "temperature",
        "hold",
        "rise",
        "alkalinity",
        "altitude",
        "capacity",
        "empty_mass",
        "resolution",
        "volume",
        "rinse_water",
    ]
)
WORDS = frozenset(
    [
        "colour",
        "class",
        "form",
        "substance",
        "heat_source",
        "shade",
        "material",
        "condition",
        "kind",
        "ventilation",
        "drain",
        "leftover",
    ]
)
LISTS = frozenset(["wearing", "present", "chemicals", "before", "finishes"])


@checked_often
@given(plans, st.integers(0, 10**6))
def test_an_equal_unit_or_spelling_changes_nothing(checker: Checker, plan: Data, seed: int) -> None:
    chance = random.Random(seed)
    same: Data = copy.deepcopy(plan)
    for path, value in list(leaves(plan)):
        key = path.rsplit(".", 1)[-1]
        if key in AMOUNTS and isinstance(value, str):
            same = changed(same, {path: otherwise(value)})
        elif key in WORDS and isinstance(value, str):
            same = changed(same, {path: synonym(key, value, chance)})
        elif key in LISTS and isinstance(value, list):
            same = changed(same, {path: [synonym(key, word, chance) for word in value]})
    note(str({p: v for p, v in leaves(same) if v != dict(leaves(plan)).get(p)}))
    assert hear(checker, same) == hear(checker, plan)


@checked_often
@given(plans, st.integers(0, 10**6))
def test_the_order_of_lists_changes_nothing(checker: Checker, plan: Data, seed: int) -> None:
    chance = random.Random(seed)

    def shuffled(node: Any) -> Any:
        if isinstance(node, dict):
            items = [(key, shuffled(value)) for key, value in node.items()]
            chance.shuffle(items)  # nor does the order of keys
            return dict(items)
        if isinstance(node, list):
            return chance.sample([shuffled(item) for item in node], len(node))
        return node

    before, after = hear(checker, plan), hear(checker, shuffled(plan))
    assert (after.verdict, after.certain, after.asking, after.exposures) == (
        before.verdict, before.certain, before.asking, before.exposures,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------------- known less


# What a plan may leave out without being held back (see test_good_practice.py): the report then asks or warns with
# the effect "caution", however grave the finding would have been. Everything else is asked for as gravely.
CAUTION_IS_ENOUGH = re.compile(
    r"(contains|before|trims|alkalinity|altitude|volume|resolution|scale|old_stock|safety_data_sheet|out_of_reach|storage)$"
)
# Not asked for at all, by decision, and known to be so: an assist of unstated strength is taken as the shops sell it,
# and whether the whole stock is labelled is found fault with when said, and not held against a plan that is silent.
NOT_ASKED = {
    "strength": frozenset({"assist-short-a-little", "water-eats-acid"}),
    "stock_labelled": frozenset({"label-missing-on-stock"}),
    "storage": frozenset({"label-missing-on-stock"}),
}


def stated_fields(checker: Checker, word: str) -> dict[str, frozenset[tuple[str, str]]]:
    """For each rule that wants something to be stated ("yes") or not ("no"): what."""
    found: dict[str, set[tuple[str, str]]] = {}
    for rule in checker.rulebook.rules:
        for c in rule.conditions:
            if c.field.endswith("stated") and c.operand == frozenset({word}):
                found.setdefault(rule.id, set()).add((rule.aliases[c.alias], c.field))
    return {rule: frozenset(fields) for rule, fields in found.items()}


def lost(checker: Checker, before: Heard, after: Heard, hidden: str) -> set[str]:
    """Rules that had found something and now neither find nor ask, with nobody speaking in their place.

    In their place: a question about the hidden input, or a new finding that it is not stated, which does at least as
    much to the verdict. A rule that wants the input stated may hand over to one that finds it is not.
    """
    rules = {rule.id: rule for rule in checker.rulebook.rules}
    wants, misses = stated_fields(checker, "yes"), stated_fields(checker, "no")
    missed = {rule for rule in after.found | after.asking if rule in misses}
    effects = [effect for field, effect in after.asked if related(field, hidden)]
    effects += [rules[rule].effect for rule in missed if after.certain[rule] > before.certain[rule]]
    gravest = min(map(EFFECTS.index, effects), default=len(EFFECTS))
    if effects and CAUTION_IS_ENOUGH.search(hidden):
        return set()
    return {
        rule
        for rule in before.found - after.found - after.asking - NOT_ASKED.get(hidden.split(".")[-1], frozenset())
        if gravest > EFFECTS.index(rules[rule].effect)
        and not any(wants.get(rule, frozenset()) & misses[other] for other in missed)
    }


def related(field: str, hidden: str) -> bool:
    """Whether one path is the other or holds it."""
    return field == hidden or field.startswith(f"{hidden}.") or hidden.startswith(f"{field}.")


NEVER_HIDDEN = re.compile(r"^(title|place|goods|dyes|goods\.\d+\.name|dyes\.\d+\.name|utensils\.\d+\.name)$")


@settings(checked_often, max_examples=4 * EXAMPLES)
@given(plans, st.integers(0, 10**6))
def test_hiding_an_input_never_turns_a_finding_into_silence(checker: Checker, plan: Data, seed: int) -> None:
    paths = [path for path, _ in leaves(plan) if not NEVER_HIDDEN.match(path)]
    path = paths[seed % len(paths)]
    before, after = hear(checker, plan), hear(checker, without(plan, path))
    assert not lost(checker, before, after, path), f"hidden: {path}"


def wider(value: Any, chance: random.Random) -> Any:
    """A range that holds the exact amount; other values as they are."""
    exact = re.fullmatch(r"(\d+(?:\.\d+)?) (\S+)", value) if isinstance(value, str) else None
    if exact is None:
        return value
    number, unit = float(exact[1]), exact[2]
    low, high = chance.choice((0.3, 0.8, 0.99, 1.0)), chance.choice((1.0, 1.01, 1.3, 4.0))
    if unit == "%":
        high = min(high, max(1.0, 100.0 / number)) if number else 1.0
    return f"{number * low:.12g} {unit} to {number * high:.12g} {unit}" if low < high else value


@settings(checked_often, max_examples=3 * EXAMPLES)
@given(plans, st.integers(0, 10**6))
def test_a_wider_amount_finds_nothing_new_and_loses_nothing(checker: Checker, plan: Data, seed: int) -> None:
    chance = random.Random(seed)
    amounts = [(path, value) for path, value in leaves(plan) if wider(value, random.Random(0)) != value]
    assume(amounts)
    change = {
        path: wider(value, chance)
        for path, value in chance.sample(amounts, min(len(amounts), chance.choice((1, 1, 3))))
    }
    try:
        before, after = hear(checker, plan), hear(checker, changed(plan, change))
    except InputError:
        assume(False)
    assert not after.certain - before.certain, change
    assert not before.found - after.found - after.asking, change
    assert not before.asking - after.asking, change


@pytest.mark.sweep
def test_hiding_each_input_of_each_case_in_turn(checker: Checker) -> None:
    """The whole of the hiding property over the rules' own cases: about 40,000 checks."""
    tried, bad = 0, []
    for text in case_plans():
        plan = json.loads(text)
        before = hear(checker, plan)
        for path, _ in leaves(plan):
            if NEVER_HIDDEN.match(path):
                continue
            tried += 1
            if gone := lost(checker, before, hear(checker, without(plan, path)), path):
                bad.append((path, sorted(gone)))
    print(f"\n{tried} inputs hidden in {len(case_plans())} plans")
    assert not bad, bad[:20]
