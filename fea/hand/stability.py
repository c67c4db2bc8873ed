"""Buckling: columns, and upright plates that tip sideways under their load."""

from __future__ import annotations

import math


def critical_stress(slenderness: float, young: float, yield_strength: float) -> float:
    """Return the compression (Pa) at which a column buckles.

    Euler's, below the slenderness √(2π²E/R_e) J. B. Johnson's parabola (Timoshenko and Gere, Theory
    of Elastic Stability, 2nd ed.).
    """
    if slenderness >= math.sqrt(2 * math.pi**2 * young / yield_strength):
        return math.pi**2 * young / slenderness**2
    part = yield_strength * slenderness**2 / (4 * math.pi**2 * young)
    return yield_strength * (1 - part)


def tipping_load(
    young: float, shear: float, height: float, thickness: float, span: float, above: float
) -> float:
    """Return the load (N) at mid-span under which an upright plate tips sideways, at least 0.

    Narrow rectangle, ends kept upright, load `above` its middle (m): 16.94 √(B C)/l² (1 − 1.74
    (a/l) √(B/C)), B = E h t³/12, C = G h t³/3 (Timoshenko and Gere, Theory of Elastic Stability,
    2nd ed., art. 6.4; not verified). What the platen holds is left out.
    """
    bending, twist = young * height * thickness**3 / 12, shear * height * thickness**3 / 3
    centred = 16.94 * math.sqrt(bending * twist) / span**2
    return centred * max(1 - 1.74 * above / span * math.sqrt(bending / twist), 0.0)


def wrinkling_load(young: float, height: float, thickness: float, span: float) -> float:
    """Return the load (N), passing through an upright plate, at which it buckles if elastic.

    F_cr = 0.9 k_F E t³/h, k_F = 3.5 + 2 (h/a)²; EN 1993-1-5, 6.1 and 6.4, type b, not verified.
    """
    return 0.9 * (3.5 + 2 * (height / span) ** 2) * young * thickness**3 / height
