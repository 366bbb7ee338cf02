"""Firings -> findings, questions and the verdict.

A certain firing makes a finding; a firing that is only possible makes a question about the inputs that
keep it from being settled.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from advisor.evaluator import FALSE, MAYBE, compare, condition_test
from advisor.fact import Fact, Firing
from advisor.fact_types import FACT_TYPES, Choice, Number, vocabularies
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.plan import Taken
from advisor.quantities import format_interval
from advisor.rulebook import EFFECTS, PLACEHOLDER, SIGNALS, Effect, Ref, Rule, Rulebook, Signal

Verdict = Literal["do not start", "change first", "cannot tell", "ready with cautions", "ready"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)  # worst first
EXIT_STATUS: Mapping[Verdict, int] = {
    "ready": 0,
    "ready with cautions": 0,
    "do not start": 1,
    "change first": 1,
    "cannot tell": 3,
}
# how much a question is worth by what the rule it settles would do
_GRAVITY: Mapping[Effect, int] = {"stop": 100, "change": 10, "caution": 1}


@dataclass(frozen=True)
class SourceNote:
    """Where a rule comes from."""

    basis: str
    text: str


@dataclass(frozen=True)
class Remedy:
    """A change to the plan that lifts a finding; `verified` when the check was run again with it.

    `changes` maps dotted paths to new values; None takes an entry out. `way` is the id of the way out,
    `steps` the changes in words: path, before, after. `notes` gives for a path what somebody must do to make it true.
    """

    changes: Mapping[str, object]
    verified: bool
    way: str = ""
    steps: tuple[tuple[str, str, str], ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Stuck:
    """A finding that no change of ours lifts, and why."""

    rule: str
    subject: str
    title: str
    why: str


@dataclass(frozen=True)
class WayOut:
    """The least set of changes found for the whole plan, the verdict it leads to, and what it leaves.

    `notes` gives for each changed path why it was changed, and what somebody must do to make it true.
    """

    changes: Mapping[str, object]
    verdict: Verdict
    steps: tuple[tuple[str, str, str], ...]
    notes: Mapping[str, str]
    left: tuple[Stuck, ...]


@dataclass(frozen=True)
class Finding:
    """What a rule found, with the chain of reasons."""

    rule: str
    topic: str
    signal: Signal
    effect: Effect
    subject: str
    title: str
    message: str
    reason: str
    because: tuple[str, ...]
    do: tuple[str, ...]
    sources: tuple[SourceNote, ...]
    remedy: Remedy | None = None


@dataclass(frozen=True)
class Question:
    """An input that would settle rules: which field, what to ask, the topics it settles."""

    field: str
    ask: str
    settles: tuple[str, ...]
    effect: Effect
    weight: int


@dataclass(frozen=True)
class Report:
    """The whole answer to one plan."""

    title: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    questions: tuple[Question, ...]
    measures: Mapping[str, Measure]
    cautions: tuple[str, ...]
    pointers: tuple[str, ...]
    rulebook_version: str
    rulebook_rules: int
    rulebook_digest: str
    from_shelf: tuple[Taken, ...] = ()
    way_out: WayOut | None = None

    @property
    def exit_status(self) -> int:
        """0 ready, 1 change something first, 3 cannot tell."""
        return EXIT_STATUS[self.verdict]


class Reader:
    """Turns the firings over one list of facts into findings and questions."""

    def __init__(self, rulebook: Rulebook, knowledge: Knowledge, facts: Sequence[Fact]) -> None:
        self._rules = rulebook.by_id
        self._rulebook, self._knowledge, self._facts = rulebook, knowledge, facts

    def conclude(self, firings: Iterable[Firing]) -> list[Fact]:
        """The hazard facts: one for each exposure of the table, present as the surest concluding rule says, or not."""
        gathered: dict[str, list[tuple[Rule, Firing]]] = {}
        for firing in sorted(firings, key=lambda f: (f.rule, f.facts, f.certain)):
            rule = self._rules[firing.rule]
            if rule.concludes is not None:
                gathered.setdefault(rule.concludes["exposure"], []).append((rule, firing))
        return [self._hazard(exposure, gathered.get(exposure, [])) for exposure in self._knowledge.exposures.ids]

    def _hazard(self, exposure: str, sources: list[tuple[Rule, Firing]]) -> Fact:
        certain = [(rule, firing) for rule, firing in sources if firing.certain]
        used = certain or sources
        steps, causes, because, unsettled = [], [], [], frozenset[str]()
        for rule, firing in used:
            facts = self._bind(rule, firing)
            if rule.concludes and "step" in rule.concludes:
                steps.append(rule.concludes["step"])
            for fact in facts.values():
                step = fact.values.get("step")
                if isinstance(step, str):
                    steps.append(step)
                causes.append(fact.texts.get("name", fact.subject))
            because += [f"{rule.title}: {line}" for line in self._because(rule, facts)]
            unsettled |= self._unsettled(rule, facts)
        steps = [step for step in vocabularies()["step"].words if step in steps]
        present = "yes" if certain else "unknown" if sources else "no"
        values: dict[str, Interval | str] = {"exposure": exposure, "present": present}
        schema = FACT_TYPES["hazard"].fields
        for name in schema:
            if name.startswith("at_"):
                values[name] = "yes" if name[3:].replace("_", " ") in steps else "no"
        return Fact(
            type="hazard",
            subject="people.wearing",
            values=values,
            texts={
                "name": self._knowledge.exposures[exposure].label,
                "cause": _listed(dict.fromkeys(causes)),
                "steps": _listed(steps),
            },
            inputs={"present": unsettled} if present == "unknown" else {},
            because=tuple(dict.fromkeys(because)),
        )

    def findings(self, firings: Iterable[Firing]) -> tuple[Finding, ...]:
        """The findings of the certain firings, gravest first."""
        found = [
            self._finding(self._rules[firing.rule], firing)
            for firing in firings
            if firing.certain and self._rules[firing.rule].concludes is None
        ]
        topics = list(self._rulebook.topics)
        return tuple(
            sorted(
                found,
                key=lambda f: (
                    EFFECTS.index(f.effect),
                    SIGNALS.index(f.signal),
                    topics.index(f.topic),
                    f.rule,
                    f.subject,
                ),
            )
        )

    def _finding(self, rule: Rule, firing: Firing) -> Finding:
        facts = self._bind(rule, firing)
        because = [line for fact in facts.values() for line in fact.because] + self._because(rule, facts)
        return Finding(
            rule=rule.id,
            topic=rule.topic,
            signal=rule.signal,
            effect=rule.effect,
            subject=next(iter(facts.values())).subject,
            title=rule.title,
            message=self._fill(rule.message, facts),
            reason=rule.reason,
            because=tuple(dict.fromkeys(because)),
            do=tuple(self._fill(text, facts) for text in rule.do),
            sources=tuple(
                SourceNote(source.basis, source.text) for source in (self._knowledge.source(s) for s in rule.sources)
            ),
        )

    def questions(self, firings: Iterable[Firing]) -> tuple[Question, ...]:
        """The inputs that would settle the firings that are only possible, most telling first."""
        firings = list(firings)
        certain = {(f.rule, f.facts) for f in firings if f.certain}
        rules_by_field: dict[str, dict[str, Rule]] = {}
        for firing in firings:
            rule = self._rules[firing.rule]
            if firing.certain or (firing.rule, firing.facts) in certain or rule.concludes is not None:
                continue
            for path in self._unsettled(rule, self._bind(rule, firing)) or {""}:
                rules_by_field.setdefault(path, {})[rule.id] = rule
        questions = [self._question(path, list(rules.values())) for path, rules in rules_by_field.items()]
        # what only the tables leave open and no answer would settle is no question, unless it decides the verdict
        questions = [q for q in questions if q.field or q.effect != "caution"]
        return tuple(sorted(questions, key=lambda q: (-q.weight, q.field)))

    def _question(self, path: str, rules: list[Rule]) -> Question:
        return Question(
            field=path,
            ask=self._knowledge.question(path),
            settles=tuple(sorted({rule.topic for rule in rules})),
            effect=min((rule.effect for rule in rules), key=EFFECTS.index),
            weight=sum(_GRAVITY[rule.effect] for rule in rules),
        )

    def _bind(self, rule: Rule, firing: Firing) -> dict[str, Fact]:
        return {alias: self._facts[index] for alias, index in zip(rule.aliases, firing.facts, strict=True)}

    def _unsettled(self, rule: Rule, facts: Mapping[str, Fact]) -> frozenset[str]:
        """The plan paths behind the conditions that may hold but need not."""
        paths = frozenset[str]()
        for condition in rule.conditions:
            fact = facts[condition.alias]
            if isinstance(condition.operand, Ref):
                other = facts[condition.operand.alias]
                left, right = fact.values[condition.field], other.values[condition.operand.field]
                assert isinstance(left, Interval) and isinstance(right, Interval)
                if compare(condition.op, left, right) == MAYBE:
                    paths |= fact.unsettled(condition.field) | other.unsettled(condition.operand.field)
            elif condition_test(condition, fact.type)(fact) == MAYBE:
                paths |= fact.unsettled(condition.field)
            elif condition_test(condition, fact.type)(fact) == FALSE:
                raise AssertionError(f"rule {rule.id} was said to fire, but {condition.text!r} cannot hold")
        return paths

    def _because(self, rule: Rule, facts: Mapping[str, Fact]) -> list[str]:
        lines = []
        for condition in rule.conditions:
            fact = facts[condition.alias]
            if fact.type == "hazard":
                continue  # the chain behind it is told by its own lines
            how = fact.how.get(condition.field)
            name = fact.texts.get("name")
            who = f"{name}: " if name and name != fact.type else ""
            line = f"{who}{condition.field.replace('_', ' ')} {self.show(fact, condition.field)}"
            lines.append(f"{line} ({how})" if how else line)
        return lines

    def _fill(self, text: str, facts: Mapping[str, Fact]) -> str:
        def value(match: re.Match[str]) -> str:
            alias, name = match.group(1), match.group(2)
            if alias == "limit":
                figure = self._knowledge.limits[name].figure
                return format_interval(figure.interval, figure.unit)
            fact = facts[alias]
            return fact.texts[name] if name in fact.texts else self.show(fact, name)

        return PLACEHOLDER.sub(value, text)

    def show(self, fact: Fact, name: str) -> str:
        """A field's value in words with its unit."""
        spec, value = FACT_TYPES[fact.type].fields[name], fact.values[name]
        if isinstance(spec, Choice):
            assert isinstance(value, str)
            return value
        assert isinstance(spec, Number) and isinstance(value, Interval)
        return format_interval(value, spec.unit)


def verdict(findings: Sequence[Finding], questions: Sequence[Question]) -> Verdict:
    """The verdict of a plan from its findings and what is still open."""
    effects = {finding.effect for finding in findings}
    if "stop" in effects:
        return "do not start"
    if "change" in effects:
        return "change first"
    if any(question.effect in ("stop", "change") for question in questions):
        return "cannot tell"
    return "ready with cautions" if findings or questions else "ready"


def _listed(words: Iterable[str]) -> str:
    """Words as a list in a sentence: a, b and c."""
    words = list(words)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
