"""Bending of thin plates, taken out of the residual by splines.

Linear elements, the first coarse level of `multigrid`, cannot bend without shearing: on a plate
a few times thinner than its elements are long they are far too stiff, and conjugate gradients need
hundreds of iterations. Here the missing coarse functions are supplied as what thin plates do. With
w a cubic B-spline over the plate's plane (x, y) and z the height over its middle,

    u = (−z ∂w/∂x, −z ∂w/∂y, w)

(Kirchhoff's plate; Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., ch. 2),
sampled at the nodes. The matrix of these functions is small and factorised. Applied before and
after the multigrid cycle, the correction leaves the preconditioner symmetric.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.sparse import csr_matrix, hstack
from scipy.sparse.csgraph import connected_components

from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.krylov import Operator
from platestack.fea.numerics.system import System

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

THIN = 0.2
"""Largest thickness over the lesser side of a plate that is treated as thin."""

MOST = 3_000
"""Most splines of all plates together: the matrix of their stiffnesses is dense."""

FINEST = 0.7
"""Least spacing of the splines over the mean length of the elements in the plate's plane."""

EMPTY = 1e-10
"""Splines with less than this part of the largest stiffness lie beside the steel."""


@dataclass(frozen=True)
class Bending:
    """Splines of the thin plates of a system, and the factor of their stiffness."""

    splines: csr_matrix
    factor: tuple[FloatArray, bool]
    scale: FloatArray

    @classmethod
    def of(cls, system: System, space: QuadraticSpace) -> Bending | None:
        """The splines of a system; None where no plate is thin."""
        plates = [plate for plate in _bodies(space) if plate.thin]
        if not plates:
            return None
        spread = sum(plate.area / plate.spacing**2 for plate in plates)
        coarser = max(1.0, (spread / (0.7 * MOST)) ** 0.5)
        splines = csr_matrix(
            hstack(
                [plate.splines(space, system.fixed, coarser * plate.spacing) for plate in plates]
            )
        )
        splines = csr_matrix(splines.multiply(system.free[:, None]))
        stiffness = (splines.T @ (system.total.tocsr() @ splines)).toarray()
        ties = system.free_ties
        tied = (ties.rows @ splines).toarray()
        stiffness += tied.T @ (ties.stiffness[:, None] * tied)
        own = np.diag(stiffness)
        kept = np.flatnonzero(own > EMPTY * own.max())
        scale = 1 / np.sqrt(own[kept])
        scaled = stiffness[np.ix_(kept, kept)] * scale[:, None] * scale
        scaled[np.diag_indices_from(scaled)] += 1e-10
        try:
            factor = cho_factor(scaled, lower=True, overwrite_a=True, check_finite=False)
        except LinAlgError:
            return None
        return cls(csr_matrix(splines[:, kept]), factor, scale)

    @property
    def count(self) -> int:
        """How many splines there are."""
        return int(self.splines.shape[1])

    def correction(self, residual: FloatArray) -> FloatArray:
        """Displacements (3n,) of the splines that take their part of a residual away."""
        right = self.scale * (self.splines.T @ residual)
        found = self.scale * cho_solve(self.factor, right, check_finite=False)
        return np.asarray(self.splines @ found)

    def around(self, operator: Operator, cycle: Operator) -> Operator:
        """A preconditioner: this correction, a multigrid `cycle`, and this correction again."""

        def apply(residual: FloatArray) -> FloatArray:
            x = self.correction(residual)
            x += cycle(residual - operator(x))
            x += self.correction(residual - operator(x))
            return x

        return apply


