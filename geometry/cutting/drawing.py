"""A DXF drawing for each plate, in mm or inches, and its reading back.

Layers: ``cut`` (contours for the cutter), ``finished`` (the plate as it is to be, closed), ``bore``
and ``drill`` (holes made on a machine), ``centre mark``, ``lead in``, ``milled slot`` (edges of
slots, milled, never cut), ``marking`` (the part number, on the plate), ``notes`` (beside it).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from platestack.geometry import dxf
from platestack.geometry.cutting.work import PlateWork
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Point
from platestack.geometry.schema import Cutting
from platestack.geometry.shapes import ContourHole, Outline, RectangleHole, RoundHole, Through
from platestack.geometry.units import dimension, fixed, quantity, shown_in, stock

if TYPE_CHECKING:
    from platestack.geometry.dxf import Drawing, Modelspace

LAYERS = {
    "cut": 1,
    "finished": 7,
    "bore": 5,
    "drill": 4,
    "centre mark": 6,
    "lead in": 30,
    "milled slot": 3,
    "marking": 2,
    "notes": 8,
}
"""Layer -> colour number of the DXF format."""
Vertex = tuple[float, float, float]
"""x, y (m) and bulge: the tangent of a quarter of the arc's angle to the next vertex."""
QUARTER = math.tan(math.pi / 8)
LEAST_EDGE = 1e-6
"""Shorter edges (m) are left out."""
LEAST_STEP = 2e-5
"""How far (m) the arcs that stand for a curve may be from it."""


def _per_metre() -> float:
    """How many of the drawing's units a metre has."""
    return 1 / shown_in("m").scale


def vertices(shape: Outline | RectangleHole | ContourHole) -> list[Vertex]:
    """Closed contour, counter-clockwise, as straight lines and arcs."""
    contour = getattr(shape, "contour", None)
    if contour is not None:
        return contour.vertices(LEAST_STEP)
    assert not isinstance(shape, ContourHole)
    if isinstance(shape, Outline):
        (cx, cy), kind, r = shape.centre, shape.corners, shape.corner
    else:
        (cx, cy), kind, r = shape.at, "rounded", shape.radius
    a, b = shape.length / 2, shape.width / 2
    if kind == "straight" or r == 0:
        return [(cx + i * a, cy + j * b, 0.0) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    bulge = QUARTER if kind == "rounded" else 0.0
    corners = [
        (-a, -b + r, -a + r, -b),
        (a - r, -b, a, -b + r),
        (a, b - r, a - r, b),
        (-a + r, b, -a, b - r),
    ]
    made: list[Vertex] = []
    for x0, y0, x1, y1 in corners:
        made += [(cx + x0, cy + y0, bulge), (cx + x1, cy + y1, 0.0)]
    # Where two corners meet, no edge is left between them: a contour repeats no vertex.
    follow = zip(made, [*made[1:], made[0]], strict=True)
    return [one for one, after in follow if math.dist(one[:2], after[:2]) > LEAST_EDGE]


def grown(shape: Outline | Through, by: float) -> Outline | Through:
    """The parallel contour at a distance outwards (m); inwards if negative."""
    if isinstance(shape, RoundHole):
        return replace(shape, diameter=shape.diameter + 2 * by)
    if isinstance(shape, ContourHole):
        return ContourHole(shape.contour.grown(by))
    if isinstance(shape, Outline) and shape.contour is not None:
        return Outline.of(shape.contour.grown(by))
    length, width = shape.length + 2 * by, shape.width + 2 * by
    if isinstance(shape, RectangleHole):
        return replace(
            shape,
            length=length,
            width=width,
            radius=max(0.0, shape.radius + by if shape.radius else 0.0),
        )
    # The chamfer moves out by `by` too, so that its legs grow by (2 − √2) of it.
    more = {"straight": 0.0, "chamfered": 2 - math.sqrt(2), "rounded": 1.0}[shape.corners]
    return replace(shape, length=length, width=width, corner=shape.corner + more * by)


def draw(work: PlateWork, cutting: Cutting) -> Drawing:
    """The drawing of one plate."""
    document = dxf.begin(LAYERS, inches=shown_in("m").name == "in")
    space = document.modelspace()
    offset = cutting.kerf / 2 if cutting.drawn == "torch path" else 0.0
    lead = max(0.01, 0.25 * work.plate.thickness)
    _contour(space, work.plate.outline, "finished")
    blank = grown(work.blank, offset)
    _contour(space, blank, "cut")
    x, y = _lowest(blank)
    _lead(space, (x, y - lead), (x, y))
    for hole in work.holes:
        _contour(space, hole.finished, "finished")
        if hole.way == "bored":
            _contour(space, hole.finished, "bore")
        if hole.cut is not None:
            cut = grown(hole.cut, -offset)
            _contour(space, cut, "cut")
            x, y = _lowest(cut)
            half = (cut.diameter if isinstance(cut, RoundHole) else cut.width) / 2
            _lead(space, (x, y + min(lead, half)), (x, y))
        else:
            _contour(space, hole.finished, "drill")
            _cross(space, hole.finished.at, 0.01)
    _slots(space, work)
    _words(space, work, cutting, lead)
    return document


def _lowest(shape: Outline | Through) -> Point:
    """The place where the cut begins: in the middle below."""
    contour = getattr(shape, "contour", None)
    if contour is not None:
        x, y = min(map(tuple, contour.points), key=lambda p: (p[1], abs(p[0])))
        return float(x), float(y)
    x, y = shape.centre if isinstance(shape, Outline) else shape.at
    assert not isinstance(shape, ContourHole)
    return x, y - (shape.diameter if isinstance(shape, RoundHole) else shape.width) / 2


def _contour(space: Modelspace, shape: Outline | Through, layer: str) -> None:
    look = {"layer": layer}
    if isinstance(shape, RoundHole):
        space.add_circle(
            (shape.at[0] * _per_metre(), shape.at[1] * _per_metre()),
            shape.diameter / 2 * _per_metre(),
            look,
        )
    else:
        points = [(x * _per_metre(), y * _per_metre(), bulge) for x, y, bulge in vertices(shape)]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=look)


