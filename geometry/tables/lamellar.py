"""Lamellar tearing: what a weld asks of a plate that it pulls across its thickness."""

from __future__ import annotations

from typing import Any

from platestack.geometry.tables.source import Table, certainty, in_mm, read

FILE = "lamellar.toml"


def lamellar_terms(throat: float, thickness: float) -> tuple[float, float, float, float]:
    """Return Z_a, Z_b, Z_c and Z_d of a seam between thick plates, not preheated.

    Z_b that of partial penetration, Z_d that of medium restraint: what they are is not known.

    Parameters
    ----------
    throat, thickness : of the seam and of the plate (m).
    """
    block = read(FILE)
    return (
        _reached(block["throat"], in_mm(throat)),
        block["partial_penetration"],
        _reached(block["thickness"], in_mm(thickness)),
        block["medium_restraint"],
    )


def lamellar_quality(value: float) -> tuple[str, float]:
    """Return the quality of EN 10164 for Z_Ed, and what preheating to 100 °C adds to it."""
    block = read(FILE)
    return _reached(block["quality"], value), block["preheat"]


def lamellar_tables() -> tuple[Table, ...]:
    """Return the terms of Z_Ed, for printing."""
    block = read(FILE)

    def rows(name: str, what: str) -> list[tuple[str, str, str]]:
        return [(what, f"up to {end:g}" if end < 1e9 else "more", f"{z}") for end, z in block[name]]

    parts = (
        *rows("throat", "Z_a, throat, mm"),
        ("Z_b", "partial or full penetration", f"{block['partial_penetration']}"),
        *rows("thickness", "Z_c, plate, mm"),
        ("Z_d", "medium restraint", f"{block['medium_restraint']}"),
        ("Z_e", "preheated, 100 °C and more", f"{block['preheat']}"),
        *rows("quality", "quality for Z_Ed"),
    )
    columns = ("term", "range", "value")
    title = "Lamellar tearing of plates that welds pull across their thickness"
    return (Table(title, columns, parts, block["source"], certainty(block)),)


def _reached(rows: list[list[Any]], size: float) -> Any:
    return next(value for end, value in rows if size <= end)
