"""What a part is, for its drawing: turned about an axis, or a contour of some thickness. In m."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import Literal

from platestack.geometry.contour import Contour, bulged

Vertex = tuple[float, float, float]
"""x, y (m) and bulge: the tangent of a quarter of the arc's angle to the next vertex."""


@dataclass(frozen=True)
class Step:
    """A length of one diameter, outside or inside; inside, a diameter of 0 is solid."""

    diameter: float
    length: float
    fit: str = ""
    """Tolerance class, ISO 286-2."""
    thread: str = ""
    """Designation with its class; the diameter is the nominal one."""
    pitch: float = 0.0
    words: str = ""
    """What is to be known of the surface, such as its roughness."""


@dataclass(frozen=True)
class Turned:
    """A part turned about its axis: steps from left to right, and of its bore, if it has one.

    Lengths that are dimensioned go from one face to another; they are numbered as `stations`.
    `chamfers` (legs, at 45°) break the outer edges of the left and the right end; the volume is
    that before edges are broken and threads are cut.
    """

    outside: tuple[Step, ...]
    inside: tuple[Step, ...] = ()
    lengths: tuple[tuple[float, float], ...] = ()
    """Pairs of stations (m from the left face) to be dimensioned besides the whole length."""
    chamfers: tuple[float, float] = (0.0, 0.0)
    lead_in: tuple[float, float] = (0.0, 0.0)
    """Length and angle (degrees) of a chamfer of the bore at its right end."""

    @cached_property
    def length(self) -> float:
        """Whole length (m)."""
        return sum(step.length for step in self.outside)

    @property
    def volume(self) -> float:
        """Volume (m³)."""
        areas = (s.diameter**2 * s.length for s in self.outside)
        return math.pi / 4 * (sum(areas) - sum(s.diameter**2 * s.length for s in self.inside))

    @property
    def dimensioned(self) -> tuple[tuple[float, float], ...]:
        """All lengths that are dimensioned: those wished, or each face from the nearer end."""
        whole = (0.0, self.length)
        if self.lengths:
            return (*self.lengths, whole)
        inner = {round(x, 9) for steps in (self.outside, self.inside) for x in stations(steps)}
        half = self.length / 2
        return (*((0.0, x) if x <= half else (x, self.length) for x in sorted(inner)
                  if 1e-9 < x < self.length - 1e-9), whole)  # fmt: skip


def stations(steps: tuple[Step, ...]) -> list[float]:
    """Places of all faces of some steps, from the left one (m)."""
    return [0.0, *accumulate(step.length for step in steps)]


@dataclass(frozen=True)
class Opening:
    """An opening through a flat part: a circle, a rectangle with rounded corners, a contour."""

    at: tuple[float, float]
    diameter: float = 0.0
    length: float = 0.0
    width: float = 0.0
    radius: float = 0.0
    thread: str = ""
    """Designation with its class; the diameter is the nominal one."""
    words: str = ""
    """How it is made, its fit."""
    contour: tuple[Vertex, ...] = ()
    """From its middle, where it is neither; length and width are those of its box."""

    @property
    def area(self) -> float:
        """Area (m²)."""
        if self.contour:
            return bulged(self.contour).area
        if self.diameter:
            return math.pi / 4 * self.diameter**2
        return self.length * self.width - (4 - math.pi) * self.radius**2


@dataclass(frozen=True)
class Slot:
    """A slot across the whole face towards the eye, along x or y; with a head, a T-slot."""

    along: str
    at: float
    width: float
    depth: float
    head_width: float = 0.0
    head_depth: float = 0.0

    @property
    def section(self) -> float:
        """Area of its cross-section (m²)."""
        return self.width * (self.depth - self.head_depth) + self.head_width * self.head_depth


@dataclass(frozen=True)
class FlatPart:
    """A contour of some thickness about its middle, with openings and slots."""

    contour: tuple[Vertex, ...]
    thickness: float
    openings: tuple[Opening, ...] = ()
    slots: tuple[Slot, ...] = ()
    corner: str = ""
    """What its corners are, with their size after it."""
    corner_size: float = 0.0
    form: Literal["", "hexagon", "round"] = ""
    """Dimensioned across flats or by its diameter, instead of by length and width."""

    @cached_property
    def _around(self) -> Contour:
        return bulged(self.contour)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest x and y: x0, y0, x1, y1 (m)."""
        digits = 5 if self.corner == "free" else 12  # arcs stand for curves: to 0.01 mm
        x0, y0, x1, y1 = (round(v, digits) for v in self._around.box)
        return x0, y0, x1, y1

    @property
    def area(self) -> float:
        """Area within the contour (m²)."""
        return self._around.area

    @property
    def volume(self) -> float:
        """Volume (m³)."""
        x0, y0, x1, y1 = self.box
        slots = sum(s.section * ((x1 - x0) if s.along == "x" else (y1 - y0)) for s in self.slots)
        through = sum(opening.area for opening in self.openings)
        return (self.area - through) * self.thickness - slots
