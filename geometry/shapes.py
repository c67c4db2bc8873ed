"""Plane shapes: outlines, holes, and the areas that carry loads. Lengths in m."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from platestack.geometry.contour import Contour
from platestack.geometry.curves import Point

if TYPE_CHECKING:  # a mistyped key is answered before numpy could be loaded
    import numpy as np


@dataclass(frozen=True)
class Outline:
    """A rectangle about `centre` whose corners may be chamfered or rounded by `corner` (m).

    With a `contour` it is that instead, and length, width and centre are those of its box.
    """

    length: float
    width: float
    corners: Literal["straight", "chamfered", "rounded"] = "straight"
    corner: float = 0.0
    centre: Point = (0.0, 0.0)
    contour: Contour | None = None

    @classmethod
    def of(cls, contour: Contour) -> Outline:
        """The outline that a contour is."""
        x0, y0, x1, y1 = contour.box
        return cls(x1 - x0, y1 - y0, centre=((x0 + x1) / 2, (y0 + y1) / 2), contour=contour)

    @property
    def area(self) -> float:
        """Area in m²."""
        if self.contour is not None:
            return self.contour.area
        lost = {"straight": 0.0, "chamfered": 2.0, "rounded": 4.0 - math.pi}[self.corners]
        return self.length * self.width - lost * self.corner**2

    @property
    def mean_width(self) -> float:
        """Width of a rectangle (m), or of one as long and as large as the contour."""
        return self.width if self.contour is None else self.area / self.length

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest coordinates: (x0, y0, x1, y1)."""
        (x, y), a, b = self.centre, self.length / 2, self.width / 2
        return x - a, y - b, x + a, y + b

    def clearance(self, at: Point, radius: float = 0.0) -> float:
        """Distance from a circle to the nearest edge (m); negative where the circle leaves."""
        if self.contour is not None:
            return self.contour.clearance(at) - radius
        x, y = abs(at[0] - self.centre[0]), abs(at[1] - self.centre[1])
        a, b, c = self.length / 2, self.width / 2, self.corner
        distance = min(a - x, b - y)
        if self.corners == "chamfered":
            distance = min(distance, (a + b - c - x - y) / math.sqrt(2))
        elif self.corners == "rounded" and x > a - c and y > b - c:
            distance = min(distance, c - math.hypot(x - a + c, y - b + c))
        return distance - radius

    def mirrored(self, axis: int) -> Outline:
        """Return the outline reflected in the plane where coordinate `axis` is zero."""
        if self.contour is not None:
            return Outline.of(self.contour.mirrored(axis))
        return replace(self, centre=mirror(self.centre, axis))

    def moved(self, x: float, y: float) -> Outline:
        """Return the outline moved by x and y (m), to the nanometre."""
        if self.contour is not None:
            return Outline.of(self.contour.moved(x, y))
        return replace(self, centre=_moved(self.centre, x, y))

    def with_edges(self, more: float) -> Outline:
        """Return the outline with more steel (m) on its upper and lower edge, to be machined."""
        if self.contour is None:
            return replace(self, width=self.width + 2 * more)
        return Outline.of(self.contour.with_edges(more))

    def exchanged(self) -> Outline:
        """Return the outline with x and y exchanged."""
        if self.contour is not None:
            return Outline.of(self.contour.exchanged())
        return Outline(self.width, self.length, self.corners, self.corner, self.centre[::-1])


@dataclass(frozen=True)
class RoundHole:
    """A round hole through a plate."""

    at: Point
    diameter: float
    purpose: str = "opening"

    @property
    def area(self) -> float:
        """Area in m²."""
        return math.pi / 4 * self.diameter**2

    def mirrored(self, axis: int) -> RoundHole:
        """Return the hole reflected in the plane where coordinate `axis` is zero."""
        return RoundHole(mirror(self.at, axis), self.diameter, self.purpose)

    def moved(self, x: float, y: float) -> RoundHole:
        """Return the hole moved by x and y (m), to the nanometre."""
        return replace(self, at=_moved(self.at, x, y))


@dataclass(frozen=True)
class RectangleHole:
    """A rectangular hole through a plate, corners rounded by `radius`."""

    at: Point
    length: float
    width: float
    radius: float = 0.0

    @property
    def area(self) -> float:
        """Area in m²."""
        return self.length * self.width - (4 - math.pi) * self.radius**2

    def mirrored(self, axis: int) -> RectangleHole:
        """Return the hole reflected in the plane where coordinate `axis` is zero."""
        return RectangleHole(mirror(self.at, axis), self.length, self.width, self.radius)

    def moved(self, x: float, y: float) -> RectangleHole:
        """Return the hole moved by x and y (m), to the nanometre."""
        return replace(self, at=_moved(self.at, x, y))


