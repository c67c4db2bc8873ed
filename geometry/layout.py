"""From a case to a press: sizes that were left out, parts in their places.

What a beginner would not know is derived here, by rules stated beside each, and noted in
`Press.assumed` so that the report can show it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from platestack.geometry import cylinder, heights, pads, tables, units
from platestack.geometry.parts import Gap, Patch, Plate, Point, Press, Stack, TieRod
from platestack.geometry.schema import Case, StackSection
from platestack.geometry.stacking import (
    Assumptions,
    Stacking,
    bearing_diameter,
    clamp_bolts,
    material,
    washer_thickness,
)


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


def line_of(positions: Sequence[Point]) -> Point | None:
    """Unit vector across the one line on which all positions lie, or None if there is none."""
    (x, y), (u, v) = positions[0], max(positions, key=lambda at: math.dist(at, positions[0]))
    length = math.hypot(u - x, v - y)
    if length == 0:
        return None
    across = (y - v) / length, (u - x) / length
    off = [(a - x) * across[0] + (b - y) * across[1] for a, b in positions]
    return across if max(map(abs, off)) < 1e-9 else None


def build(case: Case) -> Press:
    """Put the press together: all parts in place, SI.

    The case must be without mistakes; `geometry.case.read` sees to that. What was assumed is worded
    in the units of the case.
    """
    with units.using(case.units):
        return _build(case)


def _build(case: Case) -> Press:
    notes = Assumptions()
    positions = rod_positions(case)
    hole = notes.length("rods.hole", case.rods.hole, rod_hole(case.rods.diameter))
    ram = _ram_diameter(case, notes)
    ram_patch = _ram_patch(case, ram, notes)
    work_patch = _workpiece_patch(case, ram, notes)
    # A cylinder is about one and a quarter bores longer than its stroke (common practice, no
    # source): bottom, gland and the guided length of the ram.
    closed = notes.length(
        "ram.closed_length", case.ram.closed_length, case.press.stroke + 1.25 * ram
    )
    limit = case.limits.deflection * span(positions)
    patches = {"crosshead": ("workpiece", work_patch), "bed": ("workpiece", work_patch)}
    patches[case.ram.mounted] = ("ram", ram_patch)

    def stack(name: Literal["crosshead", "bed"], floor: float) -> Stack:
        section: StackSection = getattr(case, name)
        direction: Literal[1, -1] = 1 if name == "crosshead" else -1
        plates = Stacking(case, name, positions, hole, direction, floor, notes).plates()
        low = min(plate.bounds[0][2] for plate in plates)
        high = max(plate.bounds[1][2] for plate in plates)
        load, nut = (low, high) if direction == 1 else (high, low)
        made = Stack(
            name,
            section.layout,
            plates,
            direction,
            load,
            nut,
            patches[name][1],
            patches[name][0],  # type: ignore[arg-type]
            section.interface.kind if len(plates) > 1 else "welded",
            _gap(name, section, plates, notes),
            limit,
            section.interface.friction,
            clamp_bolts(section, plates),
            work_patch.centre if patches[name][0] == "ram" else (0.0, 0.0),
            section.connectors,
        )
        return heights.as_bought(made, case, notes)

    bed = stack("bed", 0.0)
    crosshead = stack("crosshead", bed.load_face + case.press.daylight + closed)
    free = crosshead.nut_face - bed.nut_face
    above = case.ram.mounted == "crosshead"
    wall = ram_patch.length if case.ram.shape == "annulus" and case.ram.flange is None else None
    face, sense = (crosshead.load_face, -1) if above else (bed.load_face, 1)
    hung = cylinder.build(case, ram, wall, closed, face, sense, notes)
    rods = _seated(case, _rods(case, positions, hole, free, notes), (bed, crosshead), notes)
    rods = _threaded(case, rods, (bed, crosshead), notes)
    bed, crosshead = (
        replace(one, pads=pads.of_stack(case, one, rods, hung)) for one in (bed, crosshead)
    )
    return Press(
        case.press.name,
        case.press.capacity,
        case.press.working_pressure,
        case.press.daylight,
        case.press.stroke,
        ram,
        closed,
        crosshead,
        bed,
        rods,
        case.limits.yield_safety_factor,
        case.limits.rod_safety_factor,
        tuple(notes.made),
        hung,
    )


def _gap(name: str, section: StackSection, plates: tuple[Plate, ...], notes: Assumptions) -> Gap:
    """How far apart plates lie before anything presses."""
    given = section.interface
    bow = given.bow or 0.0
    if given.flatness is not None:
        rolled = [plate for plate in plates if plate.role in ("plate", "platen")]
        gauge: Literal[1, 2] = 1 if section.length <= 1.0 else 2
        bow = max(tables.flatness_tolerance(plate.thickness, gauge) for plate in rolled)
        shown = f"{units.show(bow, units.BOW)} ({given.flatness}, {gauge} m straight-edge)"
        notes.made.append((f"{name}.interface.bow", shown))
    return Gap(given.gap, bow, section.length, given.waviness, given.wave_length)


def rod_hole(diameter: float) -> float:
    """Clearance hole of a rod: 5 % larger, at least 3 mm, in whole mm (common practice)."""
    return math.ceil((diameter + max(0.003, 0.05 * diameter)) * 1000 - 1e-9) / 1000


def least_bore(case: Case) -> float:
    """Smallest ram diameter (m) that gives the capacity at the working pressure."""
    efficiency = case.cylinder.efficiency or 1.0
    return math.sqrt(4 * case.press.capacity / (math.pi * case.press.working_pressure * efficiency))


def _ram_diameter(case: Case, notes: Assumptions) -> float:
    needed = least_bore(case)
    series = [bore for bore in tables.cylinder_bores() if bore >= needed * (1 - 1e-9)]
    fallback = series[0] if series else math.ceil(needed * 100) / 100
    return notes.length("ram.diameter", case.ram.diameter, fallback)


def _ram_patch(case: Case, ram: float, notes: Assumptions) -> Patch:
    """Where the cylinder bears: on its wall."""
    wall = case.cylinder.outer_diameter or cylinder.least_outer(case, ram)
    outer = notes.length("ram.outer_diameter", case.ram.outer_diameter, wall)
    if case.ram.shape == "disc":
        return Patch("disc", (0.0, 0.0), outer, outer)
    inner = notes.length("ram.inner_diameter", case.ram.inner_diameter, ram)
    return Patch("annulus", (0.0, 0.0), outer, outer, inner)


def _workpiece_patch(case: Case, ram: float, notes: Assumptions) -> Patch:
    work = case.workpiece
    if work.shape == "rectangle":
        assert work.length is not None
        assert work.width is not None
        return Patch("rectangle", work.offset, work.length, work.width)
    # A beginner's workpiece: a disc half as wide as the ram, a hard but usual load.
    diameter = notes.length("workpiece.diameter", work.diameter, 0.5 * ram)
    return Patch("disc", work.offset, diameter, diameter)


def _rods(
    case: Case, positions: tuple[Point, ...], hole: float, free: float, notes: Assumptions
) -> tuple[TieRod, ...]:
    rods = case.rods
    if rods.thread is None:
        thread: tables.Thread | tables.TrapezoidalThread = tables.largest_thread(rods.diameter)
        notes.made.append(("rods.thread", thread.designation))
    else:
        thread = tables.rod_thread(rods.thread)
    nut = tables.rod_nut(thread)
    flats = notes.length("rods.nut_across_flats", rods.nut_across_flats, nut.across_flats)
    height = notes.length("rods.nut_height", rods.nut_height, nut.height)
    bearing = notes.length(
        "rods.washer_diameter", rods.washer_diameter, bearing_diameter(case, hole)
    )
    washer = notes.length("rods.washer_thickness", rods.washer_thickness, washer_thickness(case))
    share = case.press.capacity / rods.count
    if rods.preload is None and rods.seat != "none":
        notes.made.append(("rods.preload", units.show(1.2 * share, units.FORCE)))
    # 1.2 times the working share keeps the joint closed at capacity (common practice, no source).
    preload = 0.0 if rods.seat == "none" else rods.preload or 1.2 * share
    steel = material(case, rods.grade, rods.diameter, rod=True)
    other = rods.washer_grade
    washers = material(case, other, washer) if other else None
    return tuple(
        TieRod(
            f"rod {index + 1}",
            at,
            rods.diameter,
            thread.designation,
            thread.stress_area,
            hole,
            free,
            height,
            flats,
            bearing,
            washer,
            preload,
            steel,
            washer_material=washers,
        )
        for index, at in enumerate(positions)
    )


def _threaded(
    case: Case, rods: tuple[TieRod, ...], stacks: tuple[Stack, Stack], notes: Assumptions
) -> tuple[TieRod, ...]:
    """The rods with their threads, so long that any stack that plates as rolled give has its nuts.

    A pitch stands out of the nut over the highest stack (EN 1090-2:2018, 8.2.2, not verified
    against the standard), and two are left below it over the lowest, where the thread runs out
    (common practice). Both ends are alike, so that no rod goes in the wrong way round.
    """
    rod, pitch = rods[0], tables.rod_thread(rods[0].thread).pitch
    deviations = [heights.stack_deviation(stack) for stack in stacks]
    low, high = min(d[0] for d in deviations), max(d[1] for d in deviations)
    out = notes.length("rods.projection", case.rods.projection, _whole(pitch + high))
    under = rod.nut_height - low + 2 * pitch
    if rod.seat == "inner nuts":
        assert rod.seat_annulus is not None
        faces = [stack.seat_face(rod.seat_annulus) or stack.load_face for stack in stacks]
        deep = max(abs(s.nut_face - face) for s, face in zip(stacks, faces, strict=True))
        under += rod.washer_thickness + deep + rod.nut_height
    length = notes.length("rods.thread_length", case.rods.thread_length, _whole(out + under))
    return tuple(
        replace(one, projection=out, thread_length=length, deviation=(low, high)) for one in rods
    )


def _whole(length: float) -> float:
    """Round up to whole mm, and never to the limit itself (m)."""
    return math.ceil(length * 1000 + 1e-3) / 1000


def _seated(
    case: Case, rods: tuple[TieRod, ...], stacks: tuple[Stack, Stack], notes: Assumptions
) -> tuple[TieRod, ...]:
    """The rods with their seats, the sizes by common practice where the case leaves them out."""
    wish, first = case.rods, rods[0]
    if wish.seat == "none":
        return rods
    usual = {
        "inner nuts": first.bearing_outer,
        "shoulder": max(1.4 * first.diameter, 1.2 * first.hole),
        "sleeve": max(1.6 * first.diameter, 1.3 * first.hole),
    }[wish.seat]
    outer = notes.length("rods.seat_diameter", wish.seat_diameter, usual)
    inner = 0.0
    if wish.seat == "sleeve":
        inner = notes.length("rods.sleeve_bore", wish.sleeve_bore, first.hole)
    seated = []
    for rod in rods:
        rod = replace(rod, seat=wish.seat, seat_outer=outer, sleeve_inner=inner)
        assert rod.seat_annulus is not None
        faces = [stack.seat_face(rod.seat_annulus) or stack.load_face for stack in stacks]
        seated.append(replace(rod, between=faces[1] - faces[0]))
    return tuple(seated)
