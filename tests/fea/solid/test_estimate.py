"""Error estimates: what they must be where the answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from skfem import MeshTet, MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid.stress import estimate, recover
from platestack.fea.solid.stress.estimate import Body

YOUNG, POISSON = 210e9, 0.3


def bent_ball() -> MeshTet2:
    """Unit ball of curved elements."""
    mesh = MeshTet2.init_ball(2)
    assert len(QuadraticSpace(mesh).curved)
    return mesh


def body_on(mesh: MeshTet) -> Body:
    space = QuadraticSpace(mesh)
    every = np.ones(len(space.cells))
    return Body.of(space, YOUNG * every, POISSON * every)


def shaken(seed: int) -> MeshTet:
    """Bricks with their inner vertices shaken."""
    mesh = MeshTet.init_tensor(*[np.linspace(0, 1, 4)] * 3)
    inner = ((mesh.p > 0.01) & (mesh.p < 0.99)).all(axis=0)
    moved = mesh.p + 0.05 * np.random.default_rng(seed).normal(size=mesh.p.shape) * inner
    return MeshTet(moved, mesh.t)


@pytest.mark.parametrize("seed", range(3))
def test_no_error_where_the_displacement_is_quadratic(seed):
    """Elements hold it exactly, their stress is linear, and so is the recovered one."""
    body = body_on(shaken(seed))
    x, y, z = body.space.nodes.T
    rng = np.random.default_rng(seed)
    terms = np.stack([x, y, z, x * x, y * y, z * z, x * y, y * z, x * z], axis=1)
    u = (terms @ rng.normal(size=(9, 3))).ravel()
    gap = body.gap(u)
    stress = body.stress(u, estimate.RULE[0])
    assert body.product(gap, gap).sum() < 1e-16 * body.product(stress, stress).sum()


def test_product_is_the_energy_of_a_uniaxial_state():
    """σ : C⁻¹ : σ = σ² / E per volume; the volume of curved elements is that of the ball."""
    body = body_on(bent_ball())
    stress = np.zeros((len(body.space.cells), len(estimate.RULE[1]), 6))
    stress[:, :, 0] = 3e6
    volume = body.product(stress, stress).sum() / ((3e6) ** 2 / YOUNG)
    straight = body.six_volumes.sum() / 6
    exact = 4 / 3 * np.pi
    assert volume == pytest.approx(exact, rel=0.01)
    assert abs(volume - exact) < 0.1 * abs(straight - exact)


def test_product_of_shear():
    """τ² / G per volume."""
    body = body_on(shaken(0))
    stress = np.zeros((len(body.space.cells), len(estimate.RULE[1]), 6))
    stress[:, :, 4] = 2e6
    shear = YOUNG / (2 * (1 + POISSON))
    assert body.product(stress, stress).sum() == pytest.approx((2e6) ** 2 / shear, rel=1e-12)


def test_two_materials_are_not_smoothed_together():
    """A step of the modulus makes a step of stress that is no error."""
    mesh = MeshTet.init_tensor(np.linspace(0, 2, 7), np.linspace(0, 1, 4), np.linspace(0, 1, 4))
    space = QuadraticSpace(mesh)
    soft = space.nodes[space.cells[:, :4], 0].mean(axis=1) > 1
    body = Body.of(space, np.where(soft, YOUNG / 10, YOUNG), np.zeros(len(soft)))
    # Pulled sideways alike, with no transverse contraction: exact, with a step across x = 1.
    u = np.zeros_like(space.nodes)
    u[:, 1] = 1e-3 * space.nodes[:, 1]
    gap, stress = body.gap(u.ravel()), body.stress(u.ravel(), estimate.RULE[0])
    assert np.ptp(stress[:, :, 1]) == pytest.approx(0.9e-3 * YOUNG)
    assert body.product(gap, gap).sum() < 1e-20 * body.product(stress, stress).sum()


def test_dual_of_the_load_is_the_energy_error():
    """For the reading J(u) = F u the dual is the solution itself, the estimate ‖σ* − σ_h‖²."""
    body = body_on(shaken(1))
    space = body.space
    x = space.nodes
    fixed = np.repeat((x[:, 0] < 1e-9)[:, None], 3, axis=1)
    matrix = space.stiffness(YOUNG, POISSON)
    force = np.zeros_like(x)
    force[x[:, 0] > 1 - 1e-9, 2] = 1e3
    solver = solvers.solver(System(matrix, fixed), space)
    u = solver.solve(force.ravel()).displacement
    gap = body.gap(u)
    found = estimate.estimate(body, gap, gap)
    assert found.error == pytest.approx(body.product(gap, gap).sum())
    assert found.size == pytest.approx(estimate.MARGIN * found.error)
    assert estimate.energy_error(body, gap) == pytest.approx(
        estimate.ENERGY_MARGIN / 2 * found.error
    )


def test_what_cancels_is_not_trusted():
    """Contributions of ±1 that cancel leave a stated error of a part of what cancelled."""
    body = body_on(shaken(2))
    gap = np.zeros((len(body.space.cells), len(estimate.RULE[1]), 6))
    gap[:, :, 3] = 1e6
    dual = gap * np.where(np.arange(len(gap)) % 2, 1, -1)[:, None, None]
    found = estimate.estimate(body, gap, dual)
    assert abs(found.error) < 0.1 * np.abs(found.parts).sum()
    assert found.size == pytest.approx(estimate.CANCELLED * np.abs(found.parts).sum())


@pytest.mark.parametrize("mesh", [bent_ball(), shaken(3)], ids=["curved", "straight"])
def test_stress_row_reads_the_averaged_stress(mesh):
    """At corner nodes and edge nodes, for any combination of components."""
    body = body_on(mesh)
    space = body.space
    rng = np.random.default_rng(0)
    u = 1e-3 * rng.normal(size=space.nodes.size)
    count = len(space.nodes)
    nodes = recover.PlateNodes(np.arange(count), np.zeros(count, dtype=int), space.cells)
    averaged = recover.averaged(nodes, body.stress(u, recover.NODES_OF_REFERENCE), body.six_volumes)
    for node in (*rng.integers(0, space.vertices, 5), *rng.integers(space.vertices, count, 5)):
        direction = rng.normal(size=6)
        cells = np.flatnonzero((space.cells == node).any(axis=1))
        row = estimate.stress_row(body, int(node), cells, direction)
        expected = averaged[node] @ direction
        assert float((row @ u)[0]) == pytest.approx(expected, rel=1e-10, abs=1e-10 * YOUNG * 1e-3)


stresses = st.lists(st.floats(-100, 100), min_size=6, max_size=6).map(np.array)


@settings(max_examples=50, deadline=None)
@given(stresses, stresses)
def test_von_mises_slope_against_differences(stress, step):
    if recover.von_mises(stress) < 1:
        return
    slope = estimate.von_mises_slope(stress)
    h = 1e-5
    ahead, behind = recover.von_mises(stress + h * step), recover.von_mises(stress - h * step)
    assert slope @ step == pytest.approx(
        (ahead - behind) / (2 * h), abs=1e-4 * (1 + abs(step).max())
    )
    # Von Mises' formula is of degree one (Euler).
    assert slope @ stress == pytest.approx(recover.von_mises(stress), rel=1e-9)


def test_von_mises_slope_of_no_stress():
    assert (estimate.von_mises_slope(np.zeros(6)) == 0).all()


def test_doubt():
    """Nothing where two recoveries agree; the same in any frame; as large as the difference."""
    body = body_on(shaken(4))
    cells, count = body.space.cells, len(body.space.nodes)
    rng = np.random.default_rng(5)
    one, two = rng.normal(size=(2, count, 6))
    assert (estimate.stress_spread(cells, one, one) == 0).all()
    found = estimate.stress_spread(cells, one, two)
    assert estimate.stress_spread(cells, 7 * one, 7 * two) == pytest.approx(7 * found)
    turn = Rotation.random(random_state=1).as_matrix()
    assert estimate.stress_spread(cells, turned(one, turn), turned(two, turn)) == pytest.approx(
        found
    )
    # Uniaxial everywhere, 10 against 8: both differences are 2.
    pull = np.zeros((count, 6))
    pull[:, 0] = 10
    assert estimate.stress_spread(cells, pull, 0.8 * pull) == pytest.approx(np.full(count, 2.0))
    # A difference that leaves von Mises' stress alone at the node still raises doubt.
    turned_pull = np.zeros((count, 6))
    turned_pull[:, 1] = 10
    assert estimate.stress_spread(cells, pull, turned_pull) == pytest.approx(
        np.full(count, 10 * np.sqrt(3 / 2))
    )


def turned(stress: np.ndarray, turn: np.ndarray) -> np.ndarray:
    tensor = np.empty((len(stress), 3, 3))
    for k, (i, j) in enumerate(recover.VOIGT):
        tensor[:, i, j] = tensor[:, j, i] = stress[:, k]
    tensor = turn @ tensor @ turn.T
    return np.stack([tensor[:, i, j] for i, j in recover.VOIGT], axis=1)