@dataclass(frozen=True)
class ContourHole:
    """A hole of any contour through a plate."""

    contour: Contour

    @property
    def at(self) -> Point:
        """Centre of its box."""
        x0, y0, x1, y1 = self.contour.box
        return (x0 + x1) / 2, (y0 + y1) / 2

    @property
    def length(self) -> float:
        """Of its box along x (m)."""
        return self.contour.box[2] - self.contour.box[0]

    @property
    def width(self) -> float:
        """Of its box along y (m)."""
        return self.contour.box[3] - self.contour.box[1]

    @property
    def area(self) -> float:
        """Area in m²."""
        return self.contour.area

    def mirrored(self, axis: int) -> ContourHole:
        """Return the hole reflected in the plane where coordinate `axis` is zero."""
        return ContourHole(self.contour.mirrored(axis))

    def moved(self, x: float, y: float) -> ContourHole:
        """Return the hole moved by x and y (m), to the nanometre."""
        return ContourHole(self.contour.moved(x, y))


@dataclass(frozen=True)
class Groove:
    """A groove across the whole loaded face of a plate; with a head it is a T-slot.

    `depth` is the whole depth; the head (`head_width` wide) takes up the lowest `head_depth`.
    """

    along: Literal["x", "y"]
    at: float
    width: float
    depth: float
    head_width: float = 0.0
    head_depth: float = 0.0

    @property
    def section(self) -> float:
        """Area of the cross-section in m²."""
        return self.width * (self.depth - self.head_depth) + self.head_width * self.head_depth

    @property
    def reach(self) -> float:
        """Half of the greatest width (m)."""
        return max(self.width, self.head_width) / 2

    def mirrored(self, axis: int) -> Groove:
        """Return the groove reflected in the plane where coordinate `axis` is zero."""
        across = 1 if self.along == "x" else 0
        at = -self.at if axis == across else self.at
        return Groove(self.along, at, self.width, self.depth, self.head_width, self.head_depth)


Through = RoundHole | RectangleHole | ContourHole
Hole = Through | Groove


@dataclass(frozen=True)
class Patch:
    """An area of a face that carries a load: a disc, an annulus or a rectangle."""

    shape: Literal["disc", "annulus", "rectangle"]
    centre: Point
    length: float
    """Outer diameter, or length along x (m)."""
    width: float
    """Outer diameter again, or width along y (m)."""
    inner: float = 0.0
    """Inner diameter of an annulus (m)."""

    @property
    def area(self) -> float:
        """Area in m²."""
        if self.shape == "rectangle":
            return self.length * self.width
        return math.pi / 4 * (self.length**2 - self.inner**2)

    def mirrored(self, axis: int) -> Patch:
        """Return the patch reflected in the plane where coordinate `axis` is zero."""
        return Patch(self.shape, mirror(self.centre, axis), self.length, self.width, self.inner)


def _moved(at: Point, x: float, y: float) -> Point:
    return round(at[0] + x, 9), round(at[1] + y, 9)


def mirror(at: Point, axis: int) -> Point:
    """Reflect a point in the plane where coordinate `axis` is zero."""
    return (-at[0], at[1]) if axis == 0 else (at[0], -at[1])


@dataclass(frozen=True)
class Gap:
    """Distance between neighbouring plates before anything presses: lengths in m.

    `uniform` all over; `bow` over the stack's `length` along x, as a parabola: positive where
    they touch at their ends, negative where they touch in the middle; waves along x, `wave_length`
    long and `waviness` high from crest to trough, a crest touching at x = 0.
    """

    uniform: float = 0.0
    bow: float = 0.0
    length: float = 1.0
    waviness: float = 0.0
    wave_length: float = 1.0

    def __bool__(self) -> bool:
        """Whether there is any."""
        return any((self.uniform, self.bow, self.waviness))

    def at(self, x: np.ndarray, reach: np.ndarray) -> np.ndarray:
        """Distance (m) at places x (m) of an interface that reaches out to ±`reach`."""
        import numpy as np

        from_middle, from_end = x**2, reach**2 - x**2
        bowed = self.bow * from_end if self.bow > 0 else -self.bow * from_middle
        waves = self.waviness / 2 * (1 - np.cos(2 * np.pi / self.wave_length * x))
        return np.asarray(self.uniform + bowed / (self.length / 2) ** 2 + waves)