def _lead(space: Modelspace, start: Point, end: Point) -> None:
    """From the pierce, on the scrap, to the contour."""
    a, b = ((x * _per_metre(), y * _per_metre()) for x, y in (start, end))
    space.add_line(a, b, {"layer": "lead in"})
    space.add_circle(a, 2e-3 * _per_metre(), {"layer": "lead in"})


def _cross(space: Modelspace, at: Point, size: float) -> None:
    x, y, s = at[0] * _per_metre(), at[1] * _per_metre(), size * _per_metre()
    for a, b in (((x - s, y), (x + s, y)), ((x, y - s), (x, y + s))):
        space.add_line(a, b, {"layer": "centre mark"})


def _slots(space: Modelspace, work: PlateWork) -> None:
    x0, y0, x1, y1 = work.plate.outline.box
    for slot in work.slots:
        for width in {slot.width, slot.head_width} - {0.0}:
            for at in (slot.at - width / 2, slot.at + width / 2):
                ends = ((x0, at), (x1, at)) if slot.along == "x" else ((at, y0), (at, y1))
                a, b = ((x * _per_metre(), y * _per_metre()) for x, y in ends)
                space.add_line(a, b, {"layer": "milled slot"})


def notes(work: PlateWork, cutting: Cutting) -> list[str]:
    """What the cutter and the machinist must know of a plate."""
    plate, t = work.plate, work.plate.thickness
    kerf = f"kerf {quantity(cutting.kerf, 'm')}"
    lines = [
        f"{work.number}  {work.stack} {plate.name}  {stock(t)}  {plate.material.grade}",
        f"finished mass {fixed(plate.mass, 'kg', 1)}; units {shown_in('m').name}; "
        f"{cutting.process}",
        f"contours as the edge is to be; compensate {kerf} on the scrap"
        if cutting.drawn == "edge"
        else f"contours are the torch path: half of {kerf} is included",
        f"pierce on the scrap, at the circles; EN ISO 9013 range {cutting.squareness}, class 1",
    ]
    for way in ("bored", "drilled"):
        found = sorted({h.finished.diameter for h in work.holes if h.way == way})  # type: ignore[union-attr]
        if found:
            sizes = ", ".join(map(dimension, found))
            how = "cut undersize, then bore to" if way == "bored" else "centre marked: drill to"
            lines.append(f"{how} diameter {sizes}")
    lines += [
        f"mill slot along {s.along} at {dimension(s.at)}: {dimension(s.width)} wide, "
        f"{dimension(s.depth)} deep"
        + (f"; head {dimension(s.head_width)} x {dimension(s.head_depth)}" if s.head_width else "")
        for s in work.slots
    ]
    if work.milled:
        lines.append(f"machine: {', '.join(work.milled)}")
    return [*lines, *tolerance_notes(work, cutting)]


def _fine(height: float) -> str:
    """Write the height of drag lines (m): in µm, or in millionths of an inch."""
    return f"{height / 25.4e-9:.0f} uin" if shown_in("m").name == "in" else f"{height * 1e6:.0f} um"


