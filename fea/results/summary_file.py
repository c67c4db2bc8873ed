"""The summary of a run as plain data: read before anything slow is imported."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from platestack.geometry.errors import UsageError
from platestack.geometry.units import NAMES, SystemName

VERSION: Literal[2] = 2
"""Of the layout of `summary.json`; rises when a reader must change."""
LARGEST_SUMMARY = 50_000_000
"""Bytes; one of many checks has some hundred thousand."""


def load(path: Path) -> dict[str, Any]:
    """Read the summary of a run's directory as plain data of this version, unchecked otherwise.

    Raises
    ------
    UsageError
        If there is none, or it is of another version.
    """
    file = path / "summary.json"
    try:
        data = load_json(file, parse_constant=_no_number, parse_float=_finite, parse_int=_whole)
    except OSError as error:
        raise UsageError(
            f"{file}: cannot be read ({error.strerror or error}); allowed: the directory of "
            "a run, with its summary.json"
        ) from None
    except (ValueError, RecursionError) as error:
        raise unread(path, error) from None
    if not isinstance(data, dict):
        raise not_a_summary(path, "not a table")
    version = data.get("schema_version", data.get("version"))  # 1 had the latter
    if version != VERSION or isinstance(version, bool | float):
        raise UsageError(
            f"{file}: version {version!r:.20} of the summary; allowed: version {VERSION}; "
            "run the case again"
        )
    return data


def load_json(file: Path, **how: Any) -> Any:
    """Data of a file of a run, of a sensible size; a pipe or a device is not waited for.

    Raises
    ------
    OSError
        If it cannot be read, or is not a plain file.
    ValueError, RecursionError
        If it is too large or not JSON.
    """
    if file.exists() and not file.is_file():
        raise OSError("not a plain file")
    with file.open("rb") as opened:
        text = opened.read(LARGEST_SUMMARY + 1)
    if len(text) > LARGEST_SUMMARY:
        raise ValueError(f"more than {LARGEST_SUMMARY} bytes")
    return json.loads(text.decode("utf-8"), **how)


def _no_number(text: str) -> float:
    raise ValueError(f"{text:.40} is not a number")


def _finite(text: str) -> float:
    return float(text) if math.isfinite(float(text)) else _no_number(text)


def _whole(text: str) -> int:
    _finite(text)
    return int(text)


def unread(path: Path, error: Exception) -> UsageError:
    """What to say of a run's directory whose summary cannot be read."""
    lines = [line.strip() for line in str(error).splitlines()]
    words = ": ".join(lines[1:3]) if isinstance(error, ValidationError) else lines[0]
    return not_a_summary(path, words)


def not_a_summary(path: Path, words: str) -> UsageError:
    """What to say of a run's directory whose summary does not hold what it must."""
    return UsageError(
        f"{path / 'summary.json'}: not a summary of a run ({words:.200}); if it is of an earlier "
        "version, run the case again"
    )


def units_of(folder: Path) -> SystemName:
    """System of units in which a run is worded; SI where that cannot be read."""
    try:
        wished = load(folder).get("units")
    except UsageError:
        return "SI"
    return next((name for name in NAMES if name == wished), "SI")
