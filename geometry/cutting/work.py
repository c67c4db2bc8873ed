"""What is cut, bored, drilled and milled on each plate. Lengths in m, masses in kg.

Thermal cutting cannot make holes that are narrow for their depth: the flame or arc washes out and
the wall tapers. Common practice, no source: a hole is used as cut from a diameter of one plate
thickness upwards by oxyfuel, one and a half by plasma; from half a thickness it is cut undersize
and bored; below that only its centre is marked, and it is drilled. A hole that something must pass
is bored too where what tolerances leave of it as cut is too narrow (`tolerance.passage`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from platestack.geometry.cutting.tolerance import (
    EASE,
    HoleFit,
    fit,
    flat_enough,
    least_allowance,
    passage,
)
from platestack.geometry.heights import machined_faces
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Cutting
from platestack.geometry.shapes import (
    ContourHole,
    Groove,
    Outline,
    RectangleHole,
    RoundHole,
    Through,
)
from platestack.geometry.units import dimension, quantity

AS_CUT = {"oxyfuel": 1.0, "plasma": 1.5}
"""Least diameter over thickness of a hole that is used as cut."""
ROUGH = 0.5
"""Least diameter over thickness of a hole that can be cut at all."""
Way = Literal["cut", "bored", "drilled"]


@dataclass(frozen=True)
class HoleWork:
    """How one opening is made: its finished shape, and the shape to cut before, if any."""

    finished: Through
    way: Way
    cut: Through | None
    passes: float = 0.0
    """Diameter of what must pass it (m); 0 if nothing is known to."""
    passage: float | None = None
    """What is left for it of the hole as cut, at worst (m)."""


@dataclass(frozen=True)
class PlateWork:
    """All work on one plate."""

    number: str
    stack: str
    plate: Plate
    blank: Outline
    """Outline as cut."""
    holes: tuple[HoleWork, ...]
    milled: tuple[str, ...]
    """What is machined on faces and edges, in words."""
    milled_area: float
    """Of those faces and edges (m²)."""
    fit: HoleFit

    @property
    def slots(self) -> tuple[Groove, ...]:
        """Grooves and T-slots, which are milled."""
        return tuple(hole for hole in self.plate.holes if isinstance(hole, Groove))

    @cached_property
    def cut_length(self) -> float:
        """Length of all cuts, without lead-ins (m)."""
        cuts = (work.cut for work in self.holes if work.cut is not None)
        return perimeter(self.blank) + sum(perimeter(cut) for cut in cuts)

    @property
    def pierces(self) -> int:
        """How often the cut starts anew."""
        return 1 + sum(work.cut is not None for work in self.holes)

    @property
    def machined_area(self) -> float:
        """Machined surface: faces, edges, walls of bored and drilled holes, slots (m²)."""
        t, (x0, y0, x1, y1) = self.plate.thickness, self.plate.outline.box
        walls = sum(perimeter(work.finished) * t for work in self.holes if work.way != "cut")
        slots = sum(
            ((x1 - x0) if slot.along == "x" else (y1 - y0))
            * (2 * slot.depth + max(slot.width, slot.head_width))
            for slot in self.slots
        )
        return self.milled_area + walls + slots

    @property
    def stock_mass(self) -> float:
        """Mass of the rectangle that encloses the blank, as thick as bought (kg)."""
        box = self.blank.length * self.blank.width
        return box * self.plate.bought * self.plate.material.density


def perimeter(shape: Outline | Through) -> float:
    """Length of the edge of a shape (m)."""
    contour = getattr(shape, "contour", None)
    if contour is not None:
        return float(contour.perimeter)
    if isinstance(shape, RoundHole):
        return math.pi * shape.diameter
    assert not isinstance(shape, ContourHole)
    straight = 2 * (shape.length + shape.width)
    if isinstance(shape, RectangleHole):
        return straight - (8 - 2 * math.pi) * shape.radius
    lost = {"straight": 0.0, "chamfered": 8 - 4 * math.sqrt(2), "rounded": 8 - 2 * math.pi}
    return straight - lost[shape.corners] * shape.corner


def plan(press: Press, cutting: Cutting) -> tuple[PlateWork, ...]:
    """The work on every plate, numbered B01… for the bed and C01… for the crosshead."""
    return tuple(
        _plate(f"{stack.name[0].upper()}{index + 1:02d}", press, stack, plate, cutting)
        for stack in (press.bed, press.crosshead)
        for index, plate in enumerate(stack.plates)
    )


def alike(works: Iterable[PlateWork]) -> list[list[PlateWork]]:
    """Plates of a stack in groups that are the same part, wherever they stand."""
    groups: dict[object, list[PlateWork]] = {}
    for work in works:
        plate = work.plate
        key = (work.stack, plate.role, plate.shape, plate.thickness, plate.bought,
               plate.material.grade, plate.normal, plate.grooved, work.milled)  # fmt: skip
        groups.setdefault(key, []).append(work)
    return list(groups.values())


def _plate(number: str, press: Press, stack: Stack, plate: Plate, cutting: Cutting) -> PlateWork:
    through = [hole for hole in plate.holes if not isinstance(hole, Groove)]
    round_holes = [hole for hole in through if isinstance(hole, RoundHole)]
    rough = replace(plate, thickness=plate.bought)  # what is cut
    holes = []
    for hole in through:
        like = [h for h in round_holes if h.purpose == getattr(hole, "purpose", "")]
        pitch = max((math.dist(hole.at, h.at) for h in like), default=0.0)
        holes.append(hole_work(hole, rough.thickness, cutting, _passing(hole, press), pitch))
    words, area, blank = _milled(stack, plate, cutting)
    asked = [
        least_allowance(work.cut.diameter, rough.thickness, _reach(work, holes), cutting)
        for work in holes
        if work.way == "bored" and isinstance(work.cut, RoundHole)
    ]
    if blank.width > plate.outline.width:
        asked.append(least_allowance(blank.width, rough.thickness, 0.0, cutting))
    flat = flat_enough(plate, stack, press.capacity)
    tolerances = fit(rough, cutting, tuple(asked), flat)
    return PlateWork(number, stack.name, plate, blank, tuple(holes), words, area, tolerances)


def _passing(hole: Through, press: Press) -> float:
    """Diameter of what goes through a hole (m); a clamp bolt is nine tenths of its hole."""
    purpose = getattr(hole, "purpose", "")
    if purpose == "rod":
        return press.rods[0].diameter
    return 0.9 * hole.diameter if isinstance(hole, RoundHole) and purpose == "clamp bolt" else 0.0


def _reach(work: HoleWork, others: list[HoleWork]) -> float:
    """Distance to the farthest bored hole (m): they are bored at their true places."""
    places = (other.finished.at for other in others if other.way == "bored")
    return max((math.dist(work.finished.at, at) for at in places), default=0.0)


def hole_work(
    hole: Through, thickness: float, cutting: Cutting,
    passes: float = 0.0, pitch: float = 0.0,
) -> HoleWork:  # fmt: skip
    """Decide how a hole is made: by its least width over the plate's thickness, and by its fit.

    `passes` is the diameter of what must pass it, `pitch` the largest distance to a like hole (m).
    """
    if not isinstance(hole, RoundHole):
        return HoleWork(hole, "cut", hole)
    left = passage(hole.diameter, thickness, pitch, cutting) if passes > 0 else None
    wide = hole.diameter >= AS_CUT[cutting.process] * thickness * (1 - 1e-9)
    fits = passes == 0 or (left is not None and left >= passes + EASE)
    if wide and fits:
        return HoleWork(hole, "cut", hole, passes, left)
    pilot = hole.diameter - 2 * cutting.allowance
    if pilot >= ROUGH * thickness:
        return HoleWork(hole, "bored", replace(hole, diameter=pilot), passes, left)
    return HoleWork(hole, "drilled", None, passes, left)


def _milled(stack: Stack, plate: Plate, cutting: Cutting) -> tuple[tuple[str, ...], float, Outline]:
    """Faces and edges that must be flat and square, their area, and the blank they need."""
    outline = plate.outline
    if plate.normal == "y":  # the long edges carry the load
        blank = outline.with_edges(cutting.allowance)
        area = 2 * outline.length * plate.thickness
        return ("upper and lower edge, square to the faces",), area, blank
    faces = machined_faces(stack, plate)
    if not faces and plate.bought > plate.thickness:
        faces = ("upper",)
    words = ("both faces",) if len(faces) == 2 else tuple(f"{face} face" for face in faces)
    if words and plate.bought > plate.thickness:
        words = (*words, f"from {dimension(plate.bought)} to {quantity(plate.thickness, 'm', 6)}")
    return words, len(faces) * outline.area, outline
