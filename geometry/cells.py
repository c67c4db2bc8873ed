"""Cells of tables that a spreadsheet opens."""

from __future__ import annotations

from contextlib import suppress
from typing import Any


def plain(cell: Any) -> Any:
    """Mark a text that a spreadsheet would take for a formula with an apostrophe before it.

    What begins with = + - @, a tab or a line break, and is no number (OWASP, CSV Injection).
    """
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r", "\n"):
        with suppress(ValueError):
            float(cell)
            return cell
        return f"'{cell}"
    return cell
