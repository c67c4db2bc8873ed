"""Multigrid preconditioner: quadratic elements, linear elements on the same mesh, aggregates.

Smoother: Chebyshev polynomials of the fourth kind in D^-1 A with D the diagonal blocks, which
need only the largest eigenvalue (J. Lottes, Optimal polynomial smoothers for multigrid V-cycles,
Numer. Linear Algebra Appl. 30 (2023) e2518; after M. Adams, M. Brezina, J. Hu, R. Tuminaro,
Parallel multigrid smoothing: polynomial versus Gauss-Seidel, J. Comput. Phys. 188 (2003) 593-610).
All matrix products but the coarsest solve are made in single precision: a preconditioner need
not be exact, and memory traffic is what costs.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import cho_factor, cho_solve, eigh
from scipy.sparse import bsr_matrix, csr_matrix

from fea.aggregation import prolongation, rigid_modes
from fea.blocks import Blocks, relax, smooth
from fea.elasticity import QuadraticSpace
from fea.errors import Singular
from fea.krylov import largest_eigenvalue
from fea.parallel import even, run
from fea.system import System, Ties

FloatArray = npt.NDArray[np.float64]
SingleArray = npt.NDArray[np.float32]
BoolArray = npt.NDArray[np.bool_]

SAFETY = 1.05
"""The estimate of the largest eigenvalue is from below."""

EMPTY = 1e-10
"""Coarse unknowns with less than this part of the largest stiffness carry nothing."""


@dataclass(frozen=True)
class Settings:
    """Knobs of the preconditioner; the defaults hold for thick and thin plates.

    degree: of the smoother on the quadratic level; coarse_degree: below it; theta: strength of
    connection; coarsest: degrees of freedom solved directly.
    """

    degree: int = 2
    coarse_degree: int = 2
    theta: float = 0.0
    coarsest: int = 900
    max_levels: int = 12


class Level:
    """One matrix of the hierarchy with its smoother, in single precision."""

    def __init__(self, matrix: Blocks, inverse: FloatArray, ties: Ties, degree: int) -> None:
        self.matrix = matrix.astype(np.float32)
        self.inverse = inverse.reshape(-1).astype(np.float32)
        self.rows = ties.rows.astype(np.float32)
        self.columns = csr_matrix(self.rows.T)
        self.stiffness = ties.stiffness.astype(np.float32)
        self.degree = degree
        self.size = 3 * matrix.count
        self.nodes = even(matrix.count)
        self.bound = SAFETY * largest_eigenvalue(
            self.apply, self.relax, self.size, dtype=np.float32
        )

    def apply(self, x: SingleArray) -> SingleArray:
        """Matrix times x, ties included."""
        y: SingleArray = np.zeros_like(x)
        self.matrix.add(x, y)
        self.add_ties(x, y, 1)
        return y

    def residual(self, x: SingleArray, r: SingleArray) -> SingleArray:
        """R less the forces of x."""
        left = r.copy()
        self.matrix.add(x, left, -1)
        self.add_ties(x, left, -1)
        return left

    def add_ties(self, x: SingleArray, y: SingleArray, sign: int) -> None:
        """Add to y the ties' forces under x, times `sign`."""
        if len(self.stiffness):
            y += self.columns @ (sign * self.stiffness * (self.rows @ x))

    def relax(self, r: SingleArray) -> SingleArray:
        """Inverse diagonal blocks times r."""
        x, z = np.zeros_like(r), np.empty_like(r)
        run(relax, self.nodes, self.inverse, np.float32(1), r, x, z)
        return z

    def smooth(self, x: SingleArray, r: SingleArray) -> None:
        """Improve x, whose residual is r, in place; r is up to date but for the last step."""
        z, new = np.empty_like(r), np.empty_like(r)
        run(relax, self.nodes, self.inverse, np.float32(4 / (3 * self.bound)), r, x, z)
        for k in range(2, self.degree + 1):
            keep = np.float32((2 * k - 3) / (2 * k + 1))
            step = np.float32((8 * k - 4) / (2 * k + 1) / self.bound)
            self.add_ties(z, r, -1)
            run(
                smooth, self.matrix.rows, self.matrix.indptr, self.matrix.indices,
                self.matrix.data, self.inverse, keep, step, z, r, x, new,
            )  # fmt: skip
            z, new = new, z


@dataclass(frozen=True)
class Transfer:
    """Prolongation from the next coarser level and its transpose, in single precision."""

    up: Blocks
    down: Blocks


