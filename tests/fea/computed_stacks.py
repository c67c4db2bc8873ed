"""Mid-span deflections of stacks, computed with an independent finite-element library.

Computed once with NGSolve 6.2 on quarter models: welded, quadratic curved tetrahedra graded
towards the nuts, uniform pressure on patch and annuli, rods as springs tied to the annuli's mean
displacement; E = 210 GPa, ν = 0.3. Cubic elements changed the first case by 0.05 %. The random
cases were drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass

from sample_stacks import crosshead, disc, flat, mirrored, rectangle, rod, rod_holes

from platestack.geometry.parts import Patch, Stack, TieRod
from platestack.geometry.shapes import RoundHole


@dataclass(frozen=True)
class Case:
    """Plates (length, width, thickness), rods in a quarter, diameters, force; all SI."""

    plates: tuple[tuple[float, float, float], ...]
    rods: tuple[tuple[float, float], ...]
    diameters: tuple[float, float, float]
    """Of rod, hole and bearing."""
    patch: Patch
    force: float
    deflection: float
    """Computed with finite elements (m)."""
    opening: float = 0.0

    def press(self, interface: str = "welded") -> tuple[Stack, tuple[TieRod, ...], float]:
        rods = tuple(rod(at, *self.diameters) for at in mirrored(self.rods))
        holes = rod_holes(rods)
        if self.opening:
            holes = (*holes, RoundHole((0.0, 0.0), self.opening))
        return crosshead(flat(self.plates, holes), self.patch, interface), rods, self.force


FLAT = {
    "deep": Case(
        ((1.2, 0.8, 0.08),) * 5,
        ((0.42, 0.26),),
        (0.08, 0.09, 0.16),
        disc(0.4, 0.26),
        2.5e6,
        62.47e-6,
    ),
    "slender": Case(
        ((2.0, 0.6, 0.2),), ((0.85, 0.2),), (0.06, 0.065, 0.11), disc(0.3, 0.2), 1e6, 1211.03e-6
    ),
    "square": Case(
        ((1.2, 1.2, 0.2),), ((0.5, 0.5),), (0.08, 0.09, 0.15), disc(0.3, 0.2), 1.5e6, 324.63e-6
    ),
    "two rods": Case(
        ((1.0, 0.3, 0.24),), ((0.42, 0.0),), (0.08, 0.09, 0.15), disc(0.25), 1e6, 211.83e-6
    ),
    "two rods, wide": Case(
        ((1.2, 0.7, 0.24),), ((0.5, 0.0),), (0.1, 0.11, 0.18), rectangle(0.25, 0.5), 1e6, 151.51e-6
    ),
    "opening": Case(
        ((1.5, 1.0, 0.3),),
        ((0.6, 0.38),),
        (0.08, 0.09, 0.15),
        disc(0.4, 0.26),
        2e6,
        207.79e-6,
        0.2,
    ),
    "platen": Case(
        ((0.6, 0.6, 0.08), *((1.5, 0.9, 0.08),) * 3),
        ((0.6, 0.3),),
        (0.08, 0.09, 0.15),
        rectangle(0.2, 0.2),
        2e6,
        261.54e-6,
    ),
    "short platen": Case(
        ((0.4, 0.4, 0.1), *((1.4, 0.7, 0.06),) * 3),
        ((0.6, 0.24),),
        (0.08, 0.085, 0.14),
        disc(0.2),
        1.5e6,
        546.49e-6,
    ),
    "very deep": Case(
        ((0.8, 0.6, 0.4),), ((0.3, 0.2),), (0.06, 0.065, 0.11), disc(0.25), 1e6, 35.91e-6
    ),
    "eight rods": Case(
        ((2.4, 1.0, 0.3),),
        ((0.95, 0.38), (0.95 / 3, 0.38)),
        (0.08, 0.09, 0.15),
        rectangle(0.8, 0.4),
        4e6,
        274.93e-6,
    ),
    "six rods": Case(
        ((2.4, 1.0, 0.3),),
        ((0.95, 0.38), (0.0, 0.38)),
        (0.08, 0.09, 0.15),
        rectangle(1.2, 0.4),
        4e6,
        313.38e-6,
    ),
    "wide": Case(
        ((1.0, 1.4, 0.25),), ((0.4, 0.6),), (0.08, 0.09, 0.15), disc(0.3, 0.2), 1.5e6, 232.13e-6
    ),
    "usual": Case(
        ((1.1, 0.7, 0.06),) * 4,
        ((0.42, 0.24),),
        (0.08, 0.085, 0.14),
        disc(0.3, 0.2),
        1.5e6,
        129.36e-6,
    ),
    "small patch": Case(
        ((1.1, 0.7, 0.3),), ((0.42, 0.24),), (0.08, 0.085, 0.14), disc(0.12), 1.5e6, 133.23e-6
    ),
    "random 0": Case(
        ((1.01, 1.09, 0.073), *(((1.68, 1.36, 0.061),) * 3)),
        ((0.679, 0.588),),
        (0.065, 0.07, 0.114),
        rectangle(0.391, 0.255),
        3374299.0,
        790.05e-6,
    ),
    "random 1": Case(
        ((0.7, 0.58, 0.094), *(((1.16, 0.73, 0.078),) * 3)),
        ((0.343, 0.171),),
        (0.1, 0.107, 0.175),
        disc(0.118),
        3961361.0,
        258.65e-6,
    ),
    "random 2": Case(
        ((0.51, 0.45, 0.115), *(((0.85, 0.56, 0.096),) * 5)),
        ((0.26, 0.131),),
        (0.081, 0.087, 0.142),
        disc(0.104),
        1366302.0,
        82.39e-6,
    ),
    "random 3": Case(
        ((1.32, 0.6, 0.058),) * 4,
        ((0.504, 0.184),),
        (0.063, 0.067, 0.11),
        rectangle(0.187, 0.102),
        3465026.0,
        699.51e-6,
    ),
    "random 4": Case(
        ((1.51, 1.21, 0.08),) * 4,
        ((0.655, 0.516),),
        (0.053, 0.057, 0.093),
        disc(0.322),
        1025699.0,
        113.60e-6,
    ),
    "random 5": Case(
        ((1.65, 1.16, 0.058),) * 3,
        ((0.703, 0.454),),
        (0.072, 0.077, 0.126),
        rectangle(0.245, 0.205),
        838464.0,
        491.61e-6,
    ),
    "random 6": Case(
        ((2.02, 1.44, 0.092),) * 3,
        ((0.766, 0.536), (0.0, 0.536)),
        (0.097, 0.104, 0.17),
        disc(0.509, 0.356),
        1009110.0,
        94.29e-6,
        0.303,
    ),
    "random 7": Case(
        ((1.02, 0.92, 0.085), *(((1.7, 1.15, 0.071),) * 3)),
        ((0.761, 0.441),),
        (0.062, 0.066, 0.108),
        disc(0.268),
        2137056.0,
        444.98e-6,
    ),
    "random 8": Case(
        ((1.32, 0.61, 0.098),) * 5,
        ((0.501, 0.151),),
        (0.083, 0.089, 0.145),
        disc(0.149, 0.104),
        3554832.0,
        218.53e-6,
        0.088,
    ),
    "random 9": Case(
        ((1.87, 1.52, 0.097),) * 5,
        ((0.818, 0.654), (0.27266666666666667, 0.654)),
        (0.05, 0.054, 0.088),
        disc(0.566, 0.396),
        978674.0,
        27.82e-6,
    ),
    "random 10": Case(
        ((1.52, 1.13, 0.06),) * 4,
        ((0.65, 0.449),),
        (0.068, 0.073, 0.119),
        disc(0.276, 0.193),
        3818434.0,
        759.17e-6,
    ),
    "random 11": Case(
        ((2.17, 1.42, 0.095),) * 5,
        ((0.902, 0.556), (0.3006666666666667, 0.556)),
        (0.087, 0.093, 0.152),
        disc(0.525),
        3573658.0,
        106.34e-6,
    ),
    "random 12": Case(
        ((1.53, 1.27, 0.09),) * 4,
        ((0.574, 0.471),),
        (0.084, 0.09, 0.147),
        disc(0.304, 0.213),
        3900462.0,
        254.66e-6,
        0.181,
    ),
    "random 13": Case(
        ((1.25, 1.31, 0.096), *(((2.08, 1.64, 0.08),) * 3)),
        ((0.882, 0.673),),
        (0.074, 0.079, 0.13),
        disc(0.44, 0.308),
        1573308.0,
        261.62e-6,
    ),
}


# On edge: upright plates, their middles at ± y, or where the list says.
EDGE = {
    "four plates": (
        [-0.21, -0.07, 0.07, 0.21], (1.4, 0.35, 0.06), (1.4, 0.5, 0.06), (0.18, 0.5, 0.06),
        (0.55, 0.14), (0.065, 0.07, 0.12), disc(0.3, 0.2), 1.5e6, 228.90e-6,
    ),
    "touching": (
        [-0.15, -0.09, -0.03, 0.03, 0.09, 0.15], (1.4, 0.35, 0.06), (1.4, 0.36, 0.06),
        (0.18, 0.56, 0.08), (0.55, 0.215), (0.06, 0.065, 0.11), disc(0.2), 1e6, 155.73e-6,
    ),
    "two rods": (
        [-0.12, -0.06, 0.06, 0.12], (1.2, 0.3, 0.05), (0.7, 0.31, 0.05), (0.18, 0.31, 0.06),
        (0.5, 0.0), (0.04, 0.045, 0.09), disc(0.16), 0.6e6, 179.76e-6,
    ),
    "rods between": (
        [-0.18, 0.18], (1.6, 0.45, 0.08), (1.2, 0.5, 0.08), (0.2, 0.5, 0.1),
        (0.65, 0.0), (0.08, 0.085, 0.15), disc(0.25), 1.5e6, 556.37e-6,
    ),
}  # fmt: skip

# Loose stacks: frictionless contact that may open, by penalty (1e13 Pa/m) and active set on
# matching faces, with this project's own quadratic elements: a regression value, not a reference.
# The closed part of the interfaces was 62, 70 and 81 %.
LOOSE = {
    "two leaves": Case(
        ((1.1, 0.7, 0.08),) * 2,
        ((0.42, 0.24),),
        (0.08, 0.085, 0.14),
        disc(0.3, 0.2),
        1.5e6,
        1388.1e-6,
    ),
    "three leaves": Case(
        ((1.1, 0.7, 0.08),) * 3,
        ((0.42, 0.24),),
        (0.08, 0.085, 0.14),
        disc(0.3, 0.2),
        1.5e6,
        931.0e-6,
    ),
    "five leaves": Case(
        ((1.2, 0.8, 0.08),) * 5,
        ((0.42, 0.26),),
        (0.08, 0.09, 0.16),
        disc(0.4, 0.26),
        2.5e6,
        794.6e-6,
    ),
}
