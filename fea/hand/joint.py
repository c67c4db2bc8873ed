"""The joint of a tie rod and its seats by hand: who bears what pressing adds.

A rod that is tightened against a seat squeezes the stack between nut and seat, and a sleeve between
both stacks. Pressing stretches the rod and takes squeeze off the seat, in the ratio of their
stiffnesses (joint diagram, VDI 2230-1:2015, not verified against the standard).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platestack.fea.hand.support import NUT, SEAT, Support
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
) -> list[tuple[Any, float, float]]:
    """Row, stiffness (N/m) and force at rest (N) of the springs of half a rod along its axis.

    `nut` and `seat` are rows that read the displacements there: vectors or sparse; `depth` is from
    nut to seat (m). The whole seat presses (`fea.hand.support`), or where it has `opened` none of
    it: then the rod is one spring that keeps its imposed stretch.
    """
    support = Support.of(rod if seat is not None else replace(rod, seat="none"), depth)
    at_work = (support.ring == 0) | (not opened)
    stiffness, rest = (part.tolist() for part in support.condensed(at_work))
    both = -stiffness[NUT][SEAT]
    between = -rest[SEAT] if both > 0 else 0.0
    found = [(nut, stiffness[NUT][NUT] - both, rest[NUT] - between)]
    if seat is not None and not opened:
        found += [(seat, stiffness[SEAT][SEAT] - both, rest[SEAT] + between)]
        found += [(nut - seat, both, between)] if both > 0 else []
    return found


def support_stiffness(rod: TieRod) -> float:
    """Force of half a rod against a stack that rises as a whole, over its rise (N/m).

    A seat that is squeezed holds the stack besides the nut. Half of what the rod is longer than
    between its seats is in each stack.
    """
    support = Support.of(rod, (rod.free_length - rod.between) / 2)
    stiffness, _ = support.condensed(np.ones(len(support.ring), dtype=bool))
    return float(stiffness[np.ix_([NUT, SEAT], [NUT, SEAT])].sum())
