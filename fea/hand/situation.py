"""A stack bent as a beam along x: what the estimates of other effects start from."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from platestack.fea.hand import section
from platestack.fea.hand.bending import Curve, Load, bend, supports
from platestack.geometry.parts import Patch, Plate, Stack, TieRod
from platestack.geometry.shapes import ContourHole, Groove, RectangleHole, RoundHole, Through


@dataclass(frozen=True)
class Effect:
    """One thing that beam theory leaves out."""

    name: str
    value: float
    """What it adds to the mid-span deflection (m)."""
    spread: float
    """How far the value may be off, either way (m)."""
    reason: str


@dataclass(frozen=True)
class Situation:
    """A stack bent as a beam along x: what all estimates start from."""

    stack: Stack
    rods: tuple[TieRod, ...]
    force: float
    welded: bool
    curve: Curve

    @cached_property
    def opening(self) -> float:
        """Width along x of the hole that opens in the loaded face at the axis (m), or 0."""
        hole = _hole_at_axis(self.loaded_plate)
        if hole is None:
            return 0.0
        return hole.diameter if isinstance(hole, RoundHole) else hole.length

    @property
    def reading(self) -> float:
        """Distance from the press axis at which the deflection is read (m).

        0, or where a hole opens in the loaded face at the axis, the nearest steel; the inner edge
        of an annular patch where that is farther.
        """
        hole = _hole_at_axis(self.loaded_plate)
        return max(_to_its_edge(hole), self.stack.patch.inner / 2) if hole else 0.0

    @property
    def deflection(self) -> float:
        """Of the beam, at the reading (m)."""
        return self.read(self.curve)

    @property
    def length(self) -> float:
        """Of the beam, end to end (m)."""
        return float(self.curve.x[-1] - self.curve.x[0])

    @property
    def plates(self) -> tuple[Plate, ...]:
        """The plates that bend along x."""
        return section.bending_plates(self.stack.plates)

    @property
    def depth(self) -> float:
        """Of the section that bends: from lowest to highest if welded, else of the deepest (m)."""
        low = [plate.bounds[0][2] for plate in self.plates]
        high = [plate.bounds[1][2] for plate in self.plates]
        if self.welded:
            return max(high) - min(low)
        return max(top - bottom for bottom, top in zip(low, high, strict=True))

    @property
    def loads(self) -> tuple[Load, ...]:
        """The load on the stack."""
        return (Load(self.stack.patch, self.force),)

    def read(self, curve: Curve) -> float:
        """Deflection of a curve at the reading, the mean of both sides (m)."""
        return (curve.at(self.reading) + curve.at(-self.reading)) / 2

    def on(self, rods: tuple[TieRod, ...]) -> Situation:
        """The same stack on some of its rods."""
        held = supports(rods)
        return replace(
            self, rods=rods, curve=bend(self.plates, self.loads, held, welded=self.welded)
        )

    def along(self, plates: Iterable[Plate], leaves: tuple[Plate, ...] = ()) -> Curve:
        """Bend plates, and loose leaves with them, along x under the same load on the same rods."""
        held = supports(self.rods)
        return bend(tuple(plates), self.loads, held, welded=self.welded, leaves=leaves)

    def across(self, plates: Iterable[Plate]) -> Curve:
        """Bend flat plates along y under the same load on the same rods."""
        held = supports(replace(rod, at=rod.at[::-1]) for rod in self.rods)
        load = Load(turned(self.stack.patch), self.force)
        return bend(
            tuple(section.turned(plate) for plate in plates),
            (load,),
            held,
            welded=self.welded,
            guided=len(held) == 1,
        )

    @cached_property
    def curve_across(self) -> Curve:
        """A flat stack bent along y."""
        return self.across(self.plates)

    @property
    def loaded_plate(self) -> Plate:
        """The plate on which the patch lies."""
        return min(self.plates, key=lambda p: _distance(p, self.stack.load_face))

    @property
    def nut_plate(self) -> Plate:
        """The plate on which the nuts bear."""
        return min(self.stack.plates, key=lambda p: _distance(p, self.stack.nut_face))

    @property
    def upright(self) -> tuple[Plate, ...]:
        """The plates that stand on edge."""
        return tuple(p for p in self.stack.plates if p.normal == "y" and p.role == "plate")

    @property
    def solid(self) -> float:
        """Share of the width that is steel: less than 1 for upright plates with gaps."""
        if not self.upright:
            return 1.0
        width = max(p.top for p in self.upright) - min(p.base for p in self.upright)
        return sum(p.thickness for p in self.upright) / width


def turned(patch: Patch) -> Patch:
    """Return the patch with x and y exchanged."""
    return Patch(patch.shape, patch.centre[::-1], patch.width, patch.length, patch.inner)


def _distance(plate: Plate, face: float) -> float:
    """From the nearer horizontal face of a plate to a height (m)."""
    low, high = plate.bounds[0][2], plate.bounds[1][2]
    return min(abs(low - face), abs(high - face))


def _to_its_edge(hole: Through) -> float:
    """Distance from the axis to the edge of the hole around it (m)."""
    x, y = hole.at
    if isinstance(hole, ContourHole):
        return hole.contour.clearance((0.0, 0.0))
    if isinstance(hole, RoundHole):
        return hole.diameter / 2 - math.hypot(x, y)
    return min(hole.length / 2 - abs(x), hole.width / 2 - abs(y))


def _hole_at_axis(plate: Plate) -> Through | None:
    """Return the hole of a flat plate that opens at the press axis."""
    if plate.normal != "z":
        return None
    for hole in plate.holes:
        if isinstance(hole, Groove):
            continue
        x, y = abs(hole.at[0]), abs(hole.at[1])
        if isinstance(hole, ContourHole) and hole.contour.clearance((0.0, 0.0)) > 0:
            return hole
        if isinstance(hole, RoundHole) and math.hypot(x, y) < hole.diameter / 2:
            return hole
        if isinstance(hole, RectangleHole) and x < hole.length / 2 and y < hole.width / 2:
            return hole
    return None
