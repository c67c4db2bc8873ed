"""The case as text and as plain data, each made from the other; comments of the text are kept."""

from __future__ import annotations

import hashlib
import tomllib
from typing import Any

import tomlkit
from tomlkit.items import AoT

from platestack.geometry.errors import CaseError, Problem
from platestack.geometry.schema import Case

LARGEST = 200_000
"""Characters of a case: a long one has ten thousand."""


def opened(text: str, file: str) -> dict[str, Any]:
    """Read the text of a case file into plain data, mistakes in its values kept for the form.

    Raises
    ------
    CaseError
        If it is too long, or not TOML.
    """
    if len(text) > LARGEST:
        allowed = f"allowed: up to {LARGEST} characters"
        raise CaseError(file, [Problem("", f"{len(text)} characters", allowed)])
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise CaseError(file, [Problem("", "", f"the text is not TOML: {error}")]) from None
    for section in (data.get("crosshead"), data.get("bed")):
        if isinstance(section, dict) and isinstance(section.get("plates"), str):
            section["plates"] = [section["plates"]]
    return data


def written(data: dict[str, Any], text: str = "") -> str:
    """Plain data as the text of a case file; what is null is left out.

    `text` is what it was before: its comments, order and blanks stay where the data still have what
    they belong to.

    Raises
    ------
    CaseError
        If the data cannot be written as TOML.
    """
    try:
        plain = tomlkit.dumps(_kept(data))
        wanted = opened(plain, "case")
    except (TypeError, ValueError, RecursionError) as error:
        raise CaseError("case", [Problem("", "", f"the data are not a case: {error}")]) from None
    if not text or len(text) > LARGEST:
        return plain
    try:
        document = tomlkit.parse(text)
        _put(document, wanted)
        made = document.as_string()
        if repr(_ordered(opened(made, "case"))) == repr(_ordered(wanted)):
            return made
    except Exception:  # whatever the library stumbles over costs the comments, never the case
        return plain
    return plain


def digest(case: Case) -> str:
    """What cases have in common that mean the same, however they are written; not kept in files."""
    return hashlib.sha256(case.model_dump_json().encode()).hexdigest()


def _put(table: Any, data: dict[str, Any]) -> None:
    """Make a table of a document hold `data`, touching only what differs."""
    for key in [key for key in table if key not in data]:
        del table[key]
    for key, value in data.items():
        old = table.get(key)
        if isinstance(old, dict) and isinstance(value, dict):
            _put(old, value)
        elif isinstance(old, AoT) and _tables(value) and len(old) == len(value):
            for one, other in zip(old, value, strict=True):
                _put(one, other)
        elif old is None or not _same(old.unwrap(), value):
            table[key] = value


def _tables(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, dict) for item in value)


def _same(old: Any, new: Any) -> bool:
    """Equal in type too; "2 x 50 mm" alone is a list of one entry."""
    return repr(old) == repr(new) or (isinstance(old, str) and [old] == new)


def _ordered(value: Any) -> Any:
    if isinstance(value, dict):
        return sorted((key, _ordered(item)) for key, item in value.items())
    return [_ordered(item) for item in value] if isinstance(value, list) else value


def _kept(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _kept(item) for key, item in value.items() if item is not None}
    if isinstance(value, list):
        return [_kept(item) for item in value if item is not None]
    return value
