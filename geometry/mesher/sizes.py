"""Element sizes: small at rims, rings and patch edges, growing with distance from them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import gmsh
import numpy as np

from platestack.geometry.curves import Arc, Line
from platestack.geometry.mesh import SizeField, Sizes
from platestack.geometry.mesher.solids import SNAP
from platestack.geometry.parts import Pad, Plate, Stack, TieRod
from platestack.geometry.shapes import RoundHole
from platestack.geometry.smooth import SmoothCurve

BOLT_TURN = 2 * math.pi / 12
"""Size of elements round a clamp bolt over the radius; refinement makes them smaller if it must."""
RIM_TURN, BORE_TURN = 2 * math.pi / 6, 2 * math.pi / 4
"""Largest size over the radius at a circle and on the cylinder behind it: with fewer elements round
a hole its facets cross each other."""


def set_fields(
    stack: Stack, rods: tuple[TieRod, ...], sizes: Sizes, wanted: SizeField | None
) -> None:
    """Set gmsh's background field: small at features, or as wanted but never coarse at rims."""
    if wanted is not None:
        sizes = replace(sizes, round_divisions=12, ring_divisions=2, patch_divisions=6, growth=1.0)
    rims: dict[float, list[int]] = {}
    bores: dict[float, set[int]] = {}
    by_radius = rim_sizes(stack, rods, sizes)
    for _, curve in gmsh.model.getEntities(1):
        least = sizes.least
        kind = gmsh.model.getType(1, curve)
        if kind in ("Circle", "Ellipse"):
            radius = _radius(curve)
            size = by_radius.get(round(radius, 6), sizes.body)
            least = min(least, RIM_TURN * radius)
            most = BORE_TURN * radius
            if most < sizes.body:
                grown = (most - size) / sizes.growth  # how far from the rim
                walls = {wall for wall, length in _walls(curve) if length / 2 > grown}
                bores.setdefault(round(most, 6), set()).update(walls)
        elif kind == "BSpline":
            low, high = gmsh.model.getParametrizationBounds(1, curve)
            bend = gmsh.model.getCurvature(1, curve, np.linspace(low[0], high[0], 50))
            size = 2 * math.pi / sizes.round_divisions / max(*bend, 1e-9)
        elif _on_rectangle(curve, stack):
            size = min(stack.patch.length, stack.patch.width) / sizes.patch_divisions
        else:
            continue
        size = float(np.clip(size, least, sizes.body))
        if size < 0.95 * sizes.body:
            rims.setdefault(round(size, 6), []).append(curve)
    field = gmsh.model.mesh.field
    fields = []
    near = [("CurvesList", size, curves) for size, curves in rims.items()]
    near += [("SurfacesList", size, list(faces)) for size, faces in bores.items() if faces]
    for kind, size, entities in near:
        distance = field.add("Distance")
        field.setNumbers(distance, kind, entities)
        field.setNumber(distance, "Sampling", 40 if kind == "CurvesList" else 10)
        grown = field.add("Threshold")
        field.setNumber(grown, "InField", distance)
        field.setNumber(grown, "SizeMin", size)
        field.setNumber(grown, "SizeMax", sizes.body)
        field.setNumber(grown, "DistMin", size)
        field.setNumber(grown, "DistMax", size + (sizes.body - size) / sizes.growth)
        fields.append(grown)
    if wanted is None:
        body = field.add("MathEval")
        field.setString(body, "F", f"{sizes.body!r}")
    else:
        body = _view_field(wanted)
    smallest = field.add("Min")
    field.setNumbers(smallest, "FieldsList", [*fields, body])
    field.setAsBackgroundMesh(smallest)


def _view_field(wanted: SizeField) -> int:
    """A gmsh field that interpolates sizes given on tetrahedra."""
    x = wanted.points[wanted.tets].transpose(0, 2, 1).reshape(len(wanted.tets), 12)
    data = np.hstack([x, wanted.sizes[wanted.tets]])
    view = gmsh.view.add("sizes")
    gmsh.view.addListData(view, "SS", len(data), data.ravel())
    tag = gmsh.model.mesh.field.add("PostView")
    gmsh.model.mesh.field.setNumber(tag, "ViewTag", view)
    return int(tag)


