"""Mesh a stack with gmsh's OpenCASCADE kernel. The only module that imports gmsh.

The plates of a stack are fragmented together with the areas that carry loads, so that neighbours
share matching faces and every area is a set of whole element faces. Each plate is cut at its middle
plane, which guarantees two layers of elements.

Plates much thinner than the element size are meshed as if they were thicker, and the mesh is then
squeezed back: flat, well-aligned elements in place of very many or very bad ones.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import gmsh
import numpy as np

from geometry.errors import MeshError
from geometry.mesh import EDGES, Sizes, StackMesh, Symmetry, quality, scaled_jacobians
from geometry.parts import Groove, Hole, Outline, Patch, Plate, RoundHole, Stack, TieRod

Tag = tuple[int, int]
TET10, TRI6 = 11, 9
FROM_GMSH = [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]
"""gmsh swaps the last two edge nodes against the order of VTK and scikit-fem."""
LEAST_JACOBIAN = 0.2
"""Elements whose curved edges bring the scaled Jacobian below this are straightened."""
SNAP = 1e-7
"""Tolerance of positions (m) when entities are recognised."""


@dataclass(frozen=True)
class _Model:
    """What the gmsh model holds: volumes by plate, faces by name, sizes at curves."""

    volumes: tuple[tuple[int, ...], ...]
    faces: dict[str, tuple[int, ...]]


def make(stack: Stack, rods: tuple[TieRod, ...], symmetry: Symmetry, sizes: Sizes) -> StackMesh:
    """Mesh a stack.

    Parameters
    ----------
    stack, rods : the stack, and the rods whose nuts bear on it.
    symmetry : mirror planes to use (`geometry.mesh.choose_symmetry`).
    sizes : element sizes.

    Raises
    ------
    MeshError
        If gmsh fails, or if the mesh has inverted elements.
    """
    start = time.perf_counter()
    thick, squeeze = _thickened(stack, sizes)
    with _session():
        try:
            model = _solids(thick, rods, symmetry)
            _size_fields(thick, rods, sizes)
            gmsh.model.mesh.generate(3)
            gmsh.model.mesh.setOrder(2)
        except Exception as error:  # gmsh raises bare Exception for everything
            raise MeshError(f"no mesh of the {stack.name} could be made: {error}") from error
        nodes, tets, plate, faces = _read(model)
    nodes[:, 2] = squeeze(nodes[:, 2])
    nodes = _straightened(nodes, tets)
    shape = quality(nodes, tets)
    if shape.least_jacobian <= 0:
        raise MeshError(
            f"the mesh of the {stack.name} has inverted elements (least Jacobian "
            f"{shape.least_jacobian:.2g}); allowed: a smaller mesh.size, or fewer tiny features"
        )
    names = tuple(plate.name for plate in stack.plates)
    seconds = time.perf_counter() - start
    return StackMesh(nodes, tets, plate, names, faces, symmetry, shape, seconds)


@contextmanager
def _session() -> Iterator[None]:
    """Run gmsh quietly, on one thread, which makes its meshes repeatable."""
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        for option, value in {
            "General.Terminal": 0,
            "General.NumThreads": 1,
            "Geometry.OCCParallel": 0,
            "Mesh.MeshSizeExtendFromBoundary": 0,
            "Mesh.MeshSizeFromPoints": 0,
            "Mesh.MeshSizeFromCurvature": 0,
            "Mesh.Algorithm": 6,
            "Mesh.Algorithm3D": 10,
            "Mesh.SecondOrderIncomplete": 0,
        }.items():
            gmsh.option.setNumber(option, value)
        yield
    finally:
        gmsh.finalize()


def _thickened(stack: Stack, sizes: Sizes) -> tuple[Stack, Squeeze]:
    """Replace thin flat plates by thicker ones; also the map of z back to the real stack."""
    if stack.layout != "flat":
        return stack, Squeeze(np.zeros(1), np.zeros(1))
    real, meshed = [stack.plates[0].base], [stack.plates[0].base]
    plates = []
    for plate in stack.plates:
        thickness = max(plate.thickness, 0.8 * sizes.body)
        factor = thickness / plate.thickness
        holes = tuple(_deepened(hole, factor) for hole in plate.holes)
        plates.append(replace(plate, base=meshed[-1], thickness=thickness, holes=holes))
        real.append(plate.top)
        meshed.append(meshed[-1] + thickness)
    squeeze = Squeeze(np.array(meshed), np.array(real))
    load, nut = (meshed[0], meshed[-1]) if stack.direction == 1 else (meshed[-1], meshed[0])
    return replace(stack, plates=tuple(plates), load_face=load, nut_face=nut), squeeze


def _straightened(nodes: np.ndarray, tets: np.ndarray) -> np.ndarray:
    """Straighten the edges of elements that their curved edges distort too much.

    That gives up the exact shape of a rim in a few elements, never the validity of one.
    """
    nodes = nodes.copy()
    for _ in range(3):
        bad = np.flatnonzero(scaled_jacobians(nodes, tets) < LEAST_JACOBIAN)
        if not len(bad):
            break
        corners = nodes[tets[bad, :4]]
        nodes[tets[bad, 4:]] = corners[:, EDGES].mean(axis=2)
    return nodes


@dataclass(frozen=True)
class Squeeze:
    """A piecewise linear map of heights, from meshed to real."""

    meshed: np.ndarray
    real: np.ndarray

    def __call__(self, z: np.ndarray) -> np.ndarray:
        """Return the real heights of `z`."""
        return z if len(self.meshed) == 1 else np.interp(z, self.meshed, self.real)


def _deepened(hole: Hole, factor: float) -> Hole:
    if not isinstance(hole, Groove):
        return hole
    return replace(hole, depth=hole.depth * factor, head_depth=hole.head_depth * factor)


# The solid model ------------------------------------------------------------------------------


def _solids(stack: Stack, rods: tuple[TieRod, ...], symmetry: Symmetry) -> _Model:
    """Build plates and loaded areas, cut them to the modelled share, join them face to face."""
    occ = gmsh.model.occ
    volumes = [_plate(plate) for plate in stack.plates]
    areas = {stack.patch_name: [_area(stack.patch, stack.load_face)]}
    for rod in rods:
        areas[f"nut of {rod.name}"] = [_area(rod.annulus, stack.nut_face)]
    if symmetry:
        volumes = [_kept(tags, symmetry) for tags in volumes]
        areas = {name: _kept(tags, symmetry) for name, tags in areas.items()}
    areas = {name: tags for name, tags in areas.items() if tags}
    objects = [tag for tags in volumes for tag in tags]
    tools = [tag for tags in areas.values() for tag in tags]
    _, children = occ.fragment(objects, tools)
    occ.synchronize()

    count = iter(children)
    by_plate = tuple(
        tuple(child[1] for _ in tags for child in next(count)) for tags in volumes
    )
    faces: dict[str, tuple[int, ...]] = {}
    for name, tags in areas.items():
        surfaces = [child[1] for _ in tags for child in next(count)]
        borne = tuple(s for s in surfaces if len(gmsh.model.getAdjacencies(2, s)[0]) > 0)
        stray = [(2, s) for s in surfaces if s not in borne]  # over a groove
        if stray:
            occ.remove(stray, recursive=True)
            occ.synchronize()
        if not borne:
            raise MeshError(f"the area {name!r} touches no plate")
        faces[name] = borne
    faces |= _found_faces(stack, by_plate, symmetry)
    return _Model(by_plate, faces)


def _plate(plate: Plate) -> list[Tag]:
    """A plate as two halves that share its middle plane."""
    occ = gmsh.model.occ
    upright = plate.normal == "y"
    # An upright plate is built lying and turned about x by a quarter: z becomes y, y becomes −z.
    base, half = (-plate.base, -plate.thickness / 2) if upright else (plate.base, plate.thickness / 2)
    sheet = [_outline(plate.outline, base)]
    cutters = [_cutter(hole, base) for hole in plate.holes if not isinstance(hole, Groove)]
    if cutters:
        sheet, _ = occ.cut(sheet, cutters)
    bodies: list[Tag] = []
    for _ in range(2):
        made = occ.extrude(sheet, 0, 0, half)
        bodies += [tag for tag in made if tag[0] == 3]
        sheet = _far_sheets(made)
    grooves = [tag for hole in plate.holes if isinstance(hole, Groove)
               for tag in _groove(hole, plate)]
    if grooves:
        bodies, _ = occ.cut(bodies, grooves)
    if upright:
        occ.rotate(bodies, 0, 0, 0, 1, 0, 0, math.pi / 2)
    return bodies


def _far_sheets(made: list[Tag]) -> list[Tag]:
    """Of what an extrusion returns, the surfaces listed just before each volume."""
    return [made[i - 1] for i, tag in enumerate(made) if tag[0] == 3]


def _outline(outline: Outline, z: float) -> Tag:
    occ = gmsh.model.occ
    x0, y0, x1, y1 = outline.box
    c = outline.corner
    if outline.corners != "chamfered" or c == 0:
        radius = c if outline.corners == "rounded" else 0.0
        tag = occ.addRectangle(x0, y0, z, x1 - x0, y1 - y0, roundedRadius=radius)
        return (2, tag)
    corners = [(x0 + c, y0), (x1 - c, y0), (x1, y0 + c), (x1, y1 - c),
               (x1 - c, y1), (x0 + c, y1), (x0, y1 - c), (x0, y0 + c)]
    points = [occ.addPoint(x, y, z) for x, y in corners]
    lines = [occ.addLine(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]
    return (2, occ.addPlaneSurface([occ.addCurveLoop(lines)]))


def _cutter(hole: Hole, z: float) -> Tag:
    occ = gmsh.model.occ
    if isinstance(hole, RoundHole):
        return (2, occ.addDisk(*hole.at, z, hole.diameter / 2, hole.diameter / 2))
    assert not isinstance(hole, Groove)
    x, y = hole.at[0] - hole.length / 2, hole.at[1] - hole.width / 2
    return (2, occ.addRectangle(x, y, z, hole.length, hole.width, roundedRadius=hole.radius))


def _groove(groove: Groove, plate: Plate) -> list[Tag]:
    """Boxes that cut a groove, from one edge of the plate to the other."""
    x0, y0, x1, y1 = plate.outline.box
    neck = groove.depth - groove.head_depth
    parts = [(groove.width, 0.0, neck)]
    if groove.head_depth:
        parts.append((groove.head_width, neck, groove.head_depth))
    boxes = []
    for width, down, depth in parts:
        z = plate.top - down - depth if plate.grooved == "+" else plate.base + down
        if groove.along == "x":
            box = (x0, groove.at - width / 2, z, x1 - x0, width, depth)
        else:
            box = (groove.at - width / 2, y0, z, width, y1 - y0, depth)
        boxes.append((3, gmsh.model.occ.addBox(*box)))
    return boxes


def _area(patch: Patch, z: float) -> Tag:
    occ = gmsh.model.occ
    x, y = patch.centre
    if patch.shape == "rectangle":
        tag = occ.addRectangle(x - patch.length / 2, y - patch.width / 2, z, patch.length,
                               patch.width)
        return (2, tag)
    disc = (2, occ.addDisk(x, y, z, patch.length / 2, patch.length / 2))
    if patch.inner == 0:
        return disc
    hole = (2, occ.addDisk(x, y, z, patch.inner / 2, patch.inner / 2))
    ring, _ = occ.cut([disc], [hole])
    return ring[0]


def _kept(tags: list[Tag], symmetry: Symmetry) -> list[Tag]:
    """What lies in x ≥ 0 and y ≥ 0, as far as those planes are mirrors."""
    far = 1000.0
    x0, y0 = (0.0 if plane in symmetry else -far for plane in ("x", "y"))
    box = gmsh.model.occ.addBox(x0, y0, -far, far - x0, far - y0, 2 * far)
    kept, _ = gmsh.model.occ.intersect(tags, [(3, box)])
    return [tag for tag in kept if tag[0] == tags[0][0]]


def _found_faces(
    stack: Stack, by_plate: tuple[tuple[int, ...], ...], symmetry: Symmetry
) -> dict[str, tuple[int, ...]]:
    """Interfaces and symmetry planes, recognised by what they touch and where they lie."""
    owner = {volume: index for index, tags in enumerate(by_plate) for volume in tags}
    faces: dict[str, list[int]] = {}
    for _, surface in gmsh.model.getEntities(2):
        volumes = gmsh.model.getAdjacencies(2, surface)[0]
        plates = sorted({owner[volume] for volume in volumes})
        if len(plates) == 2:
            one, two = (stack.plates[index].name for index in plates)
            faces.setdefault(f"{one} | {two}", []).append(surface)
        elif len(volumes) == 1:
            box = gmsh.model.getBoundingBox(2, surface)
            for axis, plane in enumerate(("x", "y")):
                if plane in symmetry and max(abs(box[axis]), abs(box[axis + 3])) < SNAP * 10:
                    faces.setdefault(f"symmetry {plane}", []).append(surface)
    return {name: tuple(tags) for name, tags in faces.items()}


# Sizes ----------------------------------------------------------------------------------------


def _size_fields(stack: Stack, rods: tuple[TieRod, ...], sizes: Sizes) -> None:
    """Small elements at rims, rings and patch edges, growing with distance."""
    rims: dict[float, list[int]] = {}
    wanted = _rim_sizes(stack, rods, sizes)
    for _, curve in gmsh.model.getEntities(1):
        if gmsh.model.getType(1, curve) in ("Circle", "Ellipse"):
            size = wanted.get(round(_radius(curve), 6), sizes.body)
        elif _on_rectangle(curve, stack):
            size = min(stack.patch.length, stack.patch.width) / sizes.patch_divisions
        else:
            continue
        size = float(np.clip(size, sizes.least, sizes.body))
        if size < 0.95 * sizes.body:
            rims.setdefault(round(size, 6), []).append(curve)
    field = gmsh.model.mesh.field
    fields = []
    for size, curves in rims.items():
        distance = field.add("Distance")
        field.setNumbers(distance, "CurvesList", curves)
        field.setNumber(distance, "Sampling", 40)
        grown = field.add("Threshold")
        field.setNumber(grown, "InField", distance)
        field.setNumber(grown, "SizeMin", size)
        field.setNumber(grown, "SizeMax", sizes.body)
        field.setNumber(grown, "DistMin", size)
        field.setNumber(grown, "DistMax", size + (sizes.body - size) / sizes.growth)
        fields.append(grown)
    body = field.add("MathEval")
    field.setString(body, "F", f"{sizes.body!r}")
    smallest = field.add("Min")
    field.setNumbers(smallest, "FieldsList", [*fields, body])
    field.setAsBackgroundMesh(smallest)


def _rim_sizes(stack: Stack, rods: tuple[TieRod, ...], sizes: Sizes) -> dict[float, float]:
    """Wanted element size by radius of a circle (m): rims, rings, patch, rounded corners."""
    wanted: dict[float, float] = {}

    def want(radius: float, size: float) -> None:
        key = round(radius, 6)
        wanted[key] = min(size, wanted.get(key, math.inf))

    around = 2 * math.pi / sizes.round_divisions
    for plate in stack.plates:
        for hole in plate.holes:
            radius = hole.diameter / 2 if isinstance(hole, RoundHole) else getattr(hole, "radius", 0)
            if radius:
                want(radius, around * radius)
        if plate.outline.corners == "rounded":
            want(plate.outline.corner, around * plate.outline.corner)
    for rod in rods:
        ring = (rod.bearing_outer - rod.hole) / 2 / sizes.ring_divisions
        want(rod.bearing_outer / 2, ring * 1.5)
    patch = stack.patch
    if patch.shape == "annulus":
        ring = (patch.length - patch.inner) / 2 / sizes.ring_divisions
        want(patch.length / 2, ring)
        want(patch.inner / 2, ring)
    elif patch.shape == "disc":
        want(patch.length / 2, patch.length / sizes.patch_divisions)
    return wanted


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
    if max(abs(z0 - stack.load_face), abs(z1 - stack.load_face)) > 10 * SNAP:
        return False
    x, y = (x0 + x1) / 2 - patch.centre[0], (y0 + y1) / 2 - patch.centre[1]
    a, b = patch.length / 2, patch.width / 2
    on_x = abs(abs(x) - a) < 10 * SNAP and abs(y) <= b
    on_y = abs(abs(y) - b) < 10 * SNAP and abs(x) <= a
    return on_x or on_y


# Reading --------------------------------------------------------------------------------------


def _read(
    model: _Model,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Nodes, elements, plate of each element and named faces of the meshed model."""
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    tets, plate = [], []
    for index, volumes in enumerate(model.volumes):
        for volume in volumes:
            cells = _elements(3, volume, TET10)[:, FROM_GMSH]
            tets.append(cells)
            plate.append(np.full(len(cells), index))
    faces = {
        name: np.concatenate([_elements(2, surface, TRI6) for surface in surfaces])
        for name, surfaces in model.faces.items()
    }
    return _renumbered(tags, coordinates.reshape(-1, 3), np.concatenate(tets),
                       np.concatenate(plate), faces)


