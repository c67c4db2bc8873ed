"""The plates of a stack in their places: piled flat, or upright side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from platestack.geometry import tables, units
from platestack.geometry.parts import Axis, ClampBolt, Material, Plate, Point
from platestack.geometry.schema import (
    Case,
    ContourOpening,
    Fastening,
    GrooveOpening,
    Opening,
    PlateEntry,
    Platen,
    RectangleOpening,
    RoundOpening,
    Saddle,
    StackSection,
)
from platestack.geometry.shapes import (
    ContourHole,
    Groove,
    Hole,
    Outline,
    RectangleHole,
    RoundHole,
    Through,
)


@dataclass
class Assumptions:
    """Collects what is derived instead of given."""

    made: list[tuple[str, str]] = field(default_factory=list)

    def length(self, key: str, given: float | None, derived: float) -> float:
        """Return the given length, or the derived one after noting it."""
        if given is not None:
            return given
        self.made.append((key, units.show(derived, units.LENGTH)))
        return derived


def material(case: Case, grade: str, thickness: float, *, rod: bool = False) -> Material:
    """Material of a part: given in the case, or from the tables at this thickness.

    Raises
    ------
    tables.UnknownName, tables.OutOfTable
        If neither the case nor the tables know the grade at this thickness.
    """
    own = given_material(case, grade)
    if own is not None:
        return own
    found = tables.rod_grade(grade) if rod else tables.structural_grade(grade)
    return steel(grade, found, thickness)


def given_material(case: Case, grade: str) -> Material | None:
    """Material that the case itself gives under this name, if it does."""
    own = case.materials.get(grade)
    if own is None:
        return None
    return Material(
        grade,
        own.young,
        own.poisson,
        own.density,
        own.yield_strength,
        own.tensile_strength,
        own.source,
    )


def steel(name: str, found: tables.Grade, thickness: float) -> Material:
    """Material of a listed grade at this thickness (m); raises `tables.OutOfTable`."""
    constants = tables.steel_constants()
    return Material(
        name,
        constants.youngs_modulus,
        constants.poisson_ratio,
        constants.density,
        found.yield_strength(thickness),
        found.tensile_strength(thickness),
        found.source,
    )


def _outline(section: StackSection, own: PlateEntry | Platen | None = None) -> Outline:
    across = section.width if section.layout == "flat" else section.height
    assert across is not None
    drawn = section.outline if own is None or own.outline is None else own.outline
    if isinstance(own, Platen):
        drawn = own.outline
    if own is not None and (own.length or own.width or own.corners) and own.outline is None:
        drawn = None
    if drawn is not None:
        return Outline.of(drawn.contour)
    length, width = section.length, across
    corners, corner = section.corners, section.corner_size
    if own is not None:
        length, width = own.length or length, own.width or width
        if isinstance(own, Platen):
            corners, corner = "straight", None
        if own.corners is not None:
            corners, corner = own.corners, own.corner_size
        elif own.corner_size is not None:
            corner = own.corner_size
    return Outline(length, width, corners, 0.0 if corners == "straight" else corner or 0.0)


def _through(hole: Hole) -> Through:
    """A hole of an upright plate, which has no grooves."""
    assert not isinstance(hole, Groove)
    return hole


def hole_of(opening: Opening) -> Hole:
    """The hole that an opening of the case is."""
    if isinstance(opening, ContourOpening):
        return ContourHole(opening.contour)
    if isinstance(opening, RoundOpening):
        return RoundHole(opening.at, opening.diameter)
    if isinstance(opening, RectangleOpening):
        return RectangleHole(opening.at, opening.length, opening.width, opening.corner_radius)
    assert isinstance(opening, GrooveOpening)
    return Groove(
        opening.along,
        opening.at,
        opening.width,
        opening.depth,
        opening.head_width or 0.0,
        opening.head_depth or 0.0,
    )


def bolt_hole(bolt: Fastening) -> float:
    """Clearance hole of a bolt (m): given, or a tenth larger than the thread."""
    return bolt.hole or math.ceil(1100 * tables.thread(bolt.thread).d) / 1000


def bolt_bearing(bolt: Fastening) -> float:
    """Outer diameter of what nut, head or washer of a bolt bears on (m)."""
    return bolt.washer_diameter or tables.nut(tables.thread(bolt.thread).d).bearing_diameter


def clamp_bolts(section: StackSection, plates: tuple[Plate, ...]) -> tuple[ClampBolt, ...]:
    """Clamp bolts of a stack, through those of its plates that are neither platen nor saddle."""
    own = [plate for plate in plates if plate.role == "plate"]
    flat = section.layout == "flat"
    raised = 0.0 if flat else own[0].outline.centre[1]
    return tuple(
        ClampBolt(
            f"clamp bolt {number}",
            (bolt.at[0], bolt.at[1] + raised),
            own[0].normal,
            min(plate.base for plate in own),
            max(plate.top for plate in own),
            bolt.thread,
            bolt_hole(bolt),
            bolt_bearing(bolt),
            bolt.preload,
            bolt.property_class,
            bolt.tightening,
            bolt.thread_friction,
        )
        for number, bolt in enumerate(section.clamp_bolts, 1)
    )


def edge_gaps(section: StackSection) -> tuple[float, ...]:
    """Distances between neighbouring plates of an on-edge stack (m); touching if not given."""
    count = sum(entry.count for entry in section.plates)
    return section.gaps if section.gaps is not None else (0.0,) * (count - 1)


def spacer_places(section: StackSection, positions: tuple[Point, ...]) -> tuple[float, ...]:
    """Where spacers stand along x: given, or in the middle and halfway to the outermost rods."""
    if section.spacers.at is not None:
        return section.spacers.at
    outer = max(x for x, _ in positions)
    return -outer / 2, 0.0, outer / 2


@dataclass(frozen=True)
class Stacking:
    """Puts the plates of one stack in their places.

    `positions` and `hole` are those of the rods; `direction` is +1 for the crosshead, loaded from
    below, and −1 for the bed; `floor` is the height of the stack's underside (m).
    """

    case: Case
    name: Literal["crosshead", "bed"]
    positions: tuple[Point, ...]
    hole: float
    direction: Literal[1, -1]
    floor: float
    notes: Assumptions

    @property
    def section(self) -> StackSection:
        """The stack's table in the case."""
        section: StackSection = getattr(self.case, self.name)
        return section

    def plates(self) -> tuple[Plate, ...]:
        """All plates: from below up, or from −y to +y and then the flat ones."""
        return tuple(self._flat() if self.section.layout == "flat" else self._on_edge())

    def _flat(self) -> Iterator[Plate]:
        """Plates piled from below; the platen lies on the loaded face."""
        entries: list[PlateEntry | Platen] = [*self._entries()]
        if self.section.platen is not None:
            entries.insert(0 if self.direction == 1 else len(entries), self.section.platen)
        bolts = [RoundHole(b.at, bolt_hole(b), "clamp bolt") for b in self.section.clamp_bolts]
        base, count = self.floor, 0
        for entry in entries:
            outline = _outline(self.section, entry)
            if isinstance(entry, Platen):
                yield self._platen(entry, outline, base)
            else:
                count += 1
                openings = (*self.section.openings, *entry.openings)
                holes = (*map(hole_of, openings), *self._rod_holes(outline), *bolts)
                made = self._plate(
                    f"plate {count}", "plate", outline, entry.thickness, base, entry.grade, holes
                )
                yield replace(made, blank=entry.blank)
            base += entry.thickness

    def _on_edge(self) -> Iterator[Plate]:
        """Upright plates and spacers from −y to +y, platen on the loaded face, saddles opposite."""
        section = self.section
        assert section.platen is not None
        assert section.saddle is not None
        assert section.height is not None
        platen, saddle = section.platen, section.saddle
        upper, lower = self.floor + section.height, self.floor
        lift = platen.thickness if self.direction == 1 else saddle.thickness
        width = sum(entry.thickness for entry in self._entries()) + sum(edge_gaps(section))
        yield from self._upright(self.floor + lift + section.height / 2, -width / 2)
        outline = Outline(
            platen.length or section.length,
            platen.width or width,
            platen.corners or "straight",
            platen.corner_size or 0.0,
        )
        if platen.outline is not None:
            outline = Outline.of(platen.outline.contour)
        low, high = lower, upper + lift
        yield self._platen(platen, outline, low if self.direction == 1 else high)
        yield from self._saddles(saddle, width, high if self.direction == 1 else low)

    def _upright(self, middle: float, start: float) -> Iterator[Plate]:
        """Plates on edge with the spacers between them; `middle` is the height of their centres."""
        section = self.section
        bolts = tuple(
            RoundHole((b.at[0], b.at[1] + middle), bolt_hole(b), "clamp bolt")
            for b in section.clamp_bolts
        )
        gaps = (*edge_gaps(section), 0.0)
        base = start
        for index, (entry, gap) in enumerate(zip(self._entries(), gaps, strict=True)):
            outline = _outline(section, entry).moved(0.0, middle)
            openings = (*section.openings, *entry.openings)
            own = (_through(hole_of(o)).moved(0.0, middle) for o in openings)
            name = f"plate {index + 1}"
            yield self._plate(
                name, "plate", outline, entry.thickness, base, entry.grade, (*own, *bolts), "y"
            )
            base += entry.thickness
            if gap > 0:
                yield from self._spacers(index + 1, gap, base, middle, bolts)
            base += gap

    def _spacers(
        self, before: int, gap: float, base: float, middle: float, bolts: tuple[RoundHole, ...]
    ) -> Iterator[Plate]:
        """Blocks across the gap after plate `before`, as high as the stack."""
        section = self.section
        places = spacer_places(section, self.positions)
        key = f"{self.name}.spacers.at"
        if section.spacers.at is None and key not in dict(self.notes.made):
            text = ", ".join(units.show(x, units.OFFSET) for x in places)
            self.notes.made.append((key, text))
        assert section.height is not None
        for index, x in enumerate(places):
            outline = Outline(section.spacers.length, section.height, centre=(x, middle))
            holes = tuple(b for b in bolts if outline.clearance(b.at, b.diameter / 2) > 0)
            name = f"spacer {before}.{index + 1}"
            yield self._plate(name, "spacer", outline, gap, base, section.spacers.grade, holes, "y")

    def _platen(self, platen: Platen, outline: Outline, base: float) -> Plate:
        holes = (*map(hole_of, platen.openings), *self._rod_holes(outline))
        thickness, grade = platen.thickness, platen.grade
        made = self._plate("platen", "platen", outline, thickness, base, grade, holes)
        return replace(made, blank=platen.blank)

    def _saddles(self, saddle: Saddle, width: float, base: float) -> Iterator[Plate]:
        """One saddle across the stack for all rods that share an x."""
        bearing = bearing_diameter(self.case, self.hole)
        length = self.notes.length(f"{self.name}.saddle.length", saddle.length, 1.25 * bearing)
        for index, x in enumerate(sorted({x for x, _ in self.positions})):
            outline = Outline(length, width, centre=(x, 0.0))
            holes = tuple(RoundHole(at, self.hole, "rod") for at in self.positions if at[0] == x)
            name = f"saddle {index + 1}"
            thickness, grade = saddle.thickness, saddle.grade
            made = self._plate(name, "saddle", outline, thickness, base, grade, holes)
            yield replace(made, blank=saddle.blank)

    def _entries(self) -> list[PlateEntry]:
        return [entry for entry in self.section.plates for _ in range(entry.count)]

    def _rod_holes(self, outline: Outline) -> tuple[Hole, ...]:
        """Holes for the rods that pass through this outline, wholly or in part."""
        reach = -self.hole / 2
        return tuple(
            RoundHole(at, self.hole, "rod")
            for at in self.positions
            if outline.clearance(at) > reach
        )

    def _plate(
        self,
        name: str,
        role: Literal["plate", "platen", "spacer", "saddle"],
        outline: Outline,
        thickness: float,
        base: float,
        grade: str | None,
        holes: tuple[Hole, ...],
        normal: Axis = "z",
    ) -> Plate:
        steel = material(self.case, grade or self.section.grade, thickness)
        grooved: Literal["+", "-"] = "-" if self.direction == 1 else "+"
        return Plate(name, role, outline, thickness, base, steel, normal, holes, grooved)


def washer_thickness(case: Case) -> float:
    """Thickness of a rod's washers (m): a fifth of the rod unless given (common practice)."""
    return case.rods.washer_thickness or math.ceil(200 * case.rods.diameter) / 1000


def bearing_diameter(case: Case, hole: float) -> float:
    """Outer diameter of the annulus on which a nut or its washer bears (m).

    Without a washer given: one and three quarters of the rod, or what keeps the bearing ring at
    least 12 % of the hole wide (common practice, no source).
    """
    return case.rods.washer_diameter or max(1.75 * case.rods.diameter, 1.24 * hole)
