"""Threads of 60° and hexagon nuts, whatever table they come from."""

from __future__ import annotations

import math
from dataclasses import dataclass

from platestack.geometry.tables.source import Certainty


@dataclass(frozen=True)
class Thread:
    """An ISO metric thread: nominal diameter `d` and `pitch` (m), basic profile of ISO 68-1."""

    d: float
    pitch: float
    designation: str
    flank = math.radians(30)
    """Angle between flank and normal of the axis."""

    @property
    def height(self) -> float:
        """Height of the fundamental triangle, H = √3/2 P (m), ISO 68-1."""
        return math.sqrt(3) / 2 * self.pitch

    @property
    def d2(self) -> float:
        """Pitch diameter, d − 3/4 H (m), ISO 724."""
        return self.d - 3 / 4 * self.height

    @property
    def d1(self) -> float:
        """Minor diameter of the nut thread, d − 5/4 H (m), ISO 724."""
        return self.d - 5 / 4 * self.height

    @property
    def d3(self) -> float:
        """Root diameter of the rod thread, d − 17/12 H (m): d1 − H/6, ISO 898-1."""
        return self.d - 17 / 12 * self.height

    @property
    def stress_area(self) -> float:
        """Tensile stress area, π/4 ((d2 + d3)/2)² (m²), ISO 898-1."""
        return math.pi / 4 * ((self.d2 + self.d3) / 2) ** 2


@dataclass(frozen=True)
class UnifiedThread(Thread):
    """A unified inch thread; its basic profile is that of ISO 68-1."""

    @property
    def stress_area(self) -> float:
        """Tensile stress area, π/4 (d − 0.9743 P)² (m²), ASME B1.1 Appendix B (not verified)."""
        return math.pi / 4 * (self.d - 0.9743 * self.pitch) ** 2


@dataclass(frozen=True)
class Nut:
    """A hexagon nut (m): width across flats, height, outer diameter of its bearing face."""

    across_flats: float
    height: float
    bearing_diameter: float
    source: str
    certainty: Certainty
