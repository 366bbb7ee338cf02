"""Mutants of the shipped rules, as data: do a rule's own cases notice when somebody gets it wrong?

A mutant is a Rule object with one thing wrong: a limit moved, a comparison loosened, a word gained or lost, another
field looked at, a condition turned round or dropped. It is killed when at least one of the rule's own cases comes out
differently. Only the evaluator runs; facts are built once a plan. `python tests/rule_mutants.py [FILE.toml ...]`
prints the survivors ("dropped" are the
conditions without an MC/DC pair) and the score of each file.
"""

from __future__ import annotations

import ast
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from pathlib import Path

from advisor.cases import Expected, case_facts, cases_of
from advisor.evaluator import CONCLUDED, Evaluator
from advisor.fact import Fact, Firing
from advisor.fact_types import FACT_TYPES, Choice, Number, vocabularies
from advisor.facts import checked
from advisor.findings import Reader
from advisor.knowledge import knowledge
from advisor.rulebook import Case, Comparison, Condition, Ref, Rule, Rulebook, rulebook

EQUIVALENT = Path(__file__).with_name("equivalent_mutants.toml")
NUDGE = Decimal("0.05")  # how far a limit is moved, as a share of it
COUNTS = {  # whole numbers: moved by one, since nothing lies between
    "dye_count", "class_count", "other_classes", "lots", "rinse_count", "learners", "adults", "people", "gear_sets",
    "supervisors", "places_short", "places_over", "spares",
}  # fmt: skip
LOOSER: Mapping[Comparison, Comparison] = {">": ">=", ">=": ">", "<": "<=", "<=": "<"}
OPPOSITE: Mapping[Comparison, Comparison] = {">": "<=", ">=": "<", "<": ">=", "<=": ">"}


@dataclass(frozen=True)
class Mutant:
    """One wrong version of a rule. `key` says what is wrong: "dye: share_of_maximum > 1 | limit 1.05"."""

    rule: Rule
    key: str
    dropped: Condition | None = None


# --- making mutants ---------------------------------------------------------------------------------------


def mutants_of(rule: Rule) -> Iterator[Mutant]:
    """Every mutant of a rule, each meaning once."""
    for place, condition in enumerate(rule.conditions):
        name = f"{condition.alias}: {condition.text}"
        rest = (*rule.conditions[:place], *rule.conditions[place + 1 :])
        yield Mutant(replace(rule, conditions=rest), f"{name} | dropped", condition)
        seen = {(c.alias, c.field, c.op, c.operand) for c in rule.conditions}
        for what, wrong in _wrong(condition, FACT_TYPES[rule.aliases[condition.alias]].fields):
            meaning = (wrong.alias, wrong.field, wrong.op, wrong.operand)
            if meaning not in seen:
                seen.add(meaning)
                conditions = (*rule.conditions[:place], wrong, *rule.conditions[place + 1 :])
                yield Mutant(replace(rule, conditions=conditions), f"{name} | {what}")


def _wrong(condition: Condition, fields: Mapping[str, Number | Choice]) -> Iterator[tuple[str, Condition]]:
    operand, spec = condition.operand, fields[condition.field]
    if isinstance(operand, frozenset):
        assert isinstance(spec, Choice)
        every = vocabularies()[spec.vocabulary].words
        yield "negated", replace(condition, operand=frozenset(every) - operand)
        for what, words in _other_words(condition, spec):
            if words and words != set(every):  # else it is the dropped condition, or nothing ever
                yield what, replace(condition, operand=words)
    else:
        yield f"{LOOSER[condition.op]}", replace(condition, op=LOOSER[condition.op])
        yield "negated", replace(condition, op=OPPOSITE[condition.op])
        if isinstance(operand, Ref):
            for other in _twins(operand.field, fields) if operand.alias == condition.alias else ():
                if other != condition.field:
                    yield f"against {other}", replace(condition, operand=Ref(operand.alias, other))
        else:
            for limit in _other_limits(operand, condition.field):
                yield f"limit {limit:.6g}", replace(condition, operand=limit)
    for other in _twins(condition.field, fields):
        if operand != Ref(condition.alias, other):
            yield f"field {other}", replace(condition, field=other)


