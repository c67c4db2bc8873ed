"""How the tilt of crosshead and bed under the nuts bends the tie rods."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fea.hand import rods
from fea.model import Solution
from fea.stack import StackSolution
from geometry.parts import TieRod

Tilt = tuple[float, float]


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
    tilts = {name: _tilt(solved, rod) for name, solved in solution.stacks.items()}
    top, bottom = (tilts.get(name, (0.0, 0.0)) for name in ("crosshead", "bed"))
    stiffness = rods.round_stiffness(rod.material.young, rod.diameter)
    tension = solution.nut_force(rod)
    ends = np.array(
        [
            rods.end_moments(tension, stiffness, rod.free_length, -a, -b)
            for a, b in zip(top, bottom, strict=True)
        ]
    )
    moment = float(np.hypot(*ends).max())
    return RodBending(moment, rods.bending_stress(moment, rod.stress_area), top, bottom)


def _tilt(solved: StackSolution, rod: TieRod) -> Tilt:
    """Tilt of the plane fitted to a nut's annulus; read at the image where only that is meshed."""
    planes = ["x" in solved.mesh.symmetry, "y" in solved.mesh.symmetry]
    at = [abs(c) if plane else c for c, plane in zip(rod.at, planes, strict=True)]
    nodes = solved.mesh.nodes[solved.fields.nodes.node]
    away = nodes[:, :2] - at
    bears = (abs(nodes[:, 2] - solved.stack.nut_face) < 1e-6) & (
        np.hypot(*away.T) < rod.bearing_outer / 2 + 1e-6
    )
    plane = np.column_stack([np.ones(bears.sum()), away[bears]])
    fit = np.linalg.lstsq(plane, solved.fields.displacement[bears, 2], rcond=None)[0]
    # On a plane of symmetry the annulus is halved, and does not tilt across it.
    x, y = (
        0.0 if mirrored and abs(c) < 1e-9 else math.copysign(1.0, c) * slope if mirrored else slope
        for mirrored, c, slope in zip(planes, rod.at, fit[1:], strict=True)
    )
    return float(x), float(y)
