"""Quality of thermal cuts: ISO 9013 squareness, profile and limit deviations."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import Literal

from platestack.geometry.tables.errors import OutOfTable
from platestack.geometry.tables.source import Table, certainty, in_mm, read

FILE = "thermal_cut.toml"


def cut_scope(process: Literal["oxyfuel", "plasma"]) -> tuple[float, float]:
    """Return the least and greatest thickness (m) that ISO 9013 covers for a process."""
    block = read(FILE)["scope"]
    return block["least"] / 1e3, block[process] / 1e3


def squareness(thickness: float, quality: int) -> float:
    """Return the squareness tolerance u (m) of a cut of range 1 to 5 through a thickness (m).

    Raises
    ------
    OutOfTable
        If there is no such range.
    """
    a, b = _line("squareness", quality)
    return (a + b * in_mm(thickness)) / 1e3


def profile_height(thickness: float, quality: int) -> float:
    """Return the mean height Rz5 (m) of the drag lines; range 5 has none and takes that of 4.

    Raises
    ------
    OutOfTable
        If there is no such range.
    """
    a, b = _line("profile", min(quality, 4))
    return (a + b * in_mm(thickness)) / 1e6


def cut_deviation(thickness: float, nominal: float) -> float:
    """Return the limit deviation ± (m) of tolerance class 1 on a nominal dimension (m) as cut.

    It does not contain the squareness. Dimensions below 10 mm take the value for 10 mm.

    Raises
    ------
    OutOfTable
        Below 3 mm and above 300 mm of thickness, and from 8 m on.
    """
    block, t, size = read(FILE)["deviation"], in_mm(thickness), in_mm(nominal)
    rows: list[list[float]] = block["rows"]
    ends: list[float] = block["nominal"]
    if not read(FILE)["scope"]["least"] <= t <= rows[-1][0] or size >= ends[-1]:
        raise OutOfTable(
            f"limit deviation of a cut: {size:g} mm in a plate of {t:g} mm is outside the table, "
            f"3 to {rows[-1][0]:g} mm thick and below {ends[-1]:g} mm long ({block['source']})"
        )
    row = rows[bisect_left([r[0] for r in rows], t)]
    return row[max(1, bisect_right(ends, size))] / 1e3


def thermal_cut_tables() -> tuple[Table, ...]:
    """Return squareness, profile and limit deviations, for printing."""
    square, profile, deviation = (read(FILE)[n] for n in ("squareness", "profile", "deviation"))
    edges = deviation["nominal"]
    return (
        Table(
            "Thermal cuts: squareness tolerance",
            ("range", "u, mm (t in mm)"),
            tuple((f"{n:g}", f"{a:g} + {b:g} t") for n, a, b in square["rows"]),
            square["source"],
            certainty(square),
        ),
        Table(
            "Thermal cuts: mean height of the profile",
            ("range", "Rz5, µm (t in mm)"),
            tuple((f"{n:g}", f"{a:g} + {b:g} t") for n, a, b in profile["rows"]),
            profile["source"],
            certainty(profile),
        ),
        Table(
            "Thermal cuts: limit deviations ±, tolerance class 1",
            ("thickness up to, mm", *(f"from {edge:g} mm" for edge in edges[:-1])),
            tuple(tuple(f"{value:g}" for value in row) for row in deviation["rows"]),
            deviation["source"],
            certainty(deviation),
            "thermal cutting of thick plate often reaches class 2 only: ask for class 1",
        ),
    )


def _line(name: str, quality: int) -> tuple[float, float]:
    block = read(FILE)[name]
    for number, a, b in block["rows"]:
        if number == quality:
            return a, b
    raise OutOfTable(f"{name} of a cut: range {quality}; allowed: 1 to 5 ({block['source']})")