def _other_limits(limit: float, field: str) -> Iterator[float]:
    """The limit 5 % off, and one last digit off, both ways; a count is one off; nothing lies near zero."""
    if field in COUNTS:
        yield from (limit - 1, limit + 1)
    elif limit:
        exact = Decimal(repr(limit)).normalize()
        digit = Decimal(1).scaleb(min(0, int(exact.as_tuple().exponent)))  # 0.35 -> 0.01, 100 -> 1
        for step in (abs(exact) * NUDGE, digit):
            yield from (float(exact - step), float(exact + step))


def _other_words(condition: Condition, spec: Choice) -> Iterator[tuple[str, frozenset[str]]]:
    """Each written word dropped from a list, the next word of the vocabulary added, and swapped for the first."""
    vocabulary = vocabularies()[spec.vocabulary]
    written, outside = _written(condition)
    wanted = frozenset().union(*map(vocabulary.may_be, written))

    def meant(words: frozenset[str]) -> frozenset[str]:
        return frozenset(vocabulary.words) - words if outside else words

    if len(written) > 1:
        for word in written:
            others = frozenset().union(*(vocabulary.may_be(w) for w in written if w != word))
            yield f"without {word}", meant(others)
    word = _neighbour(vocabulary.words, wanted)
    yield f"with {word}", meant(wanted | {word})
    yield f"{word} for {written[0]}", meant(wanted - vocabulary.may_be(written[0]) | {word})


def _written(condition: Condition) -> tuple[list[str], bool]:
    """The words as the rule file has them, and whether it wants all others."""
    comparison = ast.parse(condition.text, mode="eval").body
    assert isinstance(comparison, ast.Compare)
    value = ast.literal_eval(comparison.comparators[0])
    outside = isinstance(comparison.ops[0], (ast.NotEq, ast.NotIn))
    return ([value] if isinstance(value, str) else list(value)), outside


def _neighbour(words: Sequence[str], wanted: frozenset[str]) -> str:
    """The first word of the vocabulary after the wanted ones that is none of them (round the end)."""
    last = max(place for place, word in enumerate(words) if word in wanted)
    return next(word for word in (*words[last:], *words) if word not in wanted)


def _twins(name: str, fields: Mapping[str, Number | Choice]) -> list[str]:
    """The fields next to this one, before and after, that hold the same unit or vocabulary."""
    spec = fields[name]
    kind = spec.unit if isinstance(spec, Number) else spec.vocabulary  # no unit is the name of a vocabulary
    same = [n for n, s in fields.items() if (s.unit if isinstance(s, Number) else s.vocabulary) == kind]
    place = same.index(name)
    return [n for n in dict.fromkeys((same[place - 1], same[(place + 1) % len(same)])) if n != name]


# --- running them -----------------------------------------------------------------------------------------


class Ground:
    """The facts of cases, each plan built once; for rules that join hazards, with the hazards concluded."""

    def __init__(self, rules: Rulebook) -> None:
        self._rules = rules
        self._concluding = Evaluator([rule for rule in rules.rules if rule.concludes is not None])
        self._plain: dict[str, list[Fact]] = {}
        self._whole: dict[str, list[Fact]] = {}

    def facts(self, case: Case, *, hazards: bool) -> list[Fact]:
        """The facts of a case's plan."""
        key = repr((case.plan, sorted(case.change.items())))
        if key not in self._plain:
            self._plain[key] = case_facts(case)
        if not hazards:
            return self._plain[key]
        if key not in self._whole:
            facts = self._plain[key]
            reader = Reader(self._rules, knowledge(), facts)
            firings = self._concluding.run(facts, lambda _: [])
            self._whole[key] = [*facts, *(checked(fact) for fact in reader.conclude(firings))]
        return self._whole[key]


def answer(ready: Evaluator, facts: Sequence[Fact]) -> Expected:
    """What one rule, made ready, makes of facts that hold its hazards already."""
    firings = ready.run(facts, _nothing)
    return "fires" if any(f.certain for f in firings) else "asks" if firings else "silent"


def _nothing(firings: list[Firing]) -> list[Fact]:
    return []


