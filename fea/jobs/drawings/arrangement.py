"""The general arrangement: the press from two sides with its part numbers, and the parts list."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from platestack.fea.jobs.buying import Materials, OrderLine
from platestack.fea.jobs.drawings import cylinder
from platestack.fea.jobs.drawings.balloons import balloons
from platestack.fea.jobs.drawings.parts import GENERAL
from platestack.geometry import masses
from platestack.geometry.drafting.dimensions import Span, tiers
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.frame import DrawingHead, SheetDraft, compose
from platestack.geometry.drafting.lettering import wrapped
from platestack.geometry.drafting.paper import BETWEEN, paper
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.shapes import Point
from platestack.geometry.units import capacity, dimension, quantity

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

APART = 52.0
"""Between the two views (mm)."""
VISIBLE = 0.1
"""What is seen of a part that is named there (mm²)."""
LIST, LINE, HIGH = 2.0, 3.6, 205.0
"""Height of letters and of a line of the parts list, and of its rows on a sheet (mm)."""
COLUMNS = (("part", 13), ("what", 40), ("no.", 9), ("designation", 62), ("material", 24),
           ("mass of one", 19), ("drawing", 13))  # fmt: skip
"""Of the parts list, with their widths (mm)."""


@dataclass(frozen=True)
class _Box:
    """A part as a box (m): its number, least and greatest corner."""

    number: str
    low: tuple[float, float, float]
    high: tuple[float, float, float]


def general(
    press: Press, case: Case, made: Materials, head: DrawingHead
) -> list[Callable[[str], SheetDraft]]:
    """The sheets that show the whole press, each to be made with its words for "sheet"."""
    boxes = tuple(_boxes(press, made))
    lines = [line for line in made.lines if line.number[0] not in "VX"]
    own = replace(head, number=GENERAL, title="general arrangement", kind="assembly drawing",
                  quantity="1", mass=f"{quantity(press.mass, 'kg')} without oil")  # fmt: skip

    def first(sheet: str) -> SheetDraft:
        return compose(own, lambda scale: _views(press, boxes, 1e3 * scale, head.projection),
                       _notes(press, case), (paper("large"),), sheet, BETWEEN)  # fmt: skip

    sheets: list[Callable[[str], SheetDraft]] = [first]
    for number, rows in enumerate(_pages([_row(line) for line in lines]), 2):

        def listed(sheet: str, rows: list[Row] = rows, number: int = number) -> SheetDraft:
            title = replace(own, number=f"A{number:02d}", title="parts list", kind="parts list")
            return compose(title, lambda scale: _table(rows), (), (paper("small"),), sheet, (1.0,))

        sheets.append(listed)
    return [*sheets, lambda sheet: cylinder.assembly(press, case, head, sheet)]


def _notes(press: Press, case: Case) -> tuple[str, ...]:
    lines = [
        f"capacity {capacity(press.capacity)} at {quantity(press.working_pressure, 'Pa', 3)}; "
        f"stroke {dimension(press.stroke)}, daylight {dimension(press.daylight)}; ram drawn in",
        "stands on feet that are not drawn; hydraulics, guards and controls are not drawn",
        "order of lifts: platestack assemble; preload: platestack tighten; proof: platestack proof",
        "high pressure and stretched rods: design to be checked by a licensed engineer; guard the "
        "press; follow the local rules",
    ]
    for stack in press.stacks:
        own = stack.connectors
        if own is not None and own.kind == "seams":
            lines.append(f"{stack.name}: weld seams fillet a{dimension(own.throat or 0.0)} "
                         "(ISO 2553) along both long edges of each interface")  # fmt: skip
    return tuple(lines)


def _boxes(press: Press, made: Materials) -> Iterator[_Box]:
    """Every part as a box: the cylinder as its bottom, its tube and its ram."""
    number = {name: line.number for line in made.lines for name in line.pieces}
    for piece in masses.pieces(press):
        if piece.group != "cylinder":
            yield _Box(number[piece.name], piece.low, piece.high)
    own = press.cylinder
    assert own is not None, "geometry.layout puts one into every press"
    z, tube = own.face, own.piston + own.stroke + own.gland
    for name, diameter, length in (
        ("Z02", own.outer_diameter, own.bottom), ("Z01", own.outer_diameter, tube),
        ("Z05", own.ram, own.protrusion),
    ):  # fmt: skip
        ends = sorted((z, z + own.direction * length))
        r, z = diameter / 2, z + own.direction * length
        if length > 0:
            yield _Box(name, (-r, -r, ends[0]), (r, r, ends[1]))


def _views(press: Press, boxes: tuple[_Box, ...], k: float, projection: str) -> Draft:
    """Front and side with dimensions and part numbers; `k` is mm of paper for a metre."""
    draft, sense = Draft(), 1 if projection == "third" else -1
    front, seen = _view(boxes, k, 0, 1)
    _front_dimensions(front, press, boxes, k)
    balloons(front, seen, -1)
    draft.add(front)
    side, also = _view(boxes, k, 1, sense)
    _pitch(side, press, boxes, k, 1, sense)
    balloons(side, {n: at for n, at in also.items() if n not in seen}, 1)
    half = [max(abs(v) for box in boxes for v in (box.low[a], box.high[a])) for a in (0, 1)]
    draft.add(side, (k * (half[0] + half[1]) + APART, 0.0))
    return draft


def _view(
    boxes: tuple[_Box, ...], k: float, axis: int, sense: int
) -> tuple[Draft, dict[str, Point]]:
    """What is seen of all parts from one side, and a place on each part that is seen.

    Across runs `sense` times x (axis 0) or y (axis 1); the eye stands where the other one is least
    (front), or greatest (third-angle side).
    """
    from shapely import Polygon
    from shapely import box as rectangle

    nearer = 1 if axis == 0 else -sense
    draft, places = Draft(), dict[str, tuple[float, Point]]()
    before: BaseGeometry = Polygon()
    draft.own()
    order = sorted(boxes, key=lambda b: nearer * (b.low if nearer > 0 else b.high)[1 - axis])
    for one in order:
        u = sorted(sense * v * k for v in (one.low[axis], one.high[axis]))
        shape = rectangle(u[0], k * one.low[2], u[1], k * one.high[2])
        visible = shape.difference(before)
        _edges(draft, shape.exterior.difference(before.buffer(-1e-6)))
        before = before.union(shape)
        if visible.area > VISIBLE:
            part = max(getattr(visible, "geoms", [visible]), key=lambda g: g.area)
            at = part.representative_point()
            if part.area > places.get(one.number, (0.0,))[0]:
                places[one.number] = part.area, (at.x, at.y)
    _, y0, _, y1 = draft.extent
    draft.own().stroke((0.0, y0 - 3), (0.0, y1 + 3), ink="centre")
    return draft, {number: at for number, (_, at) in places.items()}


def _edges(draft: Draft, lines: BaseGeometry) -> None:
    for piece in getattr(lines, "geoms", [lines]):
        if piece.length > 0.05:
            draft.stroke(*piece.coords)


def _front_dimensions(draft: Draft, press: Press, boxes: tuple[_Box, ...], k: float) -> None:
    """Heights on the right, pitch of rods and length of the bed below."""
    right = k * max(box.high[0] for box in boxes)
    faces = sorted(z for s in press.stacks for z in (s.load_face, s.nut_face))
    low, high = min(box.low[2] for box in boxes), max(box.high[2] for box in boxes)
    spans = [_span(a, b, k, right) for a, b in pairwise(faces)]
    own = press.cylinder
    if own is not None:
        face = own.face + own.direction * press.closed_length
        other = press.bed.load_face if own.direction < 0 else press.crosshead.load_face
        spans.append(_span(min(face, other), max(face, other), k, right))
    spans.append(_span(low, high, k, right))
    tiers(draft, "right", dict.fromkeys(spans), right - 2.0)
    _pitch(draft, press, boxes, k, 0, 1)


def _pitch(
    draft: Draft, press: Press, boxes: tuple[_Box, ...], k: float, axis: int, sense: int
) -> None:
    """Distance of the outer rods and length of the bed along an axis, below a view."""
    low = -k * min(box.low[2] for box in boxes)
    at = [sense * rod.at[axis] for rod in press.rods]
    bed = [sense * end[axis] for plate in press.bed.plates for end in plate.bounds]
    spans = [_span(a, b, k, low) for a, b in ((min(at), max(at)), (min(bed), max(bed))) if b > a]
    tiers(draft, "below", spans, low + 2.0)


def _span(a: float, b: float, k: float, start: float) -> Span:
    return Span(k * a, k * b, (start, start), dimension(b - a), ())


Row = list[list[str]]
"""Lines of each cell of a row."""


def _row(line: OrderLine) -> Row:
    mass = quantity(line.mass, "kg") if line.mass else ""
    cells = (line.number, line.name, f"{line.quantity:g}", line.standard, line.material, mass,
             line.drawing or "bought")  # fmt: skip
    return [wrapped(cell, room - 1.6, LIST) for cell, (_, room) in zip(cells, COLUMNS, strict=True)]


def _height(row: Row) -> float:
    return max(map(len, row)) * LINE + 1.0


def _pages(rows: list[Row]) -> list[list[Row]]:
    """Rows in groups that go on a sheet each."""
    pages: list[list[Row]] = [[]]
    for row in rows:
        if sum(map(_height, [*pages[-1], row])) > HIGH:
            pages.append([])
        pages[-1].append(row)
    return pages


def _table(rows: list[Row]) -> Draft:
    """Rows of the parts list below their head."""
    draft, y = Draft(), 0.0
    wide = sum(room for _, room in COLUMNS)
    for number, row in enumerate([[[name] for name, _ in COLUMNS], *rows]):
        x = 0.0
        draft.own().stroke((0.0, y), (wide, y), ink="outline" if number < 2 else "thin")
        for cell, (_, room) in zip(row, COLUMNS, strict=True):
            for index, text in enumerate(cell):
                draft.own().words((x + 0.8, y - (index + 1) * LINE + 0.6), text, LIST, "left")
            x += room
        y -= _height(row)
    draft.own().stroke((0.0, y), (wide, y))
    return draft