def tolerance_notes(work: PlateWork, cutting: Cutting) -> list[str]:
    """What the cut must hold, how edges are dressed, how flat the faces must be."""
    fit, lines = work.fit, []
    if fit.squareness is None or fit.profile is None:
        lines.append("thicker or thinner than EN ISO 9013 covers: agree the quality of the cut")
    else:
        lines.append(
            f"square within {fixed(fit.squareness, 'm', 2)}, drag lines Rz5 {_fine(fit.profile)}"
        )
    passed = [h for h in work.holes if h.way == "cut" and h.passage is not None]
    if passed:
        worst = min(passed, key=lambda h: (h.passage or 0.0) - h.passes)
        lines.append(
            f"holes used as cut leave {fixed(worst.passage or 0.0, 'm', 1)} at worst for "
            f"{fixed(worst.passes, 'm', 1)}"
        )
    if fit.allowance is not None:
        short = fit.allowance > cutting.allowance + 1e-9
        lines.append(
            f"allowance {quantity(cutting.allowance, 'm')} on machined walls and edges; "
            f"{fixed(fit.allowance, 'm', 1)} {'NEEDED: leave more' if short else 'needed at worst'}"
        )
    lines.append(
        "grind slag and burr off both rims, so that plates lie flat"
        + (
            f"; round rims of rod holes {quantity(2e-3, 'm', 2)}"
            if any(h.passes for h in work.holes)
            else ""
        )
    )
    if fit.flat is not None:
        lines.append(f"faces to neighbours flat within {fixed(fit.flat, 'm', 2)} over the length")
        if fit.delivered is not None:
            lines.append(
                f"  delivered within {quantity(fit.delivered, 'm')} "
                "(EN 10029 class N, unverified): check with a straight-edge,"
            )
            lines.append("  straighten or machine what is worse")
    lines.append("EN ISO 9013 from a secondary copy: the standard itself counts")
    return lines


def _words(space: Modelspace, work: PlateWork, cutting: Cutting, lead: float) -> None:
    x0, y0, _, _y1 = work.blank.box
    size = max(0.005, 0.02 * work.blank.length) * _per_metre()
    at = _free_place(work, size / _per_metre())
    space.add_text(work.number, height=size, dxfattribs={"layer": "marking"}).set_placement(
        (at[0] * _per_metre(), at[1] * _per_metre())
    )
    for i, line in enumerate(notes(work, cutting)):
        down = (y0 - lead) * _per_metre() - (2 + 1.7 * i) * size
        text = space.add_text(dxf.escaped(line), height=size, dxfattribs={"layer": "notes"})
        text.set_placement((x0 * _per_metre(), down))


def _free_place(work: PlateWork, size: float) -> Point:
    """Where the part number meets no hole: the first free place of a grid."""
    x0, y0, x1, y1 = work.plate.outline.box
    reach = 2.5 * size
    for j in range(1, 20):
        for i in range(1, 20):
            x, y = x0 + (x1 - x0) * i / 20, y0 + (y1 - y0) * j / 20
            near = (math.dist(h.finished.at, (x + size, y)) - _far(h.finished) for h in work.holes)
            slots = (abs((y if s.along == "x" else x + size) - s.at) - s.reach for s in work.slots)
            inside = work.plate.outline.clearance((x + size, y), reach)
            if min([*near, *slots, inside + reach]) > reach and inside > 0:
                return x, y
    return work.plate.outline.centre


def _far(shape: Through) -> float:
    if isinstance(shape, RoundHole):
        return shape.diameter / 2
    return math.hypot(shape.length, shape.width) / 2


@dataclass(frozen=True)
class Audit:
    """What was found on reading a drawing back: errors, and the area between finished contours."""

    errors: tuple[str, ...]
    area: float
    """m², of the outline without its holes."""
    cut_contours: int


def read_back(path: Path) -> Audit:
    """Read a drawing, let ezdxf audit it, and measure its closed contours with shapely.

    Raises
    ------
    PlatestackError
        If the file is no DXF, or has no closed outline.
    """
    from shapely import Polygon

    document, errors = dxf.read(path)
    unit = 0.0254 if document.units == 1 else 1e-3
    found: dict[str, list[Polygon]] = {"finished": [], "cut": []}
    for entity in document.modelspace():
        if entity.dxf.layer in found:
            contour = dxf.contour(entity, 5e-6 / unit)
            if not contour:
                errors.append(f"an open contour on layer {entity.dxf.layer}")
                continue
            polygon = Polygon([(x * unit, y * unit) for x, y in contour])
            if not polygon.is_valid:
                errors.append(f"a contour that crosses itself on layer {entity.dxf.layer}")
            found[entity.dxf.layer].append(polygon)
    if not found["finished"]:
        raise PlatestackError(f"{path}: no finished contour")
    outline, *holes = sorted(found["finished"], key=lambda p: -p.area)
    area = outline.area - sum(hole.area for hole in holes)
    errors += ["a hole that leaves the outline" for hole in holes if not outline.contains(hole)]
    return Audit(tuple(errors), area, len(found["cut"]))