class Hierarchy:
    """The levels, finest first, the transfers between them and the coarsest factor.

    Calling it with a residual (3n,) returns the correction of one V-cycle.
    """

    def __init__(self, system: System, space: QuadraticSpace, settings: Settings) -> None:
        self.levels: list[Level] = []
        self.transfers: list[Transfer] = []
        fine = Blocks.of(system.total)
        ties = system.free_ties
        masked = fine.restricted(system.free, np.float32)
        self.levels.append(
            Level(masked, inverse_diagonal(fine, system.free), ties, settings.degree)
        )
        points = space.nodes[: space.vertices]
        up = vertex_prolongation(space, system.free)
        matrix, ties = self._coarsen(fine, ties, up)
        hold_rotations(matrix)
        modes = vertex_modes(space, system.free)
        self._aggregate(matrix, ties, modes, settings)

    def _coarsen(self, matrix: Blocks, ties: Ties, up: Blocks) -> tuple[Blocks, Ties]:
        down = up.transposed()
        coarse = matrix.galerkin(up, down)
        self.transfers.append(Transfer(up.astype(np.float32), down.astype(np.float32)))
        rows = csr_matrix(ties.rows @ up.scipy().tocsr())
        return coarse, Ties(rows, ties.stiffness)

    def _aggregate(self, matrix: Blocks, ties: Ties, modes: FloatArray, settings: Settings) -> None:
        """Levels below the linear elements, down to the directly solved one."""
        width = 6
        while 3 * matrix.count > settings.coarsest and len(self.levels) < settings.max_levels:
            free = live(matrix)
            level = Level(matrix, inverse_diagonal(matrix, free), ties, settings.coarse_degree)
            wide = matrix.scipy().tobsr((width, width))
            omega = 4 / 3 / level.bound
            damping = join_blocks(level.inverse.reshape(-1, 3, 3), width)
            up, modes = prolongation(wide, modes, settings.theta, damping, omega)
            if up.shape[1] > 0.7 * up.shape[0]:
                break
            self.levels.append(level)
            width = modes.shape[1]
            matrix, ties = self._coarsen(matrix, ties, Blocks.of(up.tobsr((3, 3))))
        self.bottom = Bottom(matrix, ties)

    def __call__(self, residual: FloatArray) -> FloatArray:
        scale = float(np.abs(residual).max()) or 1.0
        single = (residual / scale).astype(np.float32)
        return scale * self._cycle(0, single).astype(float)

    def _cycle(self, depth: int, r: SingleArray) -> SingleArray:
        if depth == len(self.levels):
            return self.bottom.solve(r)
        level, transfer = self.levels[depth], self.transfers[depth]
        x = np.zeros_like(r)
        left = r.copy()
        level.smooth(x, left)
        coarse = self._cycle(depth + 1, transfer.down.apply(level.residual(x, r)))
        transfer.up.add(coarse, x)
        level.smooth(x, level.residual(x, r))
        return x

    def describe(self) -> list[tuple[int, int, float]]:
        """Unknowns, blocks and eigenvalue bound of each level."""
        return [(lv.size, len(lv.matrix.indices), lv.bound) for lv in self.levels]


class Bottom:
    """Direct solution of the coarsest level, dense, in double precision."""

    def __init__(self, matrix: Blocks, ties: Ties) -> None:
        rows = ties.rows.toarray()
        dense = matrix.scipy().toarray() + rows.T @ (ties.stiffness[:, None] * rows)
        self.kept = np.flatnonzero(np.diag(dense) > EMPTY * np.diag(dense).max())
        self.size = len(dense)
        dense = dense[np.ix_(self.kept, self.kept)]
        scale = 1 / np.sqrt(np.diag(dense))
        dense *= scale[:, None] * scale
        values = eigh(dense, eigvals_only=True, subset_by_index=[0, min(5, len(dense) - 1)])
        loose = int((values < 1e-13 * len(dense)).sum())
        if loose:
            raise Singular(
                f"the structure has {loose} rigid motion(s) that nothing holds: "
                "add supports, symmetry planes or ties"
            )
        self.scale = scale
        self.factor = cho_factor(dense)

    def solve(self, r: SingleArray) -> SingleArray:
        """The solution for a right-hand side, zero where the matrix is empty."""
        x = np.zeros(self.size, dtype=np.float32)
        x[self.kept] = self.scale * cho_solve(self.factor, self.scale * r[self.kept].astype(float))
        return x


def live(matrix: Blocks) -> BoolArray:
    """Components with a stiffness of their own, (3n,); the others carry nothing."""
    diagonal = matrix.diagonal()
    entries = np.einsum("nii->ni", diagonal)
    return (entries > EMPTY * entries.max()).ravel()


