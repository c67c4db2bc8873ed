"""Loose plates by a solver of its own: no multipliers, a stiff penalty, sparse factors.

An independent check of the product's contact. SuperLU condenses the stack to how far the nodes of
its interfaces come apart; there the energy of plates and gaps at the quadrature points, convex, is
made least by Newton's method with a search along each step, which ends after finitely many steps
(Mangasarian, J. Optim. Theory Appl. 121 (2004) 1). The penalty is `HARD` times the one that the
product starts with.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.sparse import csc_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import splu

from platestack.fea.numerics.system import Ties
from platestack.fea.solid import loads
from platestack.fea.solid.contact.faces import VALUES, Interfaces
from platestack.fea.solid.pressing import Pressing

HARD = 300.0
STEPS = 200
WEAK = 1e-9
"""Part of the penalty that stays at all points, so that nothing floats."""


def deflection(pressing: Pressing) -> float:
    """Mid-span deflection (m) that pressing adds to a loose stack, seats and bolts as they are."""
    held, clamps = pressing.pressed.held, pressing._clamps
    loose = {bolt.bolt.name for bolt in pressing.pressed.bolts if bolt.working == 0.0}
    at_work = clamps.without(loose)
    rest = np.zeros(len(pressing.patch_load))
    if pressing.tightened is not None:
        first = loads.supports(pressing.mesh, pressing._press.rods)
        rest = _solved(pressing, first.rest, first.preload + clamps.load)
    ties = at_work.added_to(held.ties)
    kept = ties.rows.T @ (ties.stiffness * (ties.rows @ rest))
    load = pressing.patch_load + held.preload + at_work.load + kept
    moved = _solved(pressing, ties, load) - rest
    row, _ = loads.deflection_row(pressing.mesh, pressing._stack, held)
    return float((row @ moved)[0])


def _solved(pressing: Pressing, ties: Ties, load: np.ndarray) -> np.ndarray:
    """Displacements (3n,) in m under a load."""
    faces = pressing.faces
    assert faces is not None
    free = np.flatnonzero(~pressing.held.fixed.ravel())
    rows = csr_matrix(ties.rows)[:, free]
    matrix = csr_matrix(pressing.matrix)[free][:, free]
    matrix = matrix + rows.T @ diags_array(ties.stiffness) @ rows
    read, points = _jumps(faces)
    read = read[:, free]
    # The factor is of plates that stick together everywhere, which leaves nothing to float.
    glue = points.T @ diags_array(faces.area.ravel() * faces.penalty) @ points
    factor = splu(
        csc_matrix(matrix + read.T @ glue @ read),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    under_load = factor.solve(load[free])
    apart = factor.solve(read.T.toarray())
    firm = np.linalg.inv(read @ apart)
    pushed = firm @ (read @ under_load)
    jump = _least(faces, points.toarray(), firm - glue.toarray(), pushed)
    u = np.zeros(len(load))
    u[free] = under_load + apart @ (firm @ jump - pushed)
    return u


def _least(
    faces: Interfaces, points: np.ndarray, stiffness: np.ndarray, pushed: np.ndarray
) -> np.ndarray:
    """Jumps (m,) in m of least energy: of plates of a stiffness (m, m), `pushed` (m,) in N."""
    hard = HARD * faces.penalty * faces.area.ravel()
    gap = (faces.gap @ VALUES.T).ravel()
    stiffness = stiffness + WEAK * points.T @ (hard[:, None] * points)

    def slope(jump: np.ndarray) -> np.ndarray:
        depth = np.minimum(0.0, points @ jump + gap)
        return np.asarray(stiffness @ jump - pushed + points.T @ (hard * depth))

    jump, closed = np.zeros(len(pushed)), np.ones(len(gap), dtype=bool)
    for _ in range(STEPS):
        tangent = stiffness + points[closed].T @ (hard[closed, None] * points[closed])
        right = pushed - points[closed].T @ (hard[closed] * gap[closed])
        aim = np.linalg.solve(tangent, right)
        if (closed == (points @ aim + gap < 0)).all():
            return aim
        jump = _along(slope, jump, aim - jump)
        closed = points @ jump + gap < 0
    raise AssertionError("the closed set does not settle")


def _along(
    slope: Callable[[np.ndarray], np.ndarray], start: np.ndarray, step: np.ndarray
) -> np.ndarray:
    """Where along a step the energy is least."""

    def grows(part: float) -> float:
        return float(step @ slope(start + part * step))

    if grows(0.0) >= 0:  # the first step, whose tangent is not that of its start
        return start + step
    far = 1.0
    while grows(far) < 0:
        far *= 2
    return np.asarray(start + brentq(grows, 0.0, far, xtol=1e-14, rtol=1e-12) * step)


def _jumps(faces: Interfaces) -> tuple[csr_matrix, csr_matrix]:
    """How far pairs of nodes come apart along the normal (m, 3n), and points of them (k q, m)."""
    pairs = np.stack([faces.lower.ravel(), faces.upper.ravel()], axis=1)
    pairs, first, number = np.unique(pairs, axis=0, return_index=True, return_inverse=True)
    normal = np.repeat(faces.normal, faces.lower.shape[1], axis=0)[first]
    row = np.repeat(np.arange(len(pairs)), 3)
    shape = (len(pairs), 3 * faces.size)

    def side(nodes: np.ndarray) -> csr_matrix:
        column = 3 * nodes[:, None] + np.arange(3)
        return csr_matrix((normal.ravel(), (row, column.ravel())), shape)

    count, inside = faces.area.shape
    column = np.broadcast_to(number.reshape(count, 1, -1), (count, inside, VALUES.shape[1]))
    value = np.broadcast_to(VALUES, column.shape)
    at = np.repeat(np.arange(count * inside), VALUES.shape[1])
    points = csr_matrix((value.ravel(), (at, column.ravel())), (count * inside, len(pairs)))
    return csr_matrix(side(pairs[:, 1]) - side(pairs[:, 0])), points
