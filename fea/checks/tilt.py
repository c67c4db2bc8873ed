"""How the tilt of crosshead and bed under the nuts bends the tie rods."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platestack.fea.hand import rods
from platestack.fea.solid.model import Solution, Tilt
from platestack.geometry.parts import TieRod


@dataclass(frozen=True)
class RodBending:
    """Bending of a rod at capacity, at its more bent end: moment (N m), stress in the thread (Pa).

    `top` and `bottom` are the tilts of the nuts' annuli, (∂w/∂x, ∂w/∂y).
    """

    moment: float
    stress: float
    top: Tilt
    bottom: Tilt


def rod_bending(solution: Solution, rod: TieRod) -> RodBending:
    """Bend a rod by the computed tilts of crosshead and bed, its nuts flat on them.

    A stack that was not solved counts as straight.
    """
    tilts = solution.tilts(rod)
    top, bottom = (tilts.get(name, (0.0, 0.0)) for name in ("crosshead", "bed"))
    stiffness = rods.round_stiffness(rod.material.young, rod.diameter)
    # A rod that would have to push hangs loose; `fea.checks.frame.rods_in_compression` tells of it.
    tension = max(solution.nut_force(rod), 0.0)
    ends = np.array(
        [
            rods.end_moments(tension, stiffness, rod.free_length, -a, -b)
            for a, b in zip(top, bottom, strict=True)
        ]
    )
    moment = float(np.hypot(*ends).max())
    return RodBending(moment, rods.bending_stress(moment, rod.stress_area), top, bottom)
