"""Plates that press, slide and part, by a solver of its own: a stiff penalty, sparse factors.

An independent check of the product's contact, without multipliers. SuperLU condenses the stack to
how far the nodes of its interfaces move apart. There the energy of plates and gaps at the
quadrature points is made least by Newton's method with a search along each step; it is convex, and
without friction that ends after finitely many steps (Mangasarian, J. Optim. Theory Appl. 121 (2004)
1). With friction its bound μ p is held meanwhile (Tresca) and taken anew until it stays (Haslinger,
Math. Methods Appl. Sci. 5 (1983) 422), along the same load steps: tightened, then pressed. The
penalty is `HARD` times the one that the product starts with, against sliding as against pressing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import brentq
from scipy.sparse import csc_matrix, csr_matrix, diags_array, vstack
from scipy.sparse.linalg import splu

from platestack.fea.numerics.system import Ties
from platestack.fea.solid import loads
from platestack.fea.solid.contact.faces import VALUES, Interfaces
from platestack.fea.solid.pressing import TOUCH, Pressing

HARD = 300.0
STEPS = 200
"""Newton's steps to the least energy of one bound of friction."""

BOUNDS = 100
"""How often the bound of friction is taken anew."""

SETTLED = 1e-6
"""Change of the bound, as a part of the force between the plates, and forces left over."""

WEAK = 1e-12
"""Part of the penalty that stays at all points, so that nothing floats."""


def deflection(pressing: Pressing) -> float:
    """Mid-span deflection (m) that pressing adds, seats and bolts as the product found them."""
    held, clamps = pressing.pressed.held, pressing._clamps
    loose = {bolt.bolt.name for bolt in pressing.pressed.bolts if bolt.working == 0.0}
    at_work = clamps.without(loose)
    plates = _Plates(pressing, at_work.added_to(held.ties))
    rest, state = np.zeros(len(pressing.patch_load)), _State.at_rest(plates)
    if pressing.tightened is not None:
        tight = pressing.tightened.held
        preload = tight.squeeze + clamps.load
        tightened = plates.held_by(tight.squeezing)
        rest, state = tightened.loaded(preload, state)
        if plates.floats(state):
            rest, state = tightened.loaded(preload + TOUCH * pressing.patch_load, state)
            rest, state = tightened.loaded(preload, state)
        held = tight.tightened(rest).pressing(pressing.pressed.displacement)
        plates = plates.held_by(at_work.added_to(held.ties))
    other = at_work.added_to(held.restraints)
    kept = other.rows.T @ (other.stiffness * (other.rows @ rest))
    load = pressing.patch_load + held.preload + at_work.load + kept
    moved = plates.loaded(load, state)[0] - rest
    row, _ = loads.deflection_row(pressing.mesh, pressing._stack, held)
    return float((row @ moved)[0])


@dataclass(frozen=True)
class _State:
    """How far nodes are apart (c, m) in m, and friction (2, kq) in Pa at the points."""

    jump: np.ndarray
    friction: np.ndarray

    @classmethod
    def at_rest(cls, plates: _Plates) -> _State:
        return cls(np.zeros((plates.parts, plates.pairs)), np.zeros((2, len(plates.area))))