def rim_sizes(stack: Stack, rods: tuple[TieRod, ...], sizes: Sizes) -> dict[float, float]:
    """Wanted element size by radius of a circle (m): rims, rings, patch, rounded corners."""
    wanted: dict[float, float] = {}

    def want(radius: float, size: float) -> None:
        key = round(radius, 6)
        wanted[key] = min(size, wanted.get(key, math.inf))

    around = 2 * math.pi / sizes.round_divisions
    for plate in stack.plates:
        for hole in plate.holes:
            radius = (
                hole.diameter / 2 if isinstance(hole, RoundHole) else getattr(hole, "radius", 0)
            )
            if radius and getattr(hole, "purpose", "") != "clamp bolt":
                want(radius, around * radius)
        if plate.outline.corners == "rounded":
            want(plate.outline.corner, around * plate.outline.corner)
        for segment in bent(plate):
            want(segment.least_radius, around * segment.least_radius)
    for bolt in stack.bolts:
        for diameter in (bolt.hole, bolt.bearing_outer):
            want(diameter / 2, BOLT_TURN * diameter / 2)
    for rod in rods:
        ring = (rod.bearing_outer - rod.hole) / 2 / sizes.ring_divisions
        want(rod.bearing_outer / 2, ring * 1.5)
        seat = rod.seat_annulus
        if seat is not None:
            want(seat.length / 2, 1.5 * (seat.length - seat.inner) / 2 / sizes.ring_divisions)
    for pad in stack.pads:
        for diameter in filter(None, (pad.force.length, pad.force.inner)):
            want(diameter / 2, pad_size(pad, sizes))
    patch = stack.patch
    if patch.shape == "annulus":
        ring = (patch.length - patch.inner) / 2 / sizes.ring_divisions
        want(patch.length / 2, ring)
        want(patch.inner / 2, ring)
    elif patch.shape == "disc":
        want(patch.length / 2, patch.length / sizes.patch_divisions)
    return wanted


def bent(plate: Plate) -> Iterator[Arc | SmoothCurve]:
    """Arcs and curves of the contours of a plate."""
    for shape in (plate.outline, *plate.holes):
        contour = getattr(shape, "contour", None)
        for segment in contour.segments if contour is not None else ():
            if not isinstance(segment, Line):
                yield segment


def pad_size(pad: Pad, sizes: Sizes) -> float:
    """Wanted element size of a pad (m): a part of its ring's width, or of its diameter."""
    outer = pad.body.outline.length
    if not pad.body.holes:
        return outer / sizes.patch_divisions
    hole = pad.body.holes[0]
    assert isinstance(hole, RoundHole)
    return 1.5 * (outer - hole.diameter) / 2 / sizes.ring_divisions


def _walls(curve: int) -> Iterator[tuple[int, float]]:
    """The curved faces that end in a circle, each with its largest extent (m)."""
    for face in gmsh.model.getAdjacencies(1, curve)[0]:
        if gmsh.model.getType(2, face) != "Plane":
            box = np.reshape(gmsh.model.getBoundingBox(2, face), (2, 3))
            yield int(face), float(np.ptp(box, axis=0).max())


def _radius(curve: int) -> float:
    """Radius of a circular arc (m), from three of its points."""
    low, high = gmsh.model.getParametrizationBounds(1, curve)
    u = np.linspace(low[0], high[0], 4)[:3]
    a, b, c = np.array(gmsh.model.getValue(1, curve, u)).reshape(3, 3)
    sides = np.linalg.norm([b - a, c - b, a - c], axis=1)
    area = np.linalg.norm(np.cross(b - a, c - a)) / 2
    return float(sides.prod() / (4 * area))


def _on_rectangle(curve: int, stack: Stack) -> bool:
    """Whether a line lies on the edge of a rectangular loaded patch."""
    patch = stack.patch
    if patch.shape != "rectangle":
        return False
    x0, y0, z0, x1, y1, z1 = gmsh.model.getBoundingBox(1, curve)
    if max(abs(z0 - stack.load_face), abs(z1 - stack.load_face)) > SNAP:
        return False
    x, y = (x0 + x1) / 2 - patch.centre[0], (y0 + y1) / 2 - patch.centre[1]
    a, b = patch.length / 2, patch.width / 2
    on_x = abs(abs(x) - a) < SNAP and abs(y) <= b
    on_y = abs(abs(y) - b) < SNAP and abs(x) <= a
    return on_x or on_y
