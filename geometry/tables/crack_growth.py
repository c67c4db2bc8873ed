"""How fast cracks grow in steel, and the impact energy of rod steels."""

from __future__ import annotations

import functools

from platestack.geometry.tables.source import Table, certainty, read
from platestack.geometry.tables.steel import rod_grade

FILE = "crack_growth.toml"
INTENSITY = 1e6 * 1e-3**0.5
"""One N/mm^1.5 in Pa √m."""


@functools.cache
def growth_stages(name: str = "law") -> tuple[tuple[float, float], ...]:
    """Return A and m of each stage of a law, for da/dN in m/cycle and ΔK in Pa √m.

    `name` is "law" (mean plus two standard deviations), "mean" or "simplified".
    """
    return tuple((a * 1e-3 / INTENSITY**m, m) for a, m in read(FILE)[name]["stages"])


def rod_impact(grade: str) -> tuple[float, float] | None:
    """Return the impact energy (J) of a rod steel and its temperature (°C); None if not given."""
    try:
        name = rod_grade(grade).name
    except ValueError:
        return None
    rows = {row[0]: (float(row[1]), float(row[2])) for row in read(FILE)["rod_impact"]["rows"]}
    return rows.get(name)


def crack_tables() -> tuple[Table, ...]:
    """Return the laws of growth and the impact energies, for printing."""
    laws = [
        Table(
            "Growth of fatigue cracks in steel in air",
            ("stage", "A (mm/cycle, N/mm^1.5)", "m"),
            tuple((str(i + 1), f"{a:.3g}", f"{m:g}") for i, (a, m) in enumerate(block["stages"])),
            block["source"],
            certainty(block),
            "the lower of two stages holds",
        )
        for block in (read(FILE)[name] for name in ("law", "mean", "simplified"))
    ]
    rods = read(FILE)["rod_impact"]
    return (
        *laws,
        Table(
            "Impact energy of rod steels",
            ("grade", "energy, J", "at °C"),
            tuple((grade, f"{energy:g}", f"{at:g}") for grade, energy, at in rods["rows"]),
            rods["source"],
            certainty(rods),
        ),
    )
