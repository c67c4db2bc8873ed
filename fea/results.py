"""A run's directory: written whole or not at all, and read back."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from fea.summary import VERSION, Summary
from geometry import case as case_file
from geometry import layout
from geometry.errors import CaseError, PlatestackError, UsageError
from geometry.parts import Press
from geometry.schema import Case

MARKS = (
    "summary.json", "mesh.json", "comparison.json", "cut_list.csv", "tightening.json",
    "off_centre.json", "assembly.json", "sensitivity.json",
)  # fmt: skip
"""Files by which a directory is recognised as one that platestack wrote."""
ENDINGS = frozenset(
    (".json", ".vtu", ".msh", ".png", ".csv", ".toml", ".log", ".dxf", ".step", ".html", ".pdf")
)
"""Of all files that platestack writes; whatever ends otherwise is somebody's work."""


def usable(path: Path) -> None:
    """Refuse a results directory that may not be replaced: it must be new, empty or a run's.

    Raises
    ------
    UsageError
        If `path` is something else, cannot be looked at, or is where the program was started.
    """
    try:
        if Path.cwd().is_relative_to(path.resolve()):
            raise UsageError(
                f"{path}: given as the results directory, but it is the working directory or holds "
                "it; allowed: a directory of its own"
            )
        if not path.exists():
            return
        entries = sorted(path.iterdir()) if path.is_dir() else [path]
        foreign = [e.name for e in entries if not e.is_file() or e.suffix not in ENDINGS]
    except OSError as error:
        raise _unmakable(path, error) from None
    if foreign or (entries and not any((path / mark).is_file() for mark in MARKS)):
        what = foreign[0] if foreign else entries[0].name
        raise UsageError(
            f"{path}: given as the results directory, but it holds something else ({what}); "
            "allowed: a new directory, or one of an earlier run"
        )


@contextmanager
def directory(path: Path) -> Iterator[Path]:
    """Give a fresh directory to fill; it takes the place of `path` only if all went well.

    Raises
    ------
    UsageError
        If `path` may not be replaced (`usable`), or cannot be made.
    PlatestackError
        If the results cannot be written.
    """
    usable(path)
    try:
        parents = _make_parents(path)
        made = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
    except OSError as error:
        raise _unmakable(path, error) from None
    try:
        yield made
        made.chmod(0o755)
        _put_in_place(made, path)
    except OSError as error:
        raise PlatestackError(
            f"{path}: the results could not be written: {error.strerror or error}"
        ) from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
        with suppress(OSError):  # parents made for nothing go again, those that hold something stay
            for parent in parents:
                parent.rmdir()


def _make_parents(path: Path) -> list[Path]:
    """Make the directories above `path`; those that were missing, innermost first."""
    missing = [parent for parent in path.parents if not parent.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    return missing


def _put_in_place(made: Path, path: Path) -> None:
    """Move a finished directory to `path`; an earlier run there is removed only after that."""
    if not path.exists():
        os.replace(made, path)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
    try:
        os.replace(path, old / "old")
        os.replace(made, path)
    except BaseException:
        if not path.exists():
            os.replace(old / "old", path)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)


def _unmakable(path: Path, error: OSError) -> UsageError:
    return UsageError(
        f"{path}: the results directory cannot be made: {error.strerror or error}; "
        "allowed: a place that can be written to"
    )


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
    except (ValidationError, ValueError, RecursionError) as error:
        first = str(error).splitlines()[0]
        raise UsageError(f"{file}: not a summary of a run ({first})") from None


@dataclass(frozen=True)
class Run:
    """A finished run, read back from its directory."""

    folder: Path
    summary: Summary
    case: Case
    press: Press


def reopen(folder: Path) -> Run:
    """Read a run's summary, and the case and the press it was made from.

    Raises
    ------
    UsageError
        If the directory does not hold a whole run.
    """
    summary = read(folder)
    try:
        case = case_file.read(folder / "case.toml")
        return Run(folder, summary, case, layout.build(case))
    except CaseError as error:
        raise UsageError(str(error)) from None
