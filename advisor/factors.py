"""The two factors between units that the reckoning needs by name."""

from __future__ import annotations

HUNDRED = 100.0  # per cent
THOUSAND = 1000.0  # g in a kg, mL in a L, mmol in a mol
