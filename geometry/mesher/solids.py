"""The solid model: plates and loaded areas, cut to the modelled share, joined face to face."""

from __future__ import annotations

import math
from dataclasses import dataclass

import gmsh
import numpy as np

from platestack.geometry.contour import Contour
from platestack.geometry.curves import Arc, Line
from platestack.geometry.errors import MeshError
from platestack.geometry.parts import ClampBolt, Patch, Plate, Stack, TieRod
from platestack.geometry.shapes import ContourHole, Groove, Hole, Outline, RoundHole
from platestack.geometry.symmetry import Symmetry

Tag = tuple[int, int]
SNAP = 2e-5
"""Tolerance of positions (m) when entities are recognised; gmsh widens its boxes by up to 5e-6."""


@dataclass(frozen=True)
class Model:
    """What the gmsh model holds: volumes by plate, faces by name, sizes at curves."""

    volumes: tuple[tuple[int, ...], ...]
    faces: dict[str, tuple[int, ...]]


def build(stack: Stack, rods: tuple[TieRod, ...], symmetry: Symmetry) -> Model:
    """Build plates and loaded areas, cut them to the modelled share, join them face to face."""
    occ = gmsh.model.occ
    volumes = [plate_solid(body) for body in stack.bodies]
    areas: dict[str, list[Tag]] = {stack.patch_name: [_area(stack.patch, stack.load_face)]}
    for rod in rods:
        areas[f"nut of {rod.name}"] = [_area(rod.annulus, stack.nut_face)]
        if rod.seat_annulus is not None:
            height = stack.seat_face(rod.seat_annulus)
            if height is None:
                raise MeshError(f"the seat of {rod.name} is not on one plate of the {stack.name}")
            areas[f"seat of {rod.name}"] = [_area(rod.seat_annulus, height)]
    for bolt in stack.bolts:
        for end, height in (("low", bolt.low), ("high", bolt.high)):
            areas[f"{bolt.name} {end}"] = [_bolt_area(bolt, height)]
    for pad in stack.pads:
        areas[pad.outside] = [_area(pad.force, pad.far)]
    if symmetry:
        volumes = [_kept(tags, symmetry) for tags in volumes]
        areas = {name: _kept(tags, symmetry) for name, tags in areas.items()}
    areas = {name: tags for name, tags in areas.items() if tags}
    objects = [tag for tags in volumes for tag in tags]
    tools = [tag for tags in areas.values() for tag in tags]
    _, children = occ.fragment(objects, tools)
    occ.synchronize()

    count = iter(children)
    by_plate = tuple(tuple(child[1] for _ in tags for child in next(count)) for tags in volumes)
    of_plates = {volume for tags in by_plate[: len(stack.plates)] for volume in tags}
    outside = {pad.outside for pad in stack.pads}
    faces: dict[str, tuple[int, ...]] = {}
    for name, tags in areas.items():
        surfaces = [child[1] for _ in tags for child in next(count)]
        touched = {s: set(gmsh.model.getAdjacencies(2, s)[0]) for s in surfaces}
        borne = tuple(s for s in surfaces if touched[s] & of_plates or name in outside)
        stray = [(2, s) for s in surfaces if not touched[s]]  # over a groove
        if stray:
            occ.remove(stray, recursive=True)
            occ.synchronize()
        if not borne:
            raise MeshError(f"the area {name!r} touches no plate")
        faces[name] = borne
    faces |= _found_faces(stack, by_plate, symmetry)
    return Model(by_plate, faces)


def plate_solid(plate: Plate) -> list[Tag]:
    """A plate as two halves that share its middle plane."""
    occ = gmsh.model.occ
    upright = plate.normal == "y"
    # An upright plate is built lying and turned about x by a quarter: z becomes y, y becomes −z.
    base, half = (
        (-plate.base, -plate.thickness / 2) if upright else (plate.base, plate.thickness / 2)
    )
    sheet = [_outline(plate.outline, base)]
    cutters = [_cutter(hole, base) for hole in plate.holes if not isinstance(hole, Groove)]
    if cutters:
        sheet, _ = occ.cut(sheet, cutters)
    bodies: list[Tag] = []
    for _ in range(2):
        made = occ.extrude(sheet, 0, 0, half)
        bodies += [tag for tag in made if tag[0] == 3]
        sheet = _far_sheets(made)
    grooves = [
        tag for hole in plate.holes if isinstance(hole, Groove) for tag in _groove(hole, plate)
    ]
    if grooves:
        bodies, _ = occ.cut(bodies, grooves)
    if upright:
        occ.rotate(bodies, 0, 0, 0, 1, 0, 0, math.pi / 2)
    return bodies


def _far_sheets(made: list[Tag]) -> list[Tag]:
    """Of what an extrusion returns, the surfaces listed just before each volume."""
    return [made[i - 1] for i, tag in enumerate(made) if tag[0] == 3]


