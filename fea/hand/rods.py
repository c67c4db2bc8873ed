"""A tie rod bent by the tilt of what its nuts bear on, while it is stretched.

The rod is a beam of length L under tension T, its ends held at the slopes of the plates: with
k = √(T/EI), h = L/2, w'''' = k² w'' has the solutions A cosh kx and A sinh kx + Bx (re-derived; the
same as the stability functions for tension of Livesley and Chandler, 1956).
"""

from __future__ import annotations

import math

_SLENDER = 1e-3
"""Below this kh the limits without tension are taken; they differ by (kh)²/3."""


def end_moments(
    tension: float, stiffness: float, length: float, top: float, bottom: float
) -> tuple[float, float]:
    """Bending moments (N m) EI w'' at the top and bottom end of a rod.

    Opposite slopes ±θ bow it: EI k θ coth kh at both ends. Equal slopes θ bend it to an S:
    ±EI k θ / (coth kh − 1/kh).

    Parameters
    ----------
    tension, stiffness, length : float
        N, at least 0; EI in N m²; m.
    top, bottom : float
        Slopes w' of the ends, in rad along one axis upwards.

    Raises
    ------
    ValueError
        If tension is negative, or stiffness or length not positive.
    """
    if not (0 <= tension < math.inf and 0 < stiffness < math.inf and 0 < length < math.inf):
        raise ValueError(
            f"tension {tension:g} N, EI {stiffness:g} N m², length {length:g} m; "
            "allowed: at least 0, more than 0, more than 0"
        )
    h = length / 2
    kh = h * math.sqrt(tension / stiffness)
    if kh < _SLENDER:
        one, other = 1 / h, 3 / h
    else:
        coth = 1 / math.tanh(kh)
        one, other = kh / h * coth, kh / h / (coth - 1 / kh)
    bow = stiffness * one * (top - bottom) / 2
    s_shape = stiffness * other * (top + bottom) / 2
    return bow + s_shape, bow - s_shape


def round_stiffness(young: float, diameter: float) -> float:
    """Bending stiffness EI of a round bar (N m²)."""
    return young * math.pi / 64 * diameter**4


def bending_stress(moment: float, stress_area: float) -> float:
    """Extreme-fibre stress (Pa) of a moment in the circle that has the thread's stress area."""
    d = math.sqrt(4 * stress_area / math.pi)
    return 32 * moment / (math.pi * d**3)
