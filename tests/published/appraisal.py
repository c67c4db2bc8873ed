"""Readings of solved bodies, with the errors that a run would state for them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix
from solid import Solid

from platestack.fea.numerics import solvers
from platestack.fea.numerics.system import System
from platestack.fea.solid.stress import estimate, recover
from platestack.fea.solid.stress.estimate import Body, Estimate
from platestack.geometry.mesh import scaled_jacobians

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Reading:
    """What is read, and what it should be.

    Attributes
    ----------
    kind : "deflection", a sum of displacements; "stress", von Mises' at a point; "peak", the
        largest of the body; "energy", half the work of the loads.
    points : places, with the displacement component and the factor it counts with.
    exact, doubt : the known value and how well it is known.
    """

    kind: str
    name: str
    points: tuple[tuple[Point, int, float], ...]
    exact: float
    doubt: float = 0.0


@dataclass(frozen=True)
class Row:
    """A reading as it came out, with the error that is stated for it."""

    problem: str
    reading: Reading
    value: float
    stated: float

    @property
    def true(self) -> float:
        """Size of the true error."""
        return abs(self.value - self.reading.exact)

    @property
    def effectivity(self) -> float:
        """Stated over true error."""
        return self.stated / self.true


@dataclass(frozen=True)
class Problem:
    """A solid with its loads (n, 3) and supports (n, 3), held at `given` (n, 3), and readings."""

    name: str
    solid: Solid
    forces: np.ndarray
    fixed: np.ndarray
    given: np.ndarray | None
    readings: tuple[Reading, ...]

    @cached_property
    def solved(self) -> Solved:
        """Its solution, made once."""
        return Solved(self)

    def rows(self) -> list[Row]:
        """Solve, read, and state errors as `fea.solid.stack` and `fea.solid.stress.peaks` do."""
        return [
            Row(self.name, reading, *self.solved.read(reading)[:2]) for reading in self.readings
        ]


class Solved:
    """A problem's solution, from which values are read with their errors."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        solid = self.solid = problem.solid
        bent = solid.space.cells[solid.space.curved]
        assert (scaled_jacobians(solid.nodes, bent) > 0).all(), "elements inside out"
        start = np.zeros(solid.nodes.size)
        if problem.given is not None:
            start[problem.fixed.ravel()] = problem.given[problem.fixed]
        self.solver = solvers.solver(System(solid.matrix, problem.fixed), solid.space)
        right = problem.forces.ravel() - solid.matrix @ start
        self.u = self.solver.solve(right).displacement + start
        cells = solid.space.cells
        every = np.ones(len(cells))
        self.body = Body.of(solid.space, solid.young * every, solid.poisson * every)
        count = len(solid.nodes)
        one = recover.PlateNodes(np.arange(count), np.zeros(count, dtype=int), cells)
        local = self.body.stress(self.u, recover.NODES_OF_REFERENCE)
        averaged = recover.averaged(one, local, self.body.six_volumes)
        fitted = np.empty_like(averaged)
        fitted[cells.ravel()] = self.body.recovered(self.u).reshape(-1, 6)
        self.stress = (averaged + fitted) / 2
        self.doubt = estimate.stress_spread(cells, averaged, fitted)
        self.gap = self.body.gap(self.u)

    def read(self, reading: Reading) -> tuple[float, float, Estimate]:
        """Value, stated error, and the estimate behind it."""
        if reading.kind == "deflection":
            row = np.zeros(self.solid.nodes.size)
            for at, component, factor in reading.points:
                row[3 * self.solid.node(*at) + component] += factor
            found = self._estimate(csr_matrix(row))
            return float(row @ self.u), found.size, found
        if reading.kind == "energy":
            parts = self.body.product(self.gap, self.gap) / 2
            size = estimate.energy_error(self.body, self.gap)
            value = float(self.u @ self.problem.forces.ravel()) / 2
            return value, size, Estimate(float(parts.sum()), parts, size)
        size = recover.von_mises(self.stress)
        if reading.kind == "peak":
            node = int(size.argmax())
        else:
            node = self.solid.node(*reading.points[0][0])
        cells = np.flatnonzero((self.solid.space.cells == node).any(axis=1))
        slope = estimate.von_mises_slope(self.stress[node])
        found = self._estimate(estimate.stress_row(self.body, node, cells, slope))
        return float(size[node]), estimate.stress_error(float(self.doubt[node]), found), found

    def _estimate(self, row: csr_matrix) -> Estimate:
        dual = self.solver.solve(row.toarray().ravel(), tol=1e-4).displacement
        return estimate.estimate(self.body, self.gap, self.body.gap(dual))


def moved(name: str, at: Point, component: int, exact: float, doubt: float = 0.0) -> Reading:
    return Reading("deflection", name, ((at, component, 1.0),), exact, doubt)


def mises(name: str, at: Point, exact: float, doubt: float = 0.0) -> Reading:
    return Reading("stress", name, ((at, 0, 1.0),), exact, doubt)


def energy(exact: float) -> Reading:
    return Reading("energy", "", (), exact)


def peak(exact: float, doubt: float = 0.0) -> Reading:
    return Reading("peak", "largest", (), exact, doubt)
