"""The linear systems of Newton's steps in contact."""

from __future__ import annotations

from contextlib import suppress

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import Interfaces
from platestack.fea.support.errors import NotConverged

REBUILD = 0.2
"""Part of the area whose state may change before the preconditioner is made anew."""

PATIENCE = 60
"""Iterations after which a kept preconditioner is made anew all the same."""

TIRED = 12
"""Iterations for each two digits after which it is made anew for the next step: about its price."""


Ready = tuple[solvers.MultigridSolver, np.ndarray]
"""A solver, and the slope of the law, (k, q, 3, 3) in N/m³, its preconditioner was made for."""


class NewtonLinearSolver:
    """Solves the linear systems, with a preconditioner kept while the state changes little.

    `before` is what a load step before has left, its preconditioner used if the system is the same.
    """

    def __init__(
        self, system: System, space: QuadraticSpace, faces: Interfaces, before: Ready | None
    ):
        self._system, self._space, self._faces = system, space, faces
        self._kept: Ready | None = None
        self._tired = False
        self._like = None if before is None else before[0]
        if before is not None and before[0].system.matrix is system.matrix:
            self._kept = before

    def ready(self, tangent: np.ndarray) -> Ready:
        """A solver with the law's slope, and the slope its preconditioner was made for."""
        system = self._system.with_extra(self._faces.stiffness(tangent))
        if self._kept is not None and not self._outdated(tangent, self._kept[1]):
            self._kept = self._kept[0].retarget(system), self._kept[1]
        else:
            self._kept = solvers.multigrid(system, self._space, like=self._like), tangent
            self._like, self._tired = self._kept[0], False
        return self._kept

    def solve(self, tangent: np.ndarray, residual: np.ndarray, tol: float) -> solvers.Solve:
        """Solve for a step (3n,) that takes the residual away."""
        solver, made_for = self.ready(tangent)
        if made_for is not tangent:
            with suppress(NotConverged):
                answer = solver.solve(residual, tol=tol, max_iterations=PATIENCE)
                self._tired = answer.iterations > TIRED * (1 - np.log10(tol)) / 2
                return answer
            self._kept = None
            solver, _ = self.ready(tangent)
        return solver.solve(residual, tol=tol)

    def _outdated(self, tangent: np.ndarray, made_for: np.ndarray) -> bool:
        """Whether a preconditioner made for another slope costs more than a new one."""
        faces = self._faces
        change = np.abs(tangent - made_for).max(axis=(2, 3)) > faces.penalty / 2
        return self._tired or float((faces.area * change).sum() / faces.area.sum()) > REBUILD