@dataclass
class RuleScore:
    """What became of the mutants of one rule. `paired` counts the conditions with an MC/DC pair.

    A condition has a pair when a silent or asking case comes out differently without it: there it alone stands in the
    way, as it does not in a firing case. `strictly` counts those where the rule would then fire; where it would only
    ask, another input is unknown in that case (a guard such as `volume_stated == 'yes'` cannot do better).
    """

    rule: Rule
    mutants: int
    survivors: list[str]
    paired: int
    strictly: int


def score(rule: Rule, ground: Ground) -> RuleScore:
    """Run the mutants of a rule on its own cases."""
    hazards = CONCLUDED in rule.aliases.values()
    cases = [(expected, ground.facts(case, hazards=hazards)) for expected, case in cases_of(rule)]
    made = RuleScore(rule, 0, [], 0, 0)
    for mutant in mutants_of(rule):
        made.mutants += 1
        wrong = Evaluator([mutant.rule])
        if mutant.dropped:
            got = [(expected, answer(wrong, facts)) for expected, facts in cases if expected != "fires"]
            noticed = any(expected != now for expected, now in got)
            made.paired += noticed
            made.strictly += any(now == "fires" for _, now in got)
        else:
            noticed = any(answer(wrong, facts) != expected for expected, facts in cases)
        if not noticed:
            made.survivors.append(mutant.key)
    return made


def equivalents() -> Mapping[tuple[str, str], str]:
    """The mutants that no plan can tell from their rule, with the reason: (rule, key) -> reason."""
    rows = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))["equivalent"]
    return {(rule, key): row["reason"] for row in rows for rule, keys in row["mutants"].items() for key in keys}


@dataclass
class Scores:
    """The scores of many rules."""

    rules: list[RuleScore]
    known: Mapping[tuple[str, str], str]

    @cached_property
    def alive(self) -> list[tuple[str, str]]:
        """The surviving mutants that nothing accounts for."""
        left = [(s.rule.id, key) for s in self.rules for key in s.survivors]
        return [mutant for mutant in left if mutant not in self.known]

    @property
    def share(self) -> float:
        """Killed mutants among all that differ from their rule."""
        return Count.of(self.rules, self.known).killed

    def table(self) -> str:
        """The score of each file."""
        heads = ("file", "mutants", "same", "alive", "killed", "conditions", "paired", "strictly")
        files: dict[str, list[RuleScore]] = {}
        for made in self.rules:
            files.setdefault(made.rule.file, []).append(made)
        rows = [(name, Count.of(made, self.known)) for name, made in [*sorted(files.items()), ("all", self.rules)]]
        lines = [
            f"{name:<16}{c.mutants:>11}{c.same:>11}{c.alive:>11}{c.killed:>11.1%}{c.conditions:>11}{c.paired:>11}{c.strictly:>11}"
            for name, c in rows
        ]
        return "\n".join([f"{heads[0]:<16}" + "".join(f"{head:>11}" for head in heads[1:]), *lines])


@dataclass(frozen=True)
class Count:
    """The score of some rules: `same` are the equivalent mutants, `killed` the share of the others that died."""

    mutants: int
    same: int
    alive: int
    conditions: int
    paired: int
    strictly: int

    @classmethod
    def of(cls, rules: Sequence[RuleScore], known: Mapping[tuple[str, str], str]) -> Count:
        """Add up."""
        left = [(s.rule.id, key) for s in rules for key in s.survivors]
        same = sum(mutant in known for mutant in left)
        return cls(
            sum(s.mutants for s in rules),
            same,
            len(left) - same,
            sum(len(s.rule.conditions) for s in rules),
            sum(s.paired for s in rules),
            sum(s.strictly for s in rules),
        )

    @property
    def killed(self) -> float:
        return 1 - self.alive / max(1, self.mutants - self.same)


def run(rules: Iterable[Rule], ground: Ground | None = None) -> Scores:
    """The scores of these rules of the shipped rulebook."""
    ground = ground or Ground(rulebook())
    return Scores([score(rule, ground) for rule in rules], equivalents())


if __name__ == "__main__":
    made = run(rule for rule in rulebook().rules if not sys.argv[1:] or rule.file in sys.argv[1:])
    for rule_id, left in made.alive:
        print(f"{rulebook().rule(rule_id).file} {rule_id}: {left}")
    print(made.table())
