"""From a case to a press: sizes that were left out, parts in their places.

What a beginner would not know is derived here, by rules stated beside each, and noted in
`Press.assumed` so that the report can show it.
"""

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
    Patch,
    Plate,
    Point,
    Press,
    RectangleHole,
    RoundHole,
    Stack,
    TieRod,
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
class _Assumptions:
    """Collects what is derived instead of given."""

    made: list[tuple[str, str]] = field(default_factory=list)

    def length(self, key: str, given: float | None, derived: float) -> float:
        """Return the given length, or the derived one after noting it."""
        if given is not None:
            return given
        self.made.append((key, units.show(derived, units.LENGTH)))
        return derived


def rod_positions(case: Case) -> tuple[Point, ...]:
    """Places of the tie rods, (x, y) in m.

    From `pitch`: two rods on the x axis; four at the corners; six and eight with further rods
    evenly spaced along the two long sides.
    """
    rods = case.rods
    if rods.positions is not None:
        return rods.positions
    assert rods.pitch is not None
    a, b = rods.pitch[0] / 2, rods.pitch[-1] / 2
    if rods.count == 2:
        return (-a, 0.0), (a, 0.0)
    columns = rods.count // 2
    xs = [a * (2 * i / (columns - 1) - 1) for i in range(columns)]
    return tuple((x, y) for y in (-b, b) for x in xs)


def span(positions: tuple[Point, ...]) -> float:
    """Largest distance between rods along x (m): the span of crosshead and bed."""
    xs = [x for x, _ in positions]
    return max(xs) - min(xs)


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
            grade, own.young, own.poisson, own.density, own.yield_strength,
            own.tensile_strength, own.source,
        )
    found = tables.rod_grade(grade) if rod else tables.structural_grade(grade)
    steel = tables.steel_constants()
    return Material(
        grade, steel.youngs_modulus, steel.poisson_ratio, steel.density, found.yield_strength(thickness),
        found.tensile_strength(thickness), found.source,
    )


def build(case: Case) -> Press:
    """Put the press together.

    Parameters
    ----------
    case : Case
        A case without mistakes (`geometry.case.read` sees to that).

    Returns
    -------
    Press
        All parts in place, SI.
    """
    notes = _Assumptions()
    positions = rod_positions(case)
    hole = notes.length("rods.hole", case.rods.hole, rod_hole(case.rods.diameter))
    ram = _ram_diameter(case, notes)
    ram_patch = _ram_patch(case, ram, notes)
    work_patch = _workpiece_patch(case, ram, notes)
    # A cylinder is about one and a quarter bores longer than its stroke (common practice, no
    # source): bottom, gland and the guided length of the ram.
    closed = notes.length("ram.closed_length", case.ram.closed_length, case.press.stroke + 1.25 * ram)
    limit = case.limits.deflection * span(positions)
    patches = {"crosshead": ("workpiece", work_patch), "bed": ("workpiece", work_patch)}
    patches[case.ram.mounted] = ("ram", ram_patch)

    def stack(name: Literal["crosshead", "bed"], floor: float) -> Stack:
        section: StackSection = getattr(case, name)
        direction: Literal[1, -1] = 1 if name == "crosshead" else -1
        make = _flat if section.layout == "flat" else _on_edge
        plates = make(case, name, section, positions, hole, direction, floor, notes)
        low = min(plate.bounds[0][2] for plate in plates)
        high = max(plate.bounds[1][2] for plate in plates)
        load, nut = (low, high) if direction == 1 else (high, low)
        kind, patch = patches[name]
        return Stack(
            name, section.layout, plates, direction, load, nut, patch, kind,  # type: ignore[arg-type]
            section.interface.kind, limit,
        )

    bed = stack("bed", 0.0)
    crosshead = stack("crosshead", bed.load_face + case.press.daylight + closed)
    free = crosshead.nut_face - bed.nut_face
    rods = _rods(case, positions, hole, free, notes)
    return Press(
        case.press.name, case.press.capacity, case.press.working_pressure, case.press.daylight,
        case.press.stroke, ram, closed, crosshead, bed, rods, case.limits.yield_safety_factor,
        case.limits.rod_safety_factor, tuple(notes.made),
    )


