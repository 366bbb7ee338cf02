"""Values as the JSON text that the rule engine reads right."""

from __future__ import annotations

import json
import math
import re
from functools import lru_cache

_LONGEST_WORD = 60_000  # bytes; the engine's equality is wrong from 65,536
_BARE_EXPONENT = re.compile(r"^(-?\d+)(e[+-]?\d+)$")


class EngineFault(Exception):
    """The engine did something it must not; no answer can be trusted."""


def encode(value: object) -> str:
    """One JSON text for a value, as the engine reads it right.

    Raises EngineFault for NaN, infinities, integers outside 64 bit, over-long words and other types.
    """
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, int) and not isinstance(value, bool):
        if not -(2**63) <= value < 2**63:
            raise EngineFault("a whole number is outside 64 bit")
        return str(value)
    if isinstance(value, dict):
        return "{" + ",".join([_quoted(str(key)) + ":" + encode(member) for key, member in value.items()]) + "}"
    if isinstance(value, list):
        return "[" + ",".join([encode(member) for member in value]) + "]"
    raise EngineFault(f"the engine takes no {type(value).__name__}")


@lru_cache(maxsize=4096)
def _quoted(word: str) -> str:
    """A word as JSON; the names and words of the facts are few and come back in every check."""
    if len(word.encode("utf-8", "surrogatepass")) > _LONGEST_WORD:
        raise EngineFault("a word is too long for the engine")
    return json.dumps(word)


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise EngineFault(f"{value} is no number the engine can compare")
    text = repr(value)
    if "e" not in text:
        return text
    bare = _BARE_EXPONENT.match(text)  # the engine refuses 1e-09 but reads 1.0e-09
    return f"{bare.group(1)}.0{bare.group(2)}" if bare else text
