"""Plates that may part and slide: unilateral contact with Coulomb friction at interfaces.

The law acts at the quadrature points of matching face pairs. With the jump of displacement from
the lower to the upper side, g its normal part plus the initial gap and s its tangential part since
the last load step,

    p = max(0, λ − ε g),     t = λ_t + ε_t s,  shortened to μ p where it is longer,

are the pressure on, and the friction between, the plates (Alart & Curnier, Comput. Methods Appl.
Mech. Engng 92 (1991) 353; Wriggers, Computational Contact Mechanics, 2nd ed., ch. 6). The balance
of forces is solved by Newton's method, each linear system by the multigrid solver to a part of the
present residual; then λ ← p, λ_t ← t (augmented Lagrangian), until nothing of note penetrates. The
slope of friction by pressure is left out, which keeps the systems symmetric.

Matching faces carry the same quadratic functions, so a uniform pressure is met exactly and a closed
interface does not lock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import bsr_matrix, csr_matrix

from fea import loads, solvers
from fea.elasticity import QuadraticSpace
from fea.errors import NotConverged
from fea.system import System
from geometry.split import FacePair

STIFFNESS = 2.0
"""Penalty ε as a multiple of E over the thinnest plate's thickness."""

FLOOR = 1e-7
"""Part of the penalty that stays at open points, so that a floating plate does not fly off."""

MOST_STEPS = 60

REBUILD = 0.2
"""Part of the area whose state may change before the preconditioner is made anew."""


@dataclass(frozen=True)
class Interfaces:
    """All opened interfaces of a stack as one set of face pairs.

    Attributes
    ----------
    lower, upper : (k, 6) matching nodes.
    area : (k, q) area that each quadrature point stands for (m²).
    normal : (k, 3) unit normal from lower to upper; tangents : (k, 2, 3).
    friction : (k,) coefficients. gap : (k, q) initial gap (m).
    owner : (k,) number of the interface in `names`.
    penalty : normal stiffness ε (N/m³).
    """

    names: tuple[str, ...]
    lower: np.ndarray
    upper: np.ndarray
    area: np.ndarray
    normal: np.ndarray
    tangents: np.ndarray
    friction: np.ndarray
    gap: np.ndarray
    owner: np.ndarray
    penalty: float
    size: int

    @classmethod
    def of(
        cls,
        nodes: np.ndarray,
        pairs: tuple[FacePair, ...],
        friction: float,
        gap: float,
        penalty: float,
    ) -> Interfaces:
        """Gather face pairs that share one friction coefficient and one uniform gap (m)."""
        lower = np.concatenate([pair.lower for pair in pairs])
        upper = np.concatenate([pair.upper for pair in pairs])
        counts = [len(pair.lower) for pair in pairs]
        axis = np.repeat([pair.axis for pair in pairs], counts)
        identity = np.eye(3)
        area = loads.point_areas(nodes, lower)
        return cls(
            tuple(pair.name for pair in pairs),
            lower,
            upper,
            area,
            identity[axis],
            identity[np.column_stack([(axis + 1) % 3, (axis + 2) % 3])],
            np.full(len(lower), friction),
            np.full(area.shape, gap),
            np.repeat(np.arange(len(pairs)), counts),
            penalty,
            len(nodes),
        )

    def jump(self, u: np.ndarray) -> np.ndarray:
        """Displacement of the upper less that of the lower side, (k, q, 3) in m."""
        nodal = u.reshape(-1, 3)
        return np.einsum("qa,kac->kqc", VALUES, nodal[self.upper] - nodal[self.lower])

    def forces(self, traction: np.ndarray) -> np.ndarray:
        """Nodal forces (3n,) of tractions (k, q, 3) on the lower side and their opposite above."""
        local = np.einsum("kq,qa,kqc->kac", self.area, VALUES, traction)
        result = np.empty((self.size, 3))
        for c in range(3):
            part = local[:, :, c].ravel()
            result[:, c] = np.bincount(self.lower.ravel(), part, self.size)
            result[:, c] -= np.bincount(self.upper.ravel(), part, self.size)
        return result.ravel()

    def stiffness(self, tangent: np.ndarray) -> bsr_matrix:
        """Block matrix of tangents (k, q, 3, 3), force by jump, in N/m³."""
        weights = (self.area[:, :, None] * tangent.reshape(*self.area.shape, 9)).transpose(0, 2, 1)
        products = np.einsum("qa,qb->qab", VALUES, VALUES).reshape(len(VALUES), 36)
        local = (weights @ products).transpose(0, 2, 1).reshape(-1, 9)
        sides = np.concatenate([local, local, -local, -local])
        data = (self._pattern.gather @ sides).reshape(-1, 3, 3)
        shape = (3 * self.size, 3 * self.size)
        return bsr_matrix((data, self._pattern.indices, self._pattern.indptr), shape=shape)

    @cached_property
    def _pattern(self) -> _Pattern:
        rows, columns = [], []
        for one, two in (
            (self.lower, self.lower),
            (self.upper, self.upper),
            (self.lower, self.upper),
            (self.upper, self.lower),
        ):
            rows.append(np.repeat(one, 6, axis=1).ravel())
            columns.append(np.tile(two, (1, 6)).ravel())
        return _Pattern.of(np.concatenate(rows), np.concatenate(columns), self.size)


