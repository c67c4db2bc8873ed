"""Find the basis: few full solves, taken apart and condensed, until the bound is small everywhere.

Each point of the thicknesses that is solved costs two full solves, under the load and under the
reading, with one set-up. The first points are the middle and the runs of a fractional factorial of
the extremes; the next are those with the largest bound (greedy after K. Veroy, C. Prud'homme, D. V.
Rovas & A. T. Patera, AIAA 2003-3847).

A solution is more than one vector. What other thicknesses do to a bent stack is known: its
horizontal displacements shift between the interfaces, as the neutral plane moves, and stand in
another ratio to the vertical ones, as bending and shear do. So each solution is taken apart into
its vertical and its horizontal displacements times the hat function of each interface (1 there,
0 at the next), which costs no solve: the *wide* basis, some 150 vectors. Its Galerkin solutions at
all training points are condensed (proper orthogonal decomposition) to the *narrow* basis of some 30
that answers. The norm of residuals takes a solve with the reference stiffness, loosely and without
set-up, for each part of the stiffness and narrow vector.

The narrow basis begins with the lift of the whole stack, which alone answers for other rods that
have no seats.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix
from scipy.stats import qmc

from platestack.fea.numerics import solvers
from platestack.fea.solid.reduced import coercivity
from platestack.fea.solid.reduced.affine import AffineProblem, Parameters
from platestack.fea.solid.reduced.model import ReducedStack
from platestack.geometry.units import percent

FloatArray = npt.NDArray[np.float64]

POINTS = 256
"""Training points, a power of two for the sequence of Sobol."""

MOST_SOLVES = 24
"""Full solves, two at each point."""

LOOSE = 1e-5
"""Tolerance of the solves for norms; what it falsifies is of second order."""

SAME = 1e-8
"""Part of the largest squared norm below which a direction of the wide basis is rounding."""

KEPT, FINER, FINEST = 2e-6, 0.1, 1e-9
"""Part of the largest squared norm above which a direction is taken into the narrow basis: at
first, from one greedy step to the next, and at least."""


def train(
    problem: AffineProblem,
    low: float = 0.5,
    high: float = 2.0,
    springs: tuple[float, float] = (0.6, 1.6),
    target: float = 8e-3,
    report: Callable[[str], None] = lambda words: None,
) -> ReducedStack:
    """Make the reduced model of a stack.

    Parameters
    ----------
    problem : the stack on its reference mesh.
    low, high : range of every plate's thickness over that of the reference.
    springs : range of the springs' stiffness over that of the reference; where rods are stretched
        through the stack, that of its depth is taken instead.
    target : relative bound to reach at all training points; fewer than `MOST_SOLVES` may do.
    report : told of each step.
    """
    if problem.springs > 2:  # a stretch through the stack is among them
        springs = (0.9 / high, 1.1 / low)
    ranges = [(low, high)] * problem.plates + [springs] * problem.springs
    lows, highs = np.array(ranges).T
    plates = problem.plates
    points = training_points(lows, highs, plates)
    system, space = problem.system(problem.reference)
    solver = solvers.multigrid(system, space)
    report("coercivity")
    corners = _corners(lows[:plates], highs[:plates], problem.springs)
    alpha = coercivity.gather(problem, solver, corners, points[1:5])[0]
    building = _Building(problem, solver, lows, highs, alpha)
    history: list[float] = []
    wanted = _first(lows[:plates], highs[:plates], problem.springs)
    while True:
        for at in wanted:
            report(f"full solves {building.solves + 1} and {building.solves + 2}")
            building.solve(at)
        building.condense(points, max(KEPT * FINER ** len(history), FINEST), report)
        model = building.model(tuple(history))
        answers = [model.answer(point) for point in points]
        bounds = [answer.bound / abs(answer.deflection) for answer in answers]
        worst = int(np.argmax(bounds))
        history.append(float(bounds[worst]))
        report(f"largest bound {percent(history[-1], 1)}")
        if history[-1] <= target or building.solves + 2 > MOST_SOLVES:
            return building.model(tuple(history))
        wanted = [points[worst]]


def training_points(low: FloatArray, high: FloatArray, plates: int) -> list[Parameters]:
    """Training points, even in the logarithms, and the corners of thicknesses if they are few."""
    sobol = qmc.Sobol(len(low), seed=1).random(POINTS)
    values = low * (high / low) ** sobol
    points = [Parameters(tuple(v[:plates]), tuple(v[plates:])) for v in values]
    if plates <= 5:
        corners = product(*zip(low[:plates], high[:plates], strict=True))
        points += [Parameters(corner, (1.0,) * (len(low) - plates)) for corner in corners]
    return points


def _first(low: FloatArray, high: FloatArray, springs: int) -> list[Parameters]:
    """The middle, and eight runs at the extremes in which no two plates go alike."""
    a, b, c = np.array(list(product((-1, 1), repeat=3))).T
    signs = np.array([a, b, c, a * b * c, a * b, a * c][: len(low)]).T
    runs = np.unique(np.vstack([0 * signs[:1], signs]), axis=0)
    middle, reach = np.sqrt(low * high), np.sqrt(high / low)
    return [Parameters(tuple(middle * reach**run), (1.0,) * springs) for run in runs]


def _corners(low: FloatArray, high: FloatArray, springs: int) -> list[Parameters]:
    """Where the stack differs most: all plates thin, all thick, and each against the others."""
    count = len(low)
    chosen = [np.zeros(count, bool), np.ones(count, bool)]
    for index in range(count if count > 1 else 0):
        one = np.arange(count) == index
        chosen += [one, ~one]
    found = {tuple(np.where(c, high, low)) for c in chosen}
    return [Parameters(corner, (1.0,) * springs) for corner in sorted(found)]


class _Wide:
    """A wide basis (M, 3n): lifts of each interface, and solutions that were taken apart.

    The parts of the stiffness on it grow with it.
    """

    def __init__(self, problem: AffineProblem):
        self._problem = problem
        self._vectors: list[FloatArray] = []
        self._parts = np.zeros((0, 0, 0))
        self._hats = problem.hats()
        for hat in self._hats:
            self._add((hat[:, None] * [0.0, 0.0, 1.0]).ravel())

    def take(self, solution: FloatArray) -> None:
        """Take a solution (3n,) in, taken apart."""
        along = solution.reshape(-1, 3)
        for directions in ([1.0, 1.0, 0.0], [0.0, 0.0, 1.0]):
            for hat in self._hats:
                self._add((along * directions * hat[:, None]).ravel())

    def _add(self, vector: FloatArray) -> None:
        forces = self._problem.apply(vector)
        self._vectors.append(vector)
        count = len(self._vectors)
        row = np.array([forces @ other for other in self._vectors]).T
        grown = np.empty((len(forces), count, count))
        if count > 1:
            grown[:, :-1, :-1] = self._parts
        grown[:, -1, :], grown[:, :, -1] = row, row
        self._parts = grown

    def directions(self, reference: FloatArray) -> FloatArray:
        """Combinations (M, r) of the vectors that are orthonormal in the reference stiffness."""
        gram = np.tensordot(reference, self._parts, 1)
        size = 1 / np.sqrt(np.diag(gram))
        squares, axes = np.linalg.eigh(gram * size[:, None] * size)
        kept = squares > SAME * squares[-1]
        return np.asarray(size[:, None] * axes[:, kept] / np.sqrt(squares[kept]))

    def solutions(self, points: list[Parameters], across: FloatArray) -> FloatArray:
        """Galerkin solutions (2 points, r), of unit energy each, in given directions (M, r)."""
        problem = self._problem
        parts = np.einsum("mr,qmn,ns->qrs", across, self._parts, across, optimize=True)
        loads = np.stack([self.combined(across.T, v) for v in (problem.load, problem.reading)])
        found = []
        for point in points:
            matrix = np.tensordot(point.coefficients(), parts, 1)
            for weights in np.linalg.solve(matrix, loads.T).T:
                found.append(weights / np.sqrt(weights @ matrix @ weights))
        return np.array(found)

    def combined(self, weights: FloatArray, reading: FloatArray | None = None) -> FloatArray:
        """Vectors (k, 3n) of given weights (k, M), or the products (k,) of a reading with them."""
        if reading is not None:
            return weights @ np.array([vector @ reading for vector in self._vectors])
        found = np.zeros((len(weights), len(self._vectors[0])))
        for column, vector in zip(weights.T, self._vectors, strict=True):
            found += column[:, None] * vector
        return found


class _Building:
    """A growing narrow basis, orthonormal in the reference stiffness."""

    def __init__(
        self,
        problem: AffineProblem,
        solver: solvers.MultigridSolver,
        low: FloatArray,
        high: FloatArray,
        alpha: coercivity.Coercivity,
    ):
        self._problem, self._solver, self._alpha = problem, solver, alpha
        self._low, self._high = low, high
        self._wide = _Wide(problem)
        self._basis: list[FloatArray] = []
        self._forces: list[csr_matrix] = []
        self._answers: list[FloatArray] = []
        self._products = np.zeros((0, 0))
        self.solves = 0
        rows = problem.held.ties.rows.toarray() * ~problem.held.fixed.ravel()
        self._pulled = self._answer(rows)
        for loading in (problem.load, problem.reading):
            self._take(loading[None], self._answer(loading[None]))
        lift = np.zeros((len(problem.mesh.nodes), 3))
        lift[:, 2] = 1.0
        self._add(lift.ravel())

    def solve(self, at: Parameters) -> None:
        """Solve in full at a point and take the solutions into the wide basis."""
        both = np.column_stack([self._problem.load, self._problem.reading])
        self.solves += 2
        for solution in self._problem.full(at, both).T:
            self._wide.take(solution)

    def condense(
        self, points: list[Parameters], kept: float, report: Callable[[str], None]
    ) -> None:
        """Take into the narrow basis what it lacks of the wide one's solutions at the points."""
        across = self._wide.directions(self._problem.reference.coefficients())
        found = self._wide.solutions(points, across)
        all_of_it = np.linalg.svd(found, compute_uv=False)[0]
        known = [self._wide.combined(across.T, self._solver.system.apply(v)) for v in self._basis]
        own = np.linalg.qr(np.array(known).T)[0]
        found = found - (found @ own) @ own.T
        sizes, axes = np.linalg.svd(found, full_matrices=False)[1:]
        fresh = axes[sizes**2 > kept * all_of_it**2]
        for number, vector in enumerate(self._wide.combined(fresh @ across.T), 1):
            report(f"norms of residuals, {number} of {len(fresh)}")
            self._add(vector)

    def _add(self, new: FloatArray) -> None:
        """Take a vector (3n,) into the narrow basis."""
        apply = self._solver.system.apply
        for _ in range(2):  # once more, for what rounding leaves
            force = apply(new)
            new = new - sum((v * (v @ force) for v in self._basis), np.zeros_like(new))
        new = new / np.sqrt(new @ apply(new))
        self._basis.append(new)
        forces = self._problem.apply(new)
        pulls = self._problem.pulls(new)
        self._take(forces, np.vstack([self._answer(forces[: -len(pulls)]), pulls @ self._pulled]))

    def _answer(self, forces: FloatArray) -> FloatArray:
        """Displacements (k, 3n) of the reference under forces (k, 3n)."""
        columns = np.ascontiguousarray(forces.T)
        return self._solver.solve(columns, tol=LOOSE).displacement.T

    def _take(self, forces: FloatArray, answers: FloatArray) -> None:
        """Add the products of new forces (k, 3n), whose answers are given, with all of them.

        In the dual norm, of second order in the error of the answers; kept without the zeros that
        plates have elsewhere, and the answers in single precision, as they meet rests only.
        """
        rest = forces - np.array([self._solver.system.apply(answer) for answer in answers])
        self._forces.append(csr_matrix(forces))
        self._answers.append(answers.astype(np.float32))
        rows = [
            (known @ answers.T).T + rest @ others.T
            for known, others in zip(self._forces, self._answers, strict=True)
        ]
        row = np.concatenate(rows, axis=1)
        size, old = row.shape[1], len(self._products)
        grown = np.empty((size, size))
        grown[:old, :old] = self._products
        grown[old:, :], grown[:, old:] = row, row.T
        grown[old:, old:] = (row[:, old:] + row[:, old:].T) / 2
        self._products = grown

    def model(self, history: tuple[float, ...]) -> ReducedStack:
        """The model on the narrow basis so far."""
        basis = np.array(self._basis)
        forces = self._forces[2:]
        parts = np.stack([own @ basis.T for own in forces], axis=1)
        parts = (parts + parts.transpose(0, 2, 1)) / 2
        return ReducedStack(
            basis,
            parts,
            basis @ self._problem.load,
            basis @ self._problem.reading,
            self._gram(len(basis), len(parts)),
            *self._problem.seats(basis),
            self._alpha,
            self._low,
            self._high,
            self.solves,
            history,
        )

    def _gram(self, count: int, parts: int) -> FloatArray:
        """Products in the dual norm, by part first, then by vector."""
        order = 2 + np.arange(count * parts).reshape(count, parts).T.ravel()
        order = np.concatenate([[0, 1], order])
        return self._products[np.ix_(order, order)]
