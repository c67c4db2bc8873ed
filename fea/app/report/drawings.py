"""Drawings of a press as SVG: the elevation, and each plate with its dimensions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from itertools import pairwise
from typing import Any

from platestack.geometry import masses
from platestack.geometry.parts import Plate, Press
from platestack.geometry.shapes import Groove, RectangleHole, RoundHole
from platestack.geometry.units import dimension

INK, STEEL, ROD, OIL, DIM = "#1c2733", "#dfe5ea", "#b9c4cd", "#e9e2d0", "#1f5d8c"
STACKS = ("bed", "crosshead")


class DrawingSheet:
    """Collects shapes in mm, y upwards, and writes them as one SVG."""

    def __init__(self, box: tuple[float, float, float, float]):
        self.x0, self.y0, self.x1, self.y1 = box
        self.size = max(self.x1 - self.x0, self.y1 - self.y0)
        self.text = self.size / 42
        self.items: list[str] = []

    def add(
        self, tag: str, fill: str = "none", ink: str = INK, pen: float = 1.0, **at: Any
    ) -> None:
        """Add an element; `pen` is the thickness of its line in hairlines."""
        attributes = " ".join(f'{k}="{_n(v)}"' for k, v in at.items())
        self.items.append(
            f'<{tag} {attributes} fill="{fill}" stroke="{ink}" '
            f'stroke-width="{_n(pen * self.size / 900)}"/>'
        )

    def rect(
        self, x0: float, y0: float, x1: float, y1: float, fill: str = STEEL, r: float = 0
    ) -> None:
        """Add a rectangle."""
        self.add("rect", fill, x=x0, y=-y1, width=x1 - x0, height=y1 - y0, rx=r)

    def polygon(self, points: Sequence[tuple[float, float]], fill: str = STEEL) -> None:
        """Add a closed line."""
        self.add("polygon", fill, points=" ".join(f"{_n(x)},{_n(-y)}" for x, y in points))

    def line(
        self, x0: float, y0: float, x1: float, y1: float, ink: str = DIM, dashed: bool = False
    ) -> None:
        """Add a line; a dashed one is an axis."""
        dashes = f"{_n(self.size / 60)} {_n(self.size / 150)}" if dashed else "none"
        look = {"stroke-dasharray": dashes} if dashed else {}
        self.add("line", ink=ink, pen=0.9, x1=x0, y1=-y0, x2=x1, y2=-y1, **look)

    def words(
        self, x: float, y: float, text: str, turned: bool = False, side: str = "middle"
    ) -> None:
        """Add text with a light edge, so that lines behind it do not hurt."""
        turn = f' transform="rotate(-90 {_n(x)} {_n(-y)})"' if turned else ""
        self.items.append(
            f'<text x="{_n(x)}" y="{_n(-y)}" font-size="{_n(self.text)}" text-anchor="{side}" '
            f'fill="{INK}" font-family="DejaVu Sans, sans-serif"{turn}>{escape(text)}</text>'
        )

    def across(self, x0: float, x1: float, y: float, start: float, text: str = "") -> None:
        """Dimension from x0 to x1, drawn at height y, its extension lines from `start`."""
        self._ticks(((x0, y), (x1, y)), ((x0, start), (x1, start)))
        self.words((x0 + x1) / 2, y + self.text * 0.4, text or dimension(abs(x1 - x0) / 1e3))

    def upright(self, y0: float, y1: float, x: float, start: float, text: str = "") -> None:
        """Dimension from y0 to y1, drawn at x, its extension lines from `start`."""
        self._ticks(((x, y0), (x, y1)), ((start, y0), (start, y1)))
        self.words(x - self.text * 0.4, (y0 + y1) / 2, text or dimension(abs(y1 - y0) / 1e3), True)

    def _ticks(self, ends: Any, starts: Any) -> None:
        (a, b), (c, d) = ends
        self.line(a, b, c, d)
        t = self.text * 0.35
        for (x, y), (u, v) in zip(ends, starts, strict=True):
            self.line(u, v, x, y)
            self.line(x - t, y - t, x + t, y + t)

    def svg(self, title: str) -> str:
        """The drawing; `title` is read out."""
        box = f"{_n(self.x0)} {_n(-self.y1)} {_n(self.x1 - self.x0)} {_n(self.y1 - self.y0)}"
        width, height = (900 * side / self.size for side in (self.x1 - self.x0, self.y1 - self.y0))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
            f'width="{_n(width)}" height="{_n(height)}" aria-label="{escape(title, quote=True)}">'
            f"<title>{escape(title)}</title>{''.join(self.items)}</svg>"
        )


def _n(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def picture(name: str, sheet: DrawingSheet, make: Callable[..., Any], caption: str) -> Any:
    """Wrap a sheet with its caption, which is also its alternative text."""
    return make(name, sheet.svg(caption).encode(), caption, caption)


def alike(plates: Sequence[Plate]) -> list[list[Plate]]:
    """Plates in groups that are the same part, wherever they stand, in order of the first."""
    groups: dict[object, list[Plate]] = {}
    for plate in plates:
        key = plate.role, *plate.shape, plate.thickness, plate.material.grade, plate.normal
        groups.setdefault(key, []).append(plate)
    return list(groups.values())


def elevation(press: Press, axis: int = 0) -> DrawingSheet:
    """The press from the front: x across, z up; or with `axis` 1 from the side: y across."""
    found = masses.pieces(press)
    low, high = (1e3 * pick(z) for pick, z in (
        (min, [p.low[2] for p in found]), (max, [p.high[2] for p in found])))  # fmt: skip
    half = max(1e3 * max(abs(p.low[axis]), abs(p.high[axis])) for p in found)
    pad = 0.14 * max(high - low, 2 * half)
    sheet = DrawingSheet((-half - 2.0 * pad, low - 1.2 * pad, half + 1.5 * pad, high + 0.2 * pad))
    # What stands nearer to the eye hides what is behind it; rods hide in their holes.
    near = -1 if axis else 1
    order = sorted(found, key=lambda p: (p.group in STACKS, -near * p.centre[1 - axis]))
    for piece in order:
        (x0, z0), (x1, z1) = ((1e3 * end[axis], 1e3 * end[2]) for end in (piece.low, piece.high))
        sheet.rect(x0, z0, x1, z1, STEEL if piece.group in STACKS else
                   OIL if piece.group == "cylinder" else ROD)  # fmt: skip
    sheet.line(0, low - 0.1 * pad, 0, high + 0.1 * pad, dashed=True)
    for stack in press.stacks:
        z = 500 * (stack.load_face + stack.nut_face)
        sheet.words(half + 0.1 * pad, z - 0.3 * sheet.text, stack.name, side="start")
    at = [1e3 * rod.at[axis] for rod in press.rods]
    if max(at) > min(at):
        sheet.across(min(at), max(at), low - 0.4 * pad, low)
    bed = [1e3 * end[axis] for p in press.bed.plates for end in p.bounds]
    sheet.across(min(bed), max(bed), low - 0.9 * pad, 1e3 * press.bed.nut_face)
    faces = sorted(1e3 * z for s in press.stacks for z in (s.load_face, s.nut_face))
    for z0, z1 in pairwise(faces):
        sheet.upright(z0, z1, -half - 0.5 * pad, -half)
    sheet.upright(low, high, -half - 1.3 * pad, min(at))
    made = press.cylinder
    if made is not None and axis == 0:
        face = made.face + made.direction * press.closed_length
        other = press.bed.load_face if made.direction < 0 else press.crosshead.load_face
        z0, z1 = sorted((1e3 * face, 1e3 * other))
        sheet.upright(z0, z1, 500 * made.outer_diameter + 0.35 * pad, 500 * made.ram)
    return sheet


def plan(plate: Plate, press: Press) -> DrawingSheet:
    """One plate seen along its normal, with length, width, holes and their pitch."""
    o = plate.outline
    x0, y0, x1, y1 = (1e3 * v for v in o.box)
    pad = 0.12 * max(x1 - x0, y1 - y0)
    sheet = DrawingSheet((x0 - 2.1 * pad, y0 - 0.5 * pad, x1 + 2.4 * pad, y1 + 1.9 * pad))
    c = 1e3 * o.corner
    if o.corners == "chamfered":
        sheet.polygon([(x0 + c, y0), (x1 - c, y0), (x1, y0 + c), (x1, y1 - c), (x1 - c, y1),
                       (x0 + c, y1), (x0, y1 - c), (x0, y0 + c)])  # fmt: skip
    else:
        sheet.rect(x0, y0, x1, y1, r=c if o.corners == "rounded" else 0)
    for hole in plate.holes:
        _hole(sheet, hole, (x0, y0, x1, y1))
    sheet.across(x0, x1, y1 + 1.4 * pad, y1)
    sheet.upright(y0, y1, x0 - 1.4 * pad, x0)
    round_holes = [h for h in plate.holes if isinstance(h, RoundHole)]
    for axis in (0, 1):
        at = sorted({round(1e3 * h.at[axis], 6) for h in round_holes})
        for a, b in pairwise(at):
            if axis == 0:
                sheet.across(a, b, y1 + 0.6 * pad, y1)
            else:
                sheet.upright(a, b, x0 - 0.6 * pad, x0)
    seen: set[float] = set()
    for hole in sorted(round_holes, key=lambda h: (-h.at[1], -h.at[0])):
        if hole.diameter in seen:
            continue
        seen.add(hole.diameter)
        count = sum(h.diameter == hole.diameter for h in round_holes)
        x, y, r = 1e3 * hole.at[0], 1e3 * hole.at[1], 500 * hole.diameter
        sheet.line(x + 0.7 * r, y + 0.7 * r, x1 + 0.15 * pad, y + 0.7 * r)
        sheet.words(
            x1 + 0.2 * pad, y + 0.7 * r, f"{count} × ⌀{dimension(hole.diameter)}", side="start"
        )
    if o.corners != "straight":
        sheet.words(x1 + 0.2 * pad, y0, f"{o.corners} {dimension(o.corner)}", side="start")
    return sheet


def _hole(sheet: DrawingSheet, hole: object, box: tuple[float, float, float, float]) -> None:
    x0, y0, x1, y1 = box
    if isinstance(hole, RoundHole):
        x, y, r = 1e3 * hole.at[0], 1e3 * hole.at[1], 500 * hole.diameter
        sheet.add("circle", "white", cx=x, cy=-y, r=r)
        sheet.line(x - 1.2 * r, y, x + 1.2 * r, y)
        sheet.line(x, y - 1.2 * r, x, y + 1.2 * r)
    elif isinstance(hole, RectangleHole):
        x, y, a, b = (1e3 * v for v in (*hole.at, hole.length / 2, hole.width / 2))
        sheet.rect(x - a, y - b, x + a, y + b, "white", 1e3 * hole.radius)
        sheet.words(x, y, f"{dimension(hole.length)} × {dimension(hole.width)}")
    elif isinstance(hole, Groove):
        at, w = 1e3 * hole.at, 500 * hole.width
        ends = (x0, at - w, x1, at + w) if hole.along == "x" else (at - w, y0, at + w, y1)
        sheet.rect(*ends, fill="#f4f6f8")
