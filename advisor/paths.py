"""Where the rules and tables lie: the one place that knows."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

_MARKER = "README.md"  # rules/README.md marks the folder as ours


def rules_root() -> Traversable:
    """Return the folder of rules and tables: the checkout's where there is one, else the installed copy.

    Raises FileNotFoundError when neither is there.
    """
    checkout = Path(__file__).resolve().parents[1]
    candidates: list[Traversable] = [files("advisor") / "rules"]
    if (checkout / "pyproject.toml").is_file():
        candidates.insert(0, checkout / "rules")
    for folder in candidates:
        if (folder / _MARKER).is_file():
            return folder
    looked = ", ".join(str(c) for c in candidates)
    raise FileNotFoundError(f"no rules found (looked in {looked}); reinstall the package or run from a full checkout")


def toml_files(folder: Traversable) -> list[Traversable]:
    """Return the .toml files directly inside a folder, by name."""
    return sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
