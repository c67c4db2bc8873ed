"""The parts of a press as frozen records, in place: lengths in m, forces in N, masses in kg.

Coordinates are those of the press: x along the long side, y across, z up, origin on the press axis
at the underside of the bed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from geometry.cylinder_part import Cylinder, Material

__all__ = [
    "Axis",
    "Cylinder",
    "Groove",
    "Hole",
    "Material",
    "Outline",
    "Patch",
    "Plate",
    "Point",
    "Press",
    "RectangleHole",
    "RoundHole",
    "Stack",
    "TieRod",
]

Point = tuple[float, float]
Axis = Literal["y", "z"]


@dataclass(frozen=True)
class Outline:
    """A rectangle about `centre` whose corners may be chamfered or rounded by `corner` (m)."""

    length: float
    width: float
    corners: Literal["straight", "chamfered", "rounded"] = "straight"
    corner: float = 0.0
    centre: Point = (0.0, 0.0)

    @property
    def area(self) -> float:
        """Area in m²."""
        lost = {"straight": 0.0, "chamfered": 2.0, "rounded": 4.0 - math.pi}[self.corners]
        return self.length * self.width - lost * self.corner**2

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest coordinates: (x0, y0, x1, y1)."""
        (x, y), a, b = self.centre, self.length / 2, self.width / 2
        return x - a, y - b, x + a, y + b

    def clearance(self, at: Point, radius: float = 0.0) -> float:
        """Distance from a circle to the nearest edge (m); negative where the circle leaves."""
        x, y = abs(at[0] - self.centre[0]), abs(at[1] - self.centre[1])
        a, b, c = self.length / 2, self.width / 2, self.corner
        distance = min(a - x, b - y)
        if self.corners == "chamfered":
            distance = min(distance, (a + b - c - x - y) / math.sqrt(2))
        elif self.corners == "rounded" and x > a - c and y > b - c:
            distance = min(distance, c - math.hypot(x - a + c, y - b + c))
        return distance - radius


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
        return RoundHole(_mirror(self.at, axis), self.diameter, self.purpose)


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
        return RectangleHole(_mirror(self.at, axis), self.length, self.width, self.radius)


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


Hole = RoundHole | RectangleHole | Groove