def _renumbered(
    tags: np.ndarray, points: np.ndarray, tets: np.ndarray, plate: np.ndarray,
    faces: dict[str, np.ndarray],
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Number the nodes as scikit-fem does: corners, then edges in the order of their corners."""
    place = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    place[tags.astype(np.int64)] = np.arange(len(tags))
    tets = place[tets]
    corners = np.unique(tets[:, :4])
    number = np.full(len(points), -1, dtype=np.int64)
    number[corners] = np.arange(len(corners))
    ends = np.sort(number[tets[:, :4]][:, EDGES], axis=2).reshape(-1, 2)
    keys, first = np.unique(ends[:, 0] * len(corners) + ends[:, 1], return_index=True)
    middles = tets[:, 4:].reshape(-1)[first]
    number[middles] = len(corners) + np.arange(len(keys))
    nodes = points[np.concatenate([corners, middles])]
    named = {name: number[place[triangles]] for name, triangles in faces.items()}
    return nodes, number[tets], plate, named


def _elements(dim: int, entity: int, kind: int) -> np.ndarray:
    kinds, _, nodes = gmsh.model.mesh.getElements(dim, entity)
    width = 10 if kind == TET10 else 6
    for found, numbers in zip(kinds, nodes, strict=True):
        if found == kind:
            return np.asarray(numbers, dtype=np.int64).reshape(-1, width)
    return np.empty((0, width), dtype=np.int64)
