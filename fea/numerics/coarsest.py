"""The coarsest level of a hierarchy, solved directly."""

import numpy as np
import numpy.typing as npt
from scipy.linalg import LinAlgError, cho_factor, cho_solve

from platestack.fea.numerics.system import Ties
from platestack.fea.support.errors import Singular

FloatArray = npt.NDArray[np.float64]
SingleArray = npt.NDArray[np.float32]

EMPTY = 1e-10
"""Coarse unknowns with less than this part of the largest stiffness carry nothing."""

PIVOT = 1e-15
"""Scaled pivots of the coarsest matrix below this times its size are rounding."""


class CoarsestSolver:
    """Direct solution of the coarsest level, dense, in double precision."""

    def __init__(self, matrix: FloatArray, ties: Ties) -> None:
        self.matrix, self.ties = matrix, ties
        rows = ties.rows.toarray()
        dense = matrix + rows.T @ (ties.stiffness[:, None] * rows)
        self.size = len(dense)
        entries = np.diag(dense)
        self.kept = np.flatnonzero(entries > EMPTY * entries.max())
        if not len(self.kept):
            return
        dense = dense[np.ix_(self.kept, self.kept)]
        self.scale = 1 / np.sqrt(np.diag(dense))
        dense *= self.scale[:, None] * self.scale
        try:
            self.factor = cho_factor(dense, lower=True, overwrite_a=True, check_finite=False)
            # With a unit diagonal, a pivot is what is left of 1 when the earlier unknowns are out.
            held = bool(np.diag(self.factor[0]).min() ** 2 > PIVOT * len(dense))
        except LinAlgError:
            held = False
        if not held:
            raise Singular(
                "a part can move without straining: nothing holds it. "
                "Add supports, symmetry planes or ties"
            )

    def solve(self, r: SingleArray) -> SingleArray:
        """The solution for a right-hand side, zero where the matrix is empty."""
        x = np.zeros(self.size, dtype=np.float32)
        if len(self.kept):
            right = self.scale * r[self.kept].astype(float)
            x[self.kept] = self.scale * cho_solve(self.factor, right, check_finite=False)
        return x
