"""Drawings of a press as SVG: the elevation, and each plate with its dimensions."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from itertools import pairwise
from typing import Any

from platestack.geometry import bodies, masses
from platestack.geometry.cutting.work import PlateWork
from platestack.geometry.drafting import flat_view, svg
from platestack.geometry.drafting.paper import SCALES
from platestack.geometry.parts import Press
from platestack.geometry.units import dimension

INK, STEEL, ROD, OIL, DIM = "#1c2733", "#dfe5ea", "#b9c4cd", "#e9e2d0", "#1f5d8c"
STACKS = ("bed", "crosshead")
VIEW = 175.0, 90.0
"""Largest drawing of a plate (mm)."""


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


def picture(name: str, drawn: str, make: Callable[..., Any], caption: str) -> Any:
    """Wrap a drawing with its caption, which is also its alternative text."""
    return make(name, drawn.encode(), caption, caption)


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


def plan(work: PlateWork) -> str:
    """One plate with its dimensions, as on its drawing, as SVG."""
    solid = bodies.plate(work)
    for scale in SCALES:
        draft = flat_view(solid, scale)
        x0, y0, x1, y1 = draft.extent
        if x1 - x0 <= VIEW[0] and y1 - y0 <= VIEW[1]:
            break
    return svg(draft, (x0 - 1, y0 - 1, x1 + 1, y1 + 1), f"{work.stack} {work.plate.name}")
