"""Meshes split along interfaces: what is doubled, what stays, how it is numbered."""

from __future__ import annotations

import numpy as np
import pytest
from published.pressed import blocks
from skfem import ElementTetP2, ElementVector, MeshTet, MeshTet2
from skfem.assembly import Basis

from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.geometry.split import split

X, Y = np.linspace(0, 0.3, 4), np.linspace(0, 0.2, 3)
NAMES = ("plate 1 | plate 2", "plate 2 | plate 3")


@pytest.fixture(scope="module")
def three():
    """Three blocks of 3 x 2 x 2 bricks; the faces at x = 0 have a name."""
    heights = [np.linspace(i, i + 1, 3) * 0.05 for i in range(3)]
    mesh = blocks(X, Y, heights)
    side = np.array(
        [[0, 1, 2, 4, 5, 6], [0, 1, 3, 4, 8, 7], [0, 2, 3, 6, 9, 7], [1, 2, 3, 5, 9, 8]]
    )
    skin = mesh.tets[:, side].reshape(-1, 6)
    mesh.faces["symmetry x"] = skin[(np.abs(mesh.nodes[skin, 0]) < 1e-9).all(axis=1)]
    return mesh


def quadratic_nodes(nx: int, ny: int) -> int:
    """Corners and mid-edge nodes of a plane grid of squares, each cut into two triangles.

    A grid of twice the fineness: corners, middles of sides and of diagonals.
    """
    return (2 * nx + 1) * (2 * ny + 1)


@pytest.mark.parametrize("names", [(), NAMES[:1], NAMES])
def test_every_opened_interface_doubles_its_nodes(three, names):
    opened, pairs = split(three, names)
    assert len(opened.nodes) == len(three.nodes) + len(names) * quadratic_nodes(3, 2)
    assert tuple(pair.name for pair in pairs) == names
    assert len(opened.tets) == len(three.tets)


def test_pairs_lie_on_each_other_and_share_nothing(three):
    opened, pairs = split(three, NAMES)
    for pair, height in zip(pairs, (0.05, 0.1), strict=True):
        assert pair.axis == 2
        assert len(pair.lower) == 2 * 3 * 2
        np.testing.assert_allclose(
            opened.nodes[pair.lower], opened.nodes[pair.upper], rtol=0, atol=1e-12
        )
        np.testing.assert_allclose(opened.nodes[pair.lower][..., 2], height, rtol=0, atol=1e-12)
        assert not np.intersect1d(pair.lower, pair.upper).size


def test_the_lower_side_belongs_to_the_lower_plate(three):
    opened, pairs = split(three, NAMES)
    for number, pair in enumerate(pairs):
        for side, plate in ((pair.lower, number), (pair.upper, number + 1)):
            assert np.isin(side, opened.tets[opened.plate == plate]).all()
            assert not np.isin(side, opened.tets[opened.plate != plate]).any()


def test_elements_keep_their_places_and_plates(three):
    opened, _ = split(three, NAMES)

    def described(mesh):
        centres = mesh.nodes[mesh.tets].mean(axis=1)
        return sorted(map(tuple, np.column_stack([centres, mesh.plate]).round(9).tolist()))

    assert described(opened) == described(three)


def test_named_faces_stay_faces_of_elements(three):
    opened, _ = split(three, NAMES)
    faces = opened.faces["symmetry x"]
    assert len(faces) == len(three.faces["symmetry x"]) == 2 * 2 * 6
    corners = {frozenset(c) for t in opened.tets[:, :4] for c in _triples(t.tolist())}
    assert all(frozenset(face) in corners for face in faces[:, :3].tolist())
    ends = opened.nodes[faces[:, [0, 1, 2]]], opened.nodes[faces[:, [1, 2, 0]]]
    np.testing.assert_allclose(opened.nodes[faces[:, 3:]], sum(ends) / 2, atol=1e-12)


def test_opened_interfaces_are_no_longer_faces_of_the_mesh(three):
    opened, _ = split(three, NAMES[:1])
    assert opened.interfaces == NAMES[1:]
    assert len(opened.faces[NAMES[1]]) == len(three.faces[NAMES[1]])


def test_plates_that_another_interface_holds_are_not_parted(three):
    """Plates 1 and 3 touch as well, and stay joined: then plate 2 has both on one body."""
    faces = dict(three.faces)
    faces["plate 1 | plate 3"] = faces.pop(NAMES[1])[:1]
    held = type(three)(**{**vars(three), "faces": faces})
    opened, pairs = split(held, (NAMES[0],))
    assert [pair.name for pair in pairs] == [NAMES[0]]
    again, none = split(opened, ())
    assert none == ()
    assert len(again.nodes) == len(opened.nodes)
    joined = {**faces, "plate 2 | plate 3": faces["plate 1 | plate 3"]}
    ring = type(three)(**{**vars(three), "faces": joined})
    closed, pairs = split(ring, (NAMES[0],))
    assert pairs == ()
    assert len(closed.nodes) == len(three.nodes)


def test_numbering_is_that_of_scikit_fem(three):
    opened, _ = split(three, NAMES)
    corners = int(opened.tets[:, :4].max()) + 1
    mesh = MeshTet(opened.nodes[:corners].T, opened.tets[:, :4].T)
    basis = Basis(mesh, ElementVector(ElementTetP2()))
    nodal = basis.element_dofs.reshape(10, 3, -1)[:, 0].T // 3
    np.testing.assert_array_equal(np.sort(nodal, axis=1), np.sort(opened.tets, axis=1))
    np.testing.assert_allclose(basis.doflocs.T[::3], opened.nodes, atol=1e-12)
    quadratic = MeshTet2(opened.nodes.T, opened.tets.T)
    np.testing.assert_array_equal(QuadraticSpace(quadratic).cells, opened.tets)


def test_a_press_stack_is_opened_at_every_interface(coarse_mesh):
    mesh = coarse_mesh("demo", "crosshead")
    opened, pairs = split(mesh, mesh.interfaces)
    assert len(pairs) == len(mesh.interfaces) == len(mesh.plate_names) - 1
    doubled = sum(len(np.unique(pair.lower)) for pair in pairs)
    assert len(opened.nodes) == len(mesh.nodes) + doubled
    for pair in pairs:
        np.testing.assert_allclose(
            opened.nodes[pair.lower], opened.nodes[pair.upper], rtol=0, atol=1e-12
        )
    for name, faces in opened.faces.items():
        np.testing.assert_allclose(
            np.sort(opened.nodes[faces].mean(axis=1), axis=0),
            np.sort(mesh.nodes[mesh.faces[name]].mean(axis=1), axis=0),
            atol=1e-12,
        )


def _triples(tet):
    return [tet[:3], [tet[0], tet[1], tet[3]], [tet[0], tet[2], tet[3]], tet[1:]]
