"""The plates of a stack in their places: piled flat, or upright side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from geometry import tables, units
from geometry.parts import (
    Groove,
    Hole,
    Material,
    Outline,
    Plate,
    Point,
    RectangleHole,
    RoundHole,
)
from geometry.schema import (
    Case,
    ClampBolt,
    GrooveOpening,
    Opening,
    PlateEntry,
    Platen,
    RectangleOpening,
    RoundOpening,
    StackSection,
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
    tables.UnknownGrade, tables.OutOfTable
        If neither the case nor the tables know the grade at this thickness.
    """
    if grade in case.materials:
        own = case.materials[grade]
        return Material(
            grade,
            own.young,
            own.poisson,
            own.density,
            own.yield_strength,
            own.tensile_strength,
            own.source,
        )
    found = tables.rod_grade(grade) if rod else tables.structural_grade(grade)
    steel = tables.steel_constants()
    return Material(
        grade,
        steel.youngs_modulus,
        steel.poisson_ratio,
        steel.density,
        found.yield_strength(thickness),
        found.tensile_strength(thickness),
        found.source,
    )


def _outline(section: StackSection, own: PlateEntry | Platen | None = None) -> Outline:
    across = section.width if section.layout == "flat" else section.height
    assert across is not None
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


def _hole(opening: Opening) -> Hole:
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


def bolt_hole(bolt: ClampBolt) -> float:
    """Clearance hole of a clamp bolt (m): given, or a tenth larger than the thread."""
    return bolt.hole or math.ceil(1100 * tables.thread(bolt.thread).d) / 1000


def flat(
    case: Case,
    name: str,
    section: StackSection,
    positions: tuple[Point, ...],
    hole: float,
    direction: int,
    floor: float,
    notes: Assumptions,
) -> tuple[Plate, ...]:
    """Plates piled from below; the platen lies on the loaded face."""
    entries: list[tuple[str, PlateEntry | Platen]] = []
    for entry in section.plates:
        for _ in range(entry.count):
            entries.append((f"plate {len(entries) + 1}", entry))
    if section.platen is not None:
        entries.insert(0 if direction == 1 else len(entries), ("platen", section.platen))
    bolts = [RoundHole(b.at, bolt_hole(b), "clamp bolt") for b in section.clamp_bolts]
    plates, base = [], floor
    for label, entry in entries:
        outline = _outline(section, entry)
        common = () if label == "platen" else section.openings
        holes: list[Hole] = [_hole(opening) for opening in (*common, *entry.openings)]
        holes += [RoundHole(at, hole, "rod") for at in positions if outline.clearance(at) > 0]
        if label != "platen":
            holes += bolts
        steel = material(case, entry.grade or section.grade, entry.thickness)
        role: Literal["plate", "platen"] = "platen" if label == "platen" else "plate"
        plates.append(
            Plate(
                label,
                role,
                outline,
                entry.thickness,
                base,
                steel,
                "z",
                tuple(holes),
                "-" if direction == 1 else "+",
            )
        )
        base += entry.thickness
    return tuple(plates)


def edge_gaps(section: StackSection) -> tuple[float, ...]:
    """Distances between neighbouring plates of an on-edge stack (m); touching if not given."""
    count = sum(entry.count for entry in section.plates)
    return section.gaps if section.gaps is not None else (0.0,) * (count - 1)


def on_edge(
    case: Case,
    name: str,
    section: StackSection,
    positions: tuple[Point, ...],
    hole: float,
    direction: int,
    floor: float,
    notes: Assumptions,
) -> tuple[Plate, ...]:
    """Upright plates side by side from −y to +y, platen on the loaded face, saddles opposite."""
    assert section.platen is not None and section.saddle is not None and section.height is not None
    platen, saddle = section.platen, section.saddle
    below, above = (platen, saddle) if direction == 1 else (saddle, platen)
    middle = floor + below.thickness + section.height / 2
    entries = [entry for entry in section.plates for _ in range(entry.count)]
    gaps = edge_gaps(section)
    width = sum(entry.thickness for entry in entries) + sum(gaps)
    bolts = tuple(
        RoundHole((b.at[0], b.at[1] + middle), bolt_hole(b), "clamp bolt")
        for b in section.clamp_bolts
    )
    plates, base = [], -width / 2
    for index, entry in enumerate(entries):
        outline = _raised(_outline(section, entry), middle)
        holes = [_raised_hole(_hole(o), middle) for o in (*section.openings, *entry.openings)]
        steel = material(case, entry.grade or section.grade, entry.thickness)
        plates.append(
            Plate(
                f"plate {index + 1}",
                "plate",
                outline,
                entry.thickness,
                base,
                steel,
                "y",
                (*holes, *bolts),
            )
        )
        base += entry.thickness
        if index < len(gaps):
            if gaps[index] > 0:
                plates += _spacers(
                    case,
                    name,
                    section,
                    positions,
                    gaps[index],
                    base,
                    middle,
                    bolts,
                    len(plates),
                    notes,
                )
            base += gaps[index]

    low, high = floor, floor + below.thickness + section.height
    for part, z in ((below, low), (above, high)):
        if part is platen:
            outline = Outline(
                platen.length or section.length,
                platen.width or width,
                platen.corners or "straight",
                platen.corner_size or 0.0,
            )
            holes = tuple(_hole(opening) for opening in platen.openings)
            holes += tuple(
                RoundHole(at, hole, "rod") for at in positions if outline.clearance(at) > 0
            )
            steel = material(case, platen.grade or section.grade, platen.thickness)
            plates.append(
                Plate(
                    "platen",
                    "platen",
                    outline,
                    platen.thickness,
                    z,
                    steel,
                    "z",
                    holes,
                    "-" if direction == 1 else "+",
                )
            )
        else:
            plates += _saddles(case, name, section, positions, hole, width, z, notes)
    return tuple(plates)


