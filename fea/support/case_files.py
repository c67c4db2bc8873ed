"""Writing a case file: values as TOML, comments wrapped, the file whole or not at all."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import Any

from platestack.fea.support import scratch
from platestack.geometry.errors import PlatestackError, UsageError

WIDTH = 98


def toml(value: Any) -> str:
    """A value on one line of TOML."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key(k)} = {toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        entries = list(map(toml, value))
        line = f"[{', '.join(entries)}]"
        return line if len(line) < 80 else "[\n" + "".join(f"  {e},\n" for e in entries) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return json.dumps(value)


def key(name: str) -> str:
    """A key, quoted where it has to be."""
    bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if bare else json.dumps(name, ensure_ascii=False)


def comment(text: str) -> str:
    """Lines of comment."""
    return "\n".join(
        textwrap.wrap(text, WIDTH, initial_indent="# ", subsequent_indent="#   ",
                      break_long_words=False)
    )  # fmt: skip


def printable(stem: str) -> str:
    """A file's name as it may stand in a TOML text and in `press.name`."""
    kept = "".join(c if c.isprintable() and c not in '"\\' else " " for c in stem)
    return " ".join(kept.split())[:40] or "press"


def usable(path: Path, replace: bool) -> None:
    """Raise `UsageError` where a case file cannot, or must not, be written."""
    try:
        taken = path.exists()
    except OSError as error:
        raise UsageError(f"{path}: cannot be written: {error.strerror}") from None
    if taken and not replace:
        raise UsageError(
            f"{path}: given as the case to write, but it exists; allowed: a new file "
            "name, or --force"
        )


def save(path: Path, text: str) -> None:
    """Write a file whole or not at all. Raises `PlatestackError`."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with scratch.file(path) as made:
            made.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlatestackError(f"{path}: cannot be written: {error.strerror}") from None
