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
from contextlib import suppress
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
    friction : (k, q, 2) traction of the lower on the upper side against sliding, along the tangents
        (Pa): it points the way the upper side has slid.
    opening : (k, q) distance between the sides (m); negative: penetration.
    sliding : (k, q, 2) sliding of the upper side on the lower since the last load step (m).
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
    solver: solvers.Solver
    steps: int
    iterations: int
    residual: float
    updates: int


class _Law:
    """The contact law with its multipliers: tractions and their slope by the jump (k, q, 3)."""

    def __init__(self, faces: Interfaces, before: Contact | None):
        self.faces = faces
        shape = faces.area.shape
        self.multiplier, self.shear = np.zeros(shape), np.zeros((*shape, 2))
        self._start = np.zeros((*shape, 2))
        if before is not None:
            self.update(before.state)
            self._start = self._along(faces.jump(before.displacement))

    def _along(self, jump: np.ndarray) -> np.ndarray:
        return np.einsum("kqc,ktc->kqt", jump, self.faces.tangents)

    def state(self, jump: np.ndarray, bound: np.ndarray | None = None) -> State:
        """Tractions at a jump; friction up to μ p, or to a `bound` (k, q) in Pa that is given."""
        faces = self.faces
        opening = np.einsum("kqc,kc->kq", jump, faces.normal) + faces.gap
        sliding = self._along(jump) - self._start
        pressure = np.maximum(0.0, self.multiplier - faces.penalty * opening)
        bound = faces.friction[:, None] * pressure if bound is None else bound
        trial = self.shear + faces.penalty * sliding
        size = np.hypot(trial[..., 0], trial[..., 1])
        slides = size > bound
        scale = np.where(slides, bound / np.where(size > 0, size, 1.0), 1.0)
        return State(pressure, scale[:, :, None] * trial, opening, sliding, pressure > 0, slides)

    def tangent(self, state: State) -> np.ndarray:
        """Slope of the traction by the jump, (k, q, 3, 3) in N/m³, the bound held: symmetric."""
        faces = self.faces
        trial = self.shear + faces.penalty * state.sliding
        size = np.hypot(trial[..., 0], trial[..., 1])
        size = np.where(size > 0, size, 1.0)
        limit = faces.friction[:, None] * state.pressure
        slope = np.where(state.sliding_now, limit / size, 1.0) * faces.penalty
        across = trial[..., ::-1] * [-1.0, 1.0] / size[:, :, None]
        plane = np.where(
            state.sliding_now[:, :, None, None],
            np.einsum("kq,kqs,kqt->kqst", slope, across, across),
            slope[:, :, None, None] * np.eye(2),
        )
        return self._assembled(np.where(state.closed, faces.penalty, 0.0), plane)

    def first_tangent(self) -> np.ndarray:
        """A slope to start from rest with: all closed, and sliding with little resistance."""
        faces = self.faces
        slope = np.where(faces.friction > 0, START * faces.penalty, 0.0)
        plane = np.multiply.outer(np.repeat(slope[:, None], faces.area.shape[1], 1), np.eye(2))
        return self._assembled(np.full(faces.area.shape, faces.penalty), plane)

    def _assembled(self, normal: np.ndarray, plane: np.ndarray) -> np.ndarray:
        """Tangent of its normal (k, q) and plane (k, q, 2, 2) part."""
        faces = self.faces
        floor = FLOOR * faces.penalty
        frame = np.concatenate([faces.normal[:, None], faces.tangents], axis=1)[:, None]
        local = np.zeros((*normal.shape, 3, 3))
        local[..., 0, 0], local[..., 1:, 1:] = np.maximum(normal, floor), plane + floor * np.eye(2)
        return np.asarray(frame.transpose(0, 1, 3, 2) @ local @ frame)

    def traction(self, state: State) -> np.ndarray:
        """Traction that the interface puts on its lower side, (k, q, 3), as internal force."""
        faces = self.faces
        pressed = state.pressure[:, :, None] * faces.normal[:, None, :]
        return pressed - np.einsum("kqt,ktc->kqc", state.friction, faces.tangents)

    def update(self, state: State) -> None:
        """Take the tractions over as multipliers."""
        self.multiplier, self.shear = state.pressure, state.friction

    def falsified(self, state: State) -> float:
        """Work (J) of the tractions on what the penalty lets penetrate, and creep while stuck."""
        stuck = state.closed & ~state.sliding_now
        creep = np.abs(np.einsum("kqt,kqt->kq", state.friction, state.sliding))
        depth = state.pressure * np.maximum(0.0, -state.opening)
        return float((self.faces.area * (depth + np.where(stuck, creep, 0.0))).sum())


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
    law = _Law(faces, before)
    linear = _Linear(system, space, faces)
    at = _Point.of(system, law, load, None if before is None else before.displacement)
    scale = max(float(np.linalg.norm(load)), at.size) or 1.0
    tangent = law.tangent(at.state) if before else law.first_tangent()
    target = max(tol, COARSE)
    steps = iterations = updates = 0
    size = last = at.size / scale
    while True:
        if size <= target:
            if law.falsified(at.state) > NEGLIGIBLE * at.work(system):
                law.update(at.state)
                updates += 1
                at = _Point.of(system, law, load, at.u)
                target = max(tol, TIGHTER * target)
            elif target > tol:
                target = tol
            else:
                break
            size = last = at.size / scale
            if size <= target:
                continue
        if steps + updates >= MOST_STEPS:
            raise NotConverged(steps, size, target, ADVICE)
        wanted = min(LOOSE, max(0.3 * target / size, 0.5 * (size / last) ** 2))
        answer = linear.solve(tangent, at.state, at.residual, wanted)
        iterations += answer.iterations
        at = at.searched(system, law, answer.displacement)
        last, size = size, at.size / scale
        tangent = law.tangent(at.state)
        steps += 1
        progress(f"contact step {steps}: residual {size:.1e}")
    final = system.with_extra(faces.stiffness(tangent))
    return Contact(at.u, at.state, final, linear.solver, steps, iterations, size, updates)


