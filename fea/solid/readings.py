"""Readings of a mesh as rows, and integrals over its faces.

Everything is a vector or a sparse row on the unknowns, degree of freedom ``3 * node + component``.
A *row* is a linear reading: its product with the displacements is a length in m, or a slope.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.spatial import cKDTree

from platestack.geometry.mesh import EDGES, StackMesh
from platestack.geometry.parts import Point

ON_PLANE = 1e-9
"""Distance from a mirror plane up to which a point lies on it (m)."""

_POINTS = np.array(
    [
        [0.445948490915965, 0.445948490915965],
        [0.445948490915965, 0.108103018168070],
        [0.108103018168070, 0.445948490915965],
        [0.091576213509771, 0.091576213509771],
        [0.091576213509771, 0.816847572980459],
        [0.816847572980459, 0.091576213509771],
    ]
)
_WEIGHTS = np.repeat([0.223381589678011, 0.109951743655322], 3) / 2
"""Rule of degree 4 on the triangle (Dunavant, Int. J. Numer. Meth. Engng 21 (1985) 1129)."""


def face_weights(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Integrals of the shape functions over faces (k, 6): an (n,) vector whose sum is the area."""
    local = point_areas(nodes, faces) @ TRIANGLE_VALUES
    return np.bincount(faces.ravel(), local.ravel(), len(nodes))


def point_areas(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Area (k, q) that each quadrature point of faces (k, 6) stands for, in m²."""
    tangents = np.einsum("qad,kac->kqdc", _TRIANGLE_GRADIENTS, nodes[faces])
    area = np.linalg.norm(np.cross(tangents[:, :, 0], tangents[:, :, 1]), axis=2)
    return np.asarray(area * _WEIGHTS)


def _triangle() -> tuple[np.ndarray, np.ndarray]:
    """Six shape functions and their gradients at the rule's points: (q, 6), (q, 6, 2)."""
    bary = np.column_stack([1 - _POINTS.sum(axis=1), _POINTS])
    slopes = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
    pairs = ((0, 1), (1, 2), (2, 0))
    values = np.column_stack(
        [bary * (2 * bary - 1)] + [4 * bary[:, i] * bary[:, j] for i, j in pairs]
    )
    corner = (4 * bary - 1)[:, :, None] * slopes
    middle = [4 * (bary[:, i, None] * slopes[j] + bary[:, j, None] * slopes[i]) for i, j in pairs]
    return values, np.concatenate([corner, np.stack(middle, axis=1)], axis=1)


TRIANGLE_VALUES, _TRIANGLE_GRADIENTS = _triangle()
"""Six shape functions (q, 6) and their gradients (q, 6, 2) at the quadrature points."""


def plane_rows(mesh: StackMesh, name: str, at: Point) -> list[csr_matrix]:
    """Rows of the mean height of some faces round a place and of their tilts, by area.

    The faces are taken as symmetric at x and y through their centre, as patch and annuli are;
    where a mirror cuts them, the centre is on it.
    """
    weights = face_weights(mesh.nodes, mesh.pressed(name))
    rows = [weighted_row(weights / weights.sum(), 2)]
    for axis, plane in enumerate("xy"):
        cut = plane in mesh.symmetry and abs(at[axis]) < ON_PLANE
        along = mesh.nodes[:, axis]
        off = along - (0.0 if cut else weights @ along / weights.sum())
        rows.append(weighted_row(weights * off / (weights @ off**2), 2))
    return rows


def sliding(mesh: StackMesh, weights: np.ndarray) -> list[csr_matrix]:
    """Rows of the mean motion along x, along y, and turning about z, by weights (n,) of nodes."""
    weights = weights / weights.sum()
    x, y = mesh.nodes[:, 0], mesh.nodes[:, 1]
    reach = np.sqrt(weights @ (x**2 + y**2))
    turn = weighted_row(-weights * y / reach, 0) + weighted_row(weights * x / reach, 1)
    return [weighted_row(weights, 0), weighted_row(weights, 1), turn]


def weighted_row(values: np.ndarray, component: int) -> csr_matrix:
    """One row with `values` (n,) at a displacement component."""
    index = np.flatnonzero(values)
    return csr_matrix(
        (values[index], (np.zeros(len(index), dtype=int), 3 * index + component)),
        shape=(1, 3 * len(values)),
    )


def point_row(mesh: StackMesh, point: tuple[float, float, float], component: int) -> csr_matrix:
    """Row that reads a displacement component at a point (m) of the stack's plates.

    A point in a mirrored part is read at its image.

    Raises
    ------
    LookupError
        If no element holds the point.
    """
    at = np.array(point, dtype=float)
    sign = 1.0
    for axis, plane in enumerate("xy"):
        if plane in mesh.symmetry and at[axis] < 0:
            at[axis] = -at[axis]
            sign = -sign if component == axis else sign
    values, nodes = _locate(mesh, at)
    values_at = np.zeros(len(mesh.nodes))
    values_at[nodes] = sign * values
    return weighted_row(values_at, component)


def _locate(mesh: StackMesh, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shape functions (10,) and nodes (10,) of the element that holds a point.

    Elements are taken straight; a point up to a hundredth of an element outside counts as in.
    """
    tets = mesh.tets[mesh.of_plates]
    corners = mesh.nodes[tets[:, :4]]
    near = cKDTree(corners.mean(axis=1)).query(at, k=min(400, len(corners)))[1]
    x = corners[np.atleast_1d(near)]
    edges = (x[:, 1:] - x[:, :1]).transpose(0, 2, 1)
    local = np.linalg.solve(edges, (at - x[:, 0])[:, :, None])[:, :, 0]
    bary = np.column_stack([1 - local.sum(axis=1), local])
    best = int(bary.min(axis=1).argmax())
    if bary[best].min() < -0.01:
        raise LookupError(f"no element at {at}")
    b = bary[best]
    values = np.concatenate([b * (2 * b - 1), 4 * b[EDGES[:, 0]] * b[EDGES[:, 1]]])
    return values, tets[np.atleast_1d(near)[best]]
