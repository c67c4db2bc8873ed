"""Thick cylinders, flat bottoms and screwed glands under pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class ThickCylinder:
    """A tube under internal pressure, its ends closed; radii in m, pressures and stresses in Pa.

    Lamé (Timoshenko and Goodier, Theory of Elasticity, art. 28). Raises ValueError unless
    0 < inner < outer.
    """

    inner: float
    outer: float

    def __post_init__(self) -> None:
        if not 0 < self.inner < self.outer < math.inf:
            raise ValueError(f"radii {self.inner:g}, {self.outer:g} m; allowed: 0 < inner < outer")

    @property
    def ratio(self) -> float:
        """Outer over inner radius, K."""
        return self.outer / self.inner

    def stresses(self, pressure: float) -> tuple[float, float, float]:
        """Hoop, radial and axial stress at the bore."""
        k2 = self.ratio**2
        return pressure * (k2 + 1) / (k2 - 1), -pressure, pressure / (k2 - 1)

    def von_mises(self, pressure: float) -> float:
        """Equivalent stress at the bore: √3 p K²/(K²−1)."""
        k2 = self.ratio**2
        return math.sqrt(3) * pressure * k2 / (k2 - 1)

    def growth(self, pressure: float, young: float, poisson: float) -> float:
        """Growth of the bore's radius (m)."""
        hoop, radial, axial = self.stresses(pressure)
        return self.inner / young * (hoop - poisson * (radial + axial))

    def first_yield(self, yield_strength: float) -> float:
        """Pressure at which the bore begins to yield by von Mises: R_e/√3 (1−1/K²)."""
        return yield_strength / math.sqrt(3) * (1 - self.ratio**-2)

    def collapse(self, yield_strength: float) -> float:
        """Pressure at which the whole wall yields: 2/√3 R_e ln K (Hill 1950)."""
        return 2 / math.sqrt(3) * yield_strength * math.log(self.ratio)

    def burst(self, yield_strength: float, tensile_strength: float) -> float:
        """Pressure at which the wall bursts: collapse × (2 − R_e/R_m) (Faupel 1956)."""
        if not 0 < yield_strength <= tensile_strength:
            raise ValueError("allowed: 0 < yield strength <= tensile strength")
        return self.collapse(yield_strength) * (2 - yield_strength / tensile_strength)


def disc_centre(pressure: float, radius: float, thickness: float, poisson: float) -> float:
    """Stress at the centre of a disc on a supported edge, 3(3+ν)/8 p (a/t)² (Pa).

    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 16.
    """
    return 3 * (3 + poisson) / 8 * pressure * (radius / _positive(thickness)) ** 2


def disc_edge(pressure: float, radius: float, thickness: float) -> float:
    """Radial stress at the edge of a clamped disc, 3/4 p (a/t)² (Pa); source as `disc_centre`."""
    return 0.75 * pressure * (radius / _positive(thickness)) ** 2


def junction_moment(
    pressure: float, radius: float, wall: float, bottom: float, poisson: float
) -> float:
    """Moment (N) between a flat bottom and the wall of a cylinder, per length of their seam.

    Plate on a supported rim and long shell, joined so that neither parts in angle nor shifts along
    the radius; `radius` that of the wall's middle (m). Timoshenko and Woinowsky-Krieger, Theory of
    Plates and Shells, 2nd ed., arts. 16 and 114; for thin walls. What the stack presses against the
    bottom is left out.
    """
    plate, shell = (t**3 / (12 * (1 - poisson**2)) for t in (bottom, wall))
    decay = (3 * (1 - poisson**2)) ** 0.25 / math.sqrt(radius * wall)
    free = pressure * radius**3 / (8 * (1 + poisson) * plate) + decay * pressure * radius**2 / wall
    return free / (radius / ((1 + poisson) * plate) + 1 / (2 * decay * shell))


def thread_shear(force: float, diameter: float, pitch: float, length: float) -> float:
    """Mean shear stress in the outer thread of a screwed ring, F/(0.75 π D1 L) (Pa).

    Nominal ISO profile, D1 = d − 1.0825 P: the outer thread (the ring's) is the weaker of two of
    equal strength. Tolerances and uneven load take off about 15 % (VDI 2230-1, not verified); it
    is included. Raises ValueError for sizes that are not positive or a pitch out of proportion.
    """
    minor = diameter - 1.0825 * pitch
    if not (0 < pitch < diameter / 4):
        raise ValueError(f"pitch {pitch:g} m; allowed: over 0 and under a quarter of the diameter")
    return force / (0.85 * 0.75 * math.pi * minor * _positive(length))


def _positive(length: float) -> float:
    if not 0 < length < math.inf:
        raise ValueError(f"{length:g} m; allowed: a length over 0")
    return length
