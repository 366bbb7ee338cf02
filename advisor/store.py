"""Tables and rules kept ready-made between runs, so that a command starts quickly.

What was read and checked once is pickled into the user's cache folder, under a seal of everything it was
made from: all files under rules/ and the code that reads them. Change one byte of either and it is made
anew. The store only saves time: whatever is wrong with it, the tables are read and checked as if it were
not there. A pickle can run code, so nothing is read from, or left in, a folder or file that somebody else
owns or may write to; and nothing but this module reads pickles: the unit library does without its own cache.
Set ADVISOR_CACHE to a folder to keep it elsewhere, or to "off" to do without.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
import pickle
import stat
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from advisor.paths import rules_root

T = TypeVar("T")
SWITCH = "ADVISOR_CACHE"
_SEAL_BYTES = 32
_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH


def kept(name: str, make: Callable[[], T]) -> T:
    """What `make` returns: from the store when it is there and sound, else made, and kept for the next run."""
    path = _path(name)
    if path is None:
        return make()
    found = _read(path)
    if found is not None:
        return found[0]  # type: ignore[return-value]
    made = make()
    _write(path, made)
    return made


def _path(name: str) -> Path | None:
    setting = os.environ.get(SWITCH, "")
    if setting == "off":
        return None
    try:
        folder = (
            Path(setting)
            if setting
            else Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "dyebath-advisor"
        )
        return folder / f"{name}-{_seal(str(rules_root()))}.bin"
    except (OSError, RuntimeError):
        return None


@lru_cache(maxsize=8)
def _seal(root: str) -> str:
    """A digest of the rules, the code and the Python that reads them."""
    seal = hashlib.sha256(f"{root}\0{sys.version}".encode())
    for folder, ending in ((rules_root(), ".toml"), (files("advisor"), ".py")):
        for file in _walk(folder, ending):
            seal.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return seal.hexdigest()[:40]


def _walk(folder: Traversable, ending: str) -> Iterator[Traversable]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from _walk(entry, ending)
        elif entry.name.endswith(ending):
            yield entry


def _read(path: Path) -> tuple[object] | None:
    try:
        if not _ours_alone(path.parent.stat()):
            return None
        with path.open("rb") as stream:
            if not _ours_alone(os.fstat(stream.fileno())):
                return None
            raw = stream.read()
        seal, payload = raw[:_SEAL_BYTES], raw[_SEAL_BYTES:]
        if _sealed(path, payload) != seal:
            return None
        return (_load(payload),)
    except Exception:  # a store that cannot be read is no store
        return None


def _ours_alone(status: os.stat_result) -> bool:
    """Whether a folder or file is this user's, and nobody else may write to it; where there are no owners, it is."""
    if not hasattr(os, "geteuid"):
        return True
    return status.st_uid == os.geteuid() and not status.st_mode & _OTHERS_WRITE


def _sealed(path: Path, payload: bytes) -> bytes:
    """The digest a stored file begins with; it binds the name, so that one file cannot stand in for another."""
    return hashlib.sha256(path.name.encode() + b"\0" + payload).digest()


def pack(value: object) -> bytes:
    """A value as bytes, for a part of what is kept that few runs look at."""
    return pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)


def unpack(packed: bytes) -> Any:
    """What `pack` packed, in this process or in what was kept."""
    return pickle.loads(packed)


def _load(payload: bytes) -> object:
    was_on = gc.isenabled()
    gc.disable()  # many small objects at once, none of them garbage
    try:
        return pickle.loads(payload)
    finally:
        if was_on:
            gc.enable()


def _write(path: Path, made: object) -> None:
    with contextlib.suppress(Exception):  # a full or read-only disk costs time, no more
        payload = pack(made)
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _ours_alone(path.parent.stat()):
            return
        name = path.name.rsplit("-", 1)[0]
        with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=f"{name}-", delete=False) as stream:
            try:
                stream.write(_sealed(path, payload) + payload)
                stream.flush()
                os.replace(stream.name, path)
            except BaseException:  # a half-written file would stay for ever
                os.unlink(stream.name)
                raise
        for old in path.parent.glob(f"{name}-*"):  # of other rules or code, or half-written by a run that was killed
            if old != path:
                old.unlink()
