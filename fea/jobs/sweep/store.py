"""Rows of a sweep in an SQLite database: each written once, none half.

The database is in write-ahead mode: a process that dies leaves no lock behind and no row undone
that was written. (That mode needs a local disk; it does not work over a network file system.)
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TypeVar

from platestack.fea.jobs.options.evaluation import Row, StackFigures
from platestack.geometry.errors import PlatestackError, UsageError

NAME = "sweep.sqlite"
VERSION = 1
"""Of the database's layout."""
PATIENCE = 30.0
"""Seconds to wait for another process that is writing a row."""

_LAYOUT = """
CREATE TABLE IF NOT EXISTS options (
    key TEXT PRIMARY KEY,
    label TEXT NOT NULL,
    method TEXT NOT NULL,
    code TEXT NOT NULL,
    state TEXT NOT NULL,
    reason TEXT NOT NULL,
    figures TEXT NOT NULL
)"""
_AT_ONCE = 500

T = TypeVar("T")


class Store:
    """An open database of rows. Only the process that runs the sweep writes."""

    def __init__(self, path: Path, connection: sqlite3.Connection):
        self.path = path
        self._connection = connection

    def known(self, keys: Iterable[str]) -> set[str]:
        """Those of the keys that have a row."""
        return self._do(lambda: {key for key, *_ in self._read("key", keys)})

    def rows(self, keys: Iterable[str]) -> dict[str, Row]:
        """Rows by key, as far as they are there."""
        return self._do(lambda: {k: _row(text) for k, text in self._read("key, figures", keys)})

    def add(self, key: str, row: Row, method: str, code: str) -> None:
        """Write a row, at once and for good; where there is one already, it stays."""
        values = (key, row.label, method, code, row.state, row.reason, json.dumps(asdict(row)))
        self._do(
            lambda: self._connection.execute(
                "INSERT INTO options VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING",
                values,
            )
        )

    def forget_failed(self) -> int:
        """Drop all failed rows, so that they are computed again; how many there were."""
        return self._do(
            lambda: self._connection.execute("DELETE FROM options WHERE state = 'failed'").rowcount
        )

    def _read(self, columns: str, keys: Iterable[str]) -> Iterator[tuple[str, ...]]:
        wanted = list(keys)
        for start in range(0, len(wanted), _AT_ONCE):
            some = wanted[start : start + _AT_ONCE]
            marks = ", ".join("?" * len(some))
            yield from self._connection.execute(
                f"SELECT {columns} FROM options WHERE key IN ({marks})", some
            )

    def _do(self, step: Callable[[], T]) -> T:
        try:
            return step()
        except (sqlite3.Error, ValueError, TypeError) as error:
            raise PlatestackError(f"{self.path}: the rows cannot be used: {error}") from error


@contextmanager
def opened(folder: Path) -> Iterator[Store]:
    """Open the database of a sweep in its directory; both are made where they are missing.

    Raises
    ------
    UsageError
        If the directory holds something else, cannot be made, or the database is none of ours.
    PlatestackError
        If the database cannot be written to.
    """
    path = folder / NAME
    try:
        if (
            folder.exists()
            and not path.is_file()
            and (not folder.is_dir() or any(folder.iterdir()))
        ):
            raise UsageError(
                f"{folder}: given as the directory of the sweep, but it holds something else; "
                "allowed: a new directory, or one of an earlier sweep"
            )
        folder.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        reason = getattr(error, "strerror", None) or error
        raise UsageError(
            f"{folder}: the directory of the sweep cannot be made: {reason}; allowed: a place that "
            "can be written to"
        ) from None
    try:
        try:
            _prepare(connection)
        except sqlite3.OperationalError as error:  # no room, no leave to write, a lock that stays
            raise PlatestackError(f"{path}: the rows cannot be kept: {error}") from None
        except (sqlite3.Error, ValueError) as error:
            raise UsageError(
                f"{path}: not the rows of a sweep ({error}); allowed: a new directory, or one of "
                "an earlier sweep"
            ) from None
        yield Store(path, connection)
    finally:
        connection.close()


def _prepare(connection: sqlite3.Connection) -> None:
    """Set the mode, and make the table where it is missing; ValueError where it is another."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if version not in (0, VERSION) or (version == 0 and tables - {"options"}):
        raise ValueError(f"layout {version}, not {VERSION}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute(_LAYOUT)
    connection.execute(f"PRAGMA user_version = {VERSION}")


def _row(text: str) -> Row:
    data = json.loads(text)
    for name in ("crosshead", "bed"):
        if data[name] is not None:
            data[name] = StackFigures(**data[name])
    return Row(**data)
