"""A solid round ram as a column, and the side load on its guides."""

from __future__ import annotations

import math
from dataclasses import dataclass

from platestack.fea.hand.stability import critical_stress


@dataclass(frozen=True)
class Column:
    """A round bar under axial load: sizes in m, moduli and strengths in Pa.

    `end_factor` K times the length is the buckling length: 1 pinned, 2 clamped and free. Raises
    ValueError unless all are positive.
    """

    diameter: float
    length: float
    young: float
    yield_strength: float
    end_factor: float = 2.0

    def __post_init__(self) -> None:
        sizes = (self.diameter, self.length, self.young, self.yield_strength, self.end_factor)
        if not all(0 < value < math.inf for value in sizes):
            raise ValueError(f"{sizes}; allowed: values over 0")

    @property
    def area(self) -> float:
        """In m²."""
        return math.pi / 4 * self.diameter**2

    @property
    def slenderness(self) -> float:
        """Buckling length over radius of gyration d/4."""
        return self.end_factor * self.length / (self.diameter / 4)

    @property
    def slender(self) -> bool:
        """Whether Euler's load counts: from the slenderness √(2π²E/R_e) on."""
        return self.slenderness >= math.sqrt(2 * math.pi**2 * self.young / self.yield_strength)

    @property
    def critical(self) -> float:
        """Buckling load (N): Euler, below the slenderness √(2π²E/R_e) J. B. Johnson's parabola."""
        return self.area * critical_stress(self.slenderness, self.young, self.yield_strength)

    def stress(self, force: float, eccentricity: float) -> float:
        """Greatest compression (Pa) under an eccentric force: the secant formula.

        σ = F/A [1 + 8e/d sec(λ/2 √(F/EA))] (Timoshenko and Gere, Theory of Elastic Stability,
        art. 1.13); infinite from Euler's load on.
        """
        angle = self.slenderness / 2 * math.sqrt(force / (self.young * self.area))
        if angle >= math.pi / 2:
            return math.inf
        amplified = 8 * eccentricity / self.diameter / math.cos(angle)
        return force / self.area * (1 + amplified)


def guide_force(force: float, eccentricity: float, distance: float) -> float:
    """Side load (N) of each of two guides that hold a ram against F·e, by statics."""
    if distance <= 0:
        raise ValueError(f"guides {distance:g} m apart; allowed: over 0")
    return force * eccentricity / distance
