"""Patch recovery: exact for quadratic fields on any mesh, never across bodies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay
from skfem import MeshTet

from platestack.fea.numerics.elasticity import QuadraticSpace, shape_values
from platestack.fea.solid.stress import patches


def cloud(seed: int, points: int) -> MeshTet:
    """Tetrahedra between random points, flat ones left out."""
    at = np.random.default_rng(seed).random((points, 3))
    cells = Delaunay(at).simplices
    x = at[cells]
    volume = np.linalg.det(x[:, 1:] - x[:, :1])
    longest = np.linalg.norm(x[:, :, None] - x[:, None], axis=3).max(axis=(1, 2))
    cells = cells[np.abs(volume) > 1e-3 * longest**3]
    kept, inverse = np.unique(cells, return_inverse=True)
    return MeshTet(at[kept].T.copy(), inverse.reshape(-1, 4).T.copy())


def bricks(*counts: int) -> MeshTet:
    return MeshTet.init_tensor(*(np.linspace(0, n, n + 1) for n in counts))


def sampled(space: QuadraticSpace, field) -> tuple[np.ndarray, np.ndarray]:
    """Places and values of the samples of all elements."""
    at = np.einsum("qa,mad->mqd", shape_values(patches.SAMPLES.T), space.nodes[space.cells])
    return at, field(at)


def field_of(seed: int, degree: int):
    """Draw a polynomial field of two components of some degree."""
    factors = np.random.default_rng(seed).normal(size=(10, 2))
    factors[[1, 4, 10][degree] :] = 0

    def field(at: np.ndarray) -> np.ndarray:
        x, y, z = np.moveaxis(at, -1, 0)
        terms = [np.ones_like(x), x, y, z, x * x, y * y, z * z, x * y, y * z, x * z]
        return np.stack(terms, axis=-1) @ factors

    return field


def assert_reproduced(mesh: MeshTet, field) -> None:
    space = QuadraticSpace(mesh)
    at, values = sampled(space, field)
    found = patches.recovered(space.nodes, space.cells, at, values)
    assert found == pytest.approx(field(space.nodes), abs=1e-6 * np.abs(values).max())


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.integers(12, 60))
def test_quadratic_fields_on_random_meshes(seed, points):
    assert_reproduced(cloud(seed, points), field_of(seed, 2))


@pytest.mark.parametrize("counts", [(2, 1, 1), (3, 1, 1), (5, 4, 1), (3, 3, 3)])
def test_quadratic_fields_on_layers_of_bricks(counts):
    """Thin bodies have vertices, and all of their vertices, with too few elements for a fit."""
    assert_reproduced(bricks(*counts), field_of(1, 2))


def test_too_few_samples_for_a_quadratic_reproduce_a_linear_field():
    """One brick, and one element alone."""
    assert_reproduced(bricks(1, 1, 1), field_of(2, 1))
    corners = np.vstack([np.zeros(3), np.eye(3)]).T.copy()
    assert_reproduced(MeshTet(corners, np.arange(4)[:, None]), field_of(2, 1))


def test_bodies_are_not_smoothed_together():
    """Two bodies with nodes of their own, one far too small for a fit."""
    big, small = QuadraticSpace(bricks(3, 3, 3)), QuadraticSpace(bricks(2, 1, 1))
    nodes = np.vstack([big.nodes, small.nodes + np.array([3.0, 0.0, 0.0])])
    cells = np.vstack([big.cells, small.cells + len(big.nodes)])
    at = np.einsum("qa,mad->mqd", shape_values(patches.SAMPLES.T), nodes[cells])
    one, two = field_of(3, 2), field_of(4, 2)
    first = len(big.cells)
    values = np.concatenate([one(at[:first]), two(at[first:])])
    found = patches.recovered(nodes, cells, at, values)
    split = len(big.nodes)
    assert found[:split] == pytest.approx(one(nodes[:split]), abs=1e-8 * np.abs(values).max())
    assert found[split:] == pytest.approx(two(nodes[split:]), abs=1e-6 * np.abs(values).max())


def test_recovered_stress_converges_one_order_faster():
    """Samples that carry an error of second order, as those of elements do, are smoothed out."""

    def wave(at: np.ndarray) -> np.ndarray:
        return np.stack([np.sin(2 * at[..., 0]) * np.cos(at[..., 1] + at[..., 2])] * 2, axis=-1)

    errors = []
    for count in (4, 8):
        side = np.linspace(0, 1, count + 1)
        space = QuadraticSpace(MeshTet.init_tensor(side, side, side))
        at, values = sampled(space, wave)
        found = patches.recovered(space.nodes, space.cells, at, values)
        errors.append(np.abs(found - wave(space.nodes)).max())
    assert np.log2(errors[0] / errors[1]) > 2.5
