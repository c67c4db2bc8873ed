"""The joint of a tie rod and its seats by hand: who bears what pressing adds.

A rod that is tightened against a seat squeezes the stack between nut and seat, and a sleeve between
both stacks. Pressing stretches the rod and takes squeeze off the seat, in the ratio of their
stiffnesses (joint diagram, VDI 2230-1:2015, not verified against the standard).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from platestack.fea.hand.support import MOST_CHANGES, NUT, SEAT, Support
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


@lru_cache(maxsize=1024)
def support_stiffness(rod: TieRod) -> float:
    """Force of half a rod against a stack that rises as a whole, over its rise (N/m).

    A seat that is squeezed holds the stack besides the nut. Half of what the rod is longer than
    between its seats is in each stack.
    """
    support = Support.of(rod, (rod.free_length - rod.between) / 2)
    stiffness, _ = support.condensed(np.ones(len(support.ring), dtype=bool))
    return float(stiffness[np.ix_([NUT, SEAT], [NUT, SEAT])].sum())


@lru_cache(maxsize=1024)
def against_tilt(rod: TieRod) -> float:
    """Moment of half a rod, its seat pressed all round, against a tilt of the stack (N m)."""
    support = Support.of(rod, (rod.free_length - rod.between) / 2)
    return float(support.condensed(np.ones(len(support.ring), dtype=bool))[0][1, 1])


def kern(rod: TieRod) -> float:
    """How far from its middle the force on a seat may act until an edge opens (m).

    (D² + d²) / 8D of an annulus (Roark's Formulas for Stress and Strain; not verified, re-derived).
    """
    annulus = rod.seat_annulus
    assert annulus is not None
    inner = rod.sleeve_inner if rod.seat == "sleeve" else annulus.inner
    return (annulus.length**2 + inner**2) / (8 * annulus.length)


@lru_cache(maxsize=256)
def tilted(rod: TieRod, working: float, tilt: float) -> tuple[float, float]:
    """Forces under a nut and on a seat (N) of a rod that bears `working`, between tilted stacks.

    The stacks are rigid otherwise: then an edge of the seat goes on pressing longest, and the nut
    bears that besides.
    """
    if rod.seat == "none":
        return rod.preload + working, 0.0
    support = Support.of(rod, (rod.free_length - rod.between) / 2)
    at_work, tilts = np.ones(len(support.ring), dtype=bool), np.array([0.0, tilt, 0.0, 0.0])
    up = np.array([1.0, 0.0, 0.0, 1.0])
    for _ in range(MOST_CHANGES):
        stiffness, rest = support.condensed(at_work)
        still = rest + stiffness @ tilts
        # Nut less seat is what the rod bears of the pressing force.
        lift = (working - float(up @ still)) / float(up @ stiffness @ up)
        now = support.at_work(tilts + lift * up, at_work)
        if (now == at_work).all():
            break
        at_work = now
    felt_there = still + lift * (stiffness @ up)
    return float(felt_there[NUT]), -float(felt_there[SEAT])
