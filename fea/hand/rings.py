"""Rings and flanges bent by forces on circles, and bolts levered by the flange they hold."""

from __future__ import annotations

import math
from dataclasses import dataclass


def ring_stress(
    force: float,
    thickness: float,
    radii: tuple[float, float],
    circles: tuple[float, float],
    poisson: float,
) -> float:
    """Hoop stress (Pa) at the bore of a flat ring that one circle loads and another one holds.

    With a force F on the circle r1 and its reaction on r2, b ≤ r1 ≤ r2 ≤ a, edges free, the plate
    equation of axisymmetric bending (Timoshenko and Woinowsky-Krieger, Theory of Plates and
    Shells, 2nd ed., art. 17) gives at the bore (re-derived)

        M = F/2π [(1+ν) ln(r2/r1) + (1−ν)(r2² − r1²)/2a²] / (1 − b²/a²),  σ = 6M/t².

    Parameters
    ----------
    force, thickness : float
        N, m.
    radii : tuple of float
        Of bore and rim, b and a (m).
    circles : tuple of float
        Of force and reaction, in any order (m).

    Raises
    ------
    ValueError
        Unless 0 < b ≤ r1 ≤ r2 ≤ a and the thickness is positive.
    """
    (b, a), (r1, r2) = radii, sorted(circles)
    if not (0 < b <= r1 <= r2 <= a < math.inf and b < a and 0 < thickness < math.inf):
        raise ValueError(
            f"ring {b:g} to {a:g} m, circles {r1:g} and {r2:g} m, thickness {thickness:g} m; "
            "allowed: 0 < bore <= circles <= rim, thickness over 0"
        )
    turned = (1 + poisson) * math.log(r2 / r1) + (1 - poisson) * (r2**2 - r1**2) / (2 * a**2)
    moment = force / (2 * math.pi) * turned / (1 - (b / a) ** 2)
    return 6 * moment / thickness**2


def overhang_stress(pressure: float, thickness: float, overhang: float) -> float:
    """Stress (Pa) of a flange that stands out of its wall, pressed evenly: 3 p (c/t)².

    A cantilever strip (statics), an upper bound, since hoop stress helps. Raises ValueError unless
    thickness and overhang are positive.
    """
    if not (0 < overhang < math.inf and 0 < thickness < math.inf):
        raise ValueError(f"overhang {overhang:g} m, thickness {thickness:g} m; allowed: over 0")
    return 3 * pressure * (overhang / thickness) ** 2


@dataclass(frozen=True)
class TStub:
    """One bolt with its share of a flange: lengths in m, strengths in Pa and N.

    `lever` m from the wall's face to the bolt, `edge` from the bolt to the rim, `share` the length
    of flange that one bolt bends. EN 1993-1-8 6.2.4 (draft read, prEN 1993-1-8, 6.2.2). Raises
    ValueError unless all are positive.
    """

    lever: float
    edge: float
    share: float
    thickness: float
    yield_strength: float
    bolt: float
    """Tensile resistance of the bolt (N)."""

    def __post_init__(self) -> None:
        sizes = (self.lever, self.edge, self.share, self.thickness, self.yield_strength, self.bolt)
        if not all(0 < value < math.inf for value in sizes):
            raise ValueError(f"{sizes}; allowed: values over 0")

    @property
    def reach(self) -> float:
        """From the bolt to the prying force, n: the edge, at most 1.25 m."""
        return min(self.edge, 1.25 * self.lever)

    @property
    def pried(self) -> float:
        """Most that leverage multiplies the bolt's force by: 1 + m/2n.

        By statics F m = M_wall + Q n, and the moment Q n at the bolt is at most that at the wall;
        the plate yields or is thick enough long before in most flanges.
        """
        return 1 + self.lever / (2 * self.reach)

    @property
    def resistance(self) -> float:
        """Pull on one bolt (N) at which flange, bolt or both give way: the least of three modes.

        Per bolt, which is half a T-stub: 2 M/m, (M + n B)/(m + n), B; M = l t² f_y / 4.
        """
        moment, n = self.share * self.thickness**2 * self.yield_strength / 4, self.reach
        both = (moment + n * self.bolt) / (self.lever + n)
        return min(2 * moment / self.lever, both, self.bolt)