def _spacers(
    case: Case,
    name: str,
    section: StackSection,
    positions: tuple[Point, ...],
    gap: float,
    base: float,
    middle: float,
    bolts: tuple[RoundHole, ...],
    taken: int,
    notes: Assumptions,
) -> list[Plate]:
    """Blocks across one gap, as high as the stack."""
    places = spacer_places(section, positions)
    if section.spacers.at is None:
        text = ", ".join(units.show(x, units.OFFSET) for x in places)
        if (f"{name}.spacers.at", text) not in notes.made:
            notes.made.append((f"{name}.spacers.at", text))
    steel = material(case, section.spacers.grade or section.grade, gap)
    blocks = []
    for index, x in enumerate(places):
        assert section.height is not None
        outline = Outline(section.spacers.length, section.height, centre=(x, middle))
        holes = tuple(bolt for bolt in bolts if outline.clearance(bolt.at, bolt.diameter / 2) > 0)
        label = f"spacer {taken}.{index + 1}"
        blocks.append(Plate(label, "spacer", outline, gap, base, steel, "y", holes))
    return blocks


def spacer_places(section: StackSection, positions: tuple[Point, ...]) -> tuple[float, ...]:
    """Where spacers stand along x: given, or in the middle and halfway to the outermost rods."""
    if section.spacers.at is not None:
        return section.spacers.at
    outer = max(x for x, _ in positions)
    return -outer / 2, 0.0, outer / 2


def _saddles(
    case: Case,
    name: str,
    section: StackSection,
    positions: tuple[Point, ...],
    hole: float,
    width: float,
    base: float,
    notes: Assumptions,
) -> list[Plate]:
    """One saddle across the stack for all rods that share an x."""
    assert section.saddle is not None
    bearing = bearing_diameter(case, hole)
    length = notes.length(f"{name}.saddle.length", section.saddle.length, 1.25 * bearing)
    steel = material(case, section.saddle.grade or section.grade, section.saddle.thickness)
    saddles = []
    for index, x in enumerate(sorted({x for x, _ in positions})):
        outline = Outline(length, width, centre=(x, 0.0))
        holes = tuple(RoundHole(at, hole, "rod") for at in positions if at[0] == x)
        saddles.append(
            Plate(
                f"saddle {index + 1}",
                "saddle",
                outline,
                section.saddle.thickness,
                base,
                steel,
                "z",
                holes,
            )
        )
    return saddles


def _raised(outline: Outline, z: float) -> Outline:
    return Outline(
        outline.length,
        outline.width,
        outline.corners,
        outline.corner,
        (outline.centre[0], outline.centre[1] + z),
    )


def _raised_hole(hole: Hole, z: float) -> Hole:
    if isinstance(hole, RoundHole):
        return RoundHole((hole.at[0], hole.at[1] + z), hole.diameter, hole.purpose)
    assert isinstance(hole, RectangleHole)
    return RectangleHole((hole.at[0], hole.at[1] + z), hole.length, hole.width, hole.radius)


def bearing_diameter(case: Case, hole: float) -> float:
    """Outer diameter of the annulus on which a nut or its washer bears (m).

    Without a washer given: one and three quarters of the rod, or what keeps the bearing ring at
    least 12 % of the hole wide (common practice, no source).
    """
    return case.rods.washer_diameter or max(1.75 * case.rods.diameter, 1.24 * hole)
