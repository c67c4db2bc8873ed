"""Bending of thin plates taken out by splines: what they reproduce, and what they save."""

from __future__ import annotations

import logging
from dataclasses import replace

import numpy as np
import pytest
from body_force import body_force
from scipy.sparse import csr_matrix
from skfem import MeshTet

from platestack.fea.numerics import bending, solvers
from platestack.fea.numerics.bending import Bending
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.support.errors import NotConverged

YOUNG, POISSON = 210e9, 0.3


def sheet(thickness: float, mirrors: str = "xy") -> tuple[System, QuadraticSpace, np.ndarray]:
    """A plate of 1.2 m x 0.8 m on springs under its ends, under its own weight.

    A quarter or a half of it, as its mirrors say.
    """
    x = np.linspace(0, 0.6, 13)
    y = np.linspace(0 if "y" in mirrors else -0.4, 0.4, 9)
    space = QuadraticSpace(MeshTet.init_tensor(x, y, np.linspace(0, thickness, 3)))
    along, across, up = space.nodes.T
    fixed = np.zeros((len(space.nodes), 3), dtype=bool)
    for axis in map("xyz".index, mirrors):
        fixed[:, axis] = np.abs(space.nodes[:, axis]) < 1e-9
    end = (along > 0.6 - 1e-9) & (up < 1e-9)
    parts = [(end, 2)] if "y" in mirrors else [(end & (across * s > 0), 2) for s in (-1, 1)]
    rows = np.zeros((len(parts) + 1, len(space.nodes), 3))
    for row, (where, component) in zip(rows, [*parts, (end, 1)], strict=True):
        row[where, component] = 1 / where.sum()
    ties = Ties(csr_matrix(rows.reshape(len(rows), -1)), np.full(len(rows), 1e8))
    matrix = space.stiffness(YOUNG, POISSON)
    return System(matrix, fixed, ties), space, body_force(space, [0, 0, -8e4])


@pytest.mark.parametrize(("thickness", "mirrors"), [(0.02, "xy"), (0.01, "xy"), (0.02, "x")])
def test_thin_plates_are_solved_in_few_more_iterations(thickness, mirrors):
    """The factor says the same."""
    system, space, load = sheet(thickness, mirrors)
    found = solvers.solve(system, space, load.ravel(), "multigrid")
    assert 0 < found.iterations <= 2.4 * solvers.PATIENCE
    exact = solvers.solve(system, space, load.ravel(), "direct").displacement
    # Beside the tolerance, the condition of a thin plate, which grows with 1 / t².
    allowed = 1e-5 * max(1.0, (0.01 / thickness) ** 2)
    assert np.abs(found.displacement - exact).max() < allowed * np.abs(exact).max()


def test_without_splines_there_is_a_factor(monkeypatch, caplog):
    """With a statement; and beyond its size an error."""
    system, space, load = sheet(0.01)
    expected = solvers.solve(system, space, load.ravel(), "direct").displacement
    monkeypatch.setattr(Bending, "of", lambda *_: None)
    monkeypatch.setattr(solvers, "MAX_ITERATIONS", 60)
    with caplog.at_level(logging.INFO, "platestack.fea.numerics.solvers"):
        found = solvers.solve(system, space, load.ravel(), "multigrid", max_iterations=60)
    assert "solved by a factor" in caplog.text
    assert found.displacement == pytest.approx(expected, rel=1e-6, abs=1e-9)
    monkeypatch.setattr(solvers, "RESCUED", 0)
    with pytest.raises(NotConverged):
        solvers.solve(system, space, load.ravel(), "multigrid", max_iterations=60)


def test_too_thin_for_its_span_is_said():
    """5 mm over 1.2 m by 0.8 m: rounding leaves more than may be left, so no wish helps."""
    system, space, load = sheet(0.005)
    with pytest.raises(NotConverged, match="make the thinnest plates thicker"):
        solvers.solve(system, space, load.ravel(), "multigrid")


def test_a_slow_solver_remembers():
    """The next load, and the next solver like it, begin with splines."""
    system, space, load = sheet(0.01)
    solver = solvers.multigrid(system, space)
    first = solver.solve(load.ravel()).iterations
    again = solver.solve(load.ravel()).iterations
    assert again <= first - solvers.PATIENCE / 2
    like = solvers.multigrid(replace(system), space, like=solver)
    assert like.solve(load.ravel()).iterations == again
    assert solver.retarget(replace(system)).solve(load.ravel()).iterations == again


@pytest.mark.parametrize("across", [0, 1, 2])
def test_splines_bend_as_plates_do(across):
    """Cubic splines hold w = x² + 3xy - 2y² exactly, on a plate that lies or stands."""
    system, space, _ = sheet(0.02, "x")
    order = np.roll([0, 1, 2], across - 2)
    nodes = np.empty_like(space.nodes)
    nodes[:, order] = space.nodes
    space = space.moved(nodes)
    free = np.zeros_like(system.fixed)
    plates = bending._bodies(space)
    assert [plate.across for plate in plates] == [order[2]]
    one, two = (axis for axis in range(3) if axis != order[2])
    x, y = nodes[:, one], nodes[:, two]
    height = nodes[:, order[2]] - 0.01
    wanted = np.zeros_like(nodes)
    wanted[:, order[2]] = x**2 + 3 * x * y - 2 * y**2
    wanted[:, one] = -height * (2 * x + 3 * y)
    wanted[:, two] = -height * (3 * x - 4 * y)
    splines = plates[0].splines(space, free, 0.1).toarray()
    parts = np.linalg.lstsq(splines, wanted.ravel(), rcond=None)[0]
    assert splines @ parts == pytest.approx(wanted.ravel(), abs=1e-10)


def test_splines_are_even_about_a_mirror():
    """No slope, and so no motion through it, at x = 0 and y = 0."""
    system, space, _ = sheet(0.02)
    plate = bending._bodies(space)[0]
    splines = plate.splines(space, system.fixed, 0.1).toarray()
    splines = splines.reshape(len(space.nodes), 3, -1)
    for axis in (0, 1):
        assert np.abs(splines[space.nodes[:, axis] < 1e-9, axis]).max() < 1e-12
        assert np.abs(splines[:, axis]).max() > 1e-3


def test_thick_plates_have_none():
    grid = np.linspace(0, 0.4, 5)
    space = QuadraticSpace(MeshTet.init_tensor(grid, grid, grid / 2))
    system = System(space.stiffness(YOUNG, POISSON), np.abs(space.nodes) < 1e-9)
    assert Bending.of(system, space) is None