@dataclass(frozen=True)
class _Pattern:
    """Block pattern of an interface matrix, and the sum of its contributions."""

    indptr: np.ndarray
    indices: np.ndarray
    gather: csr_matrix

    @classmethod
    def of(cls, rows: np.ndarray, columns: np.ndarray, size: int) -> _Pattern:
        """Pattern of contributions at rows and columns (e,), repeated ones added."""
        unique, inverse = np.unique(rows.astype(np.int64) * size + columns, return_inverse=True)
        every = np.arange(len(rows))
        shape = (len(unique), len(rows))
        gather = csr_matrix((np.ones(len(rows)), (inverse, every)), shape=shape)
        row, column = np.divmod(unique, size)
        return cls(np.searchsorted(row, np.arange(size + 1)), column, gather)


VALUES = loads.TRIANGLE_VALUES
"""Six shape functions at the quadrature points, (q, 6)."""


@dataclass(frozen=True)
class State:
    """Pressure and friction at the quadrature points, and how they came about.

    Attributes
    ----------
    pressure : (k, q) in Pa, positive in compression.
    friction : (k, q, 2) traction of the lower on the upper side along the tangents (Pa).
    opening : (k, q) distance between the sides (m); negative: penetration.
    sliding : (k, q, 2) sliding since the last load step (m).
    closed, sliding_now : (k, q) bool.
    """

    pressure: np.ndarray
    friction: np.ndarray
    opening: np.ndarray
    sliding: np.ndarray
    closed: np.ndarray
    sliding_now: np.ndarray


@dataclass(frozen=True)
class Contact:
    """A solution with contact: displacements (3n,), state, and what it took."""

    displacement: np.ndarray
    state: State
    tangent: System
    """The linear system at the solution, for error estimates."""
    solver: solvers.MultigridSolver
    steps: int
    iterations: int
    residual: float
    updates: int


class _Law:
    """The contact law with its multipliers; evaluates state and tangent."""

    def __init__(self, faces: Interfaces, before: State | None, reference: np.ndarray | None):
        self.faces = faces
        shape = faces.area.shape
        self.multiplier = np.zeros(shape) if before is None else before.pressure
        self.shear = np.zeros((*shape, 2)) if before is None else before.friction
        start = np.zeros((*shape, 3)) if reference is None else faces.jump(reference)
        self._start = np.einsum("kqc,ktc->kqt", start, faces.tangents)

    def state(self, u: np.ndarray) -> State:
        """Tractions at displacements (3n,)."""
        faces = self.faces
        jump = faces.jump(u)
        opening = np.einsum("kqc,kc->kq", jump, faces.normal) + faces.gap
        sliding = np.einsum("kqc,ktc->kqt", jump, faces.tangents) - self._start
        pressure = np.maximum(0.0, self.multiplier - faces.penalty * opening)
        trial = self.shear + faces.penalty * sliding
        size = np.linalg.norm(trial, axis=2)
        limit = faces.friction[:, None] * pressure
        slides = size > limit
        scale = np.where(slides, limit / np.where(size > 0, size, 1.0), 1.0)
        return State(pressure, scale[:, :, None] * trial, opening, sliding, pressure > 0, slides)

    def tangent(self, state: State) -> np.ndarray:
        """Slope of the traction by the jump, (k, q, 3, 3) in N/m³, symmetric."""
        faces = self.faces
        floor = FLOOR * faces.penalty
        normal = np.where(state.closed, faces.penalty, floor)
        trial = self.shear + faces.penalty * state.sliding
        size = np.linalg.norm(trial, axis=2)
        size = np.where(size > 0, size, 1.0)
        limit = faces.friction[:, None] * state.pressure
        along = trial / size[:, :, None]
        slope = np.where(state.sliding_now, limit / size, 1.0) * faces.penalty
        plane = slope[:, :, None, None] * (
            np.eye(2)
            - np.where(state.sliding_now, 1.0, 0.0)[:, :, None, None]
            * along[:, :, :, None]
            * along[:, :, None, :]
        )
        plane = plane + floor * np.eye(2)
        tangents = faces.tangents
        result = np.einsum("kq,ki,kj->kqij", normal, faces.normal, faces.normal)
        return result + np.einsum("kqst,ksi,ktj->kqij", plane, tangents, tangents, optimize=True)

    def traction(self, state: State) -> np.ndarray:
        """Traction that the interface puts on its lower side, (k, q, 3), as internal force."""
        faces = self.faces
        pressed = state.pressure[:, :, None] * faces.normal[:, None, :]
        return pressed - np.einsum("kqt,ktc->kqc", state.friction, faces.tangents)

    def update(self, state: State) -> None:
        """Take the tractions over as multipliers."""
        self.multiplier, self.shear = state.pressure, state.friction


