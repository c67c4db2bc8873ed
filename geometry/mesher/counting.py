"""How many elements and nodes a mesh will have, from the sizes asked for, before it is made.

The mesher follows a size field h: small at rims, growing with distance from them. A regular
tetrahedron of edge h takes h³ / (6√2); where the field is coarser than a layer of a plate (each
plate is two layers), the layer stands for one of the three lengths. So the number of elements is an
integral over the plates, taken here at evenly scattered points.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from shapely import contains_xy

from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher import thickened
from platestack.geometry.mesher.sizes import bent, rim_sizes
from platestack.geometry.parts import Patch, Plate, Point, Stack, TieRod
from platestack.geometry.shapes import ContourHole, RectangleHole, RoundHole
from platestack.geometry.symmetry import Symmetry

POINTS = 4_000
"""Points scattered over each plate."""

ALONG = 40
"""Points along each curve, as many as the mesher's field has."""

FILL = 6 * math.sqrt(2)
"""Regular tetrahedra of edge 1 to the unit of volume."""

TETS, BULK = 0.8, 0.6
"""Elements made over the integral, measured: in general, and where fine elements fill a plate."""

NODES_PER_TET, NODES_PER_FACE = 1.61, 0.75
"""Nodes of quadratic elements for each element, and more for each triangle of the surface."""


@dataclass(frozen=True)
class Count:
    """Elements and nodes to expect of a mesh; nodes once more where plates may part."""

    tets: float
    nodes: float

    @property
    def unknowns(self) -> float:
        """Displacement unknowns."""
        return 3 * self.nodes


def count(stack: Stack, rods: tuple[TieRod, ...], symmetry: Symmetry, sizes: Sizes) -> Count:
    """Elements and nodes to expect of the model's share of a stack."""
    meshed, _ = thickened(stack, sizes)
    field = _Field(meshed, rods, symmetry, sizes)
    outer_faces = {meshed.load_face, meshed.nut_face, *(pad.far for pad in meshed.pads)}
    tets = nodes = 0.0
    for plate in meshed.bodies:
        points, volume = _inside(plate, symmetry)
        if not len(points):
            continue
        size = field(points)
        layer = np.minimum(size, plate.thickness / 2)
        bulk = (size > 0.95 * sizes.body) & (size < 0.7 * plate.thickness / 2)
        density = np.where(bulk, BULK, TETS) / (size**2 * layer)
        tets += FILL * volume * float(density.mean())
        across = 1 if plate.normal == "y" else 2
        for face in (plate.base, plate.top):
            points[:, across] = face
            triangles = volume / plate.thickness * float(np.mean(1 / field(points) ** 2))
            outer = stack.interface != "welded" or face in outer_faces
            nodes += outer * NODES_PER_FACE * 4 / math.sqrt(3) * triangles
    return Count(tets, tets * NODES_PER_TET + nodes)


class _Field:
    """The mesher's size field, evaluated at points."""

    def __init__(self, stack: Stack, rods: tuple[TieRod, ...], symmetry: Symmetry, sizes: Sizes):
        self._sizes = sizes
        curves: dict[float, list[np.ndarray]] = {}
        for size, points in _curves(stack, rods, sizes):
            size = float(np.clip(size, sizes.least, sizes.body))
            if size < 0.95 * sizes.body:
                curves.setdefault(size, []).append(points[_kept(points, symmetry)])
        self._near = {size: cKDTree(np.vstack(points)) for size, points in curves.items()}

    def __call__(self, points: np.ndarray) -> np.ndarray:
        """Element size (n,) in m at points (n, 3)."""
        size = np.full(len(points), self._sizes.body)
        for least, tree in self._near.items():
            away = tree.query(points)[0] if tree.n else np.inf
            size = np.minimum(size, least + self._sizes.growth * np.maximum(away - least, 0.0))
        return size