ADVICE = (
    "Forces at the interfaces do not come into balance. Try a finer mesh.size, more friction, or "
    "look for a plate that nothing holds"
)
COARSE = 3e-2
"""Residual, as a part of the load, at which penetration is judged for the first time."""

NEGLIGIBLE = 5e-4
"""Work of the tractions on penetration and creep, as a part of the work done, to leave alone."""

TIGHTER = 0.1
LOOSE = 0.05
PATIENCE = 60
START = 1e-4
"""Loosest tolerance of a linear solve."""


@dataclass(frozen=True)
class _Point:
    """Displacements, with the forces that elasticity (`elastic`) and contact leave over."""

    u: np.ndarray
    jump: np.ndarray
    state: State
    elastic: np.ndarray
    residual: np.ndarray

    @classmethod
    def of(cls, system: System, law: _Law, load: np.ndarray, u: np.ndarray | None) -> _Point:
        """The point at displacements (3n,), or at rest."""
        elastic = np.where(system.free, load, 0.0)
        if u is None:
            u = np.zeros(len(load))
        else:
            elastic -= system.apply(u)
        return cls._completed(system, law, u, law.faces.jump(u), elastic)

    @classmethod
    def _completed(
        cls, system: System, law: _Law, u: np.ndarray, jump: np.ndarray, elastic: np.ndarray
    ) -> _Point:
        state = law.state(jump)
        forces = law.faces.forces(law.traction(state))
        return cls(u, jump, state, elastic, np.where(system.free, elastic - forces, 0.0))

    @property
    def size(self) -> float:
        """Length of the residual (N)."""
        return float(np.linalg.norm(self.residual))

    def work(self, system: System) -> float:
        """Twice the elastic energy (J)."""
        return float(self.u @ system.apply(self.u))

    def searched(self, system: System, law: _Law, step: np.ndarray) -> _Point:
        """Go along a step to where the forces along it nearly balance.

        With the bound of friction held they derive from a convex potential.
        """
        faces = law.faces
        stretch, change = system.apply(step), faces.jump(step)
        bound = faces.friction[:, None] * self.state.pressure
        pull, stiffness = float(step @ self.elastic), float(step @ stretch)
        weighted = faces.area[:, :, None] * change

        def slope(part: float) -> float:
            traction = law.traction(law.state(self.jump + part * change, bound))
            return part * stiffness - pull - float((weighted * traction).sum())

        part = _balanced(slope)
        u, elastic = self.u + part * step, self.elastic - part * stretch
        return self._completed(system, law, u, self.jump + part * change, elastic)


def _balanced(slope: Callable[[float], float]) -> float:
    """Where a growing function, negative at 0, has come down to half its size; 1 if it may be.

    By regula falsi of the Illinois kind (Dowell & Jarratt, BIT 11 (1971) 168).
    """
    low, at_low = 0.0, slope(0.0)
    high, at_high = 1.0, slope(1.0)
    wanted = ENOUGH * abs(at_low)
    if abs(at_high) <= wanted:
        return high
    while at_high < 0 and high < FARTHEST:
        low, at_low = high, at_high
        high, at_high = 2 * high, slope(2 * high)
    if at_high < 0:
        return high
    for _ in range(10):
        part = low - at_low * (high - low) / (at_high - at_low)
        at_part = slope(part)
        if abs(at_part) <= wanted:
            return part
        if at_part > 0:
            high, at_high, at_low = part, at_part, at_low / 2
        else:
            low, at_low, at_high = part, at_part, at_high / 2
    return part


ENOUGH, FARTHEST = 0.5, 8.0


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
        if self._built is not None and area[mark != self._built].sum() <= REBUILD * area.sum():
            self.solver = self.solver.retarget(system)
            with suppress(NotConverged):
                return self.solver.solve(residual, tol=tol, max_iterations=PATIENCE)
        self.solver = solvers.multigrid(system, self._space)
        self._built = mark
        return self.solver.solve(residual, tol=tol)
