"""Loose plates by a solver of its own: no multipliers, a stiff penalty, sparse factors.

An independent check of the product's contact: Newton's method on gaps at the quadrature points,
with the closed set taken whole from step to step, linear systems by SuperLU. The penalty is
`HARD` times the one that the product starts with.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import block_array, csc_matrix, csr_matrix, diags_array
from scipy.sparse.linalg import splu

from platestack.fea.numerics.system import Ties
from platestack.fea.solid import loads
from platestack.fea.solid.contact.faces import VALUES, Interfaces
from platestack.fea.solid.pressing import Pressing

HARD = 300.0
STEPS = 60
WEAK = 1e-9
"""Part of the penalty that stays at open points, so that nothing floats."""


def deflection(pressing: Pressing) -> float:
    """Mid-span deflection (m) that pressing adds to a loose stack, seats and bolts as they are."""
    held, clamps = pressing.pressed.held, pressing._clamps
    loose = {bolt.bolt.name for bolt in pressing.pressed.bolts if bolt.working == 0.0}
    at_work = clamps.without(loose)
    rest = np.zeros(len(pressing.patch_load))
    if pressing.tightened is not None:
        first = loads.supports(pressing.mesh, pressing._press.rods)
        rest = _solved(pressing, first.rest, first.preload + clamps.load, rest)
    ties = at_work.added_to(held.ties)
    kept = ties.rows.T @ (ties.stiffness * (ties.rows @ rest))
    load = pressing.patch_load + held.preload + at_work.load + kept
    moved = _solved(pressing, ties, load, rest) - rest
    row, _ = loads.deflection_row(pressing.mesh, pressing._stack, held)
    return float((row @ moved)[0])


def _solved(pressing: Pressing, ties: Ties, load: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Displacements (3n,) in m under a load, by Newton's method from `start`."""
    faces = pressing.faces
    assert faces is not None
    free = np.flatnonzero(~pressing.held.fixed.ravel())
    matrix = csr_matrix(pressing.matrix)
    size = float(matrix.diagonal().mean())
    rows = csr_matrix(diags_array(np.sqrt(ties.stiffness * size)) @ ties.rows)
    jump = _jump(faces)
    weight, gap = faces.area.ravel(), (faces.gap @ VALUES.T).ravel()
    penalty, u = HARD * faces.penalty, start
    closed = np.ones(len(weight), dtype=bool)
    seen = []
    for _ in range(STEPS):
        slope = weight * penalty * np.where(closed, 1.0, WEAK)
        total = matrix + jump.T @ diags_array(slope) @ jump
        whole = block_array(
            [[total[free][:, free], rows[:, free].T],
             [rows[:, free], diags_array(np.full(rows.shape[0], -size))]]
        )  # fmt: skip
        right = (load - jump.T @ (slope * gap * closed))[free]
        answer = splu(csc_matrix(whole), permc_spec="MMD_AT_PLUS_A").solve(
            np.concatenate([right, np.zeros(rows.shape[0])])
        )
        u = np.zeros(len(load))
        u[free] = answer[: len(free)]
        now = jump @ u + gap < 0
        if (now == closed).all():
            return u
        # Where the set comes back to one it was, points change one half at a time.
        repeated = any((now == old).all() for old in seen)
        seen.append(now)
        if repeated:
            change = np.flatnonzero(now != closed)
            now = closed.copy()
            now[change[::2]] ^= True
        closed = now
    raise AssertionError("the closed set does not settle")


def _jump(faces: Interfaces) -> csr_matrix:
    """Rows that read how far the sides come apart along the normal at the quadrature points."""
    count, points = faces.area.shape
    row = np.repeat(np.arange(count * points), 18)
    value = np.einsum("qa,kc->kqac", VALUES, faces.normal).reshape(-1)
    shape = (count * points, 3 * faces.size)

    def side(nodes: np.ndarray) -> csr_matrix:
        column = 3 * nodes[:, None, :, None] + np.arange(3)
        column = np.broadcast_to(column, (count, points, 6, 3)).reshape(-1)
        return csr_matrix((value, (row, column)), shape)

    return csr_matrix(side(faces.upper) - side(faces.lower))
