"""Plates joined by shear connectors: partial composite action, dowels and weld seams.

Layers that bend to one curve, with interfaces that slip in proportion to the flow across them:
N. M. Newmark, C. P. Siess, I. M. Viest, Proc. SESA 9 (1951) 75; for a half-sine the result is that
of the γ-method (EN 1995-1-1 Annex B). Layers do not shear. Lengths in m, forces in N, stresses in
Pa.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from platestack.fea.hand.section import FloatArray

STRENGTH_FACTOR = 1.25
"""γ_M2 of EN 1993-1-8: pins in shear and welds."""

_REFERENCE = 0.016
"""d_M16 of EN 1993-1-8 Table 6.11 (m)."""


@dataclass(frozen=True)
class Layer:
    """A plate of rectangular section (m), with Young's modulus (Pa)."""

    thickness: float
    width: float
    young: float

    @property
    def axial(self) -> float:
        """EA (N)."""
        return self.young * self.width * self.thickness

    @property
    def bending(self) -> float:
        """EI about its own axis (N m²)."""
        return self.axial * self.thickness**2 / 12


def effective_stiffness(
    layers: Sequence[Layer], slip: Sequence[float], wave: float
) -> tuple[float, FloatArray]:
    """Bending stiffness of layers for a half-sine, and the flows across their interfaces.

    Parameters
    ----------
    layers : n layers, from below.
    slip : n − 1 of N/m²
        Flow over slip of each interface; 0: loose, inf: as one.
    wave : float
        Length of the half-sine (m).

    Returns
    -------
    stiffness : float
        (EI)_ef (N m²).
    flows : (n − 1,) array
        Amplitude of the flow (N/m) for a deflection of amplitude 1 m; cosine where that is sine.

    Raises
    ------
    ValueError
        If the interfaces are not one fewer than the layers, or a value is out of range.
    """
    _sound(layers, slip, wave)
    beta = math.pi / wave
    arms = np.array([(a.thickness + b.thickness) / 2 for a, b in pairwise(layers)])
    stretch = 1 / (np.array([layer.axial for layer in layers]) * beta**2)
    moduli = np.asarray(slip, dtype=float)
    held = np.flatnonzero(moduli > 0)
    matrix = np.diag(stretch[:-1] + stretch[1:])
    matrix -= np.diag(stretch[1:-1], 1) + np.diag(stretch[1:-1], -1)
    matrix = matrix[np.ix_(held, held)] + np.diag(1 / moduli[held])
    flows = np.zeros(len(arms))
    flows[held] = np.linalg.solve(matrix, beta * arms[held])
    return sum(layer.bending for layer in layers) + float(flows @ arms) / beta**3, flows


def point_load(
    layers: Sequence[Layer], slip: Sequence[float], span: float, force: float, terms: int = 400
) -> tuple[float, FloatArray]:
    """Deflection under a force at mid-span, and the force across each interface of one half.

    Simply supported, by a sine series of `terms` odd terms; arguments and errors as of
    `effective_stiffness`.

    Returns
    -------
    deflection : float
        m, without shear of the layers.
    forces : (n − 1,) array
        Flow summed from support to mid-span (N).
    """
    deflection, forces = 0.0, np.zeros(len(layers) - 1)
    for m in range(1, 2 * terms, 2):
        stiffness, flows = effective_stiffness(layers, slip, span / m)
        part = 2 * force * span**3 / (math.pi**4 * m**4 * stiffness)
        deflection += part
        forces += part * flows * span / (m * math.pi)
    return deflection, forces


def dowel_stiffness(
    d: float, thicknesses: tuple[float, float], dowel_tensile: float, plate_tensile: float
) -> float:
    """Force over slip (N/m) of one dowel between two plates.

    Springs in series of EN 1993-1-8 Table 6.11, not verified, half of a row of two bolts: shear
    8 d² f_ub / d_M16, bearing 12 k_b k_t d f_u in each plate with k_b = 1.25 (far from edges),
    k_t = 1.5 t/d_M16 ≤ 2.5. They hold for bolts in clearance holes once these bear; a fitted
    dowel is stiffer.
    """
    springs = [8 * d**2 * dowel_tensile / _REFERENCE]
    for t in thicknesses:
        springs.append(12 * 1.25 * min(1.5 * t / _REFERENCE, 2.5) * d * plate_tensile)
    return 1 / sum(1 / spring for spring in springs)


def dowel_strength(
    d: float, thickness: float, dowel_tensile: float, yield_strength: float
) -> float:
    """Design shear force (N) of a dowel across one face, EN 1993-1-8 Table 3.10 (pins).

    The lesser of 0.6 A f_up / γ_M2 and 1.5 t d f_y, with t how deep it sits in either plate and
    f_y the lower of dowel and plate.
    """
    shear = 0.6 * math.pi / 4 * d**2 * dowel_tensile / STRENGTH_FACTOR
    return min(shear, 1.5 * thickness * d * yield_strength)


def weld_strength(tensile: float) -> float:
    """Design shear strength (Pa) of a fillet weld on its throat, f_u / (√3 β_w γ_M2).

    EN 1993-1-8 4.5.3.3; β_w of Table 4.1 by the tensile strength of the weaker plate: 0.8 up to 360
    MPa, 0.85 up to 430, 0.9 up to 510, 1.0 above.
    """
    if not 0 < tensile < math.inf:
        raise ValueError(f"tensile strength {tensile:g} Pa; allowed: more than 0")
    beta = next(
        b
        for end, b in ((360, 0.8), (430, 0.85), (510, 0.9), (math.inf, 1.0))
        if tensile <= end * 1e6
    )
    return tensile / (math.sqrt(3) * beta * STRENGTH_FACTOR)


def seam_stiffness(shear_modulus: float, seams: int) -> float:
    """Flow over slip (N/m²) of fillet seams along the edges: G/√2 each.

    A throat a sheared over the leg's height a√2; an estimate that leaves out how the plates spread
    the flow over their width.
    """
    return seams * shear_modulus / math.sqrt(2)


def _sound(layers: Sequence[Layer], slip: Sequence[float], wave: float) -> None:
    sizes = [size for one in layers for size in (one.thickness, one.width, one.young)]
    if len(layers) - 1 != len(slip) or not layers:
        raise ValueError(
            f"{len(layers)} layers, {len(slip)} interfaces; allowed: one interface fewer"
        )
    if not all(0 < size < math.inf for size in (*sizes, wave)) or not all(k >= 0 for k in slip):
        raise ValueError("sizes must be positive and slip moduli not negative")
