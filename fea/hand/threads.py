"""Threads of rod and nut in shear: areas at the limits of tolerance, and stripping forces.

The shear areas are those at which the thread of one part is cut by the crest of the other, with the
least material that tolerance class 6g/6H (metric) or 7e/7H (trapezoidal) allows. Lengths in m,
strengths in Pa, forces in N.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from platestack.geometry.tables import Thread, TrapezoidalThread

SHEAR_OVER_TENSION = 0.58
"""Shear strength over tensile strength, 1/√3 of von Mises rounded as VDI 2230 does."""


@dataclass(frozen=True)
class ThreadLimits:
    """Diameters (m) of least material: rod major and pitch, nut minor and pitch."""

    rod_major: float
    rod_pitch: float
    nut_minor: float
    nut_pitch: float


def tolerance_limits(thread: Thread | TrapezoidalThread) -> ThreadLimits:
    """Return the least-material diameters: metric threads in class 6g/6H, trapezoidal in 7e/7H.

    ISO 965-1 formulas (not verified), P and d in mm, results in µm, not rounded to R40 numbers:
    es = 15 + 11 P; Td = 180 P^(2/3) − 3.15/√P; TD1 = 230 P^0.7; Td2 = 90 P^0.4 d^0.1;
    TD2 = 1.32 Td2. They agree with the rounded ones within 4 %. ISO 2903 (not verified) has for
    trapezoidal threads es = 50 + 11 P on the pitch diameter alone, grade 4 (0.63 times) at the
    crests and grade 7 (1.25 times) at the flanks.

    Raises
    ------
    ValueError
        Unless the pitch is from 1 to 8 mm (metric) or to 44 mm, and under half the diameter.
    """
    trapezoidal = isinstance(thread, TrapezoidalThread)
    p, size, most = 1e3 * thread.pitch, 1e3 * thread.d, 44 if trapezoidal else 8
    if not (p * (1 + 1e-9) >= 1 and p <= most * (1 + 1e-9) and 2 * p < size < math.inf):
        raise ValueError(
            f"no thread of d = {size:g} mm, P = {p:g} mm; allowed: P 1 to {most} mm < d/2"
        )
    crest, flank = (0.63, 1.25) if trapezoidal else (1.0, 1.0)
    allowance = 1e-6 * ((50 if trapezoidal else 15) + 11 * p)
    width = flank * 1e-6 * 90 * p**0.4 * size**0.1
    major = crest * 1e-6 * (180 * p ** (2 / 3) - 3.15 / math.sqrt(p))
    return ThreadLimits(
        thread.d - (0 if trapezoidal else allowance) - major,
        thread.d2 - allowance - width,
        thread.d1 + crest * 1e-6 * 230 * p**0.7,
        thread.d2 + 1.32 * width,
    )


def rod_shear_area(thread: Thread | TrapezoidalThread, length: float) -> float:
    """Area (m²) of the rod's thread cut by the nut's crests over an engaged `length` (m).

    π D1 L/P (P/2 + (d2 − D1) tan β) at least material, FED-STD-H28 and ISO/TR 16224; β = 30°
    metric, 15° trapezoidal.
    """
    limits = tolerance_limits(thread)
    return _cut(thread, limits.nut_minor, limits.rod_pitch - limits.nut_minor, length)


def nut_shear_area(thread: Thread | TrapezoidalThread, length: float) -> float:
    """Area (m²) of the nut's thread cut by the rod's crests over an engaged `length` (m).

    π d L/P (P/2 + (d − D2) tan β) at least material; sources as of `rod_shear_area`.
    """
    limits = tolerance_limits(thread)
    return _cut(thread, limits.rod_major, limits.rod_major - limits.nut_pitch, length)


def _cut(thread: Thread | TrapezoidalThread, diameter: float, depth: float, length: float) -> float:
    """Area of all turns at a diameter that lies so deep below the pitch line."""
    width = thread.pitch / 2 + depth * math.tan(thread.flank)
    return math.pi * diameter * _engaged(length) / thread.pitch * width


def dilation_factor(across_flats: float, d: float) -> float:
    """What widening of a hexagon nut leaves of the shear strength: 3.8 s/d − (s/d)² − 2.61.

    E. M. Alexander, SAE 770420 (1977), and VDI 2230-1 (C1; not verified); at most 1.

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
