"""The one reader of the files under rules/: TOML, whole to its end marker, with one wording of what is wrong."""

from __future__ import annotations

import tomllib
from importlib.resources.abc import Traversable
from typing import Any

from advisor.ending import CutShort, without_end
from advisor.errors import AdvisorError


def read_toml(file: Traversable, error: type[AdvisorError], *, name: str = "", counted: bool = True) -> dict[str, Any]:
    """The content of a file of rules or tables, without its end marker.

    `counted` ones must have the marker. Raises `error`, naming the file by `name`, else by its own name.
    """
    shown = name or file.name
    try:
        return without_end(tomllib.loads(file.read_text(encoding="utf-8")), needed=counted)
    except FileNotFoundError:
        raise error(f"{shown}: the file is missing from {file}") from None
    except OSError as problem:
        raise error(f"{shown}: cannot be read: {problem.strerror}") from None
    except CutShort as problem:
        raise error(f"{shown}: {problem}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise error(f"{shown}: not readable as TOML: {problem}") from None
