"""Steel under a loaded patch: what holes and slots of the plate that it lies on leave of it."""

from __future__ import annotations

import math
from typing import Any

from platestack.geometry.parts import Patch, Plate, Stack
from platestack.geometry.shapes import ContourHole, Groove, Hole, RoundHole, Through

QUARTER = 64
"""Segments of a quarter circle: areas of discs are within 1e-4."""


def steel_area(stack: Stack) -> float:
    """Area (m²) with which the patch of a stack bears on the plate under it."""
    area = stack.patch.area
    under = [
        plate
        for plate in stack.plates
        if plate.normal == "z" and stack.load_face in (plate.base, plate.top)
    ]
    holes = [
        (hole, plate)
        for plate in under
        for hole in _open(plate, stack.load_face)
        if not _apart(hole, stack.patch)
    ]
    if not holes:
        return area
    patch = _patch(stack.patch)
    left = patch
    for hole, plate in holes:
        left = left.difference(_hole(hole, plate))
    return area * float(left.area / patch.area)


def _open(plate: Plate, face: float) -> list[Hole]:
    """Holes of a plate that reach this face of it."""
    grooved = plate.top if plate.grooved == "+" else plate.base
    return [h for h in plate.holes if not isinstance(h, Groove) or grooved == face]


def _apart(hole: Hole, patch: Patch) -> bool:
    """Whether the circles around a hole and a patch do not meet: most need no library for that."""
    if isinstance(hole, Groove):
        return False
    around = (
        hole.diameter / 2
        if isinstance(hole, RoundHole)
        else math.hypot(hole.length, hole.width) / 2
    )
    return math.dist(hole.at, patch.centre) > around + math.hypot(patch.length, patch.width) / 2


def _patch(patch: Patch) -> Any:
    from shapely import Point, box

    x, y = patch.centre
    if patch.shape == "rectangle":
        return box(x - patch.length / 2, y - patch.width / 2,
                   x + patch.length / 2, y + patch.width / 2)  # fmt: skip
    disc = Point(x, y).buffer(patch.length / 2, quad_segs=QUARTER)
    return disc.difference(Point(x, y).buffer(patch.inner / 2, quad_segs=QUARTER))


def _hole(hole: Hole, plate: Plate) -> Any:
    from shapely import box

    if isinstance(hole, Groove):
        x0, y0, x1, y1 = plate.outline.box
        low, high = hole.at - hole.width / 2, hole.at + hole.width / 2
        return box(x0, low, x1, high) if hole.along == "x" else box(low, y0, high, y1)
    return polygon(hole)


def polygon(hole: Through) -> Any:
    """A hole as a shapely polygon."""
    from shapely import MultiPoint, Point

    if isinstance(hole, ContourHole):
        return hole.contour.polygon
    if isinstance(hole, RoundHole):
        return Point(*hole.at).buffer(hole.diameter / 2, quad_segs=QUARTER)
    (x, y), a, b = hole.at, hole.length / 2 - hole.radius, hole.width / 2 - hole.radius
    core = MultiPoint([(x + i * a, y + j * b) for i in (-1, 1) for j in (-1, 1)]).convex_hull
    return core.buffer(hole.radius, quad_segs=QUARTER)
