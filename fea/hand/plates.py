"""How small a workpiece may be: pressure under it, and bending by a load that is less spread."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from platestack.fea.hand import section
from platestack.fea.hand.bending import Load, bend, supports
from platestack.geometry.parts import Patch, Stack, TieRod

_STEPS = 120
"""Elements along the beam: 0.1 % of the bending stress under a small patch."""


@dataclass(frozen=True)
class PatchPoint:
    """A round workpiece (m) under the whole force, and the stresses it makes over the allowed."""

    diameter: float
    pressure: float
    """Mean pressure over the yield strength of the loaded plate, times the safety factor."""
    bending: float
    """Nominal bending stress of the beam over the least yield strength, times the factor."""

    @property
    def utilisation(self) -> float:
        """The larger of both."""
        return max(self.pressure, self.bending)


def least_diameter(force: float, allowed: float) -> float:
    """Diameter (m) of the disc on which a force (N) makes the allowed mean pressure (Pa).

    Raises
    ------
    ValueError
        Unless both are positive.
    """
    if not (0 < force < math.inf and 0 < allowed < math.inf):
        raise ValueError(f"force {force:g} N, pressure {allowed:g} Pa; allowed: more than 0")
    return math.sqrt(4 * force / (math.pi * allowed))


def patch_curve(
    stack: Stack, rods: tuple[TieRod, ...], force: float, factor: float, diameters: Iterable[float]
) -> tuple[PatchPoint, ...]:
    """Utilisation by round workpieces of several diameters (m) on a stack's loaded face.

    Statics of the pressure; bending as a beam along x on the rods (`fea.hand.bending`), its
    plates one where the stack is welded, else sliding. The stress of the solid under and beside the
    workpiece is lower than the pressure: Timoshenko and Goodier, art. 138, τ_max ≈ 0.33 p.

    Parameters
    ----------
    force, factor : float
        Pressing force (N); safety factor against yield.

    Raises
    ------
    NotABeam
        If beam theory cannot describe the stack.
    """
    plates = section.bending_plates(stack.plates)
    touched = min(
        plates, key=lambda p: min(abs(end[2] - stack.load_face) for end in p.bounds)
    ).material
    weakest = min(plate.material.yield_strength for plate in plates)
    held, welded = supports(rods), stack.interface == "welded"
    points = []
    for d in diameters:
        patch = Patch("disc", stack.patch.centre, d, d)
        curve = bend(plates, (Load(patch, force),), held, welded=welded, steps=_STEPS)
        ends = np.maximum(abs(curve.moment[1:]), abs(curve.moment[:-1]))
        stress = float((ends * curve.stiffness.fibre).max())
        points.append(
            PatchPoint(
                d,
                factor * force / patch.area / touched.yield_strength,
                factor * stress / weakest,
            )
        )
    return tuple(points)


def smallest_patch(
    stack: Stack, rods: tuple[TieRod, ...], force: float, factor: float
) -> float | None:
    """Diameter (m) of the smallest round workpiece that may take the whole force.

    None where bending alone is too much even on a workpiece as wide as the rods' span; errors and
    arguments as of `patch_curve`.
    """

    def excess(d: float) -> float:
        (point,) = patch_curve(stack, rods, force, factor, (d,))
        return point.utilisation - 1

    rows = [rod.at[0] for rod in rods]
    high = max(rows) - min(rows)
    plates = section.bending_plates(stack.plates)
    strongest = max(plate.material.yield_strength for plate in plates)
    low = min(least_diameter(force, strongest / factor), high)
    if excess(high) > 0:
        return None
    while high - low > 1e-3 * high:
        middle = (low + high) / 2
        low, high = (low, middle) if excess(middle) <= 0 else (middle, high)
    return high
