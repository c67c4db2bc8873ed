"""Cracks: their stress intensity, how fast they grow, and at which size they break.

Lengths in m, stresses in Pa, stress intensities in Pa √m, temperatures in °C.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from platestack.fea.hand.section import FloatArray

Shape = Callable[[FloatArray], FloatArray]
"""Y of K = Y σ √(π a), at sizes a (m)."""

THREAD_RANGE = (0.004, 0.5)
"""Crack depth over core diameter for which `thread_root` holds."""
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


def corner(thickness: float) -> Shape:
    """Return Y of a quarter-circular crack at a corner of a plate, the larger of both surfaces.

    J. C. Newman and I. S. Raju, NASA TM-85793 (1984), a = c, wide plate; within 5 % up to a/t = 0.8
    (secondary copy read). It holds for a rim as well, as long as the crack is small against it.
    """

    def y(a: FloatArray) -> FloatArray:
        s = (a / thickness) ** 2
        whole = 1.05 + (1.06 / 1.3 - 0.44) * s - 0.25 * s**2
        # At the faces, φ = 0 and 90°: each has one of the two factors.
        at_faces = np.maximum(1 + 0.08 + 0.4 * s, 1 + 0.08 + 0.15 * s)
        return np.asarray(whole * at_faces / math.sqrt(2.464))

    return y


def face(a: FloatArray) -> FloatArray:
    """Return Y of a half-circular crack in the middle of a face, at the face, where it is largest.

    1.04 · 1.1 / √2.464: J. C. Newman and I. S. Raju, Eng. Fract. Mech. 15 (1981) 185, a = c, small
    against the body (secondary copy read).
    """
    return np.full_like(a, 1.04 * 1.1 / math.sqrt(2.464))


def cut_edge(thickness: float) -> Shape:
    """Return Y of the worse of a crack at the corner of a cut edge and one in its face."""
    at_corner = corner(thickness)
    return lambda a: np.maximum(at_corner(a), face(a))


def thread_root(core: float) -> Shape:
    """Return Y of a crack at the root of a thread, on the nominal stress of the core.

    L. A. James and W. J. Mills, Eng. Fract. Mech. 30 (1988) 641, 0.004 ≤ a/d ≤ 0.5; not verified.
    """

    def y(a: FloatArray) -> FloatArray:
        x = np.clip(a / core, *THREAD_RANGE)
        return np.asarray(
            2.043 * np.exp(-31.332 * x)
            + 0.6507 + 0.5367 * x + 3.0469 * x**2 - 19.504 * x**3 + 45.647 * x**4
        )  # fmt: skip

    return y


def cycles(
    stages: Sequence[tuple[float, float]], stress: float, shape: Shape, first: float, last: float
) -> float:
    """Return the cycles in which a crack grows from size `first` to `last` (m); 0 if it is there.

    ∫ da / min(A ΔK^m), Paris and Erdogan 1963, with ΔK = Y Δσ √(π a); by Gauss's rule over ln a. No
    threshold below which a crack would rest.

    Parameters
    ----------
    stages : A and m, for m/cycle and Pa √m; the slower one holds.
    stress : range Δσ (Pa); where it is 0 the cycles are infinite.

    Raises
    ------
    ValueError
        If a size is not positive, or the stress negative.
    """
    if not (0 < first < math.inf and 0 < last < math.inf and 0 <= stress < math.inf):
        raise ValueError(f"sizes {first:g}, {last:g} m, range {stress:g} Pa; allowed: positive")
    if last <= first:
        return 0.0
    if stress == 0:
        return math.inf
    ends = np.linspace(math.log(first), math.log(last), 9)
    half = np.diff(ends)[:, None] / 2
    a = np.exp(ends[:-1, None] + half * (1 + _NODES))
    intensity = shape(a) * stress * np.sqrt(math.pi * a)
    rate = np.min([factor * intensity**m for factor, m in stages], axis=0)
    return float((half * _WEIGHTS * a / rate).sum())


def critical_size(stress: float, shape: Shape, toughness: float, largest: float) -> float:
    """Return the size (m) at which K = Y σ √(π a) reaches a toughness (Pa √m), up to `largest`."""
    a = np.geomspace(1e-6, largest, 4000)
    beyond = np.flatnonzero(shape(a) * stress * np.sqrt(math.pi * a) >= toughness)
    return float(a[beyond[0]]) if len(beyond) else largest


def toughness(
    temperature: float, transition: float | None, energy: float, thickness: float
) -> float:
    """Return the fracture toughness (Pa √m) that 95 % of plates have, from impact energy.

    The lower of the transition curve, 20 + (11 + 77 e^((T − T_27J + 18)/52)) (25 mm/B)^¼
    ln(1/0.95)^¼ MPa √m (Wallin, as in the JCSS Probabilistic Model Code and EN 1993-1-10's
    background; secondary copy read), and 55 + 0.54 KV of the upper shelf (BS 7910 Annex J, not
    verified). Without a transition temperature what the curve tends to in the cold.

    Parameters
    ----------
    temperature, transition : of service, and that of 27 J; None where it is not known.
    energy : J at the test, or 0.
    thickness : m.
    """
    rise = 0.0 if transition is None else 77 * math.exp((temperature - transition + 18) / 52)
    curve = 20 + (11 + rise) * (0.025 / thickness) ** 0.25 * math.log(1 / 0.95) ** 0.25
    return 1e6 * min(curve, 55 + 0.54 * energy)
