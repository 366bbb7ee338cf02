"""A plan file that grows answer by answer: written whole each time, and never over somebody else's work."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import tomlkit

from advisor.errors import AdvisorError
from advisor.plan import InputError, Plan, accepted_keys, read_data, read_text
from advisor.plan_values import clean

HEAD = '# Written by `advisor plan`. What is left out is not known yet; "unknown" was asked and nobody knew.\n'


class PlanFileError(AdvisorError):
    """The plan file cannot be written; what was saved before is still there."""


class PlanFile:
    """One file, in TOML or, for a name in .json, JSON. `data` is what it holds."""

    def __init__(self, path: Path, *, force: bool = False) -> None:
        """Start a new file, or go on with one that is there; `force` starts anew in its place.

        A new file is written at once. Raises InputError for a file that is no plan, PlanFileError for one that
        cannot be written.
        """
        from advisor.output import OutputError, place_for

        self.name = clean(str(path))
        try:
            self._path = place_for(path, force=True)
        except OutputError as error:
            raise PlanFileError(str(error)) from None
        self._is_json = self._path.suffix.lower() == ".json"
        self.resumed = self._path.exists() and not force
        self._on_disk: str | None = None
        self._start, self._first = "", dict[str, Any]()
        if self.resumed:
            self._start, self._first = read_text(path).removeprefix("\ufeff"), read_data(path)
            self._on_disk = self._start
        self.data: dict[str, Any] = {"goods": [{}], "dyes": [{}], **self._first}
        if not self.resumed:
            self._write(self._text(self.data), force=force)

    def save(self, data: Mapping[str, Any]) -> None:
        """Write the data, whole or not at all. Raises PlanFileError or InputError."""
        if data == self.data:
            return
        self._write(self._text(data), force=True)
        self.data = dict(data)

    def _write(self, text: str, *, force: bool) -> None:
        from advisor.output import OutputError, write_new

        try:
            found = read_text(self._path).removeprefix("\ufeff") if self._path.exists() else None
        except InputError as error:
            raise PlanFileError(f"{self.name}: {error.detail}") from None
        if self._on_disk is not None and found is not None and found != self._on_disk:
            raise PlanFileError(f"{self.name}: another program has changed it meanwhile; it was left as it is now")
        try:
            write_new(self._path, text, force=force)
        except OutputError as error:
            raise PlanFileError(str(error)) from None
        self._on_disk = text

    def _text(self, data: Mapping[str, Any]) -> str:
        if self._is_json:
            return json.dumps(data, ensure_ascii=False, indent=2) + "\n"
        if not self._start.strip():
            return HEAD + "\n".join(_toml(data)) + "\n"
        document = tomlkit.parse(self._start)
        _into(document, self._first, data)
        text = tomlkit.dumps(document)
        if tomllib.loads(text) != data:
            message = "the answer cannot be written into this file without changing more than was meant"
            raise InputError(message, file=self.name)
        return text


def _toml(data: Mapping[str, Any]) -> Iterator[str]:
    """A plan as TOML, in the order of the plan model."""
    order = accepted_keys(Plan, ("",))
    keys = sorted(data, key=order.index)
    tables = [key for key in keys if isinstance(data[key], dict) or (data[key] and _is_entries(data[key]))]
    for key in keys:
        if key not in tables:
            yield _line(key, data[key])
    for key in tables:
        inner = accepted_keys(Plan, (key, ""))
        head = f"[[{key}]]" if isinstance(data[key], list) else f"[{key}]"
        for table in data[key] if isinstance(data[key], list) else [data[key]]:
            yield ""
            yield head
            yield from (_line(name, table[name]) for name in sorted(table, key=inner.index))


def _line(key: str, value: Any) -> str:
    return f"{key} = {tomlkit.item(value).as_string()}"


def _is_entries(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(entry, dict) for entry in value)


def _into(node: Any, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
    """Change a TOML document from what the old data says to what the new data says; the rest of it stays."""
    for key in old:
        if key not in new:
            del node[key]
    for key, value in new.items():
        before = old.get(key)
        if key in old and before == value:
            continue
        if isinstance(before, dict) and isinstance(value, dict):
            _into(node[key], before, value)
        elif before and value and _is_entries(before) and _is_entries(value):
            for number, entry in enumerate(value[: len(before)]):
                _into(node[key][number], before[number], entry)
            for entry in value[len(before) :]:
                node[key].append(_table(entry))
            for _ in before[len(value) :]:
                del node[key][-1]
        elif isinstance(value, dict) or (value and _is_entries(value)):
            if key in node:
                del node[key]  # a word gives way to a table, which stands at the end
            node[key] = _table(value) if isinstance(value, dict) else tomlkit.aot()
            for entry in value if isinstance(value, list) else ():
                node[key].append(_table(entry))
        else:
            node[key] = value


def _table(entry: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    table.update(entry)
    return table
