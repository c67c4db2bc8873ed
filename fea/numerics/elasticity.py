"""Stiffness of quadratic tetrahedra as a matrix of 3x3 blocks.

Nodes and their numbering are those of scikit-fem's ``ElementVector(ElementTetP2())``: vertices,
then edges; degree of freedom ``3 * node + component``.

With linear isotropic elasticity, the block of nodes a and b is

    K_ab = lambda G_ab + mu G_ab^T + mu trace(G_ab) I,   G_ab[i, j] = integral of d_i N_a d_j N_b

(Zienkiewicz, Taylor and Zhu, The Finite Element Method, 6th ed., section 6.2, with D written in
Lame's parameters). On a straight-sided element the gradients are B^T dN with a constant B, so
that G_ab = V B^T R_ab B with a fixed reference tensor R: no quadrature loop.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix
from skfem import ElementTetP2, MeshTet, MeshTet2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTet

from platestack.fea.numerics import assembly
from platestack.fea.support.parallel import ranges, run

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int32]

EDGES = np.array([[0, 1], [1, 2], [0, 2], [0, 3], [1, 3], [2, 3]])
"""Local vertices of the six edges, in scikit-fem's order."""

STRAIGHT = 1e-9
"""An element is straight if its mid-edge nodes are off the midpoints by less than this part of
its longest edge."""

CHUNK = 20_000
"""Elements treated at once where numpy works on all their quadrature points."""


