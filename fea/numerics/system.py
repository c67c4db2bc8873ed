"""The linear system of elasticity: blocks, supports, and ties outside the blocks."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix, csr_matrix

from platestack.fea.numerics.blocks import Blocks

FloatArray = npt.NDArray[np.float64]

ROUNDING = 4 * np.finfo(float).eps
"""Residual over the sum of absolute products of matrix and displacements that is rounding."""


@dataclass(frozen=True)
class Ties:
    """Springs on weighted sums of displacements: the matrix ``rows^T diag(stiffness) rows``.

    rows: (r, 3n) sparse, a row's product with the displacements is the spring's stretch [m];
    stiffness: (r,) [N/m]. A rod on a nut annulus is one row that averages the annulus' axial
    displacement. Rows may hold many entries: the product is never formed on the fine mesh.
    """

    rows: csr_matrix
    stiffness: FloatArray

    def __post_init__(self) -> None:
        stiffness = np.atleast_1d(np.asarray(self.stiffness, dtype=float))
        rows = csr_matrix(self.rows, dtype=float)
        if stiffness.shape != (rows.shape[0],):
            raise ValueError(f"ties: {rows.shape[0]} rows but {stiffness.size} stiffnesses")
        if not (stiffness > 0).all():
            raise ValueError("ties: stiffnesses must be positive")
        object.__setattr__(self, "rows", rows)
        object.__setattr__(self, "stiffness", stiffness)

    @staticmethod
    def none(size: int) -> "Ties":
        """No ties on `size` = 3n degrees of freedom."""
        return Ties(csr_matrix((0, size)), np.zeros(0))


@dataclass(frozen=True)
class System:
    """``(matrix + extra + ties) u = loads`` with some components of u held at zero.

    matrix: (3n, 3n) in 3x3 blocks, symmetric, without supports; fixed: (n, 3) bool, components
    held at zero (symmetry planes, supports); ties: springs that may be all that holds the
    structure; extra: symmetric 3x3-block term with a pattern of its own, such as the penalty
    between facing nodes of two plates.
    """

    matrix: bsr_matrix
    fixed: npt.NDArray[np.bool_]
    ties: Ties | None = None
    extra: bsr_matrix | None = field(default=None)

    def __post_init__(self) -> None:
        size = self.matrix.shape[0]
        if self.matrix.blocksize != (3, 3) or self.matrix.shape[1] != size:
            raise ValueError("matrix must be square and in 3x3 blocks")
        if self.fixed.shape != (size // 3, 3):
            raise ValueError(f"fixed must have shape {(size // 3, 3)}, not {self.fixed.shape}")
        if self.ties is not None and self.ties.rows.shape[1] != size:
            raise ValueError(f"ties must have {size} columns, not {self.ties.rows.shape[1]}")
        if self.extra is not None and (
            self.extra.shape != self.matrix.shape or self.extra.blocksize != (3, 3)
        ):
            raise ValueError("extra must have the matrix' shape and 3x3 blocks")

    @property
    def size(self) -> int:
        """Number of degrees of freedom, the fixed ones counted."""
        return int(self.matrix.shape[0])

    @cached_property
    def free(self) -> npt.NDArray[np.bool_]:
        """Which degrees of freedom may move, (3n,)."""
        return ~self.fixed.ravel()

    @cached_property
    def free_ties(self) -> Ties:
        """The ties, with nothing on fixed components."""
        if self.ties is None:
            return Ties.none(self.size)
        rows = self.ties.rows.copy()
        rows.data *= self.free[rows.indices]
        rows.eliminate_zeros()
        return Ties(rows, self.ties.stiffness)

    @cached_property
    def total(self) -> bsr_matrix:
        """Matrix + extra."""
        return self.matrix if self.extra is None else bsr_matrix(self.matrix + self.extra)

    @cached_property
    def _parts(self) -> list[Blocks]:
        terms = [self.matrix] if self.extra is None else [self.matrix, self.extra]
        return [Blocks.of(term) for term in terms]

    @cached_property
    def _tie_columns(self) -> csr_matrix:
        return csr_matrix(self.free_ties.rows.T)

    def apply(self, displacement: FloatArray) -> FloatArray:
        """Forces (3n,) [N] of displacements (3n,) [m] that vanish on fixed components.

        Zero on fixed components: reactions are not included.
        """
        result = self._parts[0].apply(displacement)
        for part in self._parts[1:]:
            result += part.apply(displacement)
        ties = self.free_ties
        if len(ties.stiffness):
            result += self._tie_columns @ (ties.stiffness * (ties.rows @ displacement))
        result[~self.free] = 0.0
        return result

    def rounding(self, displacement: FloatArray) -> float:
        """Length of the residual (N) that rounding alone may leave of displacements (3n,)."""
        forces = abs(self.matrix) @ np.abs(displacement)
        return ROUNDING * float(np.linalg.norm(forces[self.free]))

    def with_extra(self, extra: bsr_matrix | None) -> "System":
        """The same system with another extra term."""
        return replace(self, extra=extra)
