"""Changes to the plain data of a plan: dotted path -> new value, in the numbering of the plan as it was written.

`{"dyes.0.amount": "1.5 g"}` sets a value, `{"assists.1": {...}}` one past the end adds an entry, and None takes
an entry or a key out. Entries that are taken out keep their number until all changes are made, so that changes
found one after the other can be put together.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from advisor.plan_values import in_words

Changes = Mapping[str, Any]
LISTS = ("goods", "dyes", "assists", "utensils")  # the lists of tables in a plan


@dataclass(frozen=True, slots=True)
class Numbering:
    """For each list of tables: the old numbers of the entries that are left, and the first free old number."""

    left: Mapping[str, tuple[int, ...]]
    free: Mapping[str, int]

    def old(self, path: str) -> str:
        """The path in the numbering of the plan as it was written."""
        name, _, rest = path.partition(".")
        number, _, rest = rest.partition(".")
        if name not in self.left or not number.isdigit():
            return path
        left, now = self.left[name], int(number)
        was = left[now] if now < len(left) else self.free[name] + now - len(left)
        return f"{name}.{was}.{rest}" if rest else f"{name}.{was}"


def applied(data: Mapping[str, Any], changes: Changes) -> tuple[dict[str, Any], Numbering]:
    """A changed copy of the data, and how its entries are numbered now."""
    result: dict[str, Any] = copy.deepcopy(dict(data))
    for path, value in sorted(changes.items(), key=lambda item: (item[0].count("."), _order(item[0]))):
        _put(result, path.split("."), copy.deepcopy(value))
    left, free = {}, {}
    for name in LISTS:
        entries = result.get(name)
        if isinstance(entries, list):
            left[name] = tuple(number for number, entry in enumerate(entries) if entry is not None)
            free[name] = len(entries)
            result[name] = [entry for entry in entries if entry is not None]
        else:
            left[name], free[name] = (), 0
    return result, Numbering(left, free)


def _order(path: str) -> tuple[tuple[int, str], ...]:
    return tuple((int(part), "") if part.isdigit() else (-1, part) for part in path.split("."))


def _put(node: Any, steps: list[str], value: Any) -> None:
    step, *rest = steps
    if isinstance(node, list):
        number = int(step)
        node.extend([None] * (number + 1 - len(node)))
        if not rest:
            node[number] = value
        elif node[number] is not None:  # what is taken out takes no changes
            _put(node[number], rest, value)
    elif not rest:
        if value is None:
            node.pop(step, None)
        else:
            node[step] = value
    else:
        inner = node.get(step)
        if not isinstance(inner, (dict, list)):
            node[step] = inner = [] if rest[0].isdigit() else {}
        _put(inner, rest, value)


def merged(data: Mapping[str, Any], first: Changes, second: Changes) -> dict[str, Any]:
    """Both sets of changes as one; where both speak of the same thing the second decides, and lists of words add up."""
    result = copy.deepcopy(dict(first))
    for path, value in second.items():
        above = next((known for known in result if path.startswith(f"{known}.")), None)
        if above is not None and result[above] is None:
            continue
        if above is not None and isinstance(result[above], (dict, list)):
            _put(result[above], path[len(above) + 1 :].split("."), value)
            continue
        if path in result and _is_words(value) and _is_words(result[path]):
            value = _both(value_at(data, path) or [], result[path], value)
        for known in [known for known in result if known.startswith(f"{path}.")]:
            del result[known]
        result[path] = copy.deepcopy(value)
    return result


def _is_words(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(word, str) for word in value)


def _both(base: Any, first: list[str], second: list[str]) -> list[str]:
    base = base if isinstance(base, list) else []
    gone = {word for word in base if word not in first or word not in second}
    return [word for word in dict.fromkeys((*base, *first, *second)) if word not in gone]


def clash(first: Changes, second: Changes) -> bool:
    """Whether the two sets of changes speak of the same value; lists of words can be put together."""
    for one, value in first.items():
        for other, wanted in second.items():
            if one == other:
                if value != wanted and not (_is_words(value) and _is_words(wanted)):
                    return True
            elif one.startswith(f"{other}.") or other.startswith(f"{one}."):
                return True
    return False


def value_at(data: Any, path: str) -> Any:
    """What stands at a path; None where nothing does."""
    node = data
    for step in path.split("."):
        if isinstance(node, Mapping):
            node = node.get(step)
        elif isinstance(node, list) and step.isdigit() and int(step) < len(node):
            node = node[int(step)]
        else:
            return None
    return node


def tidy(data: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    """The same changes without those that change nothing; added entries are whole and numbered from the list's end."""
    added: dict[str, list[int]] = {name: [] for name in LISTS}
    for path, value in changes.items():
        name, number = _added(data, path)
        if name and value is not None and number not in added[name]:
            added[name].append(number)
    result: dict[str, Any] = {}
    for path, value in changes.items():
        name, number = _added(data, path)
        if name:
            if value is None:
                continue
            start = len(data[name]) if isinstance(data.get(name), list) else 0
            entry = f"{name}.{start + sorted(added[name]).index(number)}"
            keys = path.split(".")[2:]
            if keys:  # a part of an entry that is added: told as one
                _put(result.setdefault(entry, {}), keys, copy.deepcopy(value))
            else:
                result[entry] = copy.deepcopy(value)
        elif value_at(data, path) != value:
            result[path] = value
    return result


def _added(data: Mapping[str, Any], path: str) -> tuple[str, int]:
    """The list and number of an entry that the plan did not have; ("", 0) for anything else."""
    name, _, rest = path.partition(".")
    number = rest.partition(".")[0]
    if name not in LISTS or not number.isdigit():
        return "", 0
    entries = data.get(name)
    known = len(entries) if isinstance(entries, list) else 0
    return (name, int(number)) if int(number) >= known else ("", 0)


def steps_of(
    data: Mapping[str, Any], changes: Changes, acts: Mapping[str, str] | None = None
) -> Iterator[tuple[str, str, str]]:
    """Path, before and after in words, for a report: ("dyes.0.amount", "2 g", "1.5 g").

    What somebody must do to make a change true (`acts`, by path) stands in brackets behind it.
    """
    for path, before, after in _steps(data, changes):
        act = (acts or {}).get(path)
        yield path, before, f"{after} ({act})" if act else after


def _steps(data: Mapping[str, Any], changes: Changes) -> Iterator[tuple[str, str, str]]:
    for path, value in changes.items():
        before = value_at(data, path)
        if _is_words(value) and _is_words(before or []):
            gone = [word for word in before or [] if word not in value]
            new = [word for word in value if word not in (before or [])]
            yield path, ", ".join(gone) or "as it is", f"with {', '.join(new)}" if new else "without"
        else:
            yield path, in_words(before), "left out" if value is None else in_words(value)
