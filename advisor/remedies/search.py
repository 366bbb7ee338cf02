"""A proved way out for each finding, and the least set of changes found for the whole plan.

Single changes come first. Then changes are put together, the best state first and few kept (a beam), until
nothing is left that stops the plan; what turns out not to be needed is dropped again. The count of trials is bounded,
so that the answer does not depend on how fast the machine is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from advisor.findings import Finding, Remedy, Report, Stuck, WayOut
from advisor.knowledge import Knowledge, knowledge
from advisor.plan import Plan
from advisor.plan_values import in_words
from advisor.remedies.acts import acts_of, another_dye
from advisor.remedies.bench import Bench
from advisor.remedies.candidates import candidates
from advisor.remedies.changes import Changes, clash, merged, steps_of, tidy, value_at
from advisor.remedies.proof import CERTAIN, Key, Prover, Target, Trial, gravity
from advisor.rulebook import EFFECTS, SIGNALS

if TYPE_CHECKING:
    from advisor.checking import Checker

TRIES = 16  # candidates for one finding
TRIES_FOR_CAUTION = 3
BEAM = 6  # states that are kept in mind
EXPANSIONS = 10  # states that are gone on from
LOOK_FURTHER = 6  # candidates to look at for one that brings no new caution either
SECOND_BEST = 2  # proved ways without a new caution that are kept for one finding when the whole plan is looked at
MOST_KEPT = 5  # ways of any kind that are kept for one finding
LEAST_GRAVE = EFFECTS.index("change"), len(SIGNALS)  # whatever stops or changes a plan
_NEEDED, _ANOTHER_DYE = "add-assist", "other-dye-class"
_LAST = "stock-solution"  # the powder is weighed all the same, so what it hides must have its own way out first


@dataclass(frozen=True)
class Option:
    """A change that lifts at least one finding: what it is, for what, and what it leads to."""

    way: str
    cost: int
    changes: Changes
    target: Target
    trial: Trial
    proved: bool

    @property
    def own(self) -> bool:
        """Whether it is the way out that the rule itself names."""
        return self.way == self.target.rule.remedy


@dataclass(frozen=True)
class State:
    """Several options put together."""

    options: tuple[Option, ...]
    trial: Trial


def with_ways_out(checker: Checker, plan: Plan, report: Report) -> Report:
    """The report with a remedy at each finding that has one, and the least set of changes for the whole plan."""
    if plan.said is None:
        return report
    search = _Search(Prover(checker, plan.said, knowledge()), knowledge())
    return replace(
        report,
        findings=tuple(search.with_remedy(finding) for finding in report.findings),
        way_out=search.way_out(),
    )


class _Search:
    def __init__(self, prover: Prover, k: Knowledge) -> None:
        self.prover, self.k = prover, k
        ground = prover.trial({})
        assert ground is not None  # the plan has been read once already
        self.ground = ground
        self._owed: set[str] = set()  # topics of cautions about a chemical without which the dye does not work

    # ------------------------------------------------------------------------------------------ single changes

    @cached_property
    def _targets(self) -> dict[Key, Target]:
        return {target.key: target for target in self.ground.targets}

    def with_remedy(self, finding: Finding) -> Finding:
        """The finding with the first proved change, if there is one."""
        target = self._targets[finding.rule, finding.subject]
        tries = TRIES if finding.effect != "caution" else TRIES_FOR_CAUTION
        option: Option | None = None
        for number, other in enumerate(self._options(self.ground, {}, target, tries)):
            if option is not None and option.way == _NEEDED and other.way == _ANOTHER_DYE:
                break  # the jar in hand wants this help, whatever care that asks for
            if other.proved and (option is None or not self._worse(other.trial)):
                option = other
            if option is not None and (number >= LOOK_FURTHER or not self._worse(option.trial)):
                break
        if option is None:
            return finding
        trial = self._as_told(option.trial)
        self.prover.confirm(trial)
        changes = tidy(self.prover.data, trial.changes)
        acts = acts_of(self.k, changes, dict.fromkeys(changes, option.way))
        steps = tuple(steps_of(self.prover.data, changes, acts))
        return replace(finding, remedy=Remedy(changes, True, option.way, steps, acts))

    def _options(self, state: Trial, base: Changes, target: Target, tries: int) -> Iterator[Option]:
        """Changes that lift the target, on top of what has been changed already."""
        for tried, candidate in enumerate(candidates(Bench(state, target, self.k))):
            if tried >= tries or self.prover.spent:
                return
            own = {state.numbering.old(path): value for path, value in candidate.changes.items()}
            after = self.prover.trial(merged(self.prover.data, base, own))
            if after is not None and target.key not in after.holds and self._papers_may_be_unknown(after, target):
                proved = self.prover.proved(state, after, target)
                yield Option(candidate.way, self.k.ways_out[candidate.way].cost, own, target, after, proved)

    def _as_told(self, trial: Trial) -> Trial:
        """The trial with the papers of a dye that is another one unknown; only this may be told."""
        fresh = another_dye(self.prover.data, trial.changes)
        told = self.prover.trial({**trial.changes, **fresh}) if fresh else trial
        assert told is not None  # unknown is accepted for each of them
        return told

    def _papers_may_be_unknown(self, trial: Trial, target: Target) -> bool:
        """Whether another dye of unknown papers leaves questions only: nothing certain that stops or is as grave."""
        grave = max(gravity(target.rule), LEAST_GRAVE)
        known = {other.key for other in trial.targets}
        told = self._as_told(trial)
        return all(other.key in known or gravity(other.rule) > grave for other in told.targets)

    # ------------------------------------------------------------------------------------------ the whole plan

    def way_out(self) -> WayOut:
        """The least set of changes found, and the findings that are left."""
        best = self._best()
        options = self._needed(best)
        state = self._state(options) or best
        trial = self._as_told(state.trial)
        self.prover.confirm(trial)
        changes = tidy(self.prover.data, trial.changes)
        acts = acts_of(self.k, changes, self._ways(best.options, changes))
        if trial is not state.trial:
            self._say_what_else_would_be(acts, self.prover.verdict(state.trial))
        return WayOut(
            changes=changes,
            verdict=self.prover.verdict(trial),
            steps=tuple(steps_of(self.prover.data, changes, acts)),
            notes=self._notes(best.options, changes, acts),
            left=tuple(self._stuck(trial, target) for target in trial.targets if target.rule.effect != "caution"),
        )

    def _say_what_else_would_be(self, acts: dict[str, str], verdict: str) -> None:
        """Beside the maximum of another dye: the verdict if it, and the rest of its papers, were as the old dye's."""
        for path in acts:
            if path.endswith(".maximum"):
                before = in_words(value_at(self.prover.data, path))
                acts[path] += f"; with {before} again the verdict would be: {verdict}"

    def _best(self) -> State:
        """The best state of a bounded best-first search that makes no topic worse."""
        seen = {"{}"}
        best = State((), self.ground)
        waiting = [best]
        for _ in range(EXPANSIONS):
            if not waiting or self._is_goal(best.trial) or self.prover.spent:
                break
            state = waiting.pop(0)
            for options in self._steps(state):
                after = self._state((*state.options, *options))
                if after is None or (seal := repr(sorted(after.trial.changes.items()))) in seen:
                    continue
                seen.add(seal)
                waiting.append(after)
                if not self._worse(after.trial):
                    best = min(best, after, key=self._score)
            clean = [state for state in waiting if not self._worse(state.trial)]
            kept = sorted(waiting, key=self._score)[:BEAM]
            waiting = kept + [s for s in sorted(clean, key=self._score)[:1] if s not in kept]
        return best

    def _steps(self, state: State) -> Iterator[tuple[Option, ...]]:
        """Options to take next: as many as go together (three orders of preference), then single ones."""
        pool = self._pool(state)
        chosen = [option for option in pool if option.way != _LAST] or pool
        wanted = {target.key for target in self._still_wrong(state.trial)}
        by_cost = sorted(chosen, key=lambda o: (o.cost, not o.proved, not o.own, -len(self._lifts(o, wanted))))
        by_lifts = sorted(chosen, key=lambda o: (not o.proved, -len(self._lifts(o, wanted)), o.cost, not o.own))
        clean = [option for option in by_cost if option.proved and not self._worse(option.trial)]
        for ordered in (by_cost, clean, by_lifts):
            together: list[Option] = []
            lifted: set[Key] = set()
            for option in ordered:
                lifts = self._lifts(option, wanted)
                if lifts - lifted and not any(clash(option.changes, other.changes) for other in together):
                    together.append(option)
                    lifted |= lifts
            if together:
                yield tuple(together)
        yield from ((option,) for option in sorted(chosen, key=lambda o: self._score_of(o.trial))[:BEAM])

    def _lifts(self, option: Option, wanted: set[Key]) -> set[Key]:
        if option.way == _LAST:
            return {option.target.key}
        return {key for key in wanted if key not in option.trial.holds}

    def _pool(self, state: State) -> list[Option]:
        """A few ways out for each thing that is still wrong."""
        pool: list[Option] = []
        for target in self._still_wrong(state.trial):
            found, before = 0, len(pool)
            for option in self._options(state.trial, state.trial.changes, target, TRIES):
                if option.way == _ANOTHER_DYE and self._excused(pool[before:]):
                    break
                pool.append(option)
                found += option.proved and not self._worse(option.trial)
                if found == SECOND_BEST or (found and option.own) or len(pool) - before == MOST_KEPT:
                    break
        return pool

    def _excused(self, pool: Sequence[Option]) -> bool:
        """Whether what the dye in hand needs can be added at the cost of cautions about it, and of gear; they are owed."""
        for option in pool:
            if option.way == _NEEDED and option.proved:
                worse = self._worse(option.trial)
                brought = [target for target in option.trial.targets if target.rule.topic in worse]
                if all(self._about_what_is_added(t) or t.rule.remedy == "add-gear" for t in brought):
                    self._owed |= {t.rule.topic for t in brought if self._about_what_is_added(t)}
                    return True
        return False

    def _about_what_is_added(self, target: Target) -> bool:
        """Whether it is a caution about a chemical that the plan did not have."""
        name, _, number = target.key[1].partition(".")
        had = len(self.prover.data.get("assists") or ())
        return target.rule.effect == "caution" and name == "assists" and number.isdigit() and int(number) >= had

    def _still_wrong(self, trial: Trial) -> list[Target]:
        """What stops the plan, and the cautions that are worse than they were in their topic."""
        worse = self._worse(trial)
        return [t for t in trial.targets if t.rule.effect != "caution" or t.rule.topic in worse]

    def _state(self, options: Sequence[Option]) -> State | None:
        changes: dict[str, Any] = {}
        for option in options:
            changes = merged(self.prover.data, changes, option.changes)
        trial = self.prover.trial(changes)
        return None if trial is None else State(tuple(options), trial)

    def _needed(self, state: State) -> tuple[Option, ...]:
        """The options without those that the plan is as good without."""
        options = list(state.options)
        measured = any(option.way == _LAST for option in options)
        for option in sorted(options, key=lambda o: -o.cost):
            if option.way != _LAST and measured:
                continue  # a stock solution would hide that the powder must still be weighed
            rest = [other for other in options if other is not option]
            without = self._state(rest)
            if without is not None and self._as_good(without.trial, state.trial):
                options = rest
        return tuple(options)

    def _as_good(self, one: Trial, other: Trial) -> bool:
        return all(a <= b for a, b in zip(self._score_of(one), self._score_of(other), strict=True))

    def _score(self, state: State) -> tuple[int, ...]:
        cost = sum(option.cost for option in state.options)
        return (*self._score_of(state.trial), len(state.options), cost)

    def _score_of(self, trial: Trial) -> tuple[int, int, int, int]:
        """How far from ready: findings that stop, findings to change, new open ones, topics made worse."""
        effects = [target.rule.effect for target in trial.targets]
        opened = sum(
            holds != CERTAIN and self.ground.holds.get(key, 0) in (0, CERTAIN) and self._rule_stops(key)
            for key, holds in trial.holds.items()
        )
        return effects.count("stop"), effects.count("change"), opened, len(self._worse(trial))

    def _rule_stops(self, key: Key) -> bool:
        return self.prover.rules[key[0]].effect != "caution"

    def _is_goal(self, trial: Trial) -> bool:
        return not any(self._score_of(trial))

    def _worse(self, trial: Trial) -> set[str]:
        """The topics whose gravest finding is graver than it was."""
        before = self.ground.topics
        worse = {topic for topic, grave in trial.topics.items() if topic not in before or grave < before[topic]}
        return worse - {
            topic
            for topic in worse & self._owed - set(before)
            if all(self._about_what_is_added(target) for target in trial.targets if target.rule.topic == topic)
        }

    # ------------------------------------------------------------------------------------------ what is told

    def _notes(self, options: Sequence[Option], changes: Changes, acts: Mapping[str, str]) -> dict[str, str]:
        """For each changed path the title of the finding it was changed for, and what somebody must do."""
        notes: dict[str, list[str]] = {path: [] for path in changes}
        for path, option in _makers(options, changes):
            notes[path].append(option.target.rule.title)
        for path, act in acts.items():
            notes[path].append(act)
        return {path: "; ".join(dict.fromkeys(told)) for path, told in notes.items() if told}

    def _ways(self, options: Sequence[Option], changes: Changes) -> dict[str, str]:
        """For each changed path the way out that changes it; the last one decides, as it does of the value."""
        return {path: option.way for path, option in _makers(options, changes)}

    def _stuck(self, state: Trial, target: Target) -> Stuck:
        rule, subject = target.rule, target.key[1]
        brings = "" if rule.no_remedy else self._brings(state, target)
        if rule.no_remedy is not None:
            why = rule.no_remedy
        elif brings:
            why = f"what lifts it brings something that was not there: {brings}"
        elif self.prover.spent:
            why = "no set of changes that was tried lifts it without making something else worse"
        else:
            why = "no change that we know lifts it without making something else worse"
        return Stuck(rule.id, subject, rule.title, why)

    def _brings(self, state: Trial, target: Target) -> str:
        """The titles of what the first proved way out makes worse; nothing where there is no such way."""
        for option in self._options(state, state.changes, target, LOOK_FURTHER):
            if option.proved:
                worse = self._worse(option.trial)
                titles = dict.fromkeys(t.rule.title for t in option.trial.targets if t.rule.topic in worse)
                return "; ".join(titles)
        return ""


def _makers(options: Sequence[Option], changes: Changes) -> Iterator[tuple[str, Option]]:
    """Each changed path with each option that speaks of it."""
    for option in options:
        for path in changes:
            if any(path == own or path.startswith(f"{own}.") or own.startswith(f"{path}.") for own in option.changes):
                yield path, option
