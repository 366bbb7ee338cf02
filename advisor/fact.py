"""One fact: a flat record of one type of the schema."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.interval import Interval

NONE: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact of one type about one subject ("dyes.0").

    `values` holds every field of the type: an Interval or a word. `inputs` names, for words that are not
    certain, the plan paths that would settle them (an Interval carries its own). `texts` are for messages,
    `how` says in words where a value comes from.
    """

    type: str
    subject: str
    values: Mapping[str, Interval | str]
    texts: Mapping[str, str] = field(default_factory=dict)
    inputs: Mapping[str, frozenset[str]] = field(default_factory=dict)
    how: Mapping[str, str] = field(default_factory=dict)
    because: tuple[str, ...] = ()

    def unsettled(self, name: str) -> frozenset[str]:
        """The plan paths that keep this field from being certain."""
        value = self.values[name]
        return value.because if isinstance(value, Interval) else self.inputs.get(name, NONE)


@dataclass(frozen=True, slots=True)
class Firing:
    """A rule that matched: `facts` are indexes into the fact list, in the order of the rule's aliases."""

    rule: str
    certain: bool
    facts: tuple[int, ...]
