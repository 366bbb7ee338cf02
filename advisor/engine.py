"""The only module that touches durable-rules. It fails closed.

The C extension is driven directly: no host, no timer threads, no Python actions, so nothing is swallowed.
Each assessment opens a session with a canary fact that must fire alone, asserts every fact with an id of
our own, checks every return code, ends with a marker that must fire alone, and deletes the session - but
only when the canary fired, since deleting an unused session crashes. Any surprise is fatal and latched:
the engine then refuses further work. This is no documented interface, so the version is pinned.
"""

from __future__ import annotations

import json
import locale
import os
import threading
from collections.abc import Callable, Iterable, Sequence

try:
    import durable_rules_engine as native
except ImportError as error:
    raise ImportError(
        f"the rule engine's C part does not load ({error}); on Python 3.13 reinstall durable-rules with"
        " CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject set"
    ) from error

from advisor.compiler import CANARY, END, MOST_FIELDS, RESERVED_FIELDS, TYPE_FIELD, Program, bucket_field, fnv
from advisor.encoding import EngineFault, encode
from advisor.fact import Fact, Firing
from advisor.interval import Interval

_SESSION = "s"
Raw = tuple[str, dict[str, str]]


def _need_decimal_point() -> None:
    """Raise EngineFault under a locale with a decimal comma: the engine's C code would read 1.7 as 1."""
    if (sign := locale.localeconv()["decimal_point"]) != ".":
        raise EngineFault(
            f"the decimal sign of this process is {sign!r}; first call locale.setlocale(locale.LC_NUMERIC, 'C')"
        )


def _marker(fact_id: str, fact_type: str) -> str:
    return f'{{"sid":"{_SESSION}","id":"{fact_id}","{TYPE_FIELD}":"{fact_type}"}}'


def _head(fact_type: str, buckets: int) -> str:
    return ",".join([f'"{TYPE_FIELD}":{encode(fact_type)}', *(f'"{bucket_field(n)}":1.0' for n in range(buckets))])


class Engine:
    """One compiled program, used by the thread and process that made it."""

    def __init__(self, program: Program) -> None:
        self._program = program
        _need_decimal_point()
        try:
            self._handle = native.create_ruleset("checks", program.text)
        except Exception as error:
            raise EngineFault(f"the engine refused the rules: {error}") from error
        self._heads = {fact_type: _head(fact_type, program.buckets.get(fact_type, 0)) for fact_type in program.fields}
        self._owner = (os.getpid(), threading.get_ident())
        self._dead: str | None = None

    def close(self) -> None:
        """Give the rules back to the engine; the object is of no use afterwards."""
        if self._dead is None and self._owner[0] == os.getpid():
            self._dead = "closed"
            native.delete_ruleset(self._handle)

    def run(self, facts: Sequence[Fact], conclude: Callable[[list[Firing]], Sequence[Fact]]) -> list[Firing]:
        """Assert the facts, then those that `conclude` makes from the firings so far; return every firing.

        Indexes of firings count the given facts first, then the concluded ones. Raises EngineFault.
        """
        if self._dead:
            raise EngineFault(f"the engine is out of use: {self._dead}")
        if (os.getpid(), threading.get_ident()) != self._owner:
            raise EngineFault("the engine was made in another thread or process")
        _need_decimal_point()
        armed = False
        try:
            raw = self._assert(_marker("c", CANARY))
            if raw != [(CANARY, {"m": "c"})]:
                raise EngineFault("the canary did not fire")
            armed = True
            ids = {fnv("c"), fnv("e"), fnv(f"sid-{_SESSION}")}
            firings = self._meaning(self._assert_all(facts, 0, ids))
            further = conclude(firings)
            firings += self._meaning(self._assert_all(further, len(facts), ids))
            if self._assert(_marker("e", END)) != [(END, {"m": "e"})]:
                raise EngineFault("the end marker did not fire alone")
            if len(set(firings)) != len(firings):
                raise EngineFault("a rule fired twice for the same facts")
            return firings
        except EngineFault as fault:
            self._dead = str(fault)
            raise
        except Exception as error:
            self._dead = f"{type(error).__name__}: {error}"
            raise EngineFault(self._dead) from error
        finally:
            if armed:
                self._delete_session()

    def _delete_session(self) -> None:
        try:
            native.delete_state(self._handle, _SESSION)
        except Exception as error:
            self._dead = self._dead or f"the session could not be deleted: {error}"

    def _assert_all(self, facts: Iterable[Fact], start: int, ids: set[int]) -> list[Raw]:
        raw: list[Raw] = []
        for number, fact in enumerate(facts, start=start):
            if fact.type not in self._program.fields:
                continue  # no rule looks at this type
            fact_id = f"f{number}"
            if (hashed := fnv(fact_id)) in ids:
                raise EngineFault("two fact ids have the same hash")
            ids.add(hashed)
            raw += self._assert(self._text(fact, fact_id))
        return raw

    def _text(self, fact: Fact, fact_id: str) -> str:
        """A fact as the engine reads it: session, id and type, then the buckets, then what rules look at."""
        if fact.type.startswith("_") or not RESERVED_FIELDS.isdisjoint(fact.values):
            raise EngineFault(f"fact of type {fact.type!r} uses a reserved name")
        names = self._program.fields[fact.type]
        if (count := 1 + self._program.buckets.get(fact.type, 0) + 2 * len(names)) > MOST_FIELDS:
            raise EngineFault(f"fact of type {fact.type!r} has {count} fields; the engine stands {MOST_FIELDS}")
        parts = [f'{{"sid":"{_SESSION}","id":"{fact_id}"', self._heads[fact.type]]
        for name in names:
            value = fact.values[name]
            if isinstance(value, Interval):
                parts.append(f'"{name}_lo":{encode(float(value.low))},"{name}_hi":{encode(float(value.high))}')
            else:
                parts.append(f'"{name}":{encode(value)}')
        return ",".join(parts) + "}"

    def _assert(self, text: str) -> list[Raw]:
        code, offset = native.assert_fact(self._handle, text)
        if code == 1:  # no rule mentions this fact; the schema check has ruled out a slip of the pen
            return []
        if code != 0:
            raise EngineFault(f"the engine answered {code} to a fact")
        raw: list[Raw] = []
        started = native.start_action_for_state(self._handle, offset)
        message = started[1] if started else None
        while message:
            ((name, matched),) = json.loads(message).items()
            raw.append((name, {alias: fact["id"] for alias, fact in matched.items()}))
            message = native.complete_and_start_action(self._handle, offset)
        return raw

    def _meaning(self, raw: Iterable[Raw]) -> list[Firing]:
        firings = []
        for name, matched in raw:
            rule_id, certain, aliases = self._program.meaning[name]
            firings.append(Firing(rule_id, certain, tuple(int(matched[alias][1:]) for alias in aliases)))
        return firings
