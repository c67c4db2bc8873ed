"""Mass and centre of mass of everything that is lifted. Coordinates of the press, SI."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from platestack.geometry.parts import Plate, Press, TieRod
from platestack.geometry.shapes import Groove

Place = tuple[float, float, float]
STEEL = 7850.0
"""Density of the parts whose material the case does not name (kg/m³, EN 1991-1-1 Table A.4)."""


@dataclass(frozen=True)
class Piece:
    """One thing with its mass (kg), centre of mass and surrounding box (m)."""

    name: str
    group: str
    mass: float
    centre: Place
    low: Place
    high: Place
    estimated: bool = False

    @property
    def height(self) -> float:
        """Of the surrounding box (m)."""
        return self.high[2] - self.low[2]


def pieces(press: Press) -> tuple[Piece, ...]:
    """Every part: plates from the bed up, rods, nuts, washers, cylinder."""
    plates = [
        Piece(f"{s.name} {p.name}", s.name, p.mass, plate_centre(p), *p.bounds)
        for s in (press.bed, press.crosshead)
        for p in s.plates
    ]
    return (*plates, *(p for rod in press.rods for p in _rod(press, rod)), cylinder(press))


def plate_centre(plate: Plate) -> Place:
    """Centre of mass of a plate with its holes and grooves."""
    t = plate.thickness
    u, v = plate.outline.centre
    taken: list[tuple[float, ...]] = [(plate.outline.area * t, u, v, plate.base + t / 2)]
    for hole in plate.holes:
        if isinstance(hole, Groove):
            taken += [(-volume, *at) for volume, *at in _groove(hole, plate)]
        else:
            taken.append((-hole.area * t, *hole.at, plate.base + t / 2))
    whole = sum(volume for volume, *_ in taken)
    u, v, w = (sum(part[0] * part[i] for part in taken) / whole for i in (1, 2, 3))
    return (u, v, w) if plate.normal == "z" else (u, w, v)


def _groove(groove: Groove, plate: Plate) -> Iterator[tuple[float, float, float, float]]:
    """Volume and centre of the neck and the head of a groove."""
    (u, v), outline = plate.outline.centre, plate.outline
    run = outline.length if groove.along == "x" else outline.width
    at = (u, groove.at) if groove.along == "x" else (groove.at, v)
    neck = groove.depth - groove.head_depth
    for width, top, depth in (
        (groove.width, 0.0, neck),
        (groove.head_width, neck, groove.head_depth),
    ):
        down = top + depth / 2
        w = plate.top - down if plate.grooved == "+" else plate.base + down
        yield run * width * depth, *at, w


def _rod(press: Press, rod: TieRod) -> Iterator[Piece]:
    """A rod, its nuts and washers, and its sleeve if it has one."""
    x, y = rod.at
    low = press.bed.nut_face - rod.reach
    high = low + rod.length

    def piece(name: str, group: str, mass: float, size: float, z0: float, z1: float) -> Piece:
        r = size / 2
        centre = (x, y, (z0 + z1) / 2)
        return Piece(name, group, mass, centre, (x - r, y - r, z0), (x + r, y + r, z1))

    yield piece(rod.name, "rods", rod.mass, rod.diameter, low, high)
    corners = rod.nut_across_flats * 2 / math.sqrt(3)
    for end, z, up in (("lower", press.bed.nut_face, -1), ("upper", press.crosshead.nut_face, 1)):
        face = z + up * rod.washer_thickness
        zs = sorted((z, face))
        if rod.washer_mass > 0:
            name = f"{end} washer of {rod.name}"
            yield piece(name, "washers", rod.washer_mass, rod.bearing_outer, *zs)
        zs = sorted((face, face + up * rod.nut_height))
        yield piece(f"{end} nut of {rod.name}", "nuts", rod.nut_mass, corners, *zs)
    if rod.seat_annulus is None:
        return
    faces = [stack.seat_face(rod.seat_annulus) or stack.load_face for stack in press.stacks]
    if rod.seat == "sleeve":
        yield piece(
            f"sleeve of {rod.name}", "sleeves", rod.sleeve_mass, rod.seat_outer, *sorted(faces)
        )
    if rod.seat == "inner nuts":
        for stack, face in zip(press.stacks, faces, strict=True):
            zs = sorted((face, face - stack.direction * rod.nut_height))
            name = f"inner nut of {rod.name}, {stack.name}"
            yield piece(name, "nuts", rod.nut_mass, corners, *zs)


def cylinder(press: Press) -> Piece:
    """The cylinder with its ram in: an estimate, as most of its sizes are derived; no oil."""
    made = press.cylinder
    assert made is not None, "geometry.layout puts one into every press"
    r = made.outer_diameter / 2
    low, high = sorted((made.face, made.face + made.direction * press.closed_length))
    centre = 0.0, 0.0, made.centre
    return Piece("cylinder", "cylinder", made.mass, centre, (-r, -r, low), (r, r, high), True)


def together(name: str, parts: Iterable[Piece]) -> Piece:
    """Several pieces as one: mass, common centre of mass, common box."""
    found = list(parts)
    mass = sum(p.mass for p in found)
    x, y, z = (sum(p.mass * p.centre[i] for p in found) / mass for i in range(3))
    a, b, c = (min(p.low[i] for p in found) for i in range(3))
    d, e, f = (max(p.high[i] for p in found) for i in range(3))
    estimated = any(p.estimated for p in found)
    return Piece(name, name, mass, (x, y, z), (a, b, c), (d, e, f), estimated)


def feet_height(press: Press, given: float | None) -> float:
    """Height of the bed's underside above the floor (m).

    Unless given: the lower rod ends and 100 mm for a jack or a wrench (common practice).
    """
    rod = press.rods[0]
    return rod.reach + 0.1 if given is None else given
