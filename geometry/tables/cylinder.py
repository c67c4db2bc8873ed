"""Hydraulic cylinders: the standard series of bores and of piston rods, metric and in inches."""

from __future__ import annotations

from platestack.geometry.tables.source import Table, certainty, read
from platestack.geometry.tables.unified import NEAR, inches

BORE_FILE = "cylinder_bore.toml"


def cylinder_bores(system: str = "SI") -> tuple[float, ...]:
    """Return the bores that are sold, rising (m): ISO 3320, or in US units those in inches."""
    return _series("bores", system == "US")


def cylinder_rods(bore: float = 0.0) -> tuple[float, ...]:
    """Return the piston rod diameters of the series of a bore, rising (m): ISO 3320, or inches."""
    return _series("rods", any(abs(bore - inch) < NEAR for inch in _series("bores", True)))


def _series(name: str, inch: bool) -> tuple[float, ...]:
    block = read(BORE_FILE)
    if inch:
        return tuple(inches(size) for size in block["inch"][name])
    return tuple(size / 1e3 for size in block[name])


def cylinder_tables() -> tuple[Table, ...]:
    """Return bores, rods and gauges, for printing."""
    block = read(BORE_FILE)
    metric = (
        Table(f"{words} of hydraulic cylinders", (f"{head}, mm",),
              tuple((f"{size:g}",) for size in block[key]), block["source"], certainty(block))
        for words, head, key in (("Bores", "bore", "bores"), ("Piston rods", "rod", "rods"))
    )  # fmt: skip
    own = block["inch"]
    inch = (
        Table(f"{words} of hydraulic cylinders, inches", (f"{head}, in",),
              tuple((size,) for size in own[key]), own["source"], certainty(own))
        for words, head, key in (("Bores", "bore", "bores"), ("Piston rods", "rod", "rods"))
    )  # fmt: skip
    gauge = block["gauge"]
    walls = tuple((name, f"{wall:.3f}") for name, wall in gauge["walls"])
    return (
        *metric,
        *inch,
        Table("Walls of tube", ("gauge", "wall, in"), walls, gauge["source"], certainty(gauge)),
    )
