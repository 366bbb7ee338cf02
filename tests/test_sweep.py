"""The decision tables, cell by cell: fibre, dye class, form, gear, pot and heat source, as far as they meet in rules.

A rule that reads a fibre and a dye class makes these two a table; no rule reads the pot and the fibre together, so
these two are never multiplied. `test_every_rule_lies_within_a_table` works that out from the rules themselves, so a
new rule that joins what no table joins fails here. By default a sample of the cells is run, with every value of
every column in it; `python -m pytest -m sweep -s tests/test_sweep.py` runs all and prints the count.

What a cell must say is read from the knowledge tables, not from the rules.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import pytest

from advisor.cases import base_plan, case_facts, changed
from advisor.checking import Checker
from advisor.fact import Fact, Firing
from advisor.fact_types import UNKNOWN, vocabularies
from advisor.findings import Finding, Reader
from advisor.knowledge import knowledge
from advisor.plan import read_plan
from advisor.rulebook import Rule, rulebook

SAMPLE = 1200  # cells of the default run
# the good plan that a cell changes, by dye class; a family or an unknown class changes that of a member
PLAN_OF = {
    "acid levelling": "acid-on-nylon", "acid milling": "milling-on-wool", "acid metal-complex": "metal-complex-on-wool",
    "fibre-reactive cold": "reactive-on-cotton", "fibre-reactive hot": "hot-reactive-on-cotton", "direct": "direct-on-cotton",
    "disperse": "disperse-on-polyester", "basic": "basic-on-acrylic", "vat": "vat-on-cotton", "indigo": "indigo-on-cotton",
    "sulphur": "sulphur-on-cotton", "mordant": "mordant-on-wool", "all-purpose blend": "all-purpose-on-blend",
    "pigment": "pigment-on-cotton", "acid": "acid-on-nylon", "fibre-reactive": "reactive-on-cotton", UNKNOWN: "acid-on-nylon",
}  # fmt: skip
HOT_PLAN = "acid-on-wool"


# ------------------------------------------------------------------------------------------------------- the tables


@dataclass(frozen=True)
class Cell:
    """One cell: what is chosen in each column of its table."""

    table: str
    choice: Mapping[str, Any] = field(hash=False)

    def plan(self) -> dict[str, Any]:
        """The plan of this cell."""
        chosen = self.choice
        data = base_plan(PLAN_OF[chosen["class"]] if "class" in chosen else HOT_PLAN)
        change: dict[str, Any] = {}
        if "class" in chosen:
            change["dyes.0.class"] = chosen["class"]
        if "fibre" in chosen:
            data["goods"] = data["goods"][:1]
            change["goods.0.fibres"] = UNKNOWN if chosen["fibre"] == UNKNOWN else {chosen["fibre"]: 100}
        if "form" in chosen:
            change["dyes.0.form"] = chosen["form"]
        if "gear" in chosen:
            change["people.wearing"] = GEAR_STATES[chosen["gear"]]()
        if "material" in chosen:
            change["vessel.material"] = chosen["material"]
        if chosen.get("heat", "as it is") != "as it is":
            change["bath.heat_source"] = chosen["heat"]
        return changed(data, change)


def _all_gear() -> list[str]:
    return list(base_plan("acid-on-nylon")["people"]["wearing"])


def _gear_states() -> dict[str, Any]:
    """Full dress, none, unknown; all but what stops one way of harm; all but that, with one wrong thing for it."""
    k = knowledge()
    states: dict[str, Any] = {"full": _all_gear, "none": list, UNKNOWN: lambda: UNKNOWN}

    def without(exposure: str, *more: str) -> list[str]:
        return [item for item in _all_gear() if exposure not in k.gear[item].protects] + list(more)

    for exposure in k.exposures.ids:
        states[f"nothing against {exposure}"] = lambda e=exposure: without(e)
        for item in k.gear:
            if exposure in item.mistaken_for:
                states[f"{item.id} against {exposure}"] = lambda e=exposure, i=item.id: without(e, i)
            elif exposure in item.protects and item.id not in _all_gear():
                states[f"{item.id} for {exposure}"] = lambda e=exposure, i=item.id: without(e, i)
    return states


GEAR_STATES = _gear_states()


@lru_cache(maxsize=1)
def columns() -> dict[str, tuple[str, ...]]:
    """Every value of every column."""
    k = knowledge()
    return {
        "fibre": (*k.fibres.ids, UNKNOWN),
        "class": vocabularies()["dye class"].tokens,
        "form": vocabularies()["dye form"].tokens,
        "gear": tuple(GEAR_STATES),
        "material": (*k.materials.ids, UNKNOWN),
        "heat": (*k.heat_sources.ids, UNKNOWN),
    }


# polyester alone is a matter of how hot the heat source gets, so there three ways of heating are enough
NARROWED = {("fibre", "heat"): ("as it is", "pressure cooker", "none")}
TABLES: Sequence[tuple[str, ...]] = (
    ("fibre", "class", "heat"), ("class", "form", "gear"), ("class", "material", "heat"), ("gear", "heat"),
)  # fmt: skip


def cells() -> list[Cell]:
    """Every cell of every table, always in the same order."""
    made = []
    for table in TABLES:
        values = []
        for column in table:
            narrow = next((words for (other, own), words in NARROWED.items() if own == column and other in table), None)
            values.append(narrow or columns()[column])
        made += [
            Cell(" x ".join(table), dict(zip(table, chosen, strict=True))) for chosen in itertools.product(*values)
        ]
    return made


def sampled(everything: Sequence[Cell], count: int) -> list[Cell]:
    """A sample in which every value of every column of every table appears, filled up at random."""
    chance = random.Random(8)
    shuffled = chance.sample(list(everything), len(everything))
    seen: set[tuple[str, str, Any]] = set()
    chosen, rest = [], []
    for cell in shuffled:
        new = {(cell.table, column, value) for column, value in cell.choice.items()} - seen
        (chosen if new else rest).append(cell)
        seen |= new
    return chosen + rest[: max(0, count - len(chosen))]


# ------------------------------------------------------------------------ which columns a rule reads, from its fields

_FIBRE = {"fibre", "family", "kind", "share", "heat_limit", "heat_limit_begin", "ph_low", "ph_high"}
_MATERIAL = {"material", "holds_dye", "metal_ions", "heat_limit", "on_hob", "in_microwave", "on_induction"}
_OF_CLASS = {"process", "need", "handling", "substance"}
_ELSEWHERE = {"temperature", "attended", "indoors", "ventilation"}


def columns_of(fact_type: str, name: str) -> set[str]:
    """The columns of the tables that a field of a fact follows from."""
    found = set()
    if name.startswith("bath_") or (fact_type in _OF_CLASS and name != "powder") or name in ("dye_class", "take"):
        found.add("class")
    if name in ("form", "powder") and fact_type in ("dye", "handling"):
        found.add("form")
    elif fact_type == "dye" and not name.startswith(
        ("amount", "strength", "scale", "maximum", "sheet", "old", "contains")
    ):
        found.add("class")
    if (
        fact_type == "part" and (name in _FIBRE or name.startswith("harmed_by") or name == "take")
    ) or "dyeable" in name:
        found.add("fibre")
    if fact_type == "vessel" and (name in _MATERIAL or name.startswith("with_")):
        found.add("material")
    if name == "heat_source" or (fact_type == "heat" and name not in _ELSEWHERE):
        found.add("heat")
    if fact_type in ("gear", "protection"):
        found.add("gear")
    return found


def columns_read(rule: Rule, of_exposure: Mapping[str, Collection[str]]) -> set[str]:
    """The columns a rule reads, those behind a concluded exposure included."""
    read: set[str] = set()
    for condition in rule.conditions:
        fact_type = rule.aliases[condition.alias]
        read |= columns_of(fact_type, condition.field)
        if fact_type == "hazard" and condition.field == "exposure":
            assert isinstance(condition.operand, frozenset)
            read |= {column for exposure in condition.operand for column in of_exposure.get(exposure, ())}
    return read


def test_every_rule_lies_within_a_table() -> None:
    rules = rulebook().rules
    of_exposure: dict[str, set[str]] = defaultdict(set)
    for rule in rules:
        if rule.concludes:
            of_exposure[rule.concludes["exposure"]] |= columns_read(rule, {})
    outside = {rule.id: sorted(read) for rule in rules if not _fits(read := columns_read(rule, of_exposure))}
    assert not outside


def _fits(read: set[str]) -> bool:
    return any(read <= set(table) for table in TABLES)


def test_every_class_has_a_plan_of_its_own() -> None:
    assert set(PLAN_OF) == set(columns()["class"])
    for token, name in PLAN_OF.items():
        own = base_plan(name)["dyes"][0]["class"]
        assert own in vocabularies()["dye class"].may_be(token), (token, own)


# ---------------------------------------------------------------------------------------------- what a cell must say


@dataclass(frozen=True)
class Answer:
    """What the rules say to a cell."""

    facts: Sequence[Fact]
    firings: Sequence[Firing]
    findings: Sequence[Finding]
    topics: frozenset[str]
    asked: frozenset[str]
    verdict: str

    def fields_asked(self, start: str) -> bool:
        return any(path.startswith(start) for path in self.asked)


def answer(checker: Checker, cell: Cell) -> Answer:
    _, facts, firings = checker.try_out(read_plan(cell.plan()))
    reader = Reader(checker.rulebook, knowledge(), facts)
    findings, questions = reader.findings(firings), reader.questions(firings)
    for question in questions:
        assert question.ask.endswith((".", "?")), (cell, question)
        assert question.settles, (cell, question)
    for finding in findings:
        assert finding.reason, (cell, finding.rule)
        assert finding.do, (cell, finding.rule)
        assert finding.sources, (cell, finding.rule)
        assert finding.because, (cell, finding.rule)
    verdict = checker.verdict_on(facts, firings)
    assert (verdict == "ready") == (not findings and not questions), cell
    return Answer(
        facts, firings, findings, frozenset(f.topic for f in findings), frozenset(q.field for q in questions), verdict
    )


TOPIC_OF_TAKE = {
    "none": {"fibre-unsuitable"},
    "stain": {"fibre-stains-only"},
    "partial": {"fibre-partly-dyes"},
    "damage": {"fibre-harmed", "temperature-over-fibre-limit"},
    "full": set(),
}


def wrong_for_fibre(cell: Cell, said: Answer) -> Iterator[str]:
    """The fibre is answered for as the uptake table says; what is not known is asked for."""
    k, fibre = knowledge(), cell.choice["fibre"]
    classes = vocabularies()["dye class"].may_be(cell.choice["class"])
    if fibre == UNKNOWN:
        if said.verdict.startswith("ready"):
            yield "an unknown fibre is ready to dye"
        if not said.fields_asked("goods.0.fibres") and "fibre-unknown" not in said.topics:
            yield "an unknown fibre is not asked for"
        return
    takes = {k.uptake[k.fibres[fibre].family, dye_class].take for dye_class in classes}
    expected = set().union(*(TOPIC_OF_TAKE[take] for take in takes))
    if len(takes) == 1:
        if expected and not expected & said.topics:
            yield f"takes the dye as {takes}, and no finding of {expected}"
        if takes == {"full"} and {"fibre-unsuitable", "fibre-stains-only", "fibre-partly-dyes"} & said.topics:
            yield "takes the dye fully, and is found fault with"
    elif not said.fields_asked("dyes.0.class") and not expected & said.topics:
        yield f"depends on the dye's class ({takes}), which is not asked for"


_SIDES = {"acid": "bath_acid", "alkali": "bath_alkali", "salt": "bath_salt", "reducing": "bath_reducing"}


def wrong_for_pot(cell: Cell, said: Answer) -> Iterator[str]:
    """A pot that this bath attacks, or that may not stand on this heat, is found; an unknown one is asked for."""
    k, material, heat = knowledge(), cell.choice["material"], cell.choice["heat"]
    vessel = next(fact for fact in said.facts if fact.type == "vessel")
    if material == UNKNOWN:
        if not said.fields_asked("vessel.material"):
            yield "an unknown pot is not asked for"
        return
    row = k.materials[material]
    attacked = [s for s, side in _SIDES.items() if vessel.values[side] == "yes" and getattr(row, s) == "attacked"]
    if attacked and "vessel-material" not in said.topics:
        yield f"{material} is attacked by {attacked}, and that is not found"
    if heat == "microwave" and row.microwave == "no" and not said.topics & {"vessel-heat-limit", "vessel-material"}:
        yield f"{material} in a microwave is not found"
    if (
        heat in ("electric hob", "gas hob")
        and row.hob == "no"
        and not said.topics & {"vessel-heat-limit", "vessel-material"}
    ):
        yield f"{material} on a hob is not found"
    if heat == UNKNOWN and not said.fields_asked("bath.heat_source"):
        yield "an unknown heat source is not asked for"


GEAR_TOPICS = {"gear-missing", "gear-inadequate"}


def wrong_for_gear(cell: Cell, said: Answer) -> Iterator[str]:
    """Each way of harm that is surely there is stopped by something worn, or found; unknown gear is asked for."""
    k, worn = knowledge(), GEAR_STATES[cell.choice["gear"]]()
    rules = {rule.id: rule for rule in rulebook().rules}
    spoken = {
        said.facts[index].values.get("exposure")
        for firing in said.firings
        if firing.certain and rules[firing.rule].topic in GEAR_TOPICS
        for index in firing.facts
        if said.facts[index].type == "protection"
    }
    for hazard in (fact for fact in said.facts if fact.type == "hazard" and fact.values["present"] == "yes"):
        exposure = hazard.values["exposure"]
        if worn == UNKNOWN:
            if not said.fields_asked("people.wearing"):
                yield f"unknown gear against {exposure} is not asked for"
        elif not any(exposure in k.gear[item].protects for item in worn) and exposure not in spoken:
            # how badly it is needed may hang on the dye's class: two graded rules that both may hold make a question
            if not (cell.choice.get("class") in (UNKNOWN, *k.dye_class_families) and said.fields_asked("dyes.0.class")):
                yield f"nothing worn stops {exposure}, and that is not found"
        elif exposure in spoken and any(exposure in k.gear[item].protects for item in worn):
            yield f"something worn stops {exposure}, and gear is called for all the same"


# what cannot both be true of one subject: each pair would tell a person to do and not to do the same thing
OPPOSED_TOPICS = (
    ("temperature-under-window", "temperature-over-window"),
    ("dose-too-low", "dose-over-maximum"),
    ("dose-too-low", "dose-over-saturation"),
    ("assist-missing", "assist-excess"),
    ("assist-missing", "assist-short"),
    ("assist-short", "assist-excess"),
    ("fibre-unsuitable", "fibre-stains-only"),
    ("fibre-unsuitable", "fibre-partly-dyes"),
)
OPPOSED_REMEDIES = (
    ("raise-heat", "lower-heat"),
    ("add-assist", "less-assist"),
    ("more-acid", "less-assist"),
    ("add-assist", "remove-substance"),
)


def contradictions(said: Answer) -> Iterator[tuple[str, str]]:
    """Pairs of rules that fired on the very same fact and say the opposite of each other."""
    rules = {rule.id: rule for rule in rulebook().rules}
    by_fact: dict[int, set[str]] = defaultdict(set)
    for firing in said.firings:
        if firing.certain and not rules[firing.rule].concludes:
            by_fact[firing.facts[0]].add(firing.rule)
    for together in by_fact.values():
        for one, other in itertools.permutations(sorted(together), 2):
            topics, remedies = (rules[one].topic, rules[other].topic), (rules[one].remedy, rules[other].remedy)
            if topics in OPPOSED_TOPICS or remedies in OPPOSED_REMEDIES:
                yield one, other


WRONG = {"fibre": wrong_for_fibre, "material": wrong_for_pot, "gear": wrong_for_gear}


def sweep(checker: Checker, chosen: Sequence[Cell]) -> None:
    wrong: list[str] = []
    clashes: dict[tuple[str, str], Cell] = {}
    fired: set[str] = set()
    verdicts: dict[str, int] = defaultdict(int)
    for cell in chosen:
        said = answer(checker, cell)
        verdicts[said.verdict] += 1
        fired |= {firing.rule for firing in said.firings if firing.certain}
        for column, check in WRONG.items():
            if column in cell.choice:
                wrong += [f"{dict(cell.choice)}: {text}" for text in check(cell, said)]
        for pair in contradictions(said):
            clashes.setdefault(pair, cell)
    rules = checker.rulebook.rules
    dead = [rule.id for rule in rules if rule.id not in fired and not fires_in_its_case(checker, rule)]
    print(
        f"\n{len(chosen)} cells of {len(cells())}; {', '.join(f'{verdict}: {n}' for verdict, n in sorted(verdicts.items()))};"
        f" {len(fired)} of {len(rules)} rules fired, the others in their own cases"
    )
    assert not wrong, f"{len(wrong)} cells: " + "\n".join(wrong[:40])
    assert not clashes, clashes
    assert not dead


def fires_in_its_case(checker: Checker, rule: Rule) -> bool:
    """Whether a rule that no cell calls for fires in at least one case of its own."""
    for case in rule.cases.fires:
        facts = case_facts(case)
        firings = checker._evaluator.run(
            facts, lambda f, facts=facts: Reader(checker.rulebook, knowledge(), facts).conclude(f)
        )
        if any(firing.rule == rule.id and firing.certain for firing in firings):
            return True
    return False


def test_a_sample_of_the_cells(checker: Checker) -> None:
    chosen = sampled(cells(), SAMPLE)
    assert {(c.table, column, v) for c in chosen for column, v in c.choice.items()} == {
        (c.table, column, v) for c in cells() for column, v in c.choice.items()
    }
    sweep(checker, chosen)


@pytest.mark.sweep
def test_every_cell(checker: Checker) -> None:
    sweep(checker, cells())
