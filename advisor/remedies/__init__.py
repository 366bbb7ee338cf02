"""Ways out of findings, each proved by changing a copy of the plan and checking it again."""

from __future__ import annotations

from advisor.remedies.search import with_ways_out

__all__ = ["with_ways_out"]
