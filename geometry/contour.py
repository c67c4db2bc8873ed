"""A closed contour of straight lines, arcs and smooth curves. Lengths in m.

It runs counter-clockwise and touches or crosses itself nowhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from platestack.geometry.curves import Arc, Line, Point, at_place, through
from platestack.geometry.smooth import BEZIER, Segment, SmoothCurve

if TYPE_CHECKING:
    import numpy as np

FLAT = 1e-6
"""How far (m) the polygon that stands for a contour may be from it."""
ROOM = 1e-9
"""Lengths (m) below this are none."""
LEAST_EDGE = 1e-3
"""Shortest line or arc (m): smaller ones are noise of a drawing, and a mesh has no sense there."""


@dataclass(frozen=True)
class Corner:
    """A point of a contour to come.

    To it leads a straight line, an arc by way of `through`, Bézier's cubic with two points of
    `control`, or, where `smooth`, a curve that runs on smoothly; between two straight lines it may
    be rounded by `radius`.
    """

    to: Point
    radius: float = 0.0
    through: Point | None = None
    smooth: bool = False
    control: tuple[Point, Point] | None = None


@dataclass(frozen=True)
class Contour:
    """Segments that end where the next one begins, the last where the first one does."""

    segments: tuple[Segment, ...]

    @cached_property
    def area(self) -> float:
        """Area (m²): ∮ (x dy − y dx) / 2, exact for each segment."""
        return sum(segment.swept for segment in self.segments)

    @cached_property
    def perimeter(self) -> float:
        """Length (m)."""
        return sum(segment.length for segment in self.segments)

    @cached_property
    def points(self) -> np.ndarray:
        """Corners (n, 2) of the polygon that stands for it, within `FLAT`."""
        import numpy as np

        return np.vstack([segment.flattened(FLAT)[:-1] for segment in self.segments])

    @cached_property
    def polygon(self) -> Any:
        """The same as a shapely polygon."""
        from shapely import Polygon

        return Polygon(self.points)

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest coordinates: (x0, y0, x1, y1)."""
        import numpy as np

        ends = np.array([end for segment in self.segments for end in segment.extremes])
        low, high = ends.min(axis=0), ends.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def clearance(self, at: Point) -> float:
        """Distance (m) from a point to the nearest edge; negative outside."""
        from shapely import Point as Spot

        spot = Spot(*at)
        away = float(self.polygon.exterior.distance(spot))
        return away if self.polygon.contains(spot) else -away

    def chords(self, x: np.ndarray) -> np.ndarray:
        """Where lines across at x (n,) run inside: (k, n, 2), from and to y; as long as 0 if less.

        Raises no error beyond the ends; nothing runs inside there.
        """
        import numpy as np

        a, b = self.points, np.roll(self.points, -1, axis=0)
        crossed = (a[:, 0, None] <= x) != (b[:, 0, None] <= x)
        run = np.where(crossed, b[:, 0, None] - a[:, 0, None], 1.0)
        y = a[:, 1, None] + (x - a[:, 0, None]) / run * (b[:, 1] - a[:, 1])[:, None]
        y = np.sort(np.where(crossed, y, np.inf), axis=0)[: max(2, crossed.sum(axis=0).max())]
        pairs = y[: len(y) // 2 * 2].reshape(-1, 2, len(x)).transpose(0, 2, 1)
        middle = (self.box[1] + self.box[3]) / 2
        return np.where(np.isfinite(pairs).all(axis=2, keepdims=True), pairs, middle)

    def vertices(self, within: float) -> list[tuple[float, float, float]]:
        """As lines and arcs: x, y (m) and bulge; curves as arcs within a distance (m) of them.

        The bulge is the tangent of a quarter of the arc's angle to the next vertex, as in DXF.
        """
        found = []
        for segment in self.segments:
            for piece in segment.arcs(within) if isinstance(segment, SmoothCurve) else (segment,):
                bulge = piece.bulge if isinstance(piece, Arc) else 0.0
                found.append((*piece.start, bulge))
        return found

    def grown(self, by: float) -> Contour:
        """The parallel contour at a distance outwards (m), inwards if negative.

        A polygon, within a hundredth of a millimetre, unless it is the contour itself.
        """
        if by == 0:
            return self
        around = self.polygon.buffer(by, join_style="mitre").simplify(10 * FLAT)
        at = [(float(x), float(y)) for x, y in around.exterior.coords]
        sense = 1 if around.exterior.is_ccw else -1
        return Contour(tuple(Line(*ends) for ends in pairwise(at[::sense])))

    def mirrored(self, axis: int) -> Contour:
        """Reflected in the plane where coordinate `axis` is zero."""
        sign = (-1.0, 1.0) if axis == 0 else (1.0, -1.0)
        return self._mapped(lambda p: (sign[0] * p[0], sign[1] * p[1]), turned=True)

    def moved(self, x: float, y: float) -> Contour:
        """Moved by x and y (m)."""
        return self._mapped(lambda p: (round(p[0] + x, 9), round(p[1] + y, 9)), turned=False)

    def with_edges(self, more: float) -> Contour:
        """With a strip (m) more on the straight edges that bound it above and below."""
        _, low, _, high = self.box
        found: list[Segment] = []
        for segment in self.segments:
            away = 0.0
            if isinstance(segment, Line) and segment.start[1] == segment.end[1]:
                away = {low: -more, high: more}.get(segment.end[1], 0.0)
            if away:
                (x0, y), (x1, _) = segment.start, segment.end
                corners = [(x0, y), (x0, y + away), (x1, y + away), (x1, y)]
                found += [Line(*ends) for ends in pairwise(corners)]
            else:
                found.append(segment)
        return Contour(tuple(found))

    def exchanged(self) -> Contour:
        """With x and y exchanged."""
        return self._mapped(lambda p: (p[1], p[0]), turned=True)

    def _mapped(self, to: Any, *, turned: bool) -> Contour:
        """Each point mapped; `turned` says that the map changes the sense of turning."""
        segments = [segment.mapped(to, turned) for segment in self.segments]
        return Contour(
            tuple(s.reversed() for s in reversed(segments)) if turned else tuple(segments)
        )

    @property
    def inner_corners(self) -> Iterator[tuple[Point, float]]:
        """Re-entrant corners: where, and the radius of the rounding (m), 0 where it is sharp."""
        for one, two in pairwise((*self.segments, self.segments[0])):
            (ax, ay), (bx, by) = one.direction_at_end, two.direction_at_start
            if ax * by - ay * bx < -1e-6:
                yield one.end, 0.0
        for segment in self.segments:
            if isinstance(segment, Arc) and not segment.left:
                yield segment.middle, segment.radius


def bulged(vertices: Sequence[tuple[float, float, float]]) -> Contour:
    """The contour of lines and arcs through vertices x, y (m) with their bulges, as of DXF."""
    segments: list[Segment] = []
    for (ax, ay, bulge), (bx, by, _) in pairwise([*vertices, vertices[0]]):
        # The arc rises by `bulge` halves of its chord, to the right of the way.
        top = (ax + bx) / 2 + bulge * (by - ay) / 2, (ay + by) / 2 - bulge * (bx - ax) / 2
        segments += through((ax, ay), top, (bx, by)) if bulge else [Line((ax, ay), (bx, by))]
    return Contour(tuple(segments))


def closed(corners: Sequence[Corner]) -> Contour:
    """The contour through corners, in either sense.

    Raises
    ------
    ValueError
        If it crosses itself, has an edge shorter than `LEAST_EDGE` or a radius with no room.
    """
    if len(corners) < 2 or (len(corners) == 2 and not any(c.through or c.smooth for c in corners)):
        raise ValueError("allowed: three points or more, or two with an arc between")
    return checked(Contour(tuple(_rounded(_pieces(corners)))))


def checked(contour: Contour) -> Contour:
    """The contour, counter-clockwise, lines that go straight on made one.

    Raises a `ValueError` that says what is wrong and where.
    """
    contour = Contour(tuple(_straightened(contour.segments)))
    for segment in contour.segments:
        if segment.length < LEAST_EDGE:
            raise ValueError(
                f"an edge of {1e3 * segment.length:.3g} mm at {at_place(segment.start)}; allowed: "
                f"{1e3 * LEAST_EDGE:.0f} mm or more"
            )
    if not contour.polygon.is_valid:
        from shapely import is_valid_reason

        reason = str(is_valid_reason(contour.polygon))
        x, _, y = reason.partition("[")[2].rstrip("]").partition(" ")
        raise ValueError(f"it crosses or touches itself at {at_place((float(x), float(y)))}")
    if contour.area < 0:
        return Contour(tuple(segment.reversed() for segment in reversed(contour.segments)))
    return contour


def _straightened(segments: Sequence[Segment]) -> list[Segment]:
    """Segments round a contour, lines that go straight on made one."""
    corner = next(
        (i for i, one in enumerate(segments) if not _goes_on(segments[i - 1], one)), 0
    )  # where a line must begin
    found: list[Segment] = []
    for segment in (*segments[corner:], *segments[:corner]):
        if found and _goes_on(found[-1], segment):
            found[-1] = Line(found[-1].start, segment.end)
        else:
            found.append(segment)
    return found


def _goes_on(one: Segment, two: Segment) -> bool:
    """Whether a line goes straight on from another, to a nanometre."""
    if not (isinstance(one, Line) and isinstance(two, Line)):
        return False
    if min(one.length, two.length) == 0:
        return False
    (ax, ay), (bx, by) = one.direction_at_start, two.direction_at_start
    away = abs(ax * by - ay * bx) * min(one.length, two.length)
    return away < ROOM and ax * bx + ay * by > 0


def mirrored(corners: Sequence[Corner], plane: str) -> list[Corner]:
    """Corners of a share, and their images in the planes x = 0 ("x"), y = 0 ("y") or "both"."""
    found = list(corners)
    if plane == "both":  # first in the plane in which they do not begin
        axes = [0, 1] if abs(found[0].to[1]) <= abs(found[-1].to[1]) else [1, 0]
    else:
        axes = ["xy".index(plane)]
    for axis in axes:
        # The way back leads to each point as the way there led on from it.
        images = [
            replace(one, to=_image(one.to, axis),
                    through=after.through and _image(after.through, axis),
                    control=after.control and (_image(after.control[1], axis),
                                               _image(after.control[0], axis)))
            for one, after in zip(found, [*found[1:], Corner((0, 0))], strict=True)
        ]  # fmt: skip
        back = images[::-1]
        if math.dist(back[-1].to, found[0].to) < FLAT:  # the last step leads to the first point
            closing = back.pop()
            found[0] = replace(found[0], through=closing.through, control=closing.control)
        if back and math.dist(back[0].to, found[-1].to) < FLAT:
            back = back[1:]
        found += back
    return found


def _image(at: Point, axis: int) -> Point:
    return (-at[0], at[1]) if axis == 0 else (at[0], -at[1])


def _pieces(corners: Sequence[Corner]) -> list[tuple[Segment, float]]:
    """A segment to each corner, and the radius there; smooth corners in a row are one curve."""
    count = len(corners)
    sharp = [i for i, corner in enumerate(corners) if not corner.smooth]
    if not sharp:
        return [(SmoothCurve.around([corner.to for corner in corners]), 0.0)]
    found: list[tuple[Segment, float]] = []
    for start, end in pairwise([*sharp, sharp[0] + count]):
        run = [corners[i % count] for i in range(start, end + 1)]
        pieces: list[Segment]
        if len(run) > 2:
            pieces = [SmoothCurve.along([corner.to for corner in run])]
        elif run[1].control is not None:
            pieces = [SmoothCurve((run[0].to, *run[1].control, run[1].to), BEZIER)]
        elif run[1].through is not None:
            pieces = [*through(run[0].to, run[1].through, run[1].to)]
        else:
            pieces = [Line(run[0].to, run[1].to)]
        found += [*((piece, 0.0) for piece in pieces[:-1]), (pieces[-1], run[-1].radius)]
    return found


def _rounded(pieces: Sequence[tuple[Segment, float]]) -> list[Segment]:
    """Segments that follow each other round, each with the radius (m) of the rounding at its end.

    Raises
    ------
    ValueError
        If a radius stands where no two lines meet, or has no room.
    """
    segments = [piece for piece, _ in pieces]
    arcs = [
        _round(piece, radius, after)
        for (piece, radius), after in zip(pieces, [*segments[1:], segments[0]], strict=True)
    ]
    found: list[Segment] = []
    for index, segment in enumerate(segments):
        before, after = arcs[index - 1], arcs[index]
        start = before.end if before else segment.start
        end = after.start if after else segment.end
        if before or after:
            along = segment.direction_at_start
            left = (end[0] - start[0]) * along[0] + (end[1] - start[1]) * along[1]
            if left < -ROOM:
                raise ValueError(
                    f"radius at {at_place(segment.end if after else segment.start)}: the edges "
                    "beside it are too short; allowed: a smaller one"
                )
            if left > ROOM:
                found.append(Line(start, end))
        else:
            found.append(segment)
        if after:
            found.append(after)
    return found


def _round(one: Segment, radius: float, two: Segment) -> Arc | None:
    """The arc that rounds the corner between two lines; None where there is none."""
    if radius == 0:
        return None
    if not (isinstance(one, Line) and isinstance(two, Line)):
        raise ValueError(f"radius at {at_place(one.end)}; allowed: where two straight lines meet")
    (ax, ay), (bx, by) = one.direction_at_end, two.direction_at_start
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if abs(turn) < 1e-6:
        raise ValueError(f"radius at {at_place(one.end)}; allowed: where two lines make a corner")
    back = radius * math.tan(abs(turn) / 2)
    sense, (x, y) = math.copysign(1.0, turn), one.end
    start = x - back * ax, y - back * ay
    centre = start[0] - sense * radius * ay, start[1] + sense * radius * ax
    return Arc(start, (x + back * bx, y + back * by), centre, turn > 0)