def rod_hole(diameter: float) -> float:
    """Clearance hole of a rod: 5 % larger, at least 3 mm, in whole mm (common practice)."""
    return math.ceil((diameter + max(0.003, 0.05 * diameter)) * 1000 - 1e-9) / 1000


def least_bore(case: Case) -> float:
    """Smallest ram diameter (m) that gives the capacity at the working pressure."""
    return math.sqrt(4 * case.press.capacity / (math.pi * case.press.working_pressure))


def _ram_diameter(case: Case, notes: _Assumptions) -> float:
    needed = least_bore(case)
    series = [bore for bore in tables.cylinder_bores() if bore >= needed * (1 - 1e-9)]
    fallback = series[0] if series else math.ceil(needed * 100) / 100
    return notes.length("ram.diameter", case.ram.diameter, fallback)


def _ram_patch(case: Case, ram: float, notes: _Assumptions) -> Patch:
    """Where the cylinder bears: its wall taken as an eighth of the bore, common practice."""
    outer = notes.length("ram.outer_diameter", case.ram.outer_diameter, 1.25 * ram)
    if case.ram.shape == "disc":
        return Patch("disc", (0.0, 0.0), outer, outer)
    inner = notes.length("ram.inner_diameter", case.ram.inner_diameter, ram)
    return Patch("annulus", (0.0, 0.0), outer, outer, inner)


def _workpiece_patch(case: Case, ram: float, notes: _Assumptions) -> Patch:
    work = case.workpiece
    if work.shape == "rectangle":
        assert work.length is not None and work.width is not None
        return Patch("rectangle", work.offset, work.length, work.width)
    # A beginner's workpiece: a disc half as wide as the ram, a hard but usual load.
    diameter = notes.length("workpiece.diameter", work.diameter, 0.5 * ram)
    return Patch("disc", work.offset, diameter, diameter)


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
        opening.along, opening.at, opening.width, opening.depth, opening.head_width or 0.0,
        opening.head_depth or 0.0,
    )


def bolt_hole(bolt: ClampBolt) -> float:
    """Clearance hole of a clamp bolt (m): given, or a tenth larger than the thread."""
    return bolt.hole or math.ceil(1100 * tables.thread(bolt.thread).d) / 1000


def _flat(
    case: Case, name: str, section: StackSection, positions: tuple[Point, ...], hole: float,
    direction: int, floor: float, notes: _Assumptions,
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
            Plate(label, role, outline, entry.thickness, base, steel, "z", tuple(holes),
                  "-" if direction == 1 else "+")
        )
        base += entry.thickness
    return tuple(plates)


def edge_gaps(section: StackSection) -> tuple[float, ...]:
    """Distances between neighbouring plates of an on-edge stack (m); touching if not given."""
    count = sum(entry.count for entry in section.plates)
    return section.gaps if section.gaps is not None else (0.0,) * (count - 1)


def _on_edge(
    case: Case, name: str, section: StackSection, positions: tuple[Point, ...], hole: float,
    direction: int, floor: float, notes: _Assumptions,
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
            Plate(f"plate {index + 1}", "plate", outline, entry.thickness, base, steel, "y",
                  (*holes, *bolts))
        )
        base += entry.thickness
        if index < len(gaps):
            if gaps[index] > 0:
                plates += _spacers(case, name, section, positions, gaps[index], base, middle,
                                   bolts, len(plates), notes)
            base += gaps[index]

    low, high = floor, floor + below.thickness + section.height
    for part, z in ((below, low), (above, high)):
        if part is platen:
            outline = Outline(platen.length or section.length, platen.width or width,
                              platen.corners or "straight", platen.corner_size or 0.0)
            holes = tuple(_hole(opening) for opening in platen.openings)
            holes += tuple(RoundHole(at, hole, "rod") for at in positions
                           if outline.clearance(at) > 0)
            steel = material(case, platen.grade or section.grade, platen.thickness)
            plates.append(Plate("platen", "platen", outline, platen.thickness, z, steel, "z",
                                holes, "-" if direction == 1 else "+"))
        else:
            plates += _saddles(case, name, section, positions, hole, width, z, notes)
    return tuple(plates)