def _outline(outline: Outline, z: float) -> Tag:
    """A sheet at a height, its corners as they are."""
    occ = gmsh.model.occ
    if outline.contour is not None:
        return _sheet(outline.contour, z)
    x0, y0, x1, y1 = outline.box
    c = outline.corner
    if outline.corners == "straight" or c == 0:
        return (2, occ.addRectangle(x0, y0, z, x1 - x0, y1 - y0))
    if outline.corners == "rounded" and 2 * c >= max(outline.length, outline.width):
        return (2, occ.addDisk(*outline.centre, z, c, c))
    ends = []
    for start, end in (
        ((x0 + c, y0), (x1 - c, y0)),
        ((x1, y0 + c), (x1, y1 - c)),
        ((x1 - c, y1), (x0 + c, y1)),
        ((x0, y1 - c), (x0, y0 + c)),
    ):
        point = occ.addPoint(*start, z)
        # Where two corners meet, no edge is left between them.
        gone = math.dist(start, end) < SNAP
        ends.append((point, point if gone else occ.addPoint(*end, z)))
    centres = ((x1 - c, y0 + c), (x1 - c, y1 - c), (x0 + c, y1 - c), (x0 + c, y0 + c))
    edges = []
    for (start, end), (after, _), centre in zip(ends, ends[1:] + ends[:1], centres, strict=True):
        if start != end:
            edges.append(occ.addLine(start, end))
        if outline.corners == "chamfered":
            edges.append(occ.addLine(end, after))
        else:
            middle = occ.addPoint(*centre, z)
            edges.append(occ.addCircleArc(end, middle, after))
            occ.remove([(0, middle)])
    return (2, occ.addPlaneSurface([occ.addCurveLoop(edges)]))


def _sheet(contour: Contour, z: float) -> Tag:
    """A sheet within a contour, at a height."""
    occ = gmsh.model.occ
    corners = [occ.addPoint(*segment.start, z) for segment in contour.segments]
    edges = []
    for segment, start, end in zip(
        contour.segments, corners, [*corners[1:], corners[0]], strict=True
    ):
        if isinstance(segment, Line):
            edges.append(occ.addLine(start, end))
        elif isinstance(segment, Arc):
            middle = occ.addPoint(*segment.centre, z)
            edges.append(occ.addCircleArc(start, middle, end))
            occ.remove([(0, middle)])
        else:
            inner = [occ.addPoint(*at, z) for at in segment.controls[1:-1]]
            knots, times = np.unique(segment.knots, return_counts=True)
            tags = [start, *inner, end]
            edges.append(occ.addBSpline(tags, degree=3, knots=knots, multiplicities=times))
            occ.remove([(0, tag) for tag in inner])
    return (2, occ.addPlaneSurface([occ.addCurveLoop(edges)]))


def _cutter(hole: Hole, z: float) -> Tag:
    occ = gmsh.model.occ
    if isinstance(hole, RoundHole):
        return (2, occ.addDisk(*hole.at, z, hole.diameter / 2, hole.diameter / 2))
    if isinstance(hole, ContourHole):
        return _sheet(hole.contour, z)
    assert not isinstance(hole, Groove)
    return _outline(Outline(hole.length, hole.width, "rounded", hole.radius, hole.at), z)


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
        tag = occ.addRectangle(
            x - patch.length / 2, y - patch.width / 2, z, patch.length, patch.width
        )
        return (2, tag)
    disc = (2, occ.addDisk(x, y, z, patch.length / 2, patch.length / 2))
    if patch.inner == 0:
        return disc
    hole = (2, occ.addDisk(x, y, z, patch.inner / 2, patch.inner / 2))
    ring, _ = occ.cut([disc], [hole])
    return ring[0]


def _bolt_area(bolt: ClampBolt, height: float) -> Tag:
    """Where head or nut bears; on plates on edge it is turned upright, from y to z."""
    if bolt.normal == "z":
        return _area(bolt.annulus, height)
    occ = gmsh.model.occ
    area = _area(bolt.annulus, 0.0)
    occ.rotate([area], 0, 0, 0, 1, 0, 0, math.pi / 2)
    occ.translate([area], 0, height, 0)
    return area


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
            one, two = (stack.bodies[index].name for index in plates)
            faces.setdefault(f"{one} | {two}", []).append(surface)
        elif len(volumes) == 1:
            box = gmsh.model.getBoundingBox(2, surface)
            for axis, plane in enumerate(("x", "y")):
                if plane in symmetry and max(abs(box[axis]), abs(box[axis + 3])) < SNAP:
                    faces.setdefault(f"symmetry {plane}", []).append(surface)
    return {name: tuple(tags) for name, tags in faces.items()}