@dataclass(frozen=True)
class _Plate:
    """A body that hangs together: its nodes, the axis across it, its box, a spacing of splines."""

    nodes: IntArray
    across: int
    low: FloatArray
    high: FloatArray
    spacing: float

    @property
    def thin(self) -> bool:
        """Whether it bends as a thin plate does."""
        sides = np.delete(self.high - self.low, self.across)
        return bool(self.high[self.across] - self.low[self.across] < THIN * sides.min())

    @property
    def area(self) -> float:
        """Of its box, in its plane."""
        return float(np.prod(np.delete(self.high - self.low, self.across)))

    def splines(
        self, space: QuadraticSpace, fixed: npt.NDArray[np.bool_], spacing: float
    ) -> csr_matrix:
        """Displacements (3n, k) of the splines, symmetric at mirror planes."""
        one, two = (axis for axis in range(3) if axis != self.across)
        x = space.nodes[self.nodes]
        height = x[:, self.across] - (self.low[self.across] + self.high[self.across]) / 2
        values, slopes = [], []
        for axis in (one, two):
            at_low = self.nodes[x[:, axis] < self.low[axis] + 1e-6 * spacing]
            mirrored = bool(fixed[at_low, axis].all())
            value, slope = _basis(x[:, axis] - self.low[axis], spacing, mirrored)
            values.append(value)
            slopes.append(slope)
        parts = {
            self.across: _product(values[0], values[1]),
            one: _product(slopes[0], values[1]).multiply(-height[:, None]),
            two: _product(values[0], slopes[1]).multiply(-height[:, None]),
        }
        count = parts[self.across].shape[1]
        entries = [part.tocoo() for part in parts.values()]
        rows = np.concatenate(
            [3 * self.nodes[e.row] + c for c, e in zip(parts, entries, strict=True)]
        )
        columns = np.concatenate([e.col for e in entries])
        data = np.concatenate([e.data for e in entries])
        return csr_matrix((data, (rows, columns)), shape=(3 * len(space.nodes), count))


def _bodies(space: QuadraticSpace) -> list[_Plate]:
    """The bodies of a mesh that share no node with each other."""
    one, two = space.edges.T
    count = space.vertices
    graph = csr_matrix((np.ones(len(one)), (one, two)), shape=(count, count))
    many, label = connected_components(graph, directed=False)
    label = np.concatenate((label, label[one]))
    length = space.nodes[two] - space.nodes[one]
    found = []
    for body in range(many):
        nodes = np.flatnonzero(label == body)
        x = space.nodes[nodes]
        low, high = x.min(axis=0), x.max(axis=0)
        across = int((high - low).argmin())
        own = length[label[one] == body]
        plane = np.linalg.norm(np.delete(own, across, axis=1), axis=1)
        size = float(plane[plane > 0.1 * plane.max()].mean())
        found.append(_Plate(nodes, across, low, high, FINEST * size))
    return found


def _basis(at: FloatArray, spacing: float, mirrored: bool) -> tuple[csr_matrix, csr_matrix]:
    """Cubic B-splines and their slopes at places ≥ 0, (n, k); even about 0 where `mirrored`."""
    cell = np.floor(at / spacing).astype(int)
    t = at / spacing - cell
    values = np.stack(
        [(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3], axis=1
    )
    slopes = np.stack(
        [-3 * (1 - t) ** 2, 9 * t**2 - 12 * t, -9 * t**2 + 6 * t + 3, 3 * t**2], axis=1
    )
    # Column k is the spline centred at (k - 1) times the spacing.
    columns = cell[:, None] + np.arange(4)
    if mirrored:
        columns = np.where(columns == 0, 2, columns)
    rows = np.repeat(np.arange(len(at)), 4)
    shape = (len(at), int(columns.max()) + 1)
    return (
        csr_matrix((values.ravel() / 6, (rows, columns.ravel())), shape=shape),
        csr_matrix((slopes.ravel() / (6 * spacing), (rows, columns.ravel())), shape=shape),
    )


def _product(one: csr_matrix, two: csr_matrix) -> csr_matrix:
    """Products of each column of one with each of the other, row by row: (n, k l)."""
    parts = [two.multiply(one[:, [k]]) for k in range(one.shape[1])]
    return csr_matrix(hstack(parts, format="csr"))
