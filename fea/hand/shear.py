"""Shear stress across the plates of a stack, and the shear flow between them.

Jourawski's formula with E of each plate: the flow at height z is q = V S(z) / EI, with S(z) the
moment of E b dz above z about the neutral axis; the stress is the flow over the width. Timoshenko,
Strength of Materials, part I, shear stresses in bending.
"""

from __future__ import annotations

import numpy as np

from platestack.fea.hand import section
from platestack.fea.hand.bending import Curve
from platestack.fea.hand.section import FloatArray, Rectangles
from platestack.geometry.parts import Plate


def forces(curve: Curve) -> tuple[FloatArray, FloatArray]:
    """Return the middles (n,) (m) of a bent beam's elements and the shear force (N) on each."""
    return (curve.x[1:] + curve.x[:-1]) / 2, np.diff(curve.moment) / np.diff(curve.x)


def flow(plates: tuple[Plate, ...], x: FloatArray, shear: FloatArray, z: float) -> FloatArray:
    """Shear flow at height z between plates that bend as one.

    Parameters
    ----------
    plates : tuple of Plate
        Those that bend.
    x, shear : (n,)
        Stations (m) and shear forces (N) there.
    z : float
        Height (m).

    Returns
    -------
    (n,) array
        N/m, of the sign of the shear force; 0 where no section is left.
    """
    parts = section.joined([section.cut(plate, x) for plate in plates])
    neutral, bending = _axis(parts)
    moment = _first_moment(parts, neutral, np.full((1, len(x)), z))[0]
    return shear * _over(moment, bending)


def peak_stress(
    plates: tuple[Plate, ...], x: FloatArray, shear: FloatArray, *, welded: bool
) -> FloatArray:
    """Largest shear stress (Pa) of each section, (n,); arguments as of `flow`.

    Loose plates share the shear force in proportion to their bending stiffness.
    """
    cuts = [section.cut(plate, x) for plate in plates]
    if welded:
        return _peak(section.joined(cuts), abs(shear))
    stiffness = np.stack([_axis(one)[1] for one in cuts])
    shares = _over(stiffness, stiffness.sum(axis=0))
    peaks = [_peak(one, share * abs(shear)) for one, share in zip(cuts, shares, strict=True)]
    return np.max(peaks, axis=0)


def _peak(parts: Rectangles, shear: FloatArray) -> FloatArray:
    """Largest flow over width, at every edge of a rectangle from both sides and at mid-height."""
    neutral, bending = _axis(parts)
    heights = np.concatenate([parts.low, parts.high, neutral[None]])
    z = heights[:, None]
    above = np.where((parts.low <= z) & (z < parts.high), parts.width, 0.0).sum(axis=1)
    below = np.where((parts.low < z) & (z <= parts.high), parts.width, 0.0).sum(axis=1)
    narrow = np.minimum(np.where(above > 0, above, np.inf), np.where(below > 0, below, np.inf))
    stress = _over(abs(_first_moment(parts, neutral, heights)), bending) / narrow
    peak: FloatArray = shear * stress.max(axis=0)
    return peak


def _axis(parts: Rectangles) -> tuple[FloatArray, FloatArray]:
    """Height of the neutral axis (m) and EI (N m²), each (n,); 0 where there is no section."""
    height = parts.high - parts.low
    axial = parts.young[:, None] * parts.width * height
    middle = (parts.high + parts.low) / 2
    neutral = _over((axial * middle).sum(axis=0), axial.sum(axis=0))
    return neutral, (axial * (height**2 / 12 + (middle - neutral) ** 2)).sum(axis=0)


def _first_moment(parts: Rectangles, neutral: FloatArray, heights: FloatArray) -> FloatArray:
    """Moment of Eb above each of the heights (k, n) about the neutral axis (k, n) (N m)."""
    low = np.clip(heights[:, None], parts.low, parts.high)
    arm = (parts.high + low) / 2 - neutral
    return (parts.young[:, None] * parts.width * (parts.high - low) * arm).sum(axis=1)


def _over(a: FloatArray, b: FloatArray) -> FloatArray:
    """Quotient, 0 where there is nothing to divide by."""
    b = np.broadcast_to(b, a.shape)
    return np.divide(a, b, where=b > 0, out=np.zeros_like(a))
