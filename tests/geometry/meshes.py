"""What checks of meshes share: which stacks, areas, volumes, outer faces."""

from __future__ import annotations

import numpy as np
import pytest
from skfem import Basis, ElementTetP1, MeshTet2

from platestack.geometry.mesh import Sizes, StackMesh

STACKS = [
    *((case, stack) for case in ("small", "demo", "on_edge") for stack in ("crosshead", "bed")),
    pytest.param("large", "crosshead", marks=pytest.mark.slow),
    ("large", "bed"),
]

COARSE = Sizes(0.08, round_divisions=10, ring_divisions=1, patch_divisions=5)


def areas(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Areas of plane triangles with parabolic edges, by the area of a parabola's segment."""
    a, b, c, ab, bc, ca = (nodes[faces[:, i]] for i in range(6))
    normal = np.cross(b - a, c - a)
    unit = normal / np.linalg.norm(normal, axis=1)[:, None]
    total = np.linalg.norm(normal, axis=1) / 2
    for start, end, middle in ((a, b, ab), (b, c, bc), (c, a, ca)):
        bulge = np.cross(end - start, middle - (start + end) / 2)
        total -= 2 / 3 * np.einsum("ij,ij->i", bulge, unit)
    return total


def volumes(mesh: StackMesh) -> np.ndarray:
    """Volumes (m,) of the curved elements by scikit-fem's quadrature (exact for their Jacobian)."""
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP1(), intorder=4)
    return basis.dx.sum(axis=1)


def volume(mesh: StackMesh) -> float:
    """Volume of all elements."""
    return float(volumes(mesh).sum())


def faces_of(tets: np.ndarray) -> np.ndarray:
    """Sorted corners (4 m, 3) of the faces of all elements."""
    corners = [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]
    return np.sort(tets[:, corners].reshape(-1, 3), axis=1)


def outer_faces(tets: np.ndarray) -> np.ndarray:
    """Corners (k, 3) of the faces that belong to one element only."""
    unique, count = np.unique(faces_of(tets), axis=0, return_counts=True)
    return unique[count == 1]


def as_set(faces: np.ndarray) -> set[tuple[int, ...]]:
    return set(map(tuple, np.sort(faces[:, :3], axis=1).tolist()))
