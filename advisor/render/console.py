"""The one console of everything that is shown at a terminal."""

from __future__ import annotations

import os
from typing import TextIO

from rich.console import Console


def console_for(stream: TextIO, width: int | None = None) -> Console:
    """A console that shows text as it stands, and without any escape codes when NO_COLOR is set."""
    return Console(
        file=stream,
        width=width,
        color_system=None if os.environ.get("NO_COLOR") else "auto",  # rich alone would still print bold and dim
        highlight=False,
        soft_wrap=False,
        emoji=False,
        markup=False,
    )