class _Plates:
    """A stack condensed to its interfaces: the normal parts of jumps, with friction all three.

    The factor is of plates that stick together everywhere, which leaves nothing to float.
    """

    def __init__(self, pressing: Pressing, ties: Ties) -> None:
        faces = pressing.faces
        assert faces is not None
        self.faces, self.size, self._ties = faces, len(pressing.patch_load), ties
        self.parts = 3 if faces.friction.any() else 1
        self.free = np.flatnonzero(~pressing.held.fixed.ravel())
        read, points = _jumps(faces, self.parts)
        self.pairs, self.points = points.shape[1], points.toarray()
        self.area, self.hard = faces.area.ravel(), HARD * faces.penalty
        self.friction = np.repeat(faces.friction, faces.area.shape[1])
        self.gap = (faces.gap @ VALUES.T).ravel()
        read = read[:, self.free]
        # What mirror planes hold does not move apart.
        self.kept = np.flatnonzero(abs(read).max(axis=1).toarray().ravel() > 1e-9)
        self._read = read[self.kept]
        rows = csr_matrix(ties.rows)[:, self.free]
        matrix = csr_matrix(pressing.matrix)[self.free][:, self.free]
        matrix = matrix + rows.T @ diags_array(ties.stiffness) @ rows
        self._glue = self.everywhere(faces.penalty)
        factor = splu(
            csc_matrix(matrix + self._read.T @ csr_matrix(self._glue) @ self._read),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        self._solve: Callable[[np.ndarray], np.ndarray] = factor.solve
        self._condense(factor.solve(self._read.T.toarray()))

    def _condense(self, apart: np.ndarray) -> None:
        self._apart = apart
        self._firm = np.linalg.inv(self._read @ apart)
        self.stiffness = self._firm - self._glue

    def everywhere(self, stiffness: float) -> np.ndarray:
        """Springs (c m, c m) in N/m of a stiffness (N/m³) at all points, in all directions."""
        springs = self.points.T @ ((stiffness * self.area)[:, None] * self.points)
        return np.asarray(np.kron(np.eye(self.parts), springs)[np.ix_(self.kept, self.kept)])

    def held_by(self, ties: Ties) -> _Plates:
        """The same plates held by other ties (Woodbury's formula)."""
        rows = csr_matrix(vstack([ties.rows, self._ties.rows]))[:, self.free]
        change = np.concatenate([ties.stiffness, -self._ties.stiffness])
        through = self._solve(rows.T.toarray())
        inner = np.linalg.inv(np.diag(1 / change) + rows @ through)
        other, solve = object.__new__(_Plates), self._solve

        def corrected(load: np.ndarray) -> np.ndarray:
            return np.asarray((first := solve(load)) - through @ (inner @ (rows @ first)))

        vars(other).update(vars(self))
        other._ties, other._solve = ties, corrected
        other._condense(self._apart - through @ (inner @ (rows @ self._apart)))
        return other

    def floats(self, state: _State) -> bool:
        """Whether no force passes one of the interfaces."""
        force = (self.area * self._depth(state.jump)).reshape(self.faces.area.shape).sum(axis=1)
        passing = np.bincount(self.faces.owner, force, len(self.faces.names))
        return bool((passing <= 1e-8 * passing.max()).any())

    def loaded(self, load: np.ndarray, before: _State) -> tuple[np.ndarray, _State]:
        """Displacements (3n,) in m and state under a load (3n,) in N that follows a state."""
        under_load = self._solve(load[self.free])
        pushed = self._firm @ (self._read @ under_load)
        state = _Step(self, pushed, before).found()
        u = np.zeros(self.size)
        u[self.free] = under_load + self._apart @ (
            self._firm @ state.jump.ravel()[self.kept] - pushed
        )
        return u, state

    def _depth(self, jump: np.ndarray) -> np.ndarray:
        return np.maximum(0.0, -(self.points @ jump[0] + self.gap))


class _Step:
    """A load step: condensed plates `pushed` (c m,) in N from a state on."""

    def __init__(self, plates: _Plates, pushed: np.ndarray, before: _State) -> None:
        self._plates, self._pushed, self._before = plates, pushed, before
        self._stiffness = plates.stiffness + plates.everywhere(WEAK * plates.hard)
        self._bound = np.zeros(len(plates.area))
        self._enough = SETTLED * float(np.linalg.norm(pushed))

    def found(self) -> _State:
        """The state at which the bound of friction stays."""
        plates, jump = self._plates, self._before.jump.ravel()[self._plates.kept]
        for _ in range(BOUNDS):
            jump = self._least(jump)
            now = self._split(jump)
            bound = plates.friction * plates.hard * plates._depth(now)
            off = float(plates.area @ np.abs(bound - self._bound))
            friction = self._friction(now)[0]
            self._bound = bound
            if off <= SETTLED * float(plates.hard * plates.area @ plates._depth(now)):
                return _State(now, friction)
        raise AssertionError("the bound of friction does not settle")

    def _split(self, jump: np.ndarray) -> np.ndarray:
        whole = np.zeros(self._plates.parts * self._plates.pairs)
        whole[self._plates.kept] = jump
        return whole.reshape(self._plates.parts, self._plates.pairs)

    def _friction(self, jump: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Friction and its trial (2, kq) in Pa, and the part (kq,) that the bound leaves of it."""
        if self._plates.parts == 1:
            return self._before.friction, self._before.friction, self._bound
        slid = (jump[1:] - self._before.jump[1:]) @ self._plates.points.T
        trial = self._before.friction + self._plates.hard * slid
        size = np.hypot(*trial)
        part = np.where(size > self._bound, self._bound / np.where(size > 0, size, 1.0), 1.0)
        return part * trial, trial, part

    def _slope(self, jump: np.ndarray) -> np.ndarray:
        """Slope (c m,) in N of the energy."""
        plates, now = self._plates, self._split(jump)
        tractions = [-plates.hard * plates._depth(now)]
        if plates.parts > 1:
            tractions += list(self._friction(now)[0])
        through = [plates.points.T @ (plates.area * traction) for traction in tractions]
        return np.asarray(
            self._stiffness @ jump - self._pushed + np.concatenate(through)[plates.kept]
        )

    def _tangent(self, jump: np.ndarray) -> np.ndarray:
        """Second derivative (c m, c m) in N/m of the energy."""
        plates, now = self._plates, self._split(jump)
        slopes = {(0, 0): plates.hard * (plates._depth(now) > 0)}
        if plates.parts > 1:
            _, trial, part = self._friction(now)
            size = np.hypot(*trial)
            along = trial / np.where(size > 0, size, 1.0)
            for i in range(2):
                for j in range(2):
                    bent = part * ((i == j) - (part < 1) * along[i] * along[j])
                    slopes[i + 1, j + 1] = plates.hard * bent
        m = plates.pairs
        tangent = np.zeros((plates.parts * m, plates.parts * m))
        for (i, j), slope in slopes.items():
            at = np.flatnonzero(slope)
            rows = plates.points[at]
            block = rows.T @ ((slope * plates.area)[at, None] * rows)
            tangent[i * m : (i + 1) * m, j * m : (j + 1) * m] = block
        return np.asarray(self._stiffness + tangent[np.ix_(plates.kept, plates.kept)])

    def _least(self, jump: np.ndarray) -> np.ndarray:
        """Jumps (c m,) in m of least energy under the bound of friction."""
        for _ in range(STEPS):
            slope = self._slope(jump)
            if np.linalg.norm(slope) <= self._enough:
                return jump
            step = -cho_solve(cho_factor(self._tangent(jump)), slope)
            jump = _along(self._slope, jump, step)
        raise AssertionError("no state of least energy found")


def _along(
    slope: Callable[[np.ndarray], np.ndarray], start: np.ndarray, step: np.ndarray
) -> np.ndarray:
    """Where along a step the energy is least."""

    def grows(part: float) -> float:
        return float(step @ slope(start + part * step))

    near = 1e-6 * abs(grows(0.0))
    if abs(grows(1.0)) <= near:
        return start + step
    far = 1.0
    while grows(far) < 0:
        far *= 2
    return np.asarray(start + brentq(grows, 0.0, far, rtol=1e-3) * step)


def _jumps(faces: Interfaces, parts: int) -> tuple[csr_matrix, csr_matrix]:
    """How far pairs of nodes come apart (c m, 3n), along the normal first, and points (k q, m)."""
    pairs = np.stack([faces.lower.ravel(), faces.upper.ravel()], axis=1)
    pairs, first, number = np.unique(pairs, axis=0, return_index=True, return_inverse=True)
    frame = np.repeat(faces.frame, faces.lower.shape[1], axis=0)[first]
    row = np.repeat(np.arange(len(pairs)), 3)
    shape = (len(pairs), 3 * faces.size)

    def side(nodes: np.ndarray, part: int) -> csr_matrix:
        column = 3 * nodes[:, None] + np.arange(3)
        return csr_matrix((frame[:, part].ravel(), (row, column.ravel())), shape)

    apart = [side(pairs[:, 1], part) - side(pairs[:, 0], part) for part in range(parts)]
    count, inside = faces.area.shape
    column = np.broadcast_to(number.reshape(count, 1, -1), (count, inside, VALUES.shape[1]))
    value = np.broadcast_to(VALUES, column.shape)
    at = np.repeat(np.arange(count * inside), VALUES.shape[1])
    points = csr_matrix((value.ravel(), (at, column.ravel())), (count * inside, len(pairs)))
    return csr_matrix(vstack(apart)), points
