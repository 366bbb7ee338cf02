"""The end marker of a table: a file cut off between two rows is TOML still, and yet not whole.

The last lines of each file under rules/knowledge and rules/checks are `[end]` and `rows = N`. N counts the entries of
its top-level arrays, and of the tables within its tables. `python -m tests.renew counts` writes the counts anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

END = "end"
ROWS = "rows"


class CutShort(ValueError):
    """The file lacks its end marker, or has more or fewer rows than the marker counts."""


def without_end(data: Mapping[str, Any], *, needed: bool = True) -> dict[str, Any]:
    """The content of a file without its end marker. Raises CutShort when the marker is wrong, or needed and missing."""
    content = {key: value for key, value in data.items() if key != END}
    if END not in data:
        if needed:
            raise CutShort(_says("its last lines, [end] with the count of rows, are missing"))
        return content
    marker, found = data[END], rows_in(content)
    if not isinstance(marker, Mapping) or set(marker) != {ROWS} or type(marker[ROWS]) is not int:
        raise CutShort(_says("[end] holds 'rows = ' and a whole number, no more and no less"))
    if marker[ROWS] != found:
        raise CutShort(_says(f"[end] counts {marker[ROWS]} rows, the file has {found}"))
    return content


def rows_in(content: Mapping[str, Any]) -> int:
    """How many rows a file has: entries of top-level arrays, and of tables within tables."""
    tables = [value for value in content.values() if isinstance(value, Mapping)]
    inner = [value for table in tables for value in table.values() if isinstance(value, Mapping)]
    return sum(len(value) for value in (*inner, *(v for v in content.values() if isinstance(v, list))))


def _says(what: str) -> str:
    return f"the file ends early or rows were added without counting them: {what}"