def _spacers(
    case: Case, name: str, section: StackSection, positions: tuple[Point, ...], gap: float,
    base: float, middle: float, bolts: tuple[RoundHole, ...], taken: int, notes: _Assumptions,
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
    case: Case, name: str, section: StackSection, positions: tuple[Point, ...], hole: float,
    width: float, base: float, notes: _Assumptions,
) -> list[Plate]:
    """One saddle across the stack for all rods that share an x."""
    assert section.saddle is not None
    bearing = _bearing(case, hole)
    length = notes.length(f"{name}.saddle.length", section.saddle.length, 1.25 * bearing)
    steel = material(case, section.saddle.grade or section.grade, section.saddle.thickness)
    saddles = []
    for index, x in enumerate(sorted({x for x, _ in positions})):
        outline = Outline(length, width, centre=(x, 0.0))
        holes = tuple(RoundHole(at, hole, "rod") for at in positions if at[0] == x)
        saddles.append(Plate(f"saddle {index + 1}", "saddle", outline, section.saddle.thickness,
                             base, steel, "z", holes))
    return saddles


def _raised(outline: Outline, z: float) -> Outline:
    return Outline(outline.length, outline.width, outline.corners, outline.corner,
                   (outline.centre[0], outline.centre[1] + z))


def _raised_hole(hole: Hole, z: float) -> Hole:
    if isinstance(hole, RoundHole):
        return RoundHole((hole.at[0], hole.at[1] + z), hole.diameter, hole.purpose)
    assert isinstance(hole, RectangleHole)
    return RectangleHole((hole.at[0], hole.at[1] + z), hole.length, hole.width, hole.radius)


def _bearing(case: Case, hole: float) -> float:
    """Outer diameter of the annulus on which a nut or its washer bears (m).

    Without a washer given: one and three quarters of the rod, or what keeps the bearing ring at
    least 12 % of the hole wide (common practice, no source).
    """
    return case.rods.washer_diameter or max(1.75 * case.rods.diameter, 1.24 * hole)


def _rods(
    case: Case, positions: tuple[Point, ...], hole: float, free: float, notes: _Assumptions
) -> tuple[TieRod, ...]:
    rods = case.rods
    if rods.thread is None:
        thread = tables.largest_thread(rods.diameter)
        notes.made.append(("rods.thread", thread.designation))
    else:
        thread = tables.thread(rods.thread)
    nut = tables.nut(thread.d)
    flats = notes.length("rods.nut_across_flats", rods.nut_across_flats, nut.across_flats)
    height = notes.length("rods.nut_height", rods.nut_height, max(nut.height, thread.d))
    bearing = notes.length("rods.washer_diameter", rods.washer_diameter, _bearing(case, hole))
    washer = notes.length("rods.washer_thickness", rods.washer_thickness,
                          math.ceil(200 * rods.diameter) / 1000)
    share = case.press.capacity / rods.count
    if rods.preload is None:
        notes.made.append(("rods.preload", units.show(1.2 * share, units.FORCE)))
    # 1.2 times the working share keeps the joint closed at capacity (common practice, no source).
    preload = rods.preload or 1.2 * share
    steel = material(case, rods.grade, rods.diameter, rod=True)
    return tuple(
        TieRod(f"rod {index + 1}", at, rods.diameter, thread.designation, thread.stress_area, hole,
               free, height, flats, bearing, washer, preload, steel)
        for index, at in enumerate(positions)
    )
