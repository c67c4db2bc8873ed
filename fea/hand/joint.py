"""The joint of a tie rod and its seats by hand: who bears what pressing adds.

A rod that is tightened against a seat squeezes the stack between nut and seat, and a sleeve between
both stacks. Pressing stretches the rod and takes squeeze off the seat, in the ratio of their
stiffnesses (joint diagram, VDI 2230-1:2015, not verified against the standard).
"""

from __future__ import annotations

from platestack.geometry.parts import TieRod

STACK_SHARE = 1.5
"""Share that the thread feels over that with rigid stacks, at most: their own compliance beside the
sleeve's adds to it. Full solutions lie between 1 and this."""
THROUGH = 0.35
"""Largest share under a nut that squeezes only a stack: the steel round a rod is several times
stiffer than the rod."""


def felt(rod: TieRod) -> tuple[float, float]:
    """Least and largest share of a rod's working force that comes in under its nut.

    1 without a seat. With a sleeve k_rod / (k_rod + k_sleeve) for rigid stacks, or more as they
    yield; with inner nuts or shoulders 0 for a rigid stack.
    """
    if rod.seat == "none":
        return 1.0, 1.0
    if rod.seat == "sleeve":
        sleeve = rod.material.young * rod.sleeve_area / rod.between
        rigid = rod.stiffness / (rod.stiffness + sleeve)
        return rigid, min(1.0, STACK_SHARE * rigid)
    return 0.0, THROUGH


def least_preload(rod: TieRod, working: float, left: float) -> float:
    """Preload (N) of which a part `left` stays on the seat while the rod bears `working` (N)."""
    return (1 - felt(rod)[0]) * working / (1 - left)
