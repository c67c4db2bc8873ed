"""Pieces of a contour: straight lines, and arcs of less than half a turn. Lengths in m."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # a mistyped key is answered before numpy could be loaded
    import numpy as np

Point = tuple[float, float]
STRAIGHT = 1e-6
"""Part of its chord by which an arc must rise at the least; below that it is a line."""


@dataclass(frozen=True)
class Line:
    """A straight line."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """Length (m)."""
        return math.dist(self.start, self.end)

    @property
    def swept(self) -> float:
        """Area swept about the origin, ∫ (x dy − y dx) / 2 (m²), positive where to the left."""
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 * y1 - x1 * y0) / 2

    @property
    def extremes(self) -> list[Point]:
        """Points among which those of least and greatest coordinates are."""
        return [self.start, self.end]

    @property
    def direction_at_start(self) -> Point:
        """Unit vector along it."""
        return unit_vector(self.start, self.end)

    direction_at_end = direction_at_start

    def flattened(self, within: float) -> np.ndarray:
        """Points (n, 2) of it, whose chords are within a distance (m) of it."""
        import numpy as np

        return np.array([self.start, self.end])

    def reversed(self) -> Line:
        """The other way round."""
        return Line(self.end, self.start)

    def mapped(self, to: Callable[[Point], Point], turned: bool) -> Line:
        """Each point mapped; `turned` says that left becomes right."""
        return Line(to(self.start), to(self.end))


@dataclass(frozen=True)
class Arc:
    """An arc of less than half a turn about `centre`; `left` where it turns to the left."""

    start: Point
    end: Point
    centre: Point
    left: bool

    @property
    def radius(self) -> float:
        """Radius (m)."""
        return math.dist(self.centre, self.start)

    least_radius = radius

    @property
    def turn(self) -> float:
        """Angle (rad), positive to the left."""
        half = math.asin(min(1.0, math.dist(self.start, self.end) / 2 / self.radius))
        return 2 * half if self.left else -2 * half

    @property
    def length(self) -> float:
        """Length (m)."""
        return abs(self.turn) * self.radius

    @property
    def swept(self) -> float:
        """Area swept about the origin (m²): the chord's, and the segment between."""
        more = self.radius**2 * (self.turn - math.sin(self.turn)) / 2
        return Line(self.start, self.end).swept + more

    @property
    def bulge(self) -> float:
        """Tangent of a quarter of the angle, as DXF has it."""
        return math.tan(self.turn / 4)

    @property
    def middle(self) -> Point:
        """Halfway along it."""
        return self.at(0.5)

    def at(self, part: float) -> Point:
        """The point after a part of its length."""
        turned, (x, y), (cx, cy) = part * self.turn, self.start, self.centre
        c, s = math.cos(turned), math.sin(turned)
        return (cx + c * (x - cx) - s * (y - cy), cy + s * (x - cx) + c * (y - cy))

    @property
    def extremes(self) -> list[Point]:
        """Points among which those of least and greatest coordinates are."""
        (cx, cy), r = self.centre, self.radius
        first = math.atan2(self.start[1] - cy, self.start[0] - cx)
        found = [self.start, self.end]
        for quarter in range(4):
            away = (quarter * math.pi / 2 - first) * (1 if self.left else -1) % (2 * math.pi)
            if away < abs(self.turn):
                dx, dy = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
                found.append((cx + r * dx, cy + r * dy))
        return found

    @property
    def direction_at_start(self) -> Point:
        """Unit vector along it."""
        return self._tangent(self.start)

    @property
    def direction_at_end(self) -> Point:
        """Unit vector along it."""
        return self._tangent(self.end)

    def _tangent(self, at: Point) -> Point:
        sign = 1 if self.left else -1
        return (-sign * (at[1] - self.centre[1]) / self.radius,
                sign * (at[0] - self.centre[0]) / self.radius)  # fmt: skip

    def flattened(self, within: float) -> np.ndarray:
        """Points (n, 2) of it, whose chords are within a distance (m) of it."""
        import numpy as np

        step = 2 * math.acos(max(0.0, 1 - within / self.radius))
        count = max(1, math.ceil(abs(self.turn) / step))
        inner = [self.at(k / count) for k in range(1, count)]
        return np.array([self.start, *inner, self.end])

    def reversed(self) -> Arc:
        """The other way round."""
        return Arc(self.end, self.start, self.centre, not self.left)

    def mapped(self, to: Callable[[Point], Point], turned: bool) -> Arc:
        """Each point mapped; `turned` says that left becomes right."""
        return Arc(to(self.start), to(self.end), to(self.centre), self.left != turned)


def through(start: Point, by: Point, end: Point) -> list[Line | Arc]:
    """The arc from one point by way of another to a third, in parts of less than half a turn.

    Raises
    ------
    ValueError
        If two of the points are the same.
    """
    (ax, ay), (bx, by_), (cx, cy) = start, by, end
    chord = math.dist(start, end)
    twice = (bx - ax) * (cy - ay) - (by_ - ay) * (cx - ax)  # twice the triangle's area
    if min(math.dist(start, by), math.dist(by, end), chord) == 0:
        raise ValueError("an arc's start, end and the point between must be three")
    if abs(twice) <= STRAIGHT * chord**2:
        return [Line(start, end)]
    b2, c2 = (bx - ax) ** 2 + (by_ - ay) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2
    ux = ((cy - ay) * b2 - (by_ - ay) * c2) / (2 * twice)
    uy = ((bx - ax) * c2 - (cx - ax) * b2) / (2 * twice)
    centre, left = (ax + ux, ay + uy), twice > 0
    sense = 1 if left else -1
    angles = [math.atan2(y - centre[1], x - centre[0]) for x, y in (start, end)]
    turn = sense * (angles[1] - angles[0]) % (2 * math.pi)
    count = 1 if turn < 0.95 * math.pi else math.ceil(turn / (math.pi / 2) - 1e-9)
    radius = math.hypot(ux, uy)
    ends = [start, *(
        (centre[0] + radius * math.cos(angles[0] + sense * turn * k / count),
         centre[1] + radius * math.sin(angles[0] + sense * turn * k / count))
        for k in range(1, count)), end]  # fmt: skip
    return [Arc(a, b, centre, left) for a, b in pairwise(ends)]


def at_place(at: Point) -> str:
    """A point in words: "(12.5, 300) mm"."""
    return f"({1e3 * at[0]:.6g}, {1e3 * at[1]:.6g}) mm"


def unit_vector(start: Point, end: Point) -> Point:
    """Direction from one point to another."""
    away = math.dist(start, end)
    return (end[0] - start[0]) / away, (end[1] - start[1]) / away


def as_point(x: Any) -> Point:
    """Two numbers of an array as a point."""
    return float(x[0]), float(x[1])
