"""Fatigue by detail category, EN 1993-1-9: the stress range that so many cycles allow.

Stress ranges are in Pa, from least to greatest stress, not amplitudes.
"""

from __future__ import annotations

import math

REFERENCE, KNEE = 2e6, 5e6
"""Cycles at which a category is named, and where the constant-amplitude limit lies."""

THREAD_CATEGORY = 50e6
"""Rods and bolts in tension, rolled or cut threads (Pa), EN 1993-1-9 Table 8.1 (not verified)."""


def size_factor(d: float) -> float:
    """Return (30 mm / d)^0.25 for threads over 30 mm, else 1; EN 1993-1-9 Table 8.1, not verified.

    Raises
    ------
    ValueError
        If the diameter `d` (m) is not positive.
    """
    if not 0 < d < math.inf:
        raise ValueError(f"diameter {d:g} m; allowed: more than 0")
    return min(1.0, (0.030 / d) ** 0.25)


def allowed_range(category: float, cycles: float, factor: float) -> float:
    """Return the direct-stress range (Pa) that a detail stands for `cycles` of one size.

    EN 1993-1-9, 7.1: Δσ³ N = Δσ_C³ 2·10⁶ up to 5·10⁶ cycles; beyond, the constant-amplitude limit
    Δσ_D = 0.737 Δσ_C, all over the partial factor. Not checked here: Δσ ≤ 1.5 f_y.

    Parameters
    ----------
    category : float
        Δσ_C (Pa), size factor included.
    cycles : float
        At least 1.
    factor : float
        γ_Mf, at least 1 (1.35: safe life, high consequence).

    Raises
    ------
    ValueError
        If a value is outside these ranges.
    """
    if not (0 < category < math.inf and 1 <= cycles < math.inf and 1 <= factor < math.inf):
        raise ValueError(
            f"category {category:g} Pa, {cycles:g} cycles, factor {factor:g}; "
            "allowed: more than 0, at least 1, at least 1"
        )
    return category / factor * (REFERENCE / min(cycles, KNEE)) ** (1 / 3)
