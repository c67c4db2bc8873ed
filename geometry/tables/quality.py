"""What plates are delivered as, and what fatigue makes of their edges."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any, Literal

from platestack.geometry.tables.errors import OutOfTable, UnknownName
from platestack.geometry.tables.source import Table, certainty, in_mm, read

TOLERANCE_FILE = "plate_tolerance.toml"
CATEGORY_FILE = "detail_category.toml"
_DETAILS = ("details", "recommended")


@dataclass(frozen=True)
class Detail:
    """A constructional detail: its stress range for two million cycles, Δσ_C or Δτ_C (Pa).

    `slope` is 3 for direct stress, 5 for shear.
    """

    name: str
    category: float
    slope: int
    description: str
    source: str


def detail(name: str) -> Detail:
    """Return a detail by its name, such as "machine cut"; raises UnknownName."""
    found = _details().get(name)
    if found is None:
        raise UnknownName("detail", name, _details())
    return found


def partial_factor(assessment: str, consequence: str) -> float:
    """Return γ_Mf, for "safe life" or "damage tolerant" and "low" or "high" consequence."""
    rows = {row[0]: row[1:] for row in read(CATEGORY_FILE)["partial_factor"]["rows"]}
    low, high = rows[assessment]
    return float({"low": low, "high": high}[consequence])


def thickness_tolerance(thickness: float, kind: Literal["A", "B"] = "A") -> tuple[float, float]:
    """Return the least and greatest deviation (m) from a nominal plate thickness (m).

    Raises
    ------
    OutOfTable
        Below 3 mm, and from 250 mm on.
    """
    row = _row("thickness", thickness)
    low, high = row[1:3] if kind == "A" else row[3:5]
    return low / 1e3, high / 1e3


def flatness_tolerance(thickness: float, gauge: Literal[1, 2] = 1) -> float:
    """Return the gap (m) allowed under a straight-edge of 1 or 2 m on a plate as delivered.

    Raises
    ------
    OutOfTable
        Below 15 mm, and from 250 mm on.
    """
    return float(_row("flatness", thickness)[gauge]) / 1e3


def quality_tables() -> tuple[Table, ...]:
    """Return tolerances and detail categories, for printing."""
    thick, flat = read(TOLERANCE_FILE)["thickness"], read(TOLERANCE_FILE)["flatness"]
    factors = read(CATEGORY_FILE)["partial_factor"]
    return (
        Table(
            "Thickness tolerances of hot-rolled plate",
            ("thickness from, mm", "below, mm", "class A, mm", "class B, mm"),
            tuple(
                (*ends, f"{r[1]:+g} {r[2]:+g}", f"{r[3]:+g} {r[4]:+g}") for ends, r in _ends(thick)
            ),
            thick["source"],
            certainty(thick),
            "class A unless ordered otherwise",
        ),
        Table(
            "Flatness of hot-rolled plate, normal tolerances",
            ("thickness from, mm", "below, mm", "under 1 m, mm", "under 2 m, mm"),
            tuple((*ends, f"{r[1]:g}", f"{r[2]:g}") for ends, r in _ends(flat)),
            flat["source"],
            certainty(flat),
        ),
        *(
            Table(
                "Fatigue: detail categories",
                ("detail", "category, MPa", "slope", "where", "description"),
                tuple((n, f"{mpa:g}", f"{m}", where, text) for n, mpa, m, where, text in b["rows"]),
                b["source"],
                certainty(b),
                "threads over 30 mm: times (30 mm / d)^0.25",
            )
            for b in (read(CATEGORY_FILE)[name] for name in _DETAILS)
        ),
        Table(
            "Fatigue: partial factor of strength",
            ("assessment", "low consequence", "high consequence"),
            tuple((name, f"{low:g}", f"{high:g}") for name, low, high in factors["rows"]),
            factors["source"],
            certainty(factors),
        ),
    )


@functools.cache
def _details() -> dict[str, Detail]:
    blocks = (read(CATEGORY_FILE)[name] for name in _DETAILS)
    return {
        name: Detail(name, mpa * 1e6, m, text,
                     f"{block['source']} {where}, not verified against the standard")
        for block in blocks for name, mpa, m, where, text in block["rows"]
    }  # fmt: skip


def _ends(block: dict[str, Any]) -> list[tuple[tuple[str, str], list[float]]]:
    """Ends of the range of each row as text, and the row."""
    rows = block["rows"]
    uppers = [*(row[0] for row in rows[1:]), block["end"]]
    return [((f"{row[0]:g}", f"{end:g}"), row) for row, end in zip(rows, uppers, strict=True)]


def _row(name: str, thickness: float) -> list[float]:
    block, size = read(TOLERANCE_FILE)[name], in_mm(thickness)
    rows: list[list[float]] = block["rows"]
    if not rows[0][0] <= size < block["end"]:
        raise OutOfTable(
            f"{name} tolerance: {size:g} mm is outside the table, "
            f"{rows[0][0]:g} to below {block['end']:g} mm ({block['source']})"
        )
    return next(row for row in reversed(rows) if row[0] <= size)
