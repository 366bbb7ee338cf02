"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from advisor.errors import AdvisorError


class OutputError(AdvisorError):
    """The output could not be written."""


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write a file whole or not at all; an existing one only when `force` says so. Raises OutputError."""
    import tempfile  # slow to load, and most commands write no file

    if path.exists() and not force:
        raise OutputError(f"{path}: exists already; --force replaces it")
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=path.parent, delete=False, prefix=".advisor-"
        ) as stream:
            stream.write(text)
        os.chmod(stream.name, 0o666 & ~_umask())
        os.replace(stream.name, path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from error
    finally:
        with contextlib.suppress(OSError, UnboundLocalError):
            os.unlink(stream.name)


def _umask() -> int:
    """The permissions new files of this user go without."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
