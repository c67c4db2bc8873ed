"""Constant strain, rigid motions and equilibrium.

R. H. MacNeal and R. L. Harder, A proposed standard set of problems to test finite element
accuracy, Finite Elements in Analysis and Design 1 (1985) 3-20: solid patch test, 3-D. Stresses
from Hooke's law (closed form).

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| A5 | E = 1e6, ν = 0.25, u = 1e-3 (x + y/2 + z/2, …) on the boundary | σii = 2000, τij = 400 | 1e-9 | exact for linear fields; the rest is the solver's |
| A6 | 80 x 60 x 100 mm, σzz = 100 MPa, E = 210 GPa, ν = 0.3 | u, energy by Hooke | 1e-8 | exact for linear fields |
| A7 | free stiffness, any load | six zero eigenvalues, balance, W = F·u/2 | 1e-8 | holds for any finite-element solution |
"""  # noqa: E501

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigvalsh
from skfem import MeshTet
from solid import Solid, block, plane


def distorted() -> MeshTet:
    """The unit cube, its inner vertices moved at random, not the surface."""
    grid = np.linspace(0.0, 1.0, 4)
    mesh = block(grid, grid, grid)
    inside = ((mesh.p > 1e-9) & (mesh.p < 1 - 1e-9)).all(axis=0)
    shift = np.random.default_rng(1).uniform(-0.1, 0.1, mesh.p.shape)
    return MeshTet(mesh.p + shift * inside, mesh.t)


def on_surface(x: np.ndarray) -> np.ndarray:
    return (np.abs(x - 0.5) > 0.5 - 1e-9).any(axis=-1)


def test_a5_patch_test():
    solid = Solid(distorted(), 1e6, 0.25)
    strain = 1e-3 * (np.full((3, 3), 0.5) + np.eye(3) / 2)
    exact = solid.nodes @ strain.T
    fixed = np.repeat(on_surface(solid.nodes)[:, None], 3, axis=1)
    assert not fixed.all()
    answer = solid.solve(np.zeros_like(exact), fixed, exact, tol=1e-12)
    assert answer.displacement == pytest.approx(exact, rel=1e-9, abs=1e-12)
    lam = mu = 4e5
    stress = [3e-3 * lam + 2e-3 * mu] * 3 + [mu * 1e-3] * 3
    assert stress == [2000.0] * 3 + [400.0] * 3
    assert np.abs(answer.stress / stress - 1).max() < 1e-9


def test_a6_uniaxial_block():
    """Stretched along z, held on three planes of symmetry, as in a press with mm and MPa."""
    solid = Solid(block(*(np.linspace(0, s, 4) for s in (80.0, 60.0, 100.0))), 210e3, 0.3)
    forces = solid.traction(solid.faces(plane("z", 100.0)), (0.0, 0.0, 100.0))
    answer = solid.solve(forces, solid.held(x=plane("x"), y=plane("y"), z=plane("z")), tol=1e-12)
    strain = 100.0 / 210e3
    exact = solid.nodes * [-0.3 * strain, -0.3 * strain, strain]
    assert answer.displacement == pytest.approx(exact, rel=1e-8, abs=1e-10)
    energy = np.sum(forces * answer.displacement) / 2
    assert energy == pytest.approx(100.0**2 / (2 * 210e3) * 80 * 60 * 100, rel=1e-8)
    assert energy == pytest.approx(11428.6, rel=1e-5)
    assert strain * 100 == pytest.approx(0.047619, rel=1e-5)
    assert answer.stress == pytest.approx(
        np.tile([0, 0, 100.0, 0, 0, 0], (len(exact), 1)), abs=1e-6
    )


def test_a7_six_rigid_motions():
    solid = Solid(distorted(), 1e6, 0.25)
    matrix = solid.matrix.toarray()
    values = np.abs(eigvalsh(matrix, subset_by_index=(0, 6)))
    largest = np.abs(solid.matrix).sum(axis=0).max()
    assert (values[:6] < 1e-13 * largest).all()
    assert values[6] > 1e-8 * largest
    x, y, z = solid.nodes.T
    zero, one = np.zeros_like(x), np.ones_like(x)
    for motion in (
        (one, zero, zero),
        (zero, one, zero),
        (zero, zero, one),
        (zero, -z, y),
        (z, zero, -x),
        (-y, x, zero),
    ):
        moved = np.stack(motion, axis=1).ravel()
        assert np.abs(solid.matrix @ moved).max() < 1e-12 * largest


def test_a7_balance_and_work():
    """A cube clamped below, pushed askew above: reactions balance, W = F·u/2 = u·K·u/2."""
    solid = Solid(distorted(), 1e6, 0.25)
    push = np.array([3.0, -2.0, 5.0])
    forces = solid.traction(solid.faces(plane("z", 1.0)), tuple(push))
    ground = plane("z")
    answer = solid.solve(forces, solid.held(x=ground, y=ground, z=ground), tol=1e-11)
    assert forces.sum(axis=0) == pytest.approx(push, rel=1e-12)
    assert answer.reaction.sum(axis=0) == pytest.approx(-push, rel=1e-8)
    moment = np.cross(solid.nodes, answer.reaction + forces).sum(axis=0)
    assert np.abs(moment).max() < 1e-8 * np.abs(push).max()
    u = answer.displacement.ravel()
    assert u @ (solid.matrix @ u) == pytest.approx(np.sum(forces * answer.displacement), rel=1e-8)
