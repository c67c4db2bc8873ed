"""The parts of a press as frozen records, in place: lengths in m, forces in N, masses in kg.

Coordinates are those of the press: x along the long side, y across, z up, origin on the press axis
at the underside of the bed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from platestack.geometry import tables
from platestack.geometry.cylinder_part import Cylinder, Material
from platestack.geometry.plate import Axis, Pad, Plate
from platestack.geometry.schema.fastening import Connectors
from platestack.geometry.shapes import (
    Gap,
    Patch,
    Point,
    mirror,
)


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
    seat: Literal["none", "inner nuts", "shoulder", "sleeve"] = "none"
    """What the rod is tightened against, on the loaded faces of both stacks."""
    seat_outer: float = 0.0
    """Outer diameter of the annulus on which the seat bears (m)."""
    sleeve_inner: float = 0.0
    between: float = 0.0
    """Distance of the two seats (m)."""
    washer_material: Material | None = None
    """Of its washers, where it is not the rod's."""
    projection: float = 0.0
    """Of the thread beyond each nut, the stacks as high as drawn (m)."""
    thread_length: float = 0.0
    """From each end (m)."""
    deviation: tuple[float, float] = (0.0, 0.0)
    """Least and greatest departure of the height of either stack (m)."""

    @property
    def seat_annulus(self) -> Patch | None:
        """The area on which the seat bears, if there is one."""
        if self.seat == "none":
            return None
        inner = max(self.hole, self.sleeve_inner)
        return Patch("annulus", self.at, self.seat_outer, self.seat_outer, inner)

    @property
    def seated_itself(self) -> bool:
        """Whether its seats are its own, so that each end is tightened against one stack."""
        return self.seat in ("inner nuts", "shoulder")

    @property
    def sleeve_area(self) -> float:
        """Area of the sleeve in m²; 0 where there is none."""
        if self.seat != "sleeve":
            return 0.0
        return math.pi / 4 * (self.seat_outer**2 - self.sleeve_inner**2)

    @property
    def area_between(self) -> float:
        """Area of the rod between its seats in m²: a shouldered rod is thicker there."""
        return math.pi / 4 * self.seat_outer**2 if self.seat == "shoulder" else self.area

    @property
    def nuts(self) -> int:
        """How many nuts the rod has."""
        return 4 if self.seat == "inner nuts" else 2

    @property
    def area(self) -> float:
        """Area of the shank in m²."""
        return math.pi / 4 * self.diameter**2

    @property
    def stiffness(self) -> float:
        """Axial stiffness between the nut-bearing faces, in N/m: EA/L with both nuts in series."""
        return 1 / (self.free_length / (self.material.young * self.area) + 2 * self.end_compliance)

    @property
    def end_compliance(self) -> float:
        """Yielding of one nut and of the thread engaged in it (m/N).

        0.5 d of thread on its core area A3 and 0.4 d of nut on the nominal area (VDI 2230-1:2015,
        5.1.1, not verified against the standard).
        """
        thread = tables.rod_thread(self.thread)
        core, full = math.pi / 4 * thread.d3**2, math.pi / 4 * thread.d**2
        return (0.5 * thread.d / core + 0.4 * thread.d / full) / self.material.young

    @property
    def seat_stiffness(self) -> float:
        """Stiffness of an inner nut on its thread, or of a shoulder (N/m).

        A shoulder yields as 0.5 d of shank does, as the head of a bolt (VDI 2230-1:2015, 5.1.1,
        not verified against the standard).
        """
        if self.seat == "inner nuts":
            return 1 / self.end_compliance
        return self.material.young * self.area / (0.5 * self.diameter)

    def strain(self, nut: float, working: float) -> float:
        """Strain that pressing adds at mid-length, from forces (N) that it adds.

        `nut` is added under the nut, `working` is the rod's part of the pressing force. Seats of
        the rod's own take up the difference from it; a sleeve does so beside it.
        """
        return (working if self.seated_itself else nut) / (self.material.young * self.area_between)

    def stretch(self, nut: float, working: float) -> float:
        """Stretch between the nut-bearing faces (m) that pressing adds, from the same forces."""
        between = self.between if self.seated_itself else 0.0
        ends = nut * (self.free_length - between) / (self.material.young * self.area)
        return ends + self.strain(nut, working) * between

    @property
    def length(self) -> float:
        """Whole length (m)."""
        return self.free_length + 2 * self.reach

    @property
    def reach(self) -> float:
        """From a nut-bearing face to the rod's end: washer, nut and thread beyond it (m)."""
        return self.washer_thickness + self.nut_height + self.projection

    @property
    def engaged(self) -> float:
        """Height of nut that is on the thread where a stack is at its highest (m)."""
        return self.nut_height + min(0.0, self.projection - self.deviation[1])

    @property
    def mass(self) -> float:
        """Mass of the rod without nuts (kg), its threads full to their nominal diameter."""
        ends = min(2 * self.thread_length, self.length)
        more = (self.area_between - self.area) * self.between
        more += (self.threaded_area - self.area) * ends
        return (self.area * self.length + more) * self.material.density

    @property
    def threaded_area(self) -> float:
        """Area of the thread's nominal diameter (m²)."""
        return math.pi / 4 * tables.rod_thread(self.thread).d ** 2

    @property
    def sleeve_mass(self) -> float:
        """Mass of the sleeve (kg); 0 where there is none."""
        return self.sleeve_area * self.between * self.material.density

    @property
    def nut_mass(self) -> float:
        """Mass of one hexagonal nut (kg)."""
        hexagon = math.sqrt(3) / 2 * self.nut_across_flats**2
        return (hexagon - self.threaded_area) * self.nut_height * self.material.density

    @property
    def washer_mass(self) -> float:
        """Mass of one washer (kg)."""
        material = self.washer_material or self.material
        return self.annulus.area * self.washer_thickness * material.density

    @property
    def annulus(self) -> Patch:
        """The area on which nut or washer bears."""
        return Patch("annulus", self.at, self.bearing_outer, self.bearing_outer, self.hole)