def _curves(
    stack: Stack, rods: tuple[TieRod, ...], sizes: Sizes
) -> Iterator[tuple[float, np.ndarray]]:
    """Curves that refine the mesh: the size at each (m), and points (k, 3) along it."""
    by_radius = rim_sizes(stack, rods, sizes)

    def circle(
        at: Point, radius: float, height: float, normal: str = "z"
    ) -> tuple[float, np.ndarray]:
        size = by_radius.get(round(radius, 6), sizes.body)
        turn = 2 * math.pi * np.arange(ALONG) / ALONG
        u, v = at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn)
        w = np.full(ALONG, height)
        return size, np.column_stack([u, w, v] if normal == "y" else [u, v, w])

    for plate in stack.plates:
        for height in (plate.base, plate.base + plate.thickness / 2, plate.top):
            for hole in plate.holes:
                if isinstance(hole, RoundHole):
                    yield circle(hole.at, hole.diameter / 2, height, plate.normal)
            for segment in bent(plate):
                points = segment.flattened(1e-4)
                w = np.full(len(points), height)
                order = [points[:, 0], points[:, 1], w]
                if plate.normal == "y":
                    order = [points[:, 0], w, points[:, 1]]
                size = by_radius.get(round(segment.least_radius, 6), sizes.body)
                yield size, np.column_stack(order)
    for rod in rods:
        yield circle(rod.at, rod.bearing_outer / 2, stack.nut_face)
        seat = rod.seat_annulus
        if seat is not None:
            yield circle(rod.at, seat.length / 2, stack.load_face)
    for pad in stack.pads:
        for diameter in (pad.body.outline.length, pad.force.length, pad.force.inner):
            yield circle(pad.force.centre, diameter / 2, pad.far)
    patch = stack.patch
    if patch.shape == "rectangle":
        yield min(patch.length, patch.width) / sizes.patch_divisions, _frame(patch, stack.load_face)
    else:
        yield circle(patch.centre, patch.length / 2, stack.load_face)
        if patch.inner:
            yield circle(patch.centre, patch.inner / 2, stack.load_face)


def _frame(patch: Patch, height: float) -> np.ndarray:
    """Points along the edges of a rectangle."""
    along = np.linspace(-0.5, 0.5, ALONG)
    edge = np.full(ALONG, 0.5)
    u, v = np.hstack([[along, edge], [along, -edge], [edge, along], [-edge, along]])
    x, y = patch.centre
    return np.column_stack([x + patch.length * u, y + patch.width * v, np.full(len(u), height)])


def _inside(plate: Plate, symmetry: Symmetry) -> tuple[np.ndarray, float]:
    """Points (n, 3) evenly inside the model's share of a plate, and its volume (m³)."""
    low, high = (np.array(corner) for corner in plate.bounds)
    for axis, plane in enumerate(("x", "y")):
        if plane in symmetry:
            low[axis] = max(low[axis], 0.0)
    if (high <= low).any():
        return np.zeros((0, 3)), 0.0
    # The additive sequence of M. Roberts' generalised golden ratio, d = 3.
    steps = np.array([0.8191725133961645, 0.6710436067037893, 0.5497004779019703])
    points = low + (high - low) * ((0.5 + np.outer(np.arange(POINTS), steps)) % 1.0)
    kept = np.ones(POINTS, dtype=bool)
    u, v = points[:, 0], points[:, 1 if plate.normal == "z" else 2]
    if plate.role in ("washer", "flange"):
        kept &= np.hypot(*(np.column_stack([u, v]) - plate.outline.centre).T) < plate.outline.corner
    if plate.outline.contour is not None:
        kept &= contains_xy(plate.outline.contour.polygon, u, v)
    for hole in plate.holes:
        if isinstance(hole, RoundHole):
            kept &= np.hypot(u - hole.at[0], v - hole.at[1]) > hole.diameter / 2
        elif isinstance(hole, RectangleHole):
            kept &= (np.abs(u - hole.at[0]) > hole.length / 2) | (
                np.abs(v - hole.at[1]) > hole.width / 2
            )
        elif isinstance(hole, ContourHole):
            kept &= ~contains_xy(hole.contour.polygon, u, v)
    return points[kept], float(np.prod(high - low)) * float(kept.mean())


def _kept(points: np.ndarray, symmetry: Symmetry) -> np.ndarray:
    """Which points lie in the model's share."""
    kept = np.ones(len(points), dtype=bool)
    for axis, plane in enumerate(("x", "y")):
        if plane in symmetry:
            kept &= points[:, axis] > -1e-9
    return kept
