"""A run's directory: written whole or not at all, and read back."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import ValidationError

from fea.summary import VERSION, Summary
from geometry.errors import PlatestackError, UsageError

MARKS = ("summary.json", "mesh.json", "comparison.json")
"""Files by which a directory is recognised as one that platestack wrote."""


@contextmanager
def directory(path: Path) -> Iterator[Path]:
    """Give a fresh directory to fill; it takes the place of `path` only if all went well.

    Raises
    ------
    UsageError
        If `path` exists and is not a run's directory, or cannot be made.
    """
    ours = any((path / mark).is_file() for mark in MARKS)
    if path.exists() and not ours and (not path.is_dir() or any(path.iterdir())):
        raise UsageError(
            f"{path}: given as the results directory, but it holds something else; "
            "allowed: a new directory, or one of an earlier run"
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
    except OSError as error:
        raise UsageError(
            f"{path}: the results directory cannot be made: {error.strerror}; "
            "allowed: a place that can be written to"
        ) from None
    try:
        yield made
        made.chmod(0o755)
        if path.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
            os.replace(path, old / "old")
            os.replace(made, path)
            shutil.rmtree(old, ignore_errors=True)
        else:
            os.replace(made, path)
    except OSError as error:
        raise PlatestackError(
            f"{path}: the results could not be written: {error.strerror}"
        ) from error
    finally:
        shutil.rmtree(made, ignore_errors=True)


def write_json(summary: Summary, path: Path) -> None:
    """Write a summary."""
    path.write_text(summary.model_dump_json(indent=2) + "\n", encoding="utf-8")


def read(path: Path) -> Summary:
    """Read the summary of a run's directory.

    Raises
    ------
    UsageError
        If there is none, or it is not one that this version can read.
    """
    file = path / "summary.json"
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
        if isinstance(data, dict) and data.get("version") != VERSION:
            raise UsageError(
                f"{file}: version {data.get('version')!r} of the summary; allowed: "
                f"version {VERSION}; run the case again"
            )
        return Summary.model_validate_json(json.dumps(data))
    except OSError as error:
        raise UsageError(
            f"{file}: cannot be read ({error.strerror}); allowed: the directory of "
            "a run, with its summary.json"
        ) from None
    except (ValidationError, ValueError) as error:
        first = str(error).splitlines()[0]
        raise UsageError(f"{file}: not a summary of a run ({first})") from None
