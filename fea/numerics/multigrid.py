"""Multigrid preconditioner: quadratic elements, linear elements on the same mesh, aggregates.

Smoother: Chebyshev polynomials of the fourth kind in D^-1 A with D the diagonal blocks, which
need only the largest eigenvalue (J. Lottes, Optimal polynomial smoothers for multigrid V-cycles,
Numer. Linear Algebra Appl. 30 (2023) e2518; after M. Adams, M. Brezina, J. Hu, R. Tuminaro,
Parallel multigrid smoothing: polynomial versus Gauss-Seidel, J. Comput. Phys. 188 (2003) 593-610).
All matrix products but the coarsest solve are made in single precision: a preconditioner need
not be exact, and memory traffic is what costs.
"""

from copy import copy
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix, csr_matrix

from platestack.fea.numerics.aggregation import prolongation, rigid_modes
from platestack.fea.numerics.blocks import Blocks, relax, smooth
from platestack.fea.numerics.coarsest import EMPTY, CoarsestSolver
from platestack.fea.numerics.elasticity import EDGES, QuadraticSpace
from platestack.fea.numerics.krylov import largest_eigenvalue
from platestack.fea.numerics.system import System, Ties
from platestack.fea.support.errors import SolveError
from platestack.fea.support.parallel import even, run

FloatArray = npt.NDArray[np.float64]
SingleArray = npt.NDArray[np.float32]
BoolArray = npt.NDArray[np.bool_]

SAFETY = 1.05
"""The estimate of the largest eigenvalue is from below."""

SLOW = 0.7
"""Coarsening that keeps more than this part of the unknowns is given up."""

DENSE = 6_000
"""Most unknowns that are solved by a dense factor."""

SAMPLE = 20_000
"""Elements looked at for their flatness."""


@dataclass(frozen=True)
class Settings:
    """Knobs of the preconditioner.

    degree: of the smoother on the quadratic level, by default as the flatness of the elements
    asks for, see `smoother_degree`; coarse_degree: at least this below it; coarsest: degrees of
    freedom solved directly.
    """

    degree: int | None = None
    coarse_degree: int = 3
    coarsest: int = 900


