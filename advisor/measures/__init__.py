"""What follows from a plan by arithmetic, chemistry and physics."""

from __future__ import annotations

from advisor.measures.workings import Workings, work_out

__all__ = ["Workings", "work_out"]
