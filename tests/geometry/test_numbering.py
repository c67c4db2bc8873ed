"""Renumbering keeps the mesh, follows scikit-fem, and narrows the matrix."""

from __future__ import annotations

import numpy as np
from skfem import MeshTet, MeshTet2

from platestack.geometry.mesh import EDGES
from platestack.geometry.numbering import compact


def shuffled(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A cube of quadratic tetrahedra with nodes and elements in random order."""
    mesh = MeshTet2.from_mesh(MeshTet().refined(2))
    points, tets = mesh.doflocs.T, mesh.dofs.element_dofs.T
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(points))
    place = np.argsort(order)
    return points[order], place[tets][rng.permutation(len(tets))]


def test_same_mesh_in_scikit_fems_numbering():
    points, tets = shuffled(5)
    found = compact(tets)
    nodes = points[found.nodes]
    assert sorted(found.nodes) == list(range(len(points)))
    np.testing.assert_array_equal(nodes[found.tets], points[tets[found.elements]])
    mesh = MeshTet2(nodes.T.copy(), found.tets.T.copy())
    np.testing.assert_array_equal(mesh.dofs.element_dofs.T, found.tets)
    np.testing.assert_array_equal(mesh.doflocs.T, nodes)


def test_neighbours_come_close():
    _, tets = shuffled(7)

    def reach(cells: np.ndarray) -> float:
        return float(np.abs(np.diff(cells[:, :4][:, EDGES], axis=2)).mean())

    corners = np.unique(tets[:, :4], return_inverse=True)[1].reshape(-1, 4)
    assert reach(compact(tets).tets) < 0.4 * reach(corners)


def test_faces_are_renamed():
    points, tets = shuffled(11)
    found = compact(tets)
    faces = tets[:9, [0, 1, 2, 4, 5, 6]]
    np.testing.assert_array_equal(points[found.nodes][found.renamed(faces)], points[faces])
