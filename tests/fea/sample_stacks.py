"""Stacks and rods made in a line or two, for tests of hand calculations."""

from __future__ import annotations

import math
from collections.abc import Iterable

from platestack.geometry import tables
from platestack.geometry.parts import Material, Patch, Plate, Stack, TieRod
from platestack.geometry.shapes import Groove, Hole, Outline, RoundHole

STEEL = Material("steel", 210e9, 0.3, 7850.0, 355e6, 510e6, "common values")
POINT = 1e-6
"""Diameter (m) of a patch that stands for a point."""


def flat(
    sizes: Iterable[tuple[float, float, float]],
    holes: tuple[Hole, ...] = (),
    material: Material = STEEL,
) -> tuple[Plate, ...]:
    """Plates of (length, width, thickness) piled from z = 0; holes where they fit."""
    plates: list[Plate] = []
    base = 0.0
    for index, (length, width, thickness) in enumerate(sizes):
        outline = Outline(length, width)
        fitting = tuple(h for h in holes if isinstance(h, Groove) or outline.clearance(h.at) > 0)
        name = f"plate {index + 1}"
        plates.append(Plate(name, "plate", outline, thickness, base, material, "z", fitting, "-"))
        base += thickness
    return tuple(plates)


def crosshead(
    plates: tuple[Plate, ...], patch: Patch, interface: str = "welded", layout: str = "flat"
) -> Stack:
    """Plates loaded from below by a patch, held by nuts on top."""
    low = min(plate.bounds[0][2] for plate in plates)
    high = max(plate.bounds[1][2] for plate in plates)
    return Stack("crosshead", layout, plates, 1, low, high, patch, "ram", interface, 0.0, 1e-3)  # type: ignore[arg-type]


def disc(diameter: float, inner: float = 0.0, at: tuple[float, float] = (0.0, 0.0)) -> Patch:
    return Patch("annulus" if inner else "disc", at, diameter, diameter, inner)


def rectangle(length: float, width: float, at: tuple[float, float] = (0.0, 0.0)) -> Patch:
    return Patch("rectangle", at, length, width)


def rod(
    at: tuple[float, float],
    diameter: float = 0.08,
    hole: float = POINT,
    bearing: float = 2 * POINT,
    free: float = 1.6,
) -> TieRod:
    """Make a rod 1.6 m long between nuts; by default it holds its stack at a point."""
    return TieRod(
        "rod", at, diameter, "M80x6", 4.344e-3, hole, free, 0.08, 0.115, bearing, 0.01, 0.0, STEEL
    )


def rod_compliance(rod: TieRod) -> float:
    """Shank, and at both ends half a diameter of thread and a nut (VDI 2230-1, 5.1.1), in m/N.

    d3 = d − 17/12 H of the ISO metric thread (ISO 68-1, not verified against the standard).
    """
    d = tables.thread(rod.thread).d
    triangle = math.sqrt(3) / 2 * tables.thread(rod.thread).pitch
    core = math.pi / 4 * (d - 17 / 12 * triangle) ** 2
    full = math.pi / 4 * d**2
    shank = rod.free_length / (math.pi / 4 * rod.diameter**2)
    return (shank + 2 * (0.5 * d / core + 0.4 * d / full)) / 210e9


def mirrored(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the points and their images in x = 0 and y = 0."""
    return sorted({(i * x, j * y) for x, y in points for i in (-1, 1) for j in (-1, 1)})


def rod_holes(rods: Iterable[TieRod]) -> tuple[RoundHole, ...]:
    return tuple(RoundHole(r.at, r.hole, "rod") for r in rods)


def on_edge(
    middles: Iterable[float],
    size: tuple[float, float, float],
    platen: tuple[float, float, float],
    saddle: tuple[float, float, float],
    rods: tuple[TieRod, ...],
) -> tuple[Plate, ...]:
    """Upright plates (length, height, thickness) with their middles at y, platen, saddles."""
    length, height, thickness = size
    low, top = platen[2], platen[2] + height
    holes = tuple(h for h in rod_holes(rods) if Outline(*platen[:2]).clearance(h.at) > 0)
    plates = [Plate("platen", "platen", Outline(*platen[:2]), low, 0.0, STEEL, "z", holes, "-")]
    outline = Outline(length, height, centre=(0.0, low + height / 2))
    for index, y in enumerate(middles):
        name = f"plate {index + 1}"
        plates.append(Plate(name, "plate", outline, thickness, y - thickness / 2, STEEL, "y"))
    for x in sorted({r.at[0] for r in rods}):
        own = tuple(h for h in rod_holes(rods) if h.at[0] == x)
        where = Outline(*saddle[:2], centre=(x, 0.0))
        plates.append(Plate("saddle", "saddle", where, saddle[2], top, STEEL, "z", own))
    return tuple(plates)
