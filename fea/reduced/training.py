"""Find the basis: full solves where the bound is largest, until it is small everywhere.

Greedy after K. Veroy, C. Prud'homme, D. V. Rovas & A. T. Patera (AIAA 2003-3847): of a set of
training points the one with the largest bound is solved next. Each point costs two full solves,
under the load and under the reading, with one set-up. Besides, the norm of residuals takes a solve
with the reference stiffness, loosely and without set-up, for each part and basis vector.

The basis begins with the lift of the whole stack, which alone answers for other rods. When the
full solves are used up and the bound is still too large somewhere, the residuals there, made
displacements by the reference stiffness, are taken in: steps of a preconditioned descent, without
a full solve.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np
import numpy.typing as npt
from scipy.stats import qmc

from fea import solvers
from fea.reduced import coercivity
from fea.reduced.affine import Parameters, Problem
from fea.reduced.model import ReducedStack

FloatArray = npt.NDArray[np.float64]

POINTS = 256
"""Training points, a power of two for the sequence of Sobol."""

MOST_SOLVES = 24
"""Full solves, two at each point."""

MOST_STEPS = 12
"""Steps of descent after them, two basis vectors each."""

LOOSE = 1e-5
"""Tolerance of the solves for norms; what it falsifies is of second order."""


def train(
    problem: Problem,
    low: float = 0.5,
    high: float = 2.0,
    rods: tuple[float, float] = (0.8, 1.25),
    target: float = 8e-3,
    report: Callable[[str], None] = lambda words: None,
) -> ReducedStack:
    """Make the reduced model of a stack.

    Parameters
    ----------
    problem : the stack on its reference mesh.
    low, high : range of every plate's thickness over that of the reference.
    rods : range of the rods' stiffness over that of the reference.
    target : relative bound to reach at all training points; fewer than `MOST_SOLVES` may do.
    report : told of each step.
    """
    lows = np.array([low] * problem.plates + [rods[0]])
    highs = np.array([high] * problem.plates + [rods[1]])
    points = _points(lows, highs)
    system, space = problem.system(problem.reference)
    solver = solvers.multigrid(system, space)
    report("coercivity")
    alpha = coercivity.gather(problem, solver, _corners(lows, highs), points[1:5])[0]
    building = _Building(problem, solver, lows, highs, alpha)
    at = problem.reference
    history: list[float] = []
    for step in range(MOST_SOLVES // 2 + MOST_STEPS):
        if building.solves + 2 <= MOST_SOLVES:
            report(f"full solves {building.solves + 1} and {building.solves + 2}")
            building.solve(at)
        else:
            report(f"step {step + 1}, largest bound {history[-1]:.1%}")
            building.descend(at)
        model = building.model(tuple(history))
        bounds = []
        for point in points:
            answer = model.answer(point)
            bounds.append(answer.bound / abs(answer.deflection))
        worst = int(np.argmax(bounds))
        history.append(float(bounds[worst]))
        if history[-1] <= target:
            break
        at = points[worst]
    return building.model(tuple(history))


def _points(low: FloatArray, high: FloatArray) -> list[Parameters]:
    """Training points, even in the logarithms, and the corners of thicknesses if they are few."""
    sobol = qmc.Sobol(len(low), seed=1).random(POINTS)
    values = low * (high / low) ** sobol
    points = [Parameters(tuple(v[:-1]), float(v[-1])) for v in values]
    if len(low) <= 6:
        points += [
            Parameters(corner, 1.0) for corner in product(*zip(low[:-1], high[:-1], strict=True))
        ]
    return points


def _corners(low: FloatArray, high: FloatArray) -> list[Parameters]:
    """Where the stack differs most: all plates thin, all thick, and each against the others."""
    count = len(low) - 1
    chosen = [np.zeros(count, bool), np.ones(count, bool)]
    for index in range(count if count > 1 else 0):
        one = np.arange(count) == index
        chosen += [one, ~one]
    found = {tuple(np.where(c, high[:-1], low[:-1])) for c in chosen}
    return [Parameters(corner, 1.0) for corner in sorted(found)]


class _Building:
    """A growing basis, orthonormal in the reference stiffness."""

    def __init__(
        self,
        problem: Problem,
        solver: solvers.MultigridSolver,
        low: FloatArray,
        high: FloatArray,
        alpha: coercivity.Coercivity,
    ):
        self._problem, self._solver, self._alpha = problem, solver, alpha
        self._low, self._high = low, high
        self._basis: list[FloatArray] = []
        self._forces: list[FloatArray] = []
        self._answers: list[tuple[FloatArray, FloatArray]] = []
        self._products = np.zeros((0, 0))
        for loading in (problem.load, problem.reading):
            self._take(loading[None])
        self.solves = 0
        lift = np.zeros((len(problem.mesh.nodes), 3))
        lift[:, 2] = 1.0
        self._add(lift.ravel()[None])

    def solve(self, at: Parameters) -> None:
        """Solve in full at a point and take the solutions into the basis."""
        both = np.column_stack([self._problem.load, self._problem.reading])
        self.solves += 2
        self._add(self._problem.full(at, both).T)

    def descend(self, at: Parameters) -> None:
        """Take what the reference stiffness makes of the residuals at a point into the basis."""
        factors, basis = at.coefficients(), np.array(self._basis)
        matrix = np.array([factors @ forces @ basis.T for forces in self._forces[2:]])
        for loading in (self._problem.load, self._problem.reading):
            weights = np.linalg.solve(matrix, basis @ loading)
            residual = loading - factors @ self._problem.apply(weights @ basis)
            self._add(self._solver.solve(residual, tol=1e-2).displacement[None])

    def _add(self, vectors: FloatArray) -> None:
        problem = self._problem
        for new in vectors:
            size = np.sqrt(new @ self._solver.system.apply(new))
            for _ in range(2):  # once more, for what rounding leaves
                force = self._solver.system.apply(new)
                new = new - sum((v * (v @ force) for v in self._basis), np.zeros_like(new))
            left = np.sqrt(new @ self._solver.system.apply(new))
            if left <= 1e-8 * size:
                continue
            new = new / left
            self._basis.append(new)
            self._take(problem.apply(new))

    def _take(self, forces: FloatArray) -> None:
        self._forces.append(forces)
        self._answers.append(self._norms(forces))
        self._grow()

    def _norms(self, forces: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Displacements of the reference under forces (k, 3n), and the forces of these."""
        answers = self._solver.solve(np.ascontiguousarray(forces.T), tol=LOOSE).displacement.T
        return answers, np.array([self._solver.system.apply(answer) for answer in answers])

    def model(self, history: tuple[float, ...]) -> ReducedStack:
        """The model on the basis so far."""
        count = len(self._basis)
        basis = np.array(self._basis)
        forces = np.array(self._forces[2:])
        parts = np.stack([own @ basis.T for own in forces], axis=1)
        parts = (parts + parts.transpose(0, 2, 1)) / 2
        return ReducedStack(
            basis,
            parts,
            basis @ self._problem.load,
            basis @ self._problem.reading,
            self._gram(count, forces.shape[1]),
            self._alpha,
            self._low,
            self._high,
            self.solves,
            history,
        )

    def _gram(self, count: int, parts: int) -> FloatArray:
        """Products in the dual norm: of second order in the error of the answers."""
        order = 2 + np.arange(count * parts).reshape(count, parts).T.ravel()
        order = np.concatenate([[0, 1], order])
        return self._products[np.ix_(order, order)]

    def _grow(self) -> None:
        """Add the products of the newest forces with all of them."""
        new, (e, ke) = self._forces[-1], self._answers[-1]
        rows = [
            e @ forces.T + new @ answers.T - ke @ answers.T
            for forces, (answers, _) in zip(self._forces, self._answers, strict=True)
        ]
        row = np.concatenate(rows, axis=1)
        size, old = row.shape[1], len(self._products)
        grown = np.empty((size, size))
        grown[:old, :old] = self._products
        grown[old:, :], grown[:, old:] = row, row.T
        grown[old:, old:] = (row[:, old:] + row[:, old:].T) / 2
        self._products = grown
