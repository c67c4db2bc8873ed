"""Answers from a basis of displacements: deflection with its bound, the displacements themselves.

With u_N and z_N the Galerkin solutions under the load f and under the reading l of the deflection,
and r their residuals measured in the dual norm of the reference stiffness,

    |l·u − l·u_N| ≤ ‖r(u_N)‖ ‖r(z_N)‖ / α

(N. A. Pierce & M. B. Giles, SIAM Review 42 (2000) 247; G. Rozza, D. B. P. Huynh & A. T. Patera,
Arch. Comput. Methods Eng. 15 (2008) 229). Load and reading share the basis, so that the correction
of the reading by the dual solution is contained in l·u_N. What is bounded is the difference to a
full solve on the same mesh; the error of that mesh comes on top. α is computed, see `coercivity`.

Norms of residuals are differences of large numbers, each known to `FLOOR`: that much is added.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from platestack.fea.solid.reduced.affine import Parameters
from platestack.fea.solid.reduced.coercivity import Coercivity

FloatArray = npt.NDArray[np.float64]

FLOOR = 1e-5
"""Norm of a residual that counts as rounding, over those of its terms added up."""


@dataclass(frozen=True)
class Answer:
    """Mid-span deflection (m) with the bound of its difference to a full solve on the same mesh.

    `weights` (N,) are those of the basis in the displacements.
    """

    deflection: float
    bound: float
    energy_error: float
    """Bound of the error in energy norm over the norm of the solution."""
    weights: FloatArray
    inside: bool
    """Whether the thicknesses lie in the range the model was made for, and no seat has opened."""


@dataclass(frozen=True)
class ReducedStack:
    """A stack on a basis of N displacements; q parts of the stiffness.

    Attributes
    ----------
    basis : (N, 3n).
    parts : (q, N, N) the parts on the basis.
    load, reading : (N,).
    gram : (2 + q N, 2 + q N) products of load, reading and parts of each basis vector in the dual
        norm of the reference stiffness.
    coercivity : supplies α.
    rest, relieved : force on each seat of a rod (N), at rest (r,) and by group of springs and
        basis vector (g, r, N); a seat that opens is not in the model.
    low, high : range of each stretch, and of the springs' factors last.
    solves : full solves it took to find the basis.
    history : largest relative bound over the training points after each step.
    """

    basis: FloatArray
    parts: FloatArray
    load: FloatArray
    reading: FloatArray
    gram: FloatArray
    rest: FloatArray
    relieved: FloatArray
    coercivity: Coercivity
    low: FloatArray
    high: FloatArray
    solves: int
    history: tuple[float, ...]

    def answer(self, at: Parameters) -> Answer:
        """Deflection with its bound for other thicknesses.

        Raises
        ------
        ValueError
            If the number of thicknesses is not that of the plates, or one is not positive.
        """
        values = np.array([*at.stretch, *at.springs])
        groups = len(self.relieved)
        plates = len(self.low) - groups
        if (len(at.stretch), len(at.springs)) != (plates, groups) or not (values > 0).all():
            raise ValueError(
                f"{plates} positive stretches and {groups} factors of springs are needed, not "
                f"{at.stretch} and {at.springs}"
            )
        factors = at.coefficients()
        matrix = np.tensordot(factors, self.parts, 1)
        u, z = np.linalg.solve(matrix, np.column_stack([self.load, self.reading])).T
        primal, dual = (self._residual(factors, w, i) for i, w in enumerate((u, z)))
        alpha = self.coercivity.bound(at)
        energy = float(u @ matrix @ u)
        inside = bool((values >= self.low * (1 - 1e-9)).all())
        inside &= bool((values <= self.high * (1 + 1e-9)).all())
        inside &= bool((self.rest + np.array(at.springs) @ (self.relieved @ u) >= 0).all())
        return Answer(
            float(self.reading @ u),
            primal * dual / alpha,
            primal / np.sqrt(alpha * energy),
            u,
            inside,
        )

    def displacement(self, answer: Answer) -> FloatArray:
        """Displacements (3n,) of an answer (m)."""
        return np.asarray(answer.weights @ self.basis)

    def _residual(self, factors: FloatArray, weights: FloatArray, which: int) -> float:
        """Dual norm of a residual; `which` is 0 for the load's, 1 for the reading's."""
        terms = np.zeros(len(self.gram))
        terms[which] = 1.0
        terms[2:] = -np.multiply.outer(factors, weights).ravel()
        square = float(terms @ self.gram @ terms)
        size = float(np.abs(terms) @ np.sqrt(np.maximum(np.diag(self.gram), 0.0)))
        return float(np.sqrt(max(square, 0.0) + (FLOOR * size) ** 2))
