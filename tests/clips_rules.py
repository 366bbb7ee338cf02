"""The same Rule objects as CLIPS rules: a third opinion, in tests only.

Written from the rules and the schema alone. Nothing is taken from advisor.compiler or advisor.evaluator, so that
a slip in either shows as a difference.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence

import clips

from advisor.fact import Fact, Firing
from advisor.fact_types import FACT_TYPES, Choice, vocabularies
from advisor.interval import Interval
from advisor.rulebook import Condition, Ref, Rule

Conclude = Callable[[list[Firing]], Sequence[Fact]]
RUNS = 200  # of one environment
_OTHER_END = {"lo": "hi", "hi": "lo"}


class Clips:
    """Rules in one CLIPS environment; every run starts from no facts."""

    def __init__(self, rules: Sequence[Rule]) -> None:
        self._ids = [rule.id for rule in rules]
        self._fields = {
            t: _fields_looked_at(rules, t) for t in FACT_TYPES if any(t in r.aliases.values() for r in rules)
        }
        halves = ((number, rule, certain) for number, rule in enumerate(rules) for certain in (True, False))
        self._texts = [
            *(f"(deftemplate {t} (slot index) {' '.join(self._slots(t))})" for t in self._fields),
            *filter(None, (_defrule(*half) for half in halves)),
        ]
        self._fired: list[Firing] = []
        self._renew()

    def _renew(self) -> None:
        """A fresh environment: one that has seen many facts grows slower with each run."""
        self._environment = clips.Environment()
        self._environment.define_function(self._note, "note")
        for text in self._texts:
            self._environment.build(text)
        self._templates = {t: self._environment.find_template(t) for t in self._fields}
        self._left = RUNS

    def _slots(self, fact_type: str) -> Iterator[str]:
        for name in self._fields[fact_type]:
            if isinstance(FACT_TYPES[fact_type].fields[name], Choice):
                yield f"(slot {name})"
            else:
                yield f"(slot {name}_lo) (slot {name}_hi)"

    def _note(self, rule: int, certain: int, *indexes: int) -> None:
        self._fired.append(Firing(self._ids[rule], bool(certain), tuple(indexes)))

    def run(self, facts: Sequence[Fact], conclude: Conclude) -> list[Firing]:
        """Every firing over the facts and over those that `conclude` makes from the firings so far."""
        if not self._left:
            self._renew()
        self._left -= 1
        self._environment.reset()
        self._fired = []
        self._assert(facts, 0)
        self._environment.run()
        self._assert(conclude(list(self._fired)), len(facts))
        self._environment.run()
        return list(self._fired)

    def _assert(self, facts: Sequence[Fact], start: int) -> None:
        for index, fact in enumerate(facts, start=start):
            if fact.type not in self._fields:
                continue
            slots: dict[str, float | int | str] = {"index": index}
            for name in self._fields[fact.type]:
                value = fact.values[name]
                if isinstance(value, Interval):
                    slots[f"{name}_lo"], slots[f"{name}_hi"] = float(value.low), float(value.high)
                else:
                    slots[name] = value
            self._templates[fact.type].assert_fact(**slots)


def _fields_looked_at(rules: Sequence[Rule], fact_type: str) -> tuple[str, ...]:
    names: set[str] = set()
    for rule in rules:
        for condition in rule.conditions:
            if rule.aliases[condition.alias] == fact_type:
                names.add(condition.field)
            if isinstance(condition.operand, Ref) and rule.aliases[condition.operand.alias] == fact_type:
                names.add(condition.operand.field)
    return tuple(sorted(names))


def _defrule(number: int, rule: Rule, certain: bool) -> str:
    """One half of a rule; "" when no word makes it hold."""
    order = list(rule.aliases)
    elements: list[str] = []
    for place, alias in enumerate(order):
        slots: dict[str, list[str]] = {}
        words: dict[str, set[str]] = {}
        for condition in rule.conditions:
            if isinstance(condition.operand, Ref):
                for side, name in (
                    (condition.alias, condition.field),
                    (condition.operand.alias, condition.operand.field),
                ):
                    if side == alias:
                        slots.setdefault(f"{name}_lo", [])
                        slots.setdefault(f"{name}_hi", [])
            elif condition.alias != alias:
                continue
            elif isinstance(condition.operand, frozenset):
                fits = _fitting(rule, condition, certain)
                words[condition.field] = words.get(condition.field, fits) & fits
            else:
                slot = f"{condition.field}_{_end(condition.op, certain)}"
                test = f"({condition.op} ?{_variable(alias, slot)} {condition.operand!r})"
                slots.setdefault(slot, []).append(f":{test}")
        if not all(words.values()):
            return ""
        pattern = [f"(index ?i-{alias})"]
        pattern += [
            f"({name} {'|'.join(json.dumps(w, ensure_ascii=False) for w in sorted(fits))})"
            for name, fits in words.items()
        ]
        pattern += [f"({slot} {'&'.join((f'?{_variable(alias, slot)}', *tests))})" for slot, tests in slots.items()]
        elements.append(f"({rule.aliases[alias]} {' '.join(pattern)})")
        elements += [
            f"(test (<> ?i-{alias} ?i-{before}))"
            for before in order[:place]
            if rule.aliases[before] == rule.aliases[alias]
        ]
        elements += [
            _comparison(c, certain)
            for c in rule.conditions
            if isinstance(c.operand, Ref) and alias == max(c.alias, c.operand.alias, key=order.index)
        ]
    indexes = " ".join(f"?i-{alias}" for alias in order)
    name = f"r{number}-{'certain' if certain else 'possible'}"
    return f"(defrule {name} {' '.join(elements)} => (note {number} {int(certain)} {indexes}))"


def _variable(alias: str, slot: str) -> str:
    return f"{alias}-{slot}"


def _end(op: str, certain: bool) -> str:
    """The end of the left interval that decides: certain means even the worst end for the comparison passes it."""
    if op.startswith(">"):
        return "lo" if certain else "hi"
    return "hi" if certain else "lo"


def _comparison(condition: Condition, certain: bool) -> str:
    assert isinstance(condition.operand, Ref)
    end = _end(condition.op, certain)
    left = _variable(condition.alias, f"{condition.field}_{end}")
    right = _variable(condition.operand.alias, f"{condition.operand.field}_{_OTHER_END[end]}")
    return f"(test ({condition.op} ?{left} ?{right}))"


def _fitting(rule: Rule, condition: Condition, certain: bool) -> set[str]:
    """The words for which the condition must hold (or may, when not `certain`): a family needs all its members."""
    spec = FACT_TYPES[rule.aliases[condition.alias]].fields[condition.field]
    assert isinstance(spec, Choice) and isinstance(condition.operand, frozenset)
    vocabulary = vocabularies()[spec.vocabulary]
    meanings = {word: {word} for word in vocabulary.words}
    meanings |= {family: set(members) for family, members in vocabulary.families.items()}
    meanings["unknown"] = set(vocabulary.words)
    if certain:
        return {token for token, meaning in meanings.items() if not meaning - condition.operand}
    return {token for token, meaning in meanings.items() if meaning & condition.operand}
