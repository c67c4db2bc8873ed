"""The joint of a tie rod and its seats by hand: who bears what pressing adds.

A rod that is tightened against a seat squeezes the stack between nut and seat, and a sleeve between
both stacks. Pressing stretches the rod and takes squeeze off the seat, in the ratio of their
stiffnesses (joint diagram, VDI 2230-1:2015, not verified against the standard).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from platestack.geometry.parts import TieRod


@dataclass(frozen=True)
class Felt:
    """Share of a rod's working force that comes in under its nut; the rest relieves its seat.

    Of full solutions: `usual` are the ends between which those of sound presses lie, with even
    plates; `least` and `most` are those of all drawn ones (`tests.figures.quick`).
    """

    least: float
    usual: tuple[float, float]
    expected: float
    most: float


ALL = Felt(1.0, (1.0, 1.0), 1.0, 1.0)
"""Without a seat."""
SLEEVE = Felt(0.95, (1.0, 1.5), 1.2, 1.6)
"""Over the share with rigid stacks: their own compliance beside the sleeve's adds to it."""
THROUGH = Felt(-0.05, (0.0, 0.35), 0.1, 0.5)
"""Under a nut that squeezes only a stack: the steel round a rod is several times stiffer than the
rod; 0 for a rigid stack."""


def felt(rod: TieRod) -> Felt:
    """What a rod's thread feels of its working force.

    With a sleeve k_rod / (k_rod + k_sleeve) for rigid stacks, or more as they yield.
    """
    if rod.seat == "none":
        return ALL
    if rod.seat != "sleeve":
        return THROUGH
    sleeve = rod.material.young * rod.sleeve_area / rod.between
    rigid = rod.stiffness / (rod.stiffness + sleeve)
    low, high = (min(1.0, times * rigid) for times in SLEEVE.usual)
    least, expected, most = (
        min(1.0, times * rigid) for times in (SLEEVE.least, SLEEVE.expected, SLEEVE.most)
    )
    return Felt(least, (low, high), expected, most)


def least_preload(rod: TieRod, working: float, left: float) -> float:
    """Preload (N) of which a part `left` stays on the seat while the rod bears `working` (N)."""
    return (1 - felt(rod).usual[0]) * working / (1 - left)


def springs_of(
    rod: TieRod, nut: Any, seat: Any | None, depth: float, opened: bool
) -> list[tuple[Any, float, float, bool, bool]]:
    """Row, stiffness (N/m), force at rest (N), `grounded` and `pulls` of the springs of half a rod.

    `nut` and `seat` are rows that read the displacements there: vectors or sparse. Tightened
    against an inner nut or a shoulder, the stretch through the stack (`depth`, m), the seat and the
    half of the shank meet at a point of the rod: a star of three springs, and in its place the
    triangle between nut, seat and ground that acts the same. A sleeve is a strut beside the rod.
    Where a seat has opened, the rod is one spring that keeps its imposed stretch.
    """
    young = rod.material.young
    if seat is None:
        return [(nut, 2 * rod.stiffness, 0.0, True, True)]
    if rod.seat == "sleeve":
        whole = (nut, 2 * rod.stiffness, rod.preload, True, True)
        strut = (seat, 2 * young * rod.sleeve_area / rod.between, -rod.preload, True, False)
        return [whole] if opened else [whole, strut]
    through = 1 / (depth / (young * rod.area) + rod.end_compliance)
    shank = 2 * young * rod.area_between / rod.between
    if opened:
        series = through * shank / (through + shank)
        return [(nut, series, rod.preload * series / through, True, True)]
    star = through + shank + rod.seat_stiffness
    return [
        (nut - seat, through * rod.seat_stiffness / star, rod.preload, False, True),
        (nut, through * shank / star, 0.0, True, True),
        (seat, shank * rod.seat_stiffness / star, 0.0, True, False),
    ]


def support_stiffness(rod: TieRod) -> float:
    """Force of half a rod against a stack that rises as a whole, over its rise (N/m).

    A seat that is squeezed holds the stack besides the nut. Half of what the rod is longer than
    between its seats is in each stack.
    """
    seat = None if rod.seat == "none" else 1.0
    depth = (rod.free_length - rod.between) / 2
    found = springs_of(rod, 1.0, seat, depth, opened=False)
    return sum(stiffness for _, stiffness, _, grounded, _ in found if grounded)
