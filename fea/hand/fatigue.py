"""Fatigue by detail category, EN 1993-1-9: the stress range that so many cycles allow.

Stress ranges are in Pa, from least to greatest stress, not amplitudes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

REFERENCE, KNEE, CUT_OFF = 2e6, 5e6, 1e8
"""Cycles at which a category is named, of the constant-amplitude limit, of the cut-off."""

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


def allowed_range(category: float, cycles: float, factor: float, knee: float = KNEE) -> float:
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
    knee : float
        Cycles beyond which no more strength is lost; infinite where sizes vary.

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
    return category / factor * (REFERENCE / min(cycles, knee)) ** (1 / 3)


def allowed_shear(category: float, cycles: float, factor: float) -> float:
    """Return the shear-stress range (Pa): Δτ⁵ N = Δτ_C⁵ 2·10⁶ up to 10⁸ cycles; EN 1993-1-9, 7.1.

    Arguments and errors as of `allowed_range`.
    """
    allowed_range(category, cycles, factor)
    return category / factor * (REFERENCE / min(cycles, CUT_OFF)) ** (1 / 5)


def damage(category: float, ranges: Iterable[tuple[float, float]], variable: bool = True) -> float:
    """Return the sum of Palmgren and Miner, Σ n/N, of ranges of direct stress.

    EN 1993-1-9, 7.1 and A.5: Δσ³ N = Δσ_C³ 2·10⁶ down to Δσ_D at 5·10⁶ cycles, Δσ⁵ N = Δσ_D⁵
    5·10⁶ down to the cut-off Δσ_L at 10⁸, nothing below. Where all ranges are alike, nothing from
    Δσ_D on.

    Parameters
    ----------
    category : Δσ_C over its partial factor (Pa).
    ranges : stress ranges (Pa), each with its cycles.
    variable : whether sizes vary.
    """
    limit = category * (REFERENCE / KNEE) ** (1 / 3)
    cut_off = limit * (KNEE / CUT_OFF) ** (1 / 5) if variable else limit
    total = 0.0
    for size, cycles in ranges:
        if size >= limit:
            total += cycles / REFERENCE * (size / category) ** 3
        elif size >= cut_off:
            total += cycles / KNEE * (size / limit) ** 5
    return total
