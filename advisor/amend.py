"""The corrected plan as a file: comments and order kept, with a note beside each change.

Values are changed with a style-preserving TOML library; entries that are taken out are cut out of the text,
so that a comment that stands below them stays. What is written is read again and compared with what was meant.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AoT, Array, InlineTable, Item

from advisor.findings import WayOut
from advisor.plan import InputError
from advisor.plan_values import clean, in_words
from advisor.remedies.changes import LISTS, applied, steps_of, value_at


def amended(text: str, way_out: WayOut | None, *, is_json: bool = False, file: str = "plan") -> str:
    """The text of a plan file with the changes made. Raises InputError when that cannot be done faithfully.

    TOML keeps its comments, its order and its layout; JSON has no comments and is written anew.
    """
    if way_out is None or not way_out.changes:
        return text
    text = text.removeprefix("\ufeff")
    data = json.loads(text) if is_json else tomllib.loads(text)
    wanted, _ = applied(data, way_out.changes)
    if is_json:
        return json.dumps(wanted, ensure_ascii=False, indent=2) + "\n"
    result = _Toml(text, data, way_out).written()
    if tomllib.loads(result) != wanted:
        raise InputError("the changes cannot be written into this file without changing more than was meant", file=file)
    return result


def _comment_at(node: Any, key: str) -> str:
    """The comment behind a value; a library that hands out a bare bool knows it only in the container."""
    container = node if isinstance(node, Container) else node.value
    item: Any = container.item(key) if key in container else None
    return item.trivia.comment if isinstance(item, Item) else ""


class _Toml:
    def __init__(self, text: str, data: Mapping[str, Any], way_out: WayOut) -> None:
        self._document = tomlkit.parse(text)
        self._data, self._changes = data, way_out.changes
        self._words = {path: (before, after) for path, before, after in steps_of(data, way_out.changes)}
        self._why = way_out.notes
        self._line_end = "\r\n" if "\r\n" in text else "\n"

    def written(self) -> str:
        gone: dict[str, list[int]] = {}
        for path, value in self._changes.items():
            name, _, number = path.partition(".")
            if value is None and name in LISTS and number.isdigit():
                gone.setdefault(name, []).append(int(number))
            else:
                self._put(path, value)
        text = tomlkit.dumps(self._document)
        for name, numbers in gone.items():
            for place in sorted(numbers, reverse=True):
                text = self._without(text, name, place)
        return text

    # -------------------------------------------------------------------------------------- values

    def _put(self, path: str, value: Any) -> None:
        *steps, last = path.split(".")
        node: Any = self._document
        holder: Item | None = None  # the innermost thing that can carry a comment when `node` stands on one line
        for place, step in enumerate(steps):
            following = [*steps, last][place + 1]
            inner = node[int(step)] if step.isdigit() else node.get(step)
            if not isinstance(inner, (dict, list)):
                inner = tomlkit.aot() if following.isdigit() else tomlkit.table()
                if step in node:
                    del node[step]
                node[step] = inner
                inner = node[step]
            elif isinstance(inner, list) and not inner and not isinstance(inner, AoT) and following.isdigit():
                del node[step]  # "assists = []" gives way to [[assists]]
                node[step] = tomlkit.aot()
                inner = node[step]
            if holder is None and isinstance(inner, (Array, InlineTable)):
                holder = inner
            node = inner
        if last.isdigit():
            self._add_entry(node, value, path, holder)
        elif value is None:
            del node[last]
        else:
            self._set(node, last, value, path, holder)

    def _add_entry(self, entries: Any, value: Mapping[str, Any], path: str, holder: Item | None) -> None:
        if isinstance(entries, AoT):
            table = tomlkit.table()
            table.update(value)
            table.comment(self._note(path, "added"))
            entries.append(table)
        else:
            inline = tomlkit.inline_table()
            inline.update(value)
            entries.append(inline)
            self._comment(holder or entries, self._note(path, "added"))

    def _set(self, node: Any, key: str, value: Any, path: str, holder: Item | None) -> None:
        old = node.get(key)
        if isinstance(old, Array) and isinstance(value, list):
            for word in [word for word in old if word not in value]:
                old.remove(word)
            for word in value:
                if word not in old:
                    old.append(word)
            if list(old) == value:  # not so where a word stood there twice
                self._comment(holder or old, self._note(path))
                return
        item = tomlkit.item(value)
        if holder is None:
            self._comment(item, self._note(path), _comment_at(node, key))
        else:
            self._comment(holder, self._note(path))
        node[key] = item

    def _comment(self, item: Any, note: str, kept: str = "") -> None:
        said = (kept or item.trivia.comment).lstrip("# ")
        item.comment(f"{note}; {said}" if said and said != note else note)
        item.trivia.comment_ws = "  "

    def _note(self, path: str, word: str = "") -> str:
        before, after = self._words[path]
        old = value_at(self._data, path)
        before = str(old).lower() if isinstance(old, bool) else before  # as TOML writes it
        told = word or (f"was {before}" if before != "as it is" else after)
        why = self._why.get(path, "")
        return clean(f"{told}: {why}" if why else told)

    # -------------------------------------------------------------------------------------- entries taken out

    def _without(self, text: str, name: str, number: int) -> str:
        """The text without one [[entry]]: from its header to its last value; comments below it stay."""
        entry = self._data[name][number]
        note = clean(f"taken out: {in_words(entry)}: {self._why.get(f'{name}.{number}', '')}".removesuffix(": "))
        lines = text.splitlines(keepends=True)
        heads = [i for i, line in enumerate(lines) if re.match(rf"\s*\[\[\s*{name}\s*\]\]", line)]
        if number >= len(heads):
            return self._without_inline(text, name, number, note)
        first = heads[number]
        other_head = re.compile(rf"\s*\[(?!\s*{name}\s*\.)")  # [goods.fibres] belongs to the entry
        last = next((i for i in range(first + 1, len(lines)) if other_head.match(lines[i])), len(lines))
        while last > first + 1 and re.match(r"\s*(#.*)?$", lines[last - 1]):
            last -= 1
        lines[first:last] = [f"# {note}{self._line_end}"]
        text = "".join(lines)
        if len(heads) == 1:
            document = tomlkit.parse(text)
            document[name] = tomlkit.array()
            text = tomlkit.dumps(document)
        return text

    def _without_inline(self, text: str, name: str, number: int, note: str) -> str:
        document = tomlkit.parse(text)
        entries: Any = document[name]
        del entries[number]
        if isinstance(entries, Item):
            self._comment(entries, note)
        return tomlkit.dumps(document)
