"""Rules for openings and bearing areas: inside their plate, apart, and on steel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from platestack.geometry.errors import Problem
from platestack.geometry.parts import ClampBolt, Patch, Plate, Press, Stack, TieRod
from platestack.geometry.shapes import (
    ContourHole,
    Groove,
    Hole,
    Outline,
    RectangleHole,
    RoundHole,
    Through,
)
from platestack.geometry.steel_under import polygon, steel_area
from platestack.geometry.units import LENGTH, percent, show

LEAST_BORNE = 0.5
"""Part of the workpiece that lies on steel, at the least (our own choice): with less, where it
bears is no longer what the pressure on the rest says."""
LEAST_BRIDGE = 0.001
"""Least steel between two holes or a hole and an edge (m): below it a mesh has no sense."""


def _length(value: float) -> str:
    return show(value, LENGTH)


def _reach(hole: Hole) -> tuple[float, float, float]:
    """Half-lengths along both directions and the radius of the rounding (m)."""
    if isinstance(hole, RoundHole):
        return hole.diameter / 2, hole.diameter / 2, hole.diameter / 2
    if isinstance(hole, ContourHole):
        return hole.length / 2, hole.width / 2, 0.0
    assert isinstance(hole, RectangleHole)
    return hole.length / 2, hole.width / 2, hole.radius


def _apart(one: Through, two: Through) -> float:
    """Distance between two holes (m), rectangles taken with rounded corners as given."""
    if isinstance(one, ContourHole) or isinstance(two, ContourHole):
        return float(polygon(one).distance(polygon(two))) or -LEAST_BRIDGE
    (a1, b1, r1), (a2, b2, r2) = _reach(one), _reach(two)
    x = abs(one.at[0] - two.at[0]) - (a1 - r1) - (a2 - r2)
    y = abs(one.at[1] - two.at[1]) - (b1 - r1) - (b2 - r2)
    core = math.hypot(max(x, 0.0), max(y, 0.0)) + min(max(x, y), 0.0)
    return core - r1 - r2


def _label(hole: Hole) -> str:
    if isinstance(hole, Groove):
        return f"groove along {hole.along} at {_length(hole.at)}"
    size = (
        _length(hole.diameter)
        if isinstance(hole, RoundHole)
        else (f"{_length(hole.length)} x {_length(hole.width)}")
    )
    what = hole.purpose if isinstance(hole, RoundHole) else "opening"
    return f"{what} {size} at ({_length(hole.at[0])}, {_length(hole.at[1])})"


def room(outline: Outline, shape: Through) -> float:
    """Least distance from the edge of a shape to that of the outline (m); negative if it leaves."""
    if outline.contour is not None:
        within, own = outline.contour.polygon, polygon(shape)
        return float(within.exterior.distance(own)) if within.contains(own) else -LEAST_BRIDGE
    if isinstance(shape, ContourHole):
        return min(outline.clearance((float(x), float(y))) for x, y in shape.contour.points)
    (x, y), (a, b, r) = shape.at, _reach(shape)
    corners = [(x + i * (a - r), y + j * (b - r)) for i in (-1, 1) for j in (-1, 1)]
    return min(outline.clearance(corner, r) for corner in corners)


def inside(stack: Stack, plate: Plate) -> Iterator[Problem]:
    """Openings stay inside their plate and apart from each other."""
    where = f"{stack.name}, {plate.name}"
    outline = plate.outline
    if outline.corners != "straight" and outline.corner > min(outline.length, outline.width) / 2:
        yield Problem(
            f"{where}, corner_size",
            _length(outline.corner),
            f"allowed: up to half of the shorter side, "
            f"{_length(min(outline.length, outline.width) / 2)}",
        )
        return
    solid = [hole for hole in plate.holes if not isinstance(hole, Groove)]
    for hole in solid:
        a, b, r = _reach(hole)
        if r > min(a, b) * (1 + 1e-9):
            yield Problem(
                where,
                _label(hole),
                "allowed: corner_radius up to half of the opening's shorter side",
            )
            continue
        if room(outline, hole) < LEAST_BRIDGE:
            yield Problem(
                where,
                _label(hole),
                "it leaves the plate; allowed: inside the outline "
                f"{_length(outline.length)} x {_length(outline.width)}, "
                f"{_length(LEAST_BRIDGE)} from its edge",
            )
    for one, two in combinations(solid, 2):
        if _apart(one, two) < LEAST_BRIDGE:
            yield Problem(
                where,
                f"{_label(one)} and {_label(two)}",
                f"they overlap; allowed: at least {_length(LEAST_BRIDGE)} of steel between",
            )
    yield from _grooves(plate, where, solid)


def _grooves(plate: Plate, where: str, solid: list) -> Iterator[Problem]:
    grooves = [hole for hole in plate.holes if isinstance(hole, Groove)]
    for groove in grooves:
        x0, y0, x1, y1 = plate.outline.box
        low, high = (y0, y1) if groove.along == "x" else (x0, x1)
        if (
            groove.at - groove.reach < low + LEAST_BRIDGE
            or groove.at + groove.reach > high - LEAST_BRIDGE
        ):
            yield Problem(where, _label(groove), "allowed: inside the plate")
        if groove.depth > plate.thickness - LEAST_BRIDGE:
            yield Problem(
                where,
                _label(groove) + f", depth {_length(groove.depth)}",
                f"allowed: less than the plate's thickness, {_length(plate.thickness)}",
            )
        axis = 1 if groove.along == "x" else 0
        for hole in solid:
            if abs(hole.at[axis] - groove.at) < groove.reach + _reach(hole)[axis] + LEAST_BRIDGE:
                yield Problem(
                    where,
                    f"{_label(groove)} and {_label(hole)}",
                    "they overlap; allowed: grooves clear of other openings",
                )
        if plate.outline.corners != "straight" or plate.outline.contour is not None:
            yield Problem(where, _label(groove), "allowed: grooves in plates with straight corners")
    for one, two in combinations(grooves, 2):
        if one.along != two.along or abs(one.at - two.at) < one.reach + two.reach + LEAST_BRIDGE:
            yield Problem(
                where,
                f"{_label(one)} and {_label(two)}",
                "they overlap; allowed: grooves side by side in one direction",
            )


def bearing(stack: Stack, press: Press) -> Iterator[Problem]:
    """Loaded patch and nut annuli lie on steel."""
    loaded = _at_face(stack, stack.load_face)
    yield from _covered(stack, stack.patch, f"{stack.patch_name} patch", loaded)
    held = _at_face(stack, stack.nut_face)
    for rod in press.rods:
        yield from _covered(stack, rod.annulus, f"nut annulus of {rod.name}", held)
        if rod.seat_annulus is not None:
            yield from _seat(stack, rod, rod.seat_annulus)


def bolts(stack: Stack, press: Press) -> Iterator[Problem]:
    """Heads and nuts of clamp bolts bear on steel, apart from each other and from nuts and load."""
    for index, bolt in enumerate(stack.bolts):
        area, key = bolt.annulus, f"{stack.name}.clamp_bolts[{index + 1}]"
        if area.length < area.inner + LEAST_BRIDGE:
            yield Problem(
                f"{key}.washer_diameter",
                _length(area.length),
                f"allowed: larger than the hole, {_length(area.inner)}; head and nut fall through",
            )
            continue
        head = RoundHole(area.centre, area.length)
        for other in stack.bolts[:index]:
            if _apart(head, RoundHole(other.at, other.bearing_outer)) < 0:
                yield Problem(
                    key, _placed(head), f"allowed: head and nut clear of those of {other.name}"
                )
        for height in (bolt.low, bolt.high):
            yield from _bolt_end(stack, press, bolt, key, height)


def _bolt_end(
    stack: Stack, press: Press, bolt: ClampBolt, key: str, height: float
) -> Iterator[Problem]:
    """Head or nut of a clamp bolt, on the outermost plate at this height along the bolt."""
    on = [
        plate
        for plate in stack.plates
        if plate.role == "plate" and height in (plate.base, plate.top)
    ]
    head = RoundHole(bolt.at, bolt.bearing_outer)
    what = key.removeprefix(f"{stack.name}.")
    yield from _covered(stack, bolt.annulus, what, on)
    if bolt.normal != "z":
        return
    taken: list[tuple[str, Through]] = []
    if abs(height - stack.nut_face) < 1e-9:
        taken += [(f"nut of {rod.name}", RoundHole(rod.at, rod.bearing_outer))
                  for rod in press.rods]  # fmt: skip
    if abs(height - stack.load_face) < 1e-9:
        taken += [(f"seat of {rod.name}", RoundHole(rod.at, rod.seat_outer))
                  for rod in press.rods if rod.seat != "none"]  # fmt: skip
        taken.append((f"{stack.patch_name} patch", _outline_of(stack.patch)))
    for name, other in taken:
        if _apart(head, other) < 0:
            yield Problem(key, _placed(head), f"allowed: head and nut clear of the {name}")


def _placed(head: RoundHole) -> str:
    x, y = head.at
    return f"diameter {_length(head.diameter)} at ({_length(x)}, {_length(y)})"


def _outline_of(patch: Patch) -> RoundHole | RectangleHole:
    """A patch as if it were a hole: what must keep clear of it."""
    if patch.shape == "rectangle":
        return RectangleHole(patch.centre, patch.length, patch.width)
    return RoundHole(patch.centre, patch.length)


def _seat(stack: Stack, rod: TieRod, seat: Patch) -> Iterator[Problem]:
    """A seat bears on one plate, on a ring of some width, and clear of the loaded patch."""
    key, given = f"{stack.name}, seat of {rod.name}", f"diameter {_length(seat.length)}"
    face = stack.seat_face(seat)
    if seat.inner >= seat.length - 2 * LEAST_BRIDGE:
        yield Problem(
            key, given, f"allowed: larger than its bore or rod hole, {_length(seat.inner)}"
        )
        return
    if face is None:
        yield Problem(
            key,
            given,
            "allowed: all of it on one flat plate: a smaller rods.seat_diameter, rods further in, "
            "or a wider plate",
        )
        return
    outermost = [p for p in _at_face(stack, face) if p.outline.clearance(seat.centre) > 0]
    yield from _covered(stack, seat, f"seat of {rod.name}", outermost)
    load = _outline_of(stack.patch)
    if abs(face - stack.load_face) < 1e-9 and _apart(RoundHole(seat.centre, seat.length), load) < 0:
        yield Problem(key, given, f"allowed: clear of the {stack.patch_name} patch")


def _at_face(stack: Stack, z: float) -> list[Plate]:
    return [
        plate
        for plate in stack.plates
        if plate.normal == "z" and (abs(plate.base - z) < 1e-9 or abs(plate.top - z) < 1e-9)
    ]


def _covered(stack: Stack, patch: Patch, what: str, plates: list[Plate]) -> Iterator[Problem]:
    x, y = patch.centre
    form = _outline_of(patch)
    size = (
        f"{_length(patch.length)} x {_length(patch.width)}"
        if patch.shape == "rectangle"
        else f"diameter {_length(patch.length)}"
    )
    given = f"{size} at ({_length(x)}, {_length(y)})"
    key = f"{stack.name}, {what}"

    def clearance(plate: Plate) -> float:
        return room(plate.outline, form)

    best = max(plates, key=clearance)
    if clearance(best) < 0:
        wide = (
            "; ram.outer_diameter says how wide the cylinder bears" if what == "ram patch" else ""
        )
        yield Problem(
            key,
            given,
            f"it lies off the plate; allowed: inside {best.name}, "
            f"{_length(best.outline.length)} x {_length(best.outline.width)}{wide}",
        )
        return
    if what == "workpiece patch":  # it may bridge holes and T-slots
        bears = steel_area(stack) / patch.area
        if bears < LEAST_BORNE:
            yield Problem(
                key,
                given,
                f"{percent(bears)} of it lies on steel; allowed: {percent(LEAST_BORNE)} or more",
            )
        return
    for hole in best.holes:
        if isinstance(hole, Groove):
            continue
        own = (
            isinstance(hole, RoundHole)
            and hole.at == patch.centre
            and hole.diameter <= patch.inner * (1 + 1e-9)
        )
        if not own and _apart(form, hole) < -1e-9:
            yield Problem(key, given, f"allowed: clear of {_label(hole)} in {best.name}")
