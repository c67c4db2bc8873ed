"""Helical compression springs of round wire: m, N, Pa (EN 13906-1, not verified)."""

from __future__ import annotations

import math
from dataclasses import dataclass

SHEAR_MODULUS = 81.5e9
"""Of spring wire (Pa), EN 10270-1, not verified against the standard."""
SHARE_OF_STRENGTH = 0.56
"""Allowed shear stress at the solid length over the wire's tensile strength, EN 13906-1."""


@dataclass(frozen=True)
class CoilSpring:
    """One spring; raises ValueError unless 4 ≤ D/d ≤ 20, two coils and a length over solid."""

    wire: float
    coil: float
    """Mean diameter of the coils, D (m)."""
    coils: float
    """Coils that work; two dead ones are added."""
    free_length: float

    def __post_init__(self) -> None:
        if not (0 < self.wire < math.inf and 4 <= self.coil / self.wire <= 20):
            raise ValueError(f"coil {self.coil:g} m of wire {self.wire:g} m; allowed: D/d 4 to 20")
        if not (2 <= self.coils <= 1000 and self.free_length > self.solid_length):
            raise ValueError(
                f"{self.coils:g} coils, {self.free_length:g} m long; allowed: at least 2, and "
                f"longer than the coils touching, {self.solid_length:g} m"
            )

    @property
    def rate(self) -> float:
        """Stiffness G d⁴ / (8 D³ n) (N/m)."""
        return SHEAR_MODULUS * self.wire**4 / (8 * self.coil**3 * self.coils)

    @property
    def solid_length(self) -> float:
        """Length with all coils touching, (n + 2) d, ends ground (m)."""
        return (self.coils + 2) * self.wire

    def force(self, length: float) -> float:
        """Force (N) at a length (m); 0 beyond the free length."""
        return self.rate * max(0.0, self.free_length - length)

    def stress(self, force: float) -> float:
        """Greatest shear stress, k 8FD/(π d³), k = (w + 0.5)/(w − 0.75) by Bergsträsser."""
        w = self.coil / self.wire
        return (w + 0.5) / (w - 0.75) * 8 * force * self.coil / (math.pi * self.wire**3)