def smoother_degree(space: QuadraticSpace) -> int:
    """Degree of the smoother: the 90th percentile of the elements' aspect ratio, 2 to 12.

    Aspect ratio: longest edge over smallest height, 1 for a regular tetrahedron. The block-Jacobi
    spectrum of the part that linear elements miss widens with its square, and a Chebyshev
    polynomial covers a width that grows with the square of its degree.
    """
    cells = space.cells[:: 1 + len(space.cells) // SAMPLE, :4]
    x = space.nodes[cells]
    edges = x[:, EDGES[:, 0]] - x[:, EDGES[:, 1]]
    longest = np.linalg.norm(edges, axis=2).max(axis=1)
    inverse = np.linalg.inv(x[:, 1:] - x[:, :1])
    slopes = np.concatenate((inverse, -inverse.sum(axis=2, keepdims=True)), axis=2)
    steepest = np.linalg.norm(slopes, axis=1).max(axis=1)
    aspect = longest * steepest * np.sqrt(2 / 3)
    return int(np.clip(round(float(np.percentile(aspect, 90))), 2, 12))


class Level:
    """One matrix of the hierarchy with its smoother, in single precision."""

    def __init__(
        self, matrix: Blocks, free: BoolArray, inverse: FloatArray, ties: Ties, degree: int
    ) -> None:
        self.matrix = matrix.astype(np.float32)
        self.free = free.reshape(-1, 3)
        self.inverse = inverse.reshape(-1).astype(np.float32)
        self.hold(ties)
        self.degree = degree
        self.size = 3 * matrix.count
        self.nodes = even(matrix.count)
        self.bound = 0.0
        self.raise_bound()

    def raise_bound(self) -> None:
        """Estimate the bound of the spectrum anew; it does not fall."""
        found = largest_eigenvalue(self.apply, self.relax, self.size, dtype=np.float32)
        self.bound = max(self.bound, SAFETY * found)

    def hold(self, ties: Ties) -> None:
        """Take these ties."""
        self.rows = ties.rows.astype(np.float32)
        self.columns = csr_matrix(self.rows.T)
        self.stiffness = ties.stiffness.astype(np.float32)

    def copied(self) -> "Level":
        """The same level, whose matrix can be added to."""
        other = copy(self)
        other.matrix = replace(self.matrix, data=self.matrix.data.copy())
        other.inverse = self.inverse.copy()
        return other

    def add(self, term: Blocks) -> None:
        """Add a term to the matrix, in place where the matrix has blocks already."""
        self.matrix.insert(term)
        rows = np.flatnonzero(np.diff(term.indptr))
        diagonal = self.matrix.diagonal(rows).astype(float)
        inverse = inverse_diagonal(diagonal, self.free[rows].ravel())
        self.inverse.reshape(-1, 3, 3)[rows] = inverse

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


@dataclass(frozen=True)
class LinearElementLevel:
    """Linear elements on the mesh of quadratic ones: transfers, and what no extra term changes.

    That is most of a set-up, and contact never changes it.

    matrix: of the linear elements; fine: of the quadratic ones in single precision, zero on fixed
    components; diagonal: its blocks (n, 3, 3) in double precision.
    """

    up: Blocks
    down: Blocks
    matrix: Blocks
    fine: Blocks
    diagonal: FloatArray

    @classmethod
    def of(cls, system: System, space: QuadraticSpace) -> "LinearElementLevel":
        """The linear elements of a system."""
        up = linear_prolongation(space, system.free)
        down = up.transposed()
        whole = Blocks.of(system.matrix)
        fine = whole.restricted(system.free, np.float32)
        return cls(up, down, whole.galerkin(up, down), fine, whole.diagonal())

    def quadratic(self, extra: bsr_matrix | None, free: BoolArray) -> tuple[Blocks, FloatArray]:
        """The quadratic level's matrix with an extra term, and its inverse diagonal blocks."""
        if extra is None:
            return self.fine, inverse_diagonal(self.diagonal, free)
        added = Blocks.of(extra)
        total = self.fine.joined(added.restricted(free, np.float32))
        return total, inverse_diagonal(self.diagonal + added.diagonal(), free)

    def coarse(self, extra: bsr_matrix | None) -> Blocks:
        """The matrix with an extra term of the quadratic level added."""
        if extra is None:
            return self.matrix
        return self.matrix.joined(Blocks.of(extra).galerkin(self.up, self.down))


class Hierarchy:
    """The levels, finest first, the transfers between them and the coarsest factor.

    Called with a residual it makes one V-cycle, a symmetric positive definite operation.
    """

    def __init__(
        self,
        system: System,
        space: QuadraticSpace,
        settings: Settings,
        like: "Hierarchy | None" = None,
    ) -> None:
        """Build the levels; `like`, of a system that differs in its extra term, lends its own."""
        self.levels: list[Level] = []
        self.transfers: list[Transfer] = []
        ties = system.free_ties
        degree = settings.degree or smoother_degree(space)
        self.linear: LinearElementLevel = (
            like.linear if like else LinearElementLevel.of(system, space)
        )
        fine, inverse = self.linear.quadratic(system.extra, system.free)
        self.levels.append(Level(fine, system.free, inverse, ties, degree))
        matrix = self.linear.coarse(system.extra)
        ties = self._transferred(ties, self.linear.up, self.linear.down)
        modes = rigid_modes(space.nodes[: space.vertices])
        modes *= system.free[: len(modes), None]
        degree = max(degree, settings.coarse_degree)
        self._aggregate(matrix, ties, vertex_graph(space), modes, degree, settings.coarsest)

    def _coarsen(self, matrix: Blocks, ties: Ties, up: Blocks) -> tuple[Blocks, Ties]:
        down = up.transposed()
        return matrix.galerkin(up, down), self._transferred(ties, up, down)

    def _transferred(self, ties: Ties, up: Blocks, down: Blocks) -> Ties:
        """Note the transfer to the next level; the ties there."""
        self.transfers.append(Transfer(up.astype(np.float32), down.astype(np.float32)))
        return Ties(csr_matrix(ties.rows @ up.scipy().tocsr()), ties.stiffness)

    def _aggregate(
        self,
        matrix: Blocks,
        ties: Ties,
        graph: csr_matrix,
        modes: FloatArray,
        degree: int,
        coarsest: int,
    ) -> None:
        """Levels below the linear elements, down to the directly solved one."""
        width = 3
        while 3 * matrix.count > coarsest:
            carrying = live(matrix)
            inverse = inverse_diagonal(matrix.diagonal(), carrying)
            level = Level(matrix, carrying, inverse, ties, degree)
            # omega = 4/3 of the inverse largest eigenvalue: Vanek, Mandel, Brezina, section 5.
            up, graph, modes = prolongation(
                matrix.scipy().tobsr((width, width)),
                graph,
                modes,
                join_blocks(inverse, width // 3),
                4 / 3 / level.bound,
            )
            if up.shape[1] > SLOW * up.shape[0]:
                break
            self.levels.append(level)
            width = modes.shape[1]
            matrix, ties = self._coarsen(matrix, ties, Blocks.of(up.tobsr((3, 3))))
        if 3 * matrix.count > DENSE:
            raise SolveError(
                f"multigrid cannot coarsen the mesh below {3 * matrix.count} unknowns: it falls "
                "apart into very many bodies. Use the direct method"
            )
        self.bottom = CoarsestSolver(matrix.scipy().toarray(), ties)

    def copied(self, ties: Ties) -> "Hierarchy":
        """The same levels with other ties, ready to be added to."""
        other = copy(self)
        other.levels = [level.copied() for level in self.levels]
        for level, transfer in zip(other.levels, self.transfers, strict=True):
            level.hold(ties)
            ties = Ties(csr_matrix(ties.rows @ transfer.up.scipy().tocsr()), ties.stiffness)
        other.bottom = CoarsestSolver(self.bottom.matrix, ties)
        return other

    def add(self, extra: bsr_matrix) -> None:
        """Add a term to all levels, whose pattern lies within that of the system's extra term.

        Transfers stay as they are, bounds of the spectrum until `raise_bounds` is called.
        """
        term = Blocks.of(extra).restricted(self.levels[0].free.ravel(), np.float64)
        for level, transfer in zip(self.levels, self.transfers, strict=True):
            level.add(term)
            term = term.galerkin(transfer.up, transfer.down)
        self.bottom = CoarsestSolver(self.bottom.matrix + term.scipy().toarray(), self.bottom.ties)

    def raise_bounds(self) -> None:
        """Estimate the bounds of the spectra anew, after stiff terms were added."""
        for level in self.levels:
            level.raise_bound()

    def __call__(self, residual: FloatArray) -> FloatArray:
        """The correction (3n,) of a residual (3n,)."""
        # Scaled, because single precision has a narrow range.
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


def vertex_graph(space: QuadraticSpace) -> csr_matrix:
    """Which vertices share an edge of an element, (v, v) with ones, the diagonal included."""
    one, two = space.edges.T
    own = np.arange(space.vertices)
    rows, columns = np.concatenate((one, two, own)), np.concatenate((two, one, own))
    shape = (space.vertices, space.vertices)
    return csr_matrix((np.ones(len(rows)), (rows, columns)), shape=shape)


def live(matrix: Blocks) -> BoolArray:
    """Components with a stiffness of their own, (3n,); the others carry nothing."""
    diagonal = matrix.diagonal()
    entries = np.einsum("nii->ni", diagonal)
    carrying: BoolArray = (entries > EMPTY * entries.max()).ravel()
    return carrying


def inverse_diagonal(diagonal: FloatArray, free: BoolArray) -> FloatArray:
    """Inverses of diagonal blocks (n, 3, 3) on `free` components (3n,), zero elsewhere."""
    free = free.reshape(-1, 3)
    both = free[:, :, None] & free[:, None, :]
    diagonal = np.where(both, diagonal, 0.0)
    entries = np.einsum("nii->ni", diagonal)
    entries[~free] = 1.0
    return np.where(both, np.linalg.inv(diagonal), 0.0)


def join_blocks(blocks: FloatArray, many: int) -> FloatArray:
    """Block-diagonal matrices (n, 3 many, 3 many) of each `many` consecutive 3x3 ones."""
    wide = np.zeros((len(blocks) // many, many, 3, many, 3))
    for i in range(many):
        wide[:, i, :, i, :] = blocks[i::many]
    return wide.reshape(-1, 3 * many, 3 * many)


def linear_prolongation(space: QuadraticSpace, free: BoolArray) -> Blocks:
    """Linear elements in the quadratic space: mid-edge nodes take the mean of their vertices.

    Zero for components that are not `free`, on either side.
    """
    n, v = len(space.nodes), space.vertices
    indptr = np.concatenate((np.arange(v), v + 2 * np.arange(n - v + 1))).astype(np.int32)
    indices = np.concatenate((np.arange(v, dtype=np.int32), space.edges.ravel()))
    owner = np.repeat(np.arange(n), np.diff(indptr))
    weight = np.where(owner < v, 1.0, 0.5)[:, None]
    free = free.reshape(-1, 3)
    data = np.zeros((len(indices), 3, 3))
    np.einsum("kii->ki", data)[:] = weight * (free[owner] & free[indices])
    return Blocks.of(bsr_matrix((data, indices, indptr), shape=(3 * n, 3 * v)))
