"""Writing a file whole or not at all, and never over what is no file."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from advisor.errors import AdvisorError


class OutputError(AdvisorError):
    """The output could not be written."""


def place_for(path: Path, *, force: bool) -> Path:
    """Where a file of this name will be written, with links followed, so that a link stays one.

    Raises OutputError for a folder or a device, and for a file that exists already and `force` is not set.
    """
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        mode = None
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    except ValueError:  # a NUL in the name
        raise OutputError(f"{path}: is no name of a file") from None
    if mode is not None and not stat.S_ISREG(mode):
        what = "folder" if stat.S_ISDIR(mode) else "device or pipe"
        raise OutputError(f"{path}: is a {what}; accepted: the name of a file")
    if mode is not None and not force:
        raise OutputError(f"{path}: exists already; --force replaces it")
    place = path.resolve()
    if not place.parent.is_dir():
        raise OutputError(f"{path}: cannot be written: there is no folder {path.parent}")
    return place


def check_places(*paths: Path | None, force: bool) -> None:
    """Refuses, before anything is written, a file that may not be written and two outputs of one name.

    Raises OutputError.
    """
    places: dict[Path, Path] = {}
    for path in paths:
        if path is not None:
            first = places.setdefault(place_for(path, force=force), path)
            if first is not path:
                raise OutputError(f"{path}: two things would be written to this file; accepted: a file for each")


@contextmanager
def new_file(path: Path, *, force: bool) -> Iterator[TextIO]:
    """A file that is there whole when all has been written, and not at all when anything stops it.

    An existing one is replaced only when `force` says so. Raises OutputError.
    """
    import tempfile  # slow to load, and most commands write no file

    place = place_for(path, force=force)
    half = ""
    try:
        handle, half = tempfile.mkstemp(dir=place.parent, prefix=".advisor-")
        with open(handle, "w", encoding="utf-8", newline="") as stream:
            yield stream
        os.chmod(half, 0o666 & ~_umask())  # mkstemp keeps a file to its owner
        os.replace(half, place)
    except BaseException as error:
        if half:
            Path(half).unlink(missing_ok=True)
        if isinstance(error, OSError) and not isinstance(error, BrokenPipeError):
            raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
        raise


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write a file whole or not at all; an existing one only when `force` says so. Raises OutputError."""
    with new_file(path, force=force) as stream:
        stream.write(text)


def _umask() -> int:
    """The permissions new files of this user go without."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
