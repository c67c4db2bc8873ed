"""What takes an imbalance of forces in contact away: a multigrid cycle that follows the contact."""

from __future__ import annotations

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import Interfaces

CHANGED = 0.02
"""Change of a point's slope, as a part of the penalty, that counts."""

FOLLOW = 0.01
"""Part of the area whose slope may have changed before the cycle follows."""

WEAK = 1e-2
"""Part of the penalty with which transfers between levels are made: those of plates that slide and
part freely serve whatever is closed. Made for closed plates they took twice the iterations."""

Ready = tuple[solvers.MultigridSolver, np.ndarray]
"""A solver, and the slope of the law, (k, q, 3, 3) in N/m³ in the faces' frames, that it has."""


class ContactCycle:
    """A multigrid cycle of the stack with its contact, changed in place as contact changes.

    Only what the faces whose state changed add is worked out anew; transfers between levels stay.
    `before` is what a load step before has left: it is copied, if the matrix is the same.
    """

    def __init__(
        self,
        system: System,
        space: QuadraticSpace,
        faces: Interfaces,
        slope: np.ndarray,
        before: Ready | None,
    ):
        self._system, self._space, self._faces = system, space, faces
        self.changes, self._penalty = 0, faces.penalty
        if before is not None and before[0].system.matrix is system.matrix:
            self.solver, self.slope = before[0].copied(system), before[1]
        else:
            self.slope = WEAK * faces.penalty * np.broadcast_to(np.eye(3), slope.shape)
            whole = system.with_extra(faces.springs(self.slope))
            self.solver = solvers.multigrid(whole, space)
            self._take(slope, np.ones(len(slope), dtype=bool))
            self.solver.hierarchy.raise_bounds()
        self._ready()

    def __call__(self, residual: np.ndarray) -> np.ndarray:
        """A step (3n,) that takes most of a residual (3n,) away."""
        return self._cycle(residual)

    def slowed(self) -> None:
        """Take the bending of thin plates out, if there are any: it makes the cycle slow."""
        if not self.solver.slow:
            self.solver.slow = True
            self._ready()

    def _ready(self) -> None:
        if self.solver.slow:
            whole = self._system.with_extra(self._faces.springs(self.slope))
            self._cycle = self.solver.retarget(whole).cycle
        else:
            self._cycle = self.solver.cycle

    def follow(self, slope: np.ndarray, penalty: float) -> bool:
        """Take over a slope of the law, if enough has changed; whether it was."""
        point = np.abs(slope - self.slope).max(axis=(2, 3)) > CHANGED * penalty
        area = self._faces.area
        if float((area * point).sum()) <= FOLLOW * float(area.sum()):
            return False
        self._take(slope, point.any(axis=1))
        return True

    def harden(self, slope: np.ndarray, penalty: float) -> None:
        """Make all anew for this slope where the penalty is other than it was."""
        if penalty != self._penalty:
            self._penalty = penalty
            self.renew(slope)

    def renew(self, slope: np.ndarray) -> None:
        """Make all of the cycle for this slope, its transfers too."""
        whole = self._system.with_extra(self._faces.springs(slope))
        self.solver, self.slope = solvers.multigrid(whole, self._space, like=self.solver), slope
        self.changes += 1
        self._ready()

    def completed(self, slope: np.ndarray) -> Ready:
        """A solver of the system with this slope everywhere, and the slope."""
        self._take(slope, (slope != self.slope).any(axis=(1, 2, 3)))
        return self.solver.retarget(self._system.with_extra(self._faces.springs(slope))), slope

    def _take(self, slope: np.ndarray, changed: np.ndarray) -> None:
        if not changed.any():
            return
        own = self._faces.chosen(changed)
        self.solver.hierarchy.add(own.springs((slope - self.slope)[changed]))
        self.slope = np.where(changed[:, None, None, None], slope, self.slope)
        self.changes += 1
        self._ready()