def lame(
    young: npt.ArrayLike, poisson: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Lame's parameters lambda and mu [Pa] from Young's modulus [Pa] and Poisson's ratio."""
    e, nu = np.asarray(young, dtype=float), np.asarray(poisson, dtype=float)
    return e * nu / ((1 + nu) * (1 - 2 * nu)), e / (2 * (1 + nu))


def shape_gradients(points: FloatArray) -> FloatArray:
    """Gradients of the ten shape functions at reference `points` (3, q), as (q, 10, 3)."""
    element = ElementTetP2()
    gradients = [element.lbasis(points, i)[1] for i in range(10)]
    return np.ascontiguousarray(np.array(gradients).transpose(2, 0, 1))


def shape_values(points: FloatArray) -> FloatArray:
    """Values of the ten shape functions at reference `points` (3, q), as (q, 10)."""
    element = ElementTetP2()
    return np.array([element.lbasis(points, i)[0] for i in range(10)]).T


@dataclass(frozen=True)
class Pattern:
    """Which nodes share an element: block rows `indptr` (n + 1,) and sorted columns `indices`."""

    indptr: IntArray
    indices: IntArray


class QuadraticSpace:
    """Quadratic displacements on a tetrahedral mesh.

    Built from a scikit-fem ``MeshTet`` (straight) or ``MeshTet2`` (possibly curved, all or some
    elements). The pattern is found once; stiffness matrices for other materials, or for other
    coordinates (`moved`), reuse it.

    nodes: (n, 3) coordinates [m]; cells: (m, 10) node numbers; vertices: number of vertex nodes;
    edges: (n - vertices, 2) the vertices whose edge carries node ``vertices + i``;
    curved: numbers of the curved elements.
    """

    def __init__(self, mesh: MeshTet) -> None:
        corners = np.ascontiguousarray(mesh.t[:4].T, dtype=np.int32)
        self.vertices = int(corners.max()) + 1
        self.edges, middles = _number_edges(corners, self.vertices)
        self.cells: IntArray = np.hstack((corners, middles)).astype(np.int32)
        points = np.ascontiguousarray(mesh.p[:, : self.vertices].T, dtype=float)
        nodes = np.vstack((points, points[self.edges].mean(axis=1)))
        if isinstance(mesh, MeshTet2):
            # The mesh numbers its own mid-edge nodes by the same rule: vertices, then edges.
            nodes[mesh.dofs.element_dofs.T.ravel()] = mesh.doflocs.T[
                mesh.dofs.element_dofs.T.ravel()
            ]
        self._place(nodes)

    def _place(self, nodes: FloatArray) -> None:
        if nodes.shape != (self.vertices + len(self.edges), 3):
            raise ValueError(f"nodes must be ({self.vertices + len(self.edges)}, 3)")
        self.nodes = nodes
        off = nodes[self.vertices :] - nodes[self.edges].mean(axis=1)
        length = np.linalg.norm(np.diff(nodes[self.edges], axis=1)[:, 0], axis=1)
        bent = np.zeros(len(nodes), dtype=bool)
        bent[self.vertices :] = np.linalg.norm(off, axis=1) > STRAIGHT * length
        self.curved: IntArray = np.flatnonzero(bent[self.cells].any(axis=1)).astype(np.int32)
        x = nodes[self.cells[:, :4]]
        jacobian = x[:, 1:] - x[:, :1]
        determinant = np.linalg.det(jacobian)
        self._volume = np.abs(determinant) / 6
        # Rows of the inverse: dX_p / dx_i as [i, p]; kept as [p, i].
        self._metric = np.ascontiguousarray(np.linalg.inv(jacobian).transpose(0, 2, 1))

    def moved(self, nodes: FloatArray) -> "QuadraticSpace":
        """The same mesh with its nodes at other coordinates (n, 3); the pattern is shared."""
        other = object.__new__(QuadraticSpace)
        other.vertices, other.edges, other.cells = self.vertices, self.edges, self.cells
        other.pattern, other._around = self.pattern, self._around
        other._place(np.asarray(nodes, dtype=float))
        return other

    @cached_property
    def _around(self) -> tuple[IntArray, IntArray]:
        """Elements around each node: offsets (n + 1,) and ``10 * element + local node``."""
        return assembly.around(self.cells, len(self.nodes))

    @cached_property
    def pattern(self) -> Pattern:
        """Block pattern of the stiffness matrix."""
        offsets, slots = self._around
        indptr = np.zeros(len(self.nodes) + 1, dtype=np.int32)
        rows = ranges(offsets)
        run(assembly.count_neighbours, rows, offsets, slots, self.cells, indptr)
        np.cumsum(indptr, out=indptr)
        indices = np.empty(indptr[-1], dtype=np.int32)
        run(assembly.list_neighbours, rows, offsets, slots, self.cells, indptr, indices)
        return Pattern(indptr, indices)

    def stiffness(self, young: npt.ArrayLike, poisson: npt.ArrayLike) -> bsr_matrix:
        """Stiffness matrix [N/m], (3n, 3n) in 3x3 blocks, without supports.

        `young` [Pa] and `poisson` are numbers, or (m,) arrays with a value for each element.
        Curved elements are integrated with scikit-fem's default rule (order 4).
        """
        lam, mu = (self._per_cell(value) for value in lame(young, poisson))
        offsets, slots = self._around
        indptr, indices = self.pattern.indptr, self.pattern.indices
        weight = self._volume.copy()
        weight[self.curved] = 0.0
        data = np.zeros((len(indices), 3, 3))
        run(
            assembly.add_straight,
            ranges(indptr),
            offsets,
            slots,
            self.cells,
            self._metric,
            lam * weight,
            mu * weight,
            _reference_tensor(),
            indptr,
            indices,
            data,
        )
        if len(self.curved):
            points, weights = get_quadrature(RefTet, 4)
            gradients = shape_gradients(points)
            assembly.add_curved(
                self.curved, self.cells, self.nodes, lam, mu, gradients, weights,
                indptr, indices, data,
            )  # fmt: skip
        size = 3 * len(self.nodes)
        return bsr_matrix((data, indices, indptr), shape=(size, size))

    def displacement_gradients(self, displacement: FloatArray, points: FloatArray) -> FloatArray:
        """du_i/dx_j of `displacement` (3n,) or (n, 3) at reference `points` (3, q): (m, q, 3, 3).

        The strain is its symmetric part.
        """
        nodal = np.asarray(displacement, dtype=float).reshape(-1, 3)
        result = np.empty((len(self.cells), points.shape[1], 3, 3))
        for part, gradients, _ in self._quadrature(np.arange(len(self.cells)), points):
            result[part] = np.einsum("cai,cqaj->cqij", nodal[self.cells[part]], gradients)
        return result

    def _quadrature(
        self, cells: npt.NDArray[np.integer], points: FloatArray
    ) -> Iterator[tuple[npt.NDArray[np.integer], FloatArray, FloatArray]]:
        """Chunks of `cells`, with shape gradients (c, q, 10, 3) and Jacobians (c, q) at points."""
        reference = shape_gradients(points)
        for first in range(0, len(cells), CHUNK):
            part = cells[first : first + CHUNK]
            # jacobian[c, q, p, i] = dx_i / dX_p
            jacobian = np.einsum("cai,qap->cqpi", self.nodes[self.cells[part]], reference)
            gradients = reference @ np.linalg.inv(jacobian).transpose(0, 1, 3, 2)
            yield part, gradients, np.abs(np.linalg.det(jacobian))

    def _per_cell(self, value: FloatArray) -> FloatArray:
        if value.shape not in ((), (len(self.cells),)):
            raise ValueError(
                f"material: one value, or one for each of {len(self.cells)} elements; "
                f"got shape {value.shape}"
            )
        return np.broadcast_to(value, (len(self.cells),))


def _number_edges(corners: IntArray, vertices: int) -> tuple[IntArray, IntArray]:
    """Edges (e, 2) in lexicographic order, and the mid-edge nodes (m, 6) of each element."""
    pairs = np.sort(corners[:, EDGES], axis=2).astype(np.int64)
    keys, inverse = np.unique(pairs[..., 0] * vertices + pairs[..., 1], return_inverse=True)
    edges = np.column_stack(np.divmod(keys, vertices)).astype(np.int32)
    return edges, (inverse.reshape(-1, 6) + vertices).astype(np.int32)


def _reference_tensor() -> FloatArray:
    """R[a, b, p, q]: mean over the reference tetrahedron of dN_a/dX_p dN_b/dX_q."""
    points, weights = get_quadrature(RefTet, 2)
    gradients = shape_gradients(points)
    tensor: FloatArray = np.einsum("q,qap,qbr->abpr", weights / weights.sum(), gradients, gradients)
    return tensor