@dataclass(frozen=True)
class ClampBolt:
    """A bolt through the plates of a stack.

    Its axis runs along `normal`, at a point of the plates' own plane as of `Plate`; head and nut
    bear on the outermost plates at `low` and `high` (m along `normal`). Under a platen they are
    sunk into it, and bear on the plate all the same.
    """

    name: str
    at: Point
    normal: Axis
    low: float
    high: float
    thread: str
    hole: float
    bearing_outer: float
    """Outer diameter of the annulus under head, nut or washer (m)."""
    preload: float | None
    """As given (N); otherwise what the class allows."""
    property_class: str
    tightening: str
    thread_friction: float

    @property
    def annulus(self) -> Patch:
        """The area on which head, nut or washer bears."""
        return Patch("annulus", self.at, self.bearing_outer, self.bearing_outer, self.hole)

    def mirrored(self, axis: int) -> ClampBolt:
        """Return the bolt reflected in the plane x = 0 (axis 0) or y = 0 (axis 1), unnamed."""
        if axis == 1 and self.normal == "y":
            return replace(self, name="", low=-self.high, high=-self.low)
        return replace(self, name="", at=mirror(self.at, axis))


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
    interface: Literal["welded", "loose", "clamped"]
    """Welded where the stack is a single plate."""
    gap: Gap
    """Initial distance between neighbouring plates that may part."""
    deflection_limit: float
    """Limit of the mid-span deflection (m)."""
    friction: float = 0.0
    """Coefficient between the plates of a clamped stack."""
    bolts: tuple[ClampBolt, ...] = ()
    off: Point = (0.0, 0.0)
    """Where the resultant of the load acts, from the patch's centre (m): the ram pushes in one line
    with what it meets, and its guides turn the stack that holds it."""
    connectors: Connectors | None = None
    """Dowels or seams that carry shear from plate to plate."""
    pads: tuple[Pad, ...] = ()
    """Washers, and the cylinder's end, where they are bodies of the model."""

    @property
    def bodies(self) -> tuple[Plate, ...]:
        """All bodies of the model: the plates, then what presses on them."""
        return (*self.plates, *(pad.body for pad in self.pads))

    @property
    def depth(self) -> float:
        """Height of the stack from loaded face to nut face (m)."""
        return abs(self.nut_face - self.load_face)

    def seat_face(self, annulus: Patch) -> float | None:
        """Height of the outermost flat face on the loaded side that carries all of an annulus (m).

        None where no plate does, or where another plate covers a part of it.
        """
        radius = annulus.length / 2
        faces = [
            (-self.direction * (plate.base if self.direction == 1 else plate.top), plate)
            for plate in self.plates
            if plate.normal == "z" and plate.outline.clearance(annulus.centre) > -radius
        ]
        if not faces:
            return None
        height, outermost = max(faces, key=lambda face: face[0])
        whole = outermost.outline.clearance(annulus.centre, radius) >= 0
        return -self.direction * height if whole else None

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
    def capacity_pressure(self) -> float:
        """Oil pressure (Pa) at which the ram presses with the capacity."""
        efficiency = (self.cylinder.efficiency if self.cylinder else None) or 1.0
        return self.capacity / (math.pi / 4 * self.ram_diameter**2 * efficiency)

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
        """Mass of stacks, rods with nuts, washers and sleeves, and cylinder without oil (kg)."""
        rods = sum(
            rod.mass + rod.sleeve_mass + rod.nuts * rod.nut_mass + 2 * rod.washer_mass
            for rod in self.rods
        )
        cylinder = self.cylinder.mass if self.cylinder else 0.0
        return self.crosshead.mass + self.bed.mass + rods + cylinder
