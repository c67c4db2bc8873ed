"""Hydraulic cylinders: the standard series of bores."""

from __future__ import annotations

from platestack.geometry.tables.source import Table, certainty, read

BORE_FILE = "cylinder_bore.toml"


def cylinder_bores() -> tuple[float, ...]:
    """Return the bores of the standard series, rising (m), ISO 3320."""
    return tuple(bore / 1e3 for bore in read(BORE_FILE)["bores"])


def cylinder_rods() -> tuple[float, ...]:
    """Return the piston rod diameters of the standard series, rising (m), ISO 3320."""
    return tuple(rod / 1e3 for rod in read(BORE_FILE)["rods"])


def cylinder_tables() -> tuple[Table, ...]:
    """Return the bores, for printing."""
    block = read(BORE_FILE)
    rows = tuple((f"{bore:g}",) for bore in block["bores"])
    rods = tuple((f"{rod:g}",) for rod in block["rods"])
    sure = certainty(block)
    return (
        Table("Bores of hydraulic cylinders", ("bore, mm",), rows, block["source"], sure),
        Table("Piston rods of hydraulic cylinders", ("rod, mm",), rods, block["source"], sure),
    )
