"""Threads of rod and nut in shear: areas at the limits of tolerance, and stripping forces.

The shear areas are those at which the thread of one part is cut by the crest of the other, with the
least material that tolerance class 6g/6H allows. Lengths in m, strengths in Pa, forces in N.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

SHEAR_OVER_TENSION = 0.58
"""Shear strength over tensile strength, 1/√3 of von Mises rounded as VDI 2230 does."""

_TAN = math.tan(math.pi / 6)
"""Of half the flank angle of ISO 68-1."""


@dataclass(frozen=True)
class Limits:
    """Diameters (m) of least material in class 6g/6H: rod major and pitch, nut minor and pitch."""

    rod_major: float
    rod_pitch: float
    nut_minor: float
    nut_pitch: float


def tolerance_limits(d: float, pitch: float) -> Limits:
    """Return the least-material diameters of a metric thread of nominal diameter `d`, 6g/6H.

    ISO 965-1 formulas (from memory), P and d in mm, results in µm, not rounded to R40 numbers:
    es = 15 + 11 P; Td = 180 P^(2/3) − 3.15/√P; TD1 = 230 P^0.7; Td2 = 90 P^0.4 d^0.1;
    TD2 = 1.32 Td2. They agree with the rounded ones within 4 %.

    Raises
    ------
    ValueError
        Unless 0 < 2 pitch < d, pitch from 1 to 8 mm.
    """
    p, size = 1e3 * pitch, 1e3 * d
    if not (p * (1 + 1e-9) >= 1 and p <= 8 * (1 + 1e-9) and 2 * p < size < math.inf):
        raise ValueError(f"no thread of d = {size:g} mm, P = {p:g} mm; allowed: P 1 to 8 mm < d/2")
    height = math.sqrt(3) / 2 * pitch
    mean, minor = d - 3 / 4 * height, d - 5 / 4 * height
    allowance = 1e-6 * (15 + 11 * p)
    width = 1e-6 * 90 * p**0.4 * size**0.1
    return Limits(
        d - allowance - 1e-6 * (180 * p ** (2 / 3) - 3.15 / math.sqrt(p)),
        mean - allowance - width,
        minor + 1e-6 * 230 * p**0.7,
        mean + 1.32 * width,
    )


def rod_shear_area(d: float, pitch: float, length: float) -> float:
    """Area (m²) of the rod's thread cut by the nut's crests over an engaged `length` (m).

    π D1 L/P (P/2 + (d2 − D1) tan 30°) at least material, FED-STD-H28 and ISO/TR 16224.
    """
    limits = tolerance_limits(d, pitch)
    width = pitch / 2 + (limits.rod_pitch - limits.nut_minor) * _TAN
    return math.pi * limits.nut_minor * _engaged(length) / pitch * width


def nut_shear_area(d: float, pitch: float, length: float) -> float:
    """Area (m²) of the nut's thread cut by the rod's crests over an engaged `length` (m).

    π d L/P (P/2 + (d − D2) tan 30°) at least material, FED-STD-H28 and ISO/TR 16224.
    """
    limits = tolerance_limits(d, pitch)
    width = pitch / 2 + (limits.rod_major - limits.nut_pitch) * _TAN
    return math.pi * limits.rod_major * _engaged(length) / pitch * width


def dilation_factor(across_flats: float, d: float) -> float:
    """What widening of a hexagon nut leaves of the shear strength: 3.8 s/d − (s/d)² − 2.61.

    E. M. Alexander, SAE 770420 (1977), and VDI 2230-1 (C1; from memory); at most 1.

    Raises
    ------
    ValueError
        Unless s/d lies from 1.4 to 1.9, where the formula was fitted.
    """
    ratio = across_flats / d
    if not 1.4 <= ratio <= 1.9:
        raise ValueError(f"s/d = {ratio:.3g}; allowed: 1.4 to 1.9")
    return min(1.0, 3.8 * ratio - ratio**2 - 2.61)


def _engaged(length: float) -> float:
    if not 0 < length < math.inf:
        raise ValueError(f"engaged length {length:g} m; allowed: more than 0")
    return length
