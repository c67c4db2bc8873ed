"""Quality of elements by its definition (Liu & Joe, BIT 34 (1994) 268), and what it leads to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from meshes import COARSE

from platestack.geometry import mesher
from platestack.geometry.errors import MeshError
from platestack.geometry.mesh import EDGES, quality, scaled_jacobians

REGULAR = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]], dtype=float)


def quadratic(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and element of a straight quadratic tetrahedron."""
    if np.linalg.det(corners[1:] - corners[0]) < 0:
        corners = corners[[0, 2, 1, 3]]
    return np.vstack([corners, corners[EDGES].mean(axis=1)]), np.arange(10)[None]


def test_quality_of_the_regular_tetrahedron_is_one():
    found = quality(*quadratic(REGULAR))
    assert found.worst == pytest.approx(1, rel=1e-12)
    assert found.least_jacobian == pytest.approx(1, rel=1e-12)


def test_quality_of_the_corner_tetrahedron():
    # Volume 1/6; squares of edges 3 x 1 + 3 x 2 = 9: 12 (1/2)^(2/3) / 9.
    corner = np.vstack([np.zeros(3), np.eye(3)])
    assert quality(*quadratic(corner)).worst == pytest.approx(12 * 0.5 ** (2 / 3) / 9, rel=1e-12)


unit = st.floats(-1, 1)
tetrahedra = st.lists(st.tuples(unit, unit, unit), min_size=4, max_size=4).map(np.array)


@settings(max_examples=150, deadline=None)
@given(tetrahedra, st.floats(0.01, 100), st.tuples(unit, unit, unit))
def test_quality_is_at_most_one_and_knows_no_size_or_place(corners, factor, move):
    six = abs(np.linalg.det(corners[1:] - corners[0]))
    if six < 1e-3:
        return
    nodes, tets = quadratic(corners)
    found = quality(nodes, tets).worst
    assert 0 < found <= 1 + 1e-12
    assert quality(factor * nodes + np.array(move), tets).worst == pytest.approx(found, rel=1e-6)
    assert quality(nodes[:, [1, 2, 0]], tets).worst == pytest.approx(found, rel=1e-9)


def test_a_turned_element_is_negative():
    nodes, tets = quadratic(REGULAR)
    nodes = nodes * [1, 1, -1]
    found = quality(nodes, tets)
    assert found.worst < 0
    assert found.least_jacobian < 0


def test_an_edge_bent_through_its_element_is_found():
    nodes, tets = quadratic(np.vstack([np.zeros(3), np.eye(3)]))
    for bend, sound in ((0.2, True), (0.3, False)):
        # N at corner 0: dx/dX = 4 x_mid - x_1 along that edge, so it turns at x_mid < 1/4.
        bent = nodes.copy()
        bent[4] = [0.5 - bend, 0, 0]
        expected = 4 * (0.5 - bend) - 1
        least = scaled_jacobians(bent, tets)[0]
        assert least == pytest.approx(min(expected, 1.0))
        assert (least > 0) == sound


def test_a_mesh_with_a_flat_element_is_made_again(monkeypatch, small_press, coarse_mesh):
    good, sizes = coarse_mesh("small", "bed"), []
    shapes = iter((1e-9, 0.3))

    def made(stack, rods, symmetry, own, wanted):
        sizes.append(own.body)
        return replace(good, quality=replace(good.quality, worst=next(shapes)))

    monkeypatch.setattr(mesher.stack_mesh, "_made", made)
    best = mesher.make(small_press.bed, small_press.rods, good.symmetry, COARSE)
    assert best.quality.worst == 0.3
    assert sizes == [COARSE.body, 0.97 * COARSE.body]
    shapes = iter((1e-9, 1e-6, 1e-8))
    with pytest.raises(MeshError, match="flat elements"):
        mesher.make(small_press.bed, small_press.rods, good.symmetry, COARSE)
