"""Pieces of a contour that are neither straight nor round. Lengths in m."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from platestack.geometry.curves import Arc, Line, Point, as_point, through, unit_vector

if TYPE_CHECKING:  # a mistyped key is answered before numpy could be loaded
    import numpy as np

BEZIER = (0.0,) * 4 + (1.0,) * 4
"""Knots of a cubic of Bézier's."""


@dataclass(frozen=True)
class SmoothCurve:
    """A cubic B-spline, clamped at its ends: control points and knots from 0 to 1."""

    controls: tuple[Point, ...]
    knots: tuple[float, ...]

    @classmethod
    def along(cls, points: Sequence[Point]) -> SmoothCurve:
        """The interpolating curve through points, with their chords' lengths as its parameter.

        Third derivatives are continuous next to the ends; three points give a parabola.
        """
        import numpy as np
        from scipy.interpolate import make_interp_spline

        x = np.array(points)
        chords = np.cumsum([0.0, *np.hypot(*np.diff(x, axis=0).T)])
        degree = min(3, len(x) - 1)
        made = make_interp_spline(chords / chords[-1], x, k=degree)
        if degree == 2:  # the same parabola as a cubic
            a, b, c = made.c
            return cls(
                (as_point(a), as_point((a + 2 * b) / 3), as_point((2 * b + c) / 3), as_point(c)),
                BEZIER,
            )
        return cls(tuple(map(as_point, made.c)), tuple(map(float, made.t)))

    @classmethod
    def around(cls, points: Sequence[Point]) -> SmoothCurve:
        """The closed curve through points, smooth at each of them."""
        import numpy as np
        from scipy.interpolate import CubicHermiteSpline, CubicSpline, PPoly, make_interp_spline

        x = np.array([*points, points[0]])
        chords = np.cumsum([0.0, *np.hypot(*np.diff(x, axis=0).T)])
        periodic = CubicSpline(chords / chords[-1], x, bc_type="periodic")
        assert isinstance(periodic, PPoly | CubicHermiteSpline)
        ends = [[(1, periodic(end, 1))] for end in (0.0, 1.0)]
        made = make_interp_spline(periodic.x, x, k=3, bc_type=(ends[0], ends[1]))
        return cls(tuple(map(as_point, made.c)), tuple(map(float, made.t)))

    @cached_property
    def _spline(self) -> Any:
        import numpy as np
        from scipy.interpolate import BSpline

        return BSpline(np.array(self.knots), np.array(self.controls), 3)

    @property
    def start(self) -> Point:
        """Where it begins."""
        return self.controls[0]

    @property
    def end(self) -> Point:
        """Where it ends."""
        return self.controls[-1]

    @cached_property
    def _gauss(self) -> tuple[Any, Any, Any]:
        """Points (n, 2), derivatives (n, 2) and weights (n,): exact for areas, 1e-9 for lengths."""
        import numpy as np

        spans = np.unique(self.knots)
        nodes, weights = np.polynomial.legendre.leggauss(12)
        half = np.diff(spans)[:, None] / 2
        t = ((spans[:-1] + spans[1:])[:, None] / 2 + half * nodes).ravel()
        return self._spline(t), self._spline(t, 1), (half * weights).ravel()

    @property
    def length(self) -> float:
        """Length (m)."""
        import numpy as np

        _, slope, weights = self._gauss
        return float(weights @ np.hypot(*slope.T))

    @property
    def swept(self) -> float:
        """Area swept about the origin (m²)."""
        x, slope, weights = self._gauss
        return float(weights @ (x[:, 0] * slope[:, 1] - x[:, 1] * slope[:, 0])) / 2

    @property
    def least_radius(self) -> float:
        """Least radius of curvature, on the closer of 200 points (m)."""
        import numpy as np

        t = np.linspace(0.0, 1.0, 200)
        (dx, dy), (ddx, ddy) = self._spline(t, 1).T, self._spline(t, 2).T
        bend = np.abs(dx * ddy - dy * ddx) / np.hypot(dx, dy) ** 3
        return float(1 / max(bend.max(), 1e-9))

    @property
    def extremes(self) -> list[Point]:
        """Points among which those of least and greatest coordinates are."""
        import numpy as np

        slope = self._spline.derivative()
        found = [0.0, 1.0]
        for axis in (0, 1):
            from scipy.interpolate import PPoly

            flat = PPoly.from_spline((slope.t, slope.c[:, axis], slope.k)).roots()
            found += [t for t in flat if np.isfinite(t) and 0 < t < 1]
        return [as_point(self._spline(t)) for t in found]

    @property
    def direction_at_start(self) -> Point:
        """Unit vector along it."""
        return unit_vector(self.controls[0], self.controls[1])

    @property
    def direction_at_end(self) -> Point:
        """Unit vector along it."""
        return unit_vector(self.controls[-2], self.controls[-1])

    def flattened(self, within: float) -> np.ndarray:
        """Points (n, 2) of it, whose chords are within a distance (m) of it: |x''| h² / 8."""
        import numpy as np

        spans = np.unique(self.knots)
        found = [0.0]
        for low, high in pairwise(spans):
            bent = np.hypot(*self._spline(np.array([low, high - 1e-12]), 2).T).max()
            count = max(1, math.ceil((high - low) * math.sqrt(bent / (8 * within))))
            found += list(np.linspace(low, high, count + 1)[1:])
        return np.asarray(self._spline(np.array(found)))

    def arcs(self, within: float) -> list[Line | Arc]:
        """Lines and arcs that are within a distance (m) of it, each through three of its points."""
        import numpy as np

        def between(t0: float, t1: float) -> list[Line | Arc]:
            at = self._spline(np.linspace(t0, t1, 5))
            a, _, b, _, c = map(as_point, at)
            pieces = through(a, b, c)
            near = pieces[0]
            if len(pieces) == 1 and not isinstance(near, SmoothCurve):
                if isinstance(near, Arc):
                    off = np.abs(np.hypot(*(at - near.centre).T) - near.radius).max()
                else:
                    off = max(math.dist(p, near.start) + math.dist(p, near.end) - near.length
                              for p in at)  # fmt: skip
                if off < within:
                    return [near]
            half = (t0 + t1) / 2
            return [*between(t0, half), *between(half, t1)]

        spans = np.unique(self.knots)
        return [piece for ends in pairwise(spans) for piece in between(*map(float, ends))]

    def reversed(self) -> SmoothCurve:
        """The other way round."""
        return SmoothCurve(self.controls[::-1], tuple(1.0 - knot for knot in self.knots[::-1]))

    def mapped(self, to: Callable[[Point], Point], turned: bool) -> SmoothCurve:
        """Each point mapped, which no straight map of a spline minds."""
        return SmoothCurve(tuple(map(to, self.controls)), self.knots)


Segment = Line | Arc | SmoothCurve
