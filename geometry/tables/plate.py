"""Plates as bought: stocked thicknesses, and friction between their faces."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from platestack.geometry import units
from platestack.geometry.tables.errors import UnknownName
from platestack.geometry.tables.source import Certainty, Table, certainty, read
from platestack.geometry.tables.unified import inches

STOCK_FILE = "stock_plate.toml"
FRICTION_FILE = "friction.toml"


@dataclass(frozen=True)
class Friction:
    """Friction coefficient steel on steel for one state of the faces, as a bracket.

    `low` is what to rely on where friction helps, `high` what to expect where it hurts.
    `slip_class` is the class of EN 1090-2, None where it has none.
    """

    surface: str
    low: float
    high: float
    slip_class: str | None
    source: str
    certainty: Certainty


def stock_thicknesses(system: str = "") -> tuple[float, ...]:
    """Return the plate thicknesses that stockholders usually keep, rising (m).

    Those of a system of units; without one, of that of the case at hand.
    """
    if (system or units.market()) == "US":
        return tuple(inches(t) for t in read(STOCK_FILE)["inch"]["thicknesses"])
    return tuple(t / 1e3 for t in read(STOCK_FILE)["thicknesses"])


def friction(surface: str) -> Friction:
    """Return the friction between two plates: "as rolled", "blasted", "oiled", class "D".

    Raises
    ------
    UnknownName
        If the state of the faces is not listed.
    """
    found = _surfaces().get(_key(surface))
    if found is None:
        raise UnknownName("surface", surface, surface_names())
    return found


def surface_names() -> tuple[str, ...]:
    """Return the listed states of the faces, in the order of their table."""
    return tuple(block["name"] for block in read(FRICTION_FILE)["surface"])


def plate_tables() -> tuple[Table, ...]:
    """Return stocked thicknesses and friction, for printing; a friction table per certainty."""
    stock = read(STOCK_FILE)
    tables = [
        Table(
            title="Plate thicknesses usually in stock",
            columns=("thickness, mm",),
            rows=tuple((f"{t:g}",) for t in stock["thicknesses"]),
            source=stock["source"],
            certainty=certainty(stock),
        ),
        Table(
            title="Plate thicknesses usually in stock, inches",
            columns=("thickness, in",),
            rows=tuple((t,) for t in stock["inch"]["thicknesses"]),
            source=stock["inch"]["source"],
            certainty=certainty(stock["inch"]),
        ),
    ]
    entries = dict.fromkeys(_surfaces().values())
    for sure in dict.fromkeys(entry.certainty for entry in entries):
        rows = tuple(
            (
                entry.surface,
                f"{entry.low:.2f}",
                f"{entry.high:.2f}",
                entry.slip_class or "–",
                entry.source,
            )
            for entry in entries
            if entry.certainty is sure
        )
        tables.append(
            Table(
                title="Friction steel on steel",
                columns=("faces", "low", "high", "slip class", "source"),
                rows=rows,
                source="per row",
                certainty=sure,
                note="low where friction helps, high where it hurts; slip classes need clean faces",
            )
        )
    return tuple(tables)


def _key(surface: str) -> str:
    return " ".join(surface.replace("-", " ").replace("_", " ").split()).upper()


@functools.cache
def _surfaces() -> dict[str, Friction]:
    """Every accepted spelling in capitals -> Friction."""
    index = {}
    for block in read(FRICTION_FILE)["surface"]:
        entry = Friction(
            surface=block["name"],
            low=block["range"][0],
            high=block["range"][1],
            slip_class=block["slip_class"] or None,
            source=block["source"],
            certainty=certainty(block),
        )
        for name in (block["name"], *block["also"]):
            index[_key(name)] = entry
    return index