def inverse_diagonal(matrix: Blocks, free: BoolArray) -> FloatArray:
    """Inverses of the diagonal blocks on `free` components (3n,), zero elsewhere: (n, 3, 3)."""
    free = free.reshape(-1, 3)
    both = free[:, :, None] & free[:, None, :]
    diagonal = np.where(both, matrix.diagonal(), 0.0)
    entries = np.einsum("nii->ni", diagonal)
    entries[~free] = 1.0
    return np.where(both, np.linalg.inv(diagonal), 0.0)


def join_blocks(inverse: npt.NDArray[np.floating], width: int) -> FloatArray:
    """Block-diagonal matrices (n, width, width) of consecutive 3x3 ones."""
    many = width // 3
    wide = np.zeros((len(inverse) // many, width, width))
    for i in range(many):
        wide[:, 3 * i : 3 * i + 3, 3 * i : 3 * i + 3] = inverse[i::many]
    return wide


def hold_rotations(matrix: Blocks) -> None:
    """Hold the rotations of the vertex level weakly: a uniform one moves nothing."""
    owner = np.repeat(np.arange(matrix.count), np.diff(matrix.indptr))
    at = np.flatnonzero((owner == matrix.indices) & (owner % 2 == 1))
    np.einsum("kii->ki", matrix.data.reshape(-1, 3, 3))[at] *= 1 + HELD


def vertex_modes(space: QuadraticSpace, free: BoolArray) -> FloatArray:
    """Rigid motions in vertex displacements and rotations, (6 vertices, 6)."""
    v, edges = space.vertices, space.edges
    points = space.nodes[:v]
    modes = np.zeros((v, 2, 3, EXTRA))
    rigid = rigid_modes(points)
    modes[:, 0, :, :6] = (rigid * free[: 3 * v, None]).reshape(v, 3, 6)
    length = np.linalg.norm(space.nodes[edges[:, 1]] - space.nodes[edges[:, 0]], axis=1)
    mean = np.bincount(edges.ravel(), np.repeat(length, 2), v) / np.bincount(edges.ravel())
    scale = mean / np.ptp(points, axis=0).max()
    modes[:, 1, [0, 1, 2], [3, 4, 5]] = scale[:, None]
    if EXTRA == 9:
        modes[:, 1, [0, 1, 2], [6, 7, 8]] = 1
    return modes.reshape(6 * v, EXTRA)


EXTRA = 6
HELD = 1e-6


def vertex_prolongation(space: QuadraticSpace, free: BoolArray) -> Blocks:
    """Vertex displacements and rotations in the quadratic space: (3n, 6 vertices).

    The middle of an edge d from vertex i to j moves by

        (u_i + u_j) / 2 + (w_i - w_j) x d / 8,

    the cubic through the ends' displacements and slopes (D. J. Allman, A compatible triangular
    element including vertex rotations for plane elasticity analysis, Computers and Structures 19
    (1984) 1-8). The rotations let the coarse space bend without shearing: linear elements alone
    are far too stiff in a plate of few elements through its thickness. Columns: vertex by vertex,
    three displacements, three rotations times the vertex' mean edge length. Zero in rows and
    displacement columns that are not `free`.
    """
    n, v = len(space.nodes), space.vertices
    edges = space.edges
    span = space.nodes[edges[:, 1]] - space.nodes[edges[:, 0]]
    length = np.linalg.norm(span, axis=1)
    mean = np.bincount(edges.ravel(), np.repeat(length, 2), v) / np.bincount(edges.ravel())
    free = free.reshape(-1, 3)
    data = np.zeros((v + 4 * (n - v), 3, 3))
    np.einsum("kii->ki", data[:v])[:] = free[:v]
    middle = data[v:].reshape(-1, 4, 3, 3)
    for end, sign in ((0, 1), (1, -1)):
        vertex = edges[:, end]
        np.einsum("kii->ki", middle[:, 2 * end])[:] = 0.5 * free[vertex]
        turn = sign / 8 * span / mean[vertex, None]
        # w x d as a matrix on w.
        for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
            middle[:, 2 * end + 1, i, j] = turn[:, k]
            middle[:, 2 * end + 1, i, k] = -turn[:, j]
    middle *= free[v:, None, :, None]
    indptr = np.concatenate((np.arange(v), v + 4 * np.arange(n - v + 1))).astype(np.int32)
    columns = (2 * edges[:, [0, 0, 1, 1]] + np.array([0, 1, 0, 1], dtype=np.int32)).ravel()
    indices = np.concatenate((2 * np.arange(v, dtype=np.int32), columns))
    return Blocks.of(bsr_matrix((data, indices, indptr), shape=(3 * n, 6 * v)))