@dataclass(frozen=True)
class Plate:
    """A plate in place.

    The outline lies in the plane across `normal`: in (x, y) for a flat plate, in (x, z) for one on
    edge. The plate fills `base` to ``base + thickness`` along its normal. Grooves are cut into the
    face named by `grooved` ("+": the far one along the normal).
    """

    name: str
    role: Literal["plate", "platen", "spacer", "saddle"]
    outline: Outline
    thickness: float
    base: float
    material: Material
    normal: Axis = "z"
    holes: tuple[Hole, ...] = ()
    grooved: Literal["+", "-"] = "+"

    @property
    def top(self) -> float:
        """Far face along the normal (m)."""
        return self.base + self.thickness

    @property
    def volume(self) -> float:
        """Volume in m³; holes neither overlap nor leave the plate (checked when a case is read)."""
        grooves = sum(
            hole.section * (self.outline.length if hole.along == "x" else self.outline.width)
            for hole in self.holes
            if isinstance(hole, Groove)
        )
        return self.volume_of_outline - grooves

    @property
    def volume_of_outline(self) -> float:
        """Volume in m³ with the holes through the plate, but before grooves are milled."""
        through = sum(hole.area for hole in self.holes if not isinstance(hole, Groove))
        return (self.outline.area - through) * self.thickness

    @property
    def mass(self) -> float:
        """Mass in kg."""
        return self.volume * self.material.density

    @property
    def bounds(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Least and greatest corner of the surrounding box (m)."""
        u0, v0, u1, v1 = self.outline.box
        if self.normal == "z":
            return (u0, v0, self.base), (u1, v1, self.top)
        return (u0, self.base, v0), (u1, self.top, v1)

    def mirrored(self, axis: int) -> Plate:
        """Return the plate reflected in the plane x = 0 (axis 0) or y = 0 (axis 1), unnamed."""
        if axis == 1 and self.normal == "y":
            outline, base, holes = self.outline, -self.top, self.holes
        else:
            old = self.outline
            centre = _mirror(old.centre, axis)
            outline = Outline(old.length, old.width, old.corners, old.corner, centre)
            base, holes = self.base, tuple(hole.mirrored(axis) for hole in self.holes)
        return Plate(
            "",
            self.role,
            outline,
            self.thickness,
            base,
            self.material,
            self.normal,
            holes,
            self.grooved,
        )


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
        return Patch(self.shape, _mirror(self.centre, axis), self.length, self.width, self.inner)


@dataclass(frozen=True)
class TieRod:
    """A tie rod with its nuts and washers; the same nut above and below."""

    name: str
    at: Point
    diameter: float
    thread: str
    stress_area: float
    hole: float
    free_length: float
    """Between the two nut-bearing faces (m)."""
    nut_height: float
    nut_across_flats: float
    bearing_outer: float
    """Outer diameter of the annulus under nut or washer (m)."""
    washer_thickness: float
    preload: float
    material: Material
    seat: Literal["none", "sleeve"] = "none"
    """What the rod is tightened against between the stacks."""
    sleeve_outer: float = 0.0
    sleeve_inner: float = 0.0

    @property
    def area(self) -> float:
        """Area of the shank in m²."""
        return math.pi / 4 * self.diameter**2

    @property
    def stiffness(self) -> float:
        """Axial stiffness EA/L between the nut-bearing faces, in N/m."""
        return self.material.young * self.area / self.free_length

    @property
    def length(self) -> float:
        """Whole length, nuts flush with the rod's ends (m)."""
        return self.free_length + 2 * (self.nut_height + self.washer_thickness)

    @property
    def mass(self) -> float:
        """Mass of the rod without nuts (kg), the thread taken as full diameter."""
        return self.area * self.length * self.material.density

    @property
    def nut_mass(self) -> float:
        """Mass of one hexagonal nut (kg)."""
        hexagon = math.sqrt(3) / 2 * self.nut_across_flats**2
        return (hexagon - self.area) * self.nut_height * self.material.density

    @property
    def annulus(self) -> Patch:
        """The area on which nut or washer bears."""
        return Patch("annulus", self.at, self.bearing_outer, self.bearing_outer, self.hole)

    @property
    def sleeve(self) -> Patch:
        """The area with which the sleeve bears on the stacks."""
        inner = max(self.sleeve_inner, self.hole)
        return Patch("annulus", self.at, self.sleeve_outer, self.sleeve_outer, inner)


@dataclass(frozen=True)
class Stack:
    """Crosshead or bed: plates in place, what loads it and what holds it.

    `direction` is the sign along z of the load on the loaded face: +1 for the crosshead (the ram
    pushes it up), −1 for the bed. The nuts bear on the opposite face.
    """

    name: Literal["crosshead", "bed"]
    layout: Literal["flat", "on edge"]
    plates: tuple[Plate, ...]
    direction: Literal[1, -1]
    load_face: float
    """Height z of the loaded face (m)."""
    nut_face: float
    """Height z of the face on which the nuts bear (m)."""
    patch: Patch
    patch_name: Literal["ram", "workpiece"]
    interface: Literal["welded", "loose"]
    gap: float
    """Initial distance between neighbouring plates of a loose stack (m)."""
    deflection_limit: float
    """Limit of the mid-span deflection (m)."""

    @property
    def depth(self) -> float:
        """Height of the stack from loaded face to nut face (m)."""
        return abs(self.nut_face - self.load_face)

    def face_at(self, at: Point) -> float:
        """Height z of the steel nearest to the other stack at a place, platen or plate (m)."""
        over = [p for p in self.plates if p.normal == "z" and p.outline.clearance(at) > 0]
        if self.direction == 1:
            return min((p.base for p in over), default=self.load_face)
        return max((p.top for p in over), default=self.load_face)

    @property
    def mass(self) -> float:
        """Mass in kg."""
        return sum(plate.mass for plate in self.plates)

    @property
    def main_plates(self) -> tuple[Plate, ...]:
        """The plates that carry the bending: no spacers, no saddles."""
        return tuple(plate for plate in self.plates if plate.role in ("plate", "platen"))


@dataclass(frozen=True)
class Press:
    """The whole press in place, and what was assumed to get there."""

    name: str
    capacity: float
    working_pressure: float
    daylight: float
    stroke: float
    ram_diameter: float
    closed_length: float
    """Of cylinder and ram below (above) the face that holds the cylinder, ram in (m)."""
    crosshead: Stack
    bed: Stack
    rods: tuple[TieRod, ...]
    yield_safety_factor: float
    rod_safety_factor: float
    assumed: tuple[tuple[str, str], ...] = ()
    """Key and value of what the case left out."""
    cylinder: Cylinder | None = None

    @property
    def stacks(self) -> tuple[Stack, Stack]:
        """Crosshead and bed."""
        return self.crosshead, self.bed

    @cached_property
    def height(self) -> float:
        """From the lowest to the highest end of the rods (m)."""
        return self.rods[0].length

    @property
    def mass(self) -> float:
        """Mass of stacks, rods and nuts (kg); the cylinder is not included."""
        rods = sum(rod.mass + 2 * rod.nut_mass for rod in self.rods)
        return self.crosshead.mass + self.bed.mass + rods


def _mirror(at: Point, axis: int) -> Point:
    return (-at[0], at[1]) if axis == 0 else (at[0], -at[1])