def solve(
    system: System,
    space: QuadraticSpace,
    faces: Interfaces,
    load: np.ndarray,
    *,
    tol: float = 1e-7,
    before: Contact | None = None,
    progress: Callable[[str], None] = lambda words: None,
) -> Contact:
    """Bring loads, elasticity and contact into balance.

    Parameters
    ----------
    system : the elastic system without contact.
    faces : the interfaces.
    load : (3n,) in N.
    tol : residual force over the load at the end.
    before : the solution of the load step before, whose friction is remembered.
    progress : told after each Newton step.

    Raises
    ------
    NotConverged
        If forces do not come into balance, with advice.
    """
    law = _Law(faces, before.state if before else None, before.displacement if before else None)
    u = np.zeros(len(load)) if before is None else before.displacement.copy()
    scale = float(np.linalg.norm(load)) or 1.0
    state = law.state(u)
    if before is None:
        state = replace(state, closed=np.ones_like(state.closed))
    linear = _Linear(system, space, faces)
    residual = _residual(system, law, state, load, u) if before is not None else load.copy()
    steps = iterations = updates = 0
    target = max(tol, COARSE)
    while True:
        size = float(np.linalg.norm(residual)) / scale
        if steps and size <= target:
            if _penetration_work(faces, state) > NEGLIGIBLE * abs(float(load @ u)):
                law.update(state)
                updates += 1
                state = law.state(u)
                residual = _residual(system, law, state, load, u)
            elif target > tol:
                target = tol
            else:
                break
            continue
        if steps >= MOST_STEPS:
            raise NotConverged(steps, size, target, ADVICE)
        wanted = min(0.1, 0.3 * target / size)
        answer = linear.solve(law.tangent(state), state, residual, wanted)
        iterations += answer.iterations
        u, state, residual = _searched(system, law, load, u, answer.displacement, residual)
        steps += 1
        progress(f"contact step {steps}: residual {np.linalg.norm(residual) / scale:.1e}")
    tangent = system.with_extra(faces.stiffness(law.tangent(state)))
    return Contact(u, state, tangent, linear.solver, steps, iterations, size, updates)


ADVICE = (
    "Forces at the interfaces do not come into balance. Try a finer mesh.size, more friction, or "
    "look for a plate that nothing holds"
)
COARSE = 1e-3
"""Residual, as a part of the load, at which penetration is judged for the first time."""

NEGLIGIBLE = 5e-4
"""Work of the pressure on the penetration, as a part of the work of the load, to leave alone."""


def _penetration_work(faces: Interfaces, state: State) -> float:
    """Work of the pressure on what the sides penetrate (J): what the penalty falsifies."""
    return float((faces.area * state.pressure * np.maximum(0.0, -state.opening)).sum())


def _residual(
    system: System, law: _Law, state: State, load: np.ndarray, u: np.ndarray
) -> np.ndarray:
    forces = load - system.apply(u) - law.faces.forces(law.traction(state))
    forces[~system.free] = 0.0
    return forces


def _searched(
    system: System,
    law: _Law,
    load: np.ndarray,
    u: np.ndarray,
    step: np.ndarray,
    before: np.ndarray,
) -> tuple[np.ndarray, State, np.ndarray]:
    """Go along a step, shortened where the whole of it would make the balance far worse."""
    bound = 10 * float(np.linalg.norm(before))
    for part in (1.0, 0.5, 0.25, 0.125):
        there = u + part * step
        state = law.state(there)
        residual = _residual(system, law, state, load, there)
        if float(np.linalg.norm(residual)) <= bound:
            break
    return there, state, residual


class _Linear:
    """Solves the linear systems, with a preconditioner kept while the state changes little."""

    def __init__(self, system: System, space: QuadraticSpace, faces: Interfaces):
        self._system, self._space, self._faces = system, space, faces
        self._built: np.ndarray | None = None
        self.solver: solvers.MultigridSolver

    def solve(
        self, tangent: np.ndarray, state: State, residual: np.ndarray, tol: float
    ) -> solvers.Solve:
        """Solve for a step (3n,) that takes the residual away."""
        system = self._system.with_extra(self._faces.stiffness(tangent))
        mark = state.closed + 2 * (state.closed & ~state.sliding_now)
        area = self._faces.area
        if self._built is None or area[mark != self._built].sum() > REBUILD * area.sum():
            self.solver = solvers.multigrid(system, self._space)
            self._built = mark
        else:
            self.solver = self.solver.retarget(system)
        return self.solver.solve(residual, tol=tol)
