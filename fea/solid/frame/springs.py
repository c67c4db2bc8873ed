"""Springs that pull one way only, on an elastic structure: a small problem, solved exactly.

A rod pulls and never pushes, a seat presses and never pulls. With the structure's displacements d,
its stiffness K, the load f, and for each spring its row b, its stiffness k and its advance a (how
far its nut has been turned beyond snug), the forces

    p = k max(0, b·d + a),     K d + Bᵀ p = f

make the convex energy  ½ dᵀ K d − fᵀ d + Σ ½ k max(0, b·d + a)²  least. Newton's method with exact
search along each step ends at its minimum after finitely many steps, as the energy is quadratic
between the states (Mangasarian, J. Optim. Theory Appl. 121 (2004) 1).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platestack.fea.support.errors import SolveError

SHIFT = 1e-11
"""Part of the largest stiffness added while solving; it leaves the balance of forces untouched."""

BALANCED = 1e-10
"""Force left over, as a part of the forces at work."""

MOST_STEPS = 200


class Unheld(SolveError):
    """The load moves the structure and no spring holds it."""


@dataclass(frozen=True)
class SpringState:
    """What a load and the advances of the nuts lead to.

    Attributes
    ----------
    displacement : (n,) in m.
    forces : (m,) in N, none negative.
    opening : (m,) in m: how far each spring is from taking force, 0 where it does.
    """

    displacement: np.ndarray
    forces: np.ndarray
    opening: np.ndarray


@dataclass(frozen=True)
class Frame:
    """An elastic structure held together by springs that pull one way only.

    Attributes
    ----------
    stiffness : (n, n) in N/m, symmetric; rigid motions may be free in it.
    rows : (m, n): the product with the displacements is the stretch of each spring.
    springs : (m,) in N/m.
    bias : (n,) in N: forces on the structure are stiffness times displacements, plus these.
    """

    stiffness: np.ndarray
    rows: np.ndarray
    springs: np.ndarray
    bias: np.ndarray | float = 0.0

    def __post_init__(self) -> None:
        size = len(self.stiffness)
        if self.stiffness.shape != (size, size) or self.rows.shape != (len(self.springs), size):
            raise ValueError("stiffness must be (n, n), rows (m, n), springs (m,)")
        if not (self.springs > 0).all():
            raise ValueError("springs must have positive stiffness")

    @classmethod
    def of_closures(cls, compliance: np.ndarray, springs: np.ndarray) -> Frame:
        """Bolts (m,) on a joint that closes by `compliance` (m, m) in m/N times their forces."""
        return cls(np.linalg.inv(compliance), np.eye(len(springs)), springs)

    def solve(
        self, advance: np.ndarray, load: np.ndarray | None = None, without: Sequence[int] = ()
    ) -> SpringState:
        """Find displacements and forces, with the springs `without` left out.

        Parameters
        ----------
        advance : (m,) in m, stretch imposed on each spring.
        load : (n,) in N.

        Raises
        ------
        Unheld
            If no state of the springs holds the load.
        """
        load = (np.zeros(len(self.stiffness)) if load is None else load) - self.bias
        springs = self.springs.copy()
        springs[list(without)] = 0.0
        shift = SHIFT * max(np.abs(np.diag(self.stiffness)).max(), springs.max())
        d = np.zeros(len(load))
        for _ in range(MOST_STEPS):
            stretch = self.rows @ d + advance
            forces = springs * np.maximum(0.0, stretch)
            rest = load - self.stiffness @ d - self.rows.T @ forces
            scale = max(
                np.abs(load).max(), forces.max(), (springs * np.maximum(0.0, advance)).max()
            )
            if np.abs(rest).max() <= BALANCED * scale:
                return SpringState(d, forces, np.maximum(0.0, -stretch))
            active = self.rows[stretch > 0]
            tangent = self.stiffness + active.T @ (springs[stretch > 0, None] * active)
            step = np.linalg.solve(tangent + shift * np.eye(len(d)), rest)
            d = d + self._part(step, stretch, springs, d, load) * step
        raise Unheld("The load moves a part that neither rods nor seats hold")

    def _part(
        self,
        step: np.ndarray,
        stretch: np.ndarray,
        springs: np.ndarray,
        d: np.ndarray,
        load: np.ndarray,
    ) -> float:
        """Where along a step the energy is least: its slope grows, straight between changes."""
        change = self.rows @ step
        start = float(step @ (self.stiffness @ d - load))
        growth = float(step @ (self.stiffness @ step))

        def slope(part: float) -> float:
            forces = springs * np.maximum(0.0, stretch + part * change)
            return start + part * growth + float(change @ forces)

        with np.errstate(divide="ignore", invalid="ignore"):
            turns = -stretch / change
        turns = np.sort(turns[np.isfinite(turns) & (turns > 0)])
        after = bisect_left(turns, 0.0, key=lambda turn: slope(float(turn)))
        low = float(turns[after - 1]) if after else 0.0
        at_low = slope(low)
        if after < len(turns):
            high = float(turns[after])
            return low - at_low * (high - low) / (slope(high) - at_low)
        rate = slope(low + 1.0) - at_low
        # Beyond the last change a straight slope: where it meets zero, or no end at all.
        return low - at_low / rate if rate > 0 else low + 1.0
