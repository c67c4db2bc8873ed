"""Unfinished files and directories: they get their names when they are whole, and never stay.

Each is locked by the process that fills it. The system takes the lock away with the process,
however that ended; whoever makes the next one with the same prefix removes those that nobody holds.
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_LETTERS = r"[a-z0-9_]{8}(\.\w+)?"
"""What `tempfile` adds to a prefix, and the ending of a file."""
_HERE, _EXCHANGE = -100, 2
"""AT_FDCWD and RENAME_EXCHANGE of Linux's renameat2."""


def prefix_of(path: Path) -> str:
    """With what the names of unfinished entries beside `path` begin."""
    return f".{path.name}-unfinished-"


@contextmanager
def directory(prefix: str, place: Path) -> Iterator[Path]:
    """Give an empty directory in `place`, which goes with all that is still in it.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    clear(prefix, place)
    made, lock = _locked(lambda: Path(tempfile.mkdtemp(prefix=prefix, dir=place)))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
        os.close(lock)


@contextmanager
def file(path: Path) -> Iterator[Path]:
    """Give a place to write a file to; it takes the place of `path` only if all went well.

    Raises
    ------
    OSError
        If it cannot be made or put into its place.
    """
    clear(prefix_of(path), path.parent)
    made, lock = _locked(lambda: _empty(prefix_of(path), path))
    try:
        yield made
        made.chmod(0o644)
        os.replace(made, path)
    finally:
        made.unlink(missing_ok=True)
        os.close(lock)


def clear(prefix: str, place: Path) -> None:
    """Remove what dead processes left behind under a prefix; what is in use stays."""
    form = re.compile(re.escape(prefix) + _LETTERS)
    with suppress(OSError):
        for left in [entry for entry in place.iterdir() if form.fullmatch(entry.name)]:
            with suppress(OSError):
                lock = os.open(left, os.O_RDONLY | os.O_NOFOLLOW)
                try:
                    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    shutil.rmtree(left) if left.is_dir() else left.unlink()
                finally:
                    os.close(lock)


def exchange(one: Path, other: Path) -> None:
    """Let two directories change places in a single step, so that there is always one of them.

    Raises
    ------
    OSError
        If that failed; `errno` EINVAL or ENOSYS where the file system does not know how.
    """
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))
    if rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE):
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()), str(other))


def _empty(prefix: str, path: Path) -> Path:
    handle, name = tempfile.mkstemp(prefix=prefix, suffix=path.suffix, dir=path.parent)
    os.close(handle)
    return Path(name)


def _locked(make: Callable[[], Path]) -> tuple[Path, int]:
    """Make an entry and lock it; again if somebody cleared it before it was locked."""
    while True:
        made = make()
        try:
            lock = os.open(made, os.O_RDONLY)
        except FileNotFoundError:
            continue
        with suppress(OSError):  # a file system without locks: then nothing is ever cleared
            fcntl.flock(lock, fcntl.LOCK_EX)
        with suppress(FileNotFoundError):
            if made.stat().st_ino == os.fstat(lock).st_ino:
                return made, lock
        os.close(lock)
