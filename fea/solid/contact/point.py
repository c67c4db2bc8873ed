"""Where Newton's method stands, and how far it goes along a step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platestack.fea.numerics.krylov import inner, length
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import Interfaces, at_points
from platestack.fea.solid.contact.law import Law, State

ENOUGH, MOST_TRIALS = 0.05, 10
"""Unbalance along a step, as a part of that at its start, to be content with; trials for it."""


@dataclass(frozen=True)
class Point:
    """Displacements, with the forces that elasticity (`elastic`) and contact leave over."""

    u: np.ndarray
    jump: np.ndarray
    state: State
    elastic: np.ndarray
    residual: np.ndarray

    @classmethod
    def of(cls, system: System, law: Law, load: np.ndarray, u: np.ndarray | None) -> Point:
        """The point at displacements (3n,), or at rest."""
        elastic = np.where(system.free, load, 0.0)
        if u is None:
            u = np.zeros(len(load))
        else:
            elastic -= system.apply(u)
        return cls._completed(system, law, u, law.faces.jump(u), elastic)

    @classmethod
    def _completed(
        cls, system: System, law: Law, u: np.ndarray, jump: np.ndarray, elastic: np.ndarray
    ) -> Point:
        state = law.state(jump)
        forces = law.faces.forces(law.traction(state))
        return cls(u, jump, state, elastic, np.where(system.free, elastic - forces, 0.0))

    def again(self, system: System, law: Law) -> Point:
        """The same displacements after a change of the multipliers or the bound."""
        return self._completed(system, law, self.u, self.jump, self.elastic)

    def unbound(self, system: System, law: Law) -> Point:
        """The same displacements with a bound of friction, if one is held, as they give it."""
        if law.bound is None:
            return self
        law.bound = law.bounds(self.state.pressure)
        return self.again(system, law)

    @property
    def size(self) -> float:
        """Length of the residual (N)."""
        return length(self.residual)

    def work(self, system: System) -> float:
        """Twice the elastic energy (J)."""
        return inner(self.u, system.apply(self.u))

    def searched(self, system: System, law: Law, step: np.ndarray) -> Point:
        """Go along a step to where the forces along it nearly balance.

        With the bound of friction held they derive from a convex potential, whose slope along
        the step grows; its zero is found by Newton's method, kept between bounds.
        """
        faces = law.faces
        stretch, change = system.apply(step), faces.jump(step)
        across = at_points(change @ faces.frame.transpose(0, 2, 1))
        bound, pull, stiffness = self.state.bound, inner(step, self.elastic), inner(step, stretch)
        part, low, high = 0.0, 0.0, np.inf
        state, slope = self.state, -inner(step, self.residual)
        start = abs(slope)
        for _ in range(MOST_TRIALS):
            bent = (law.slope(state) @ across[..., None])[..., 0]
            part -= slope / (stiffness + _summed(faces, across, bent))
            if not low < part < high:
                part = (low + high) / 2 if high < np.inf else low + 1.0
            state = law.state(self.jump + part * change, bound)
            traction = np.concatenate([state.pressure[..., None], -state.friction], axis=2)
            slope = part * stiffness - pull - _summed(faces, across, traction)
            if abs(slope) <= ENOUGH * start:
                break
            low, high = (part, high) if slope < 0 else (low, part)
        law.steadied(part)
        u, elastic = self.u + part * step, self.elastic - part * stretch
        return self._completed(system, law, u, self.jump + part * change, elastic)


def _summed(faces: Interfaces, one: np.ndarray, two: np.ndarray) -> float:
    """Sum over the area of products (k, q, 3)."""
    return float(np.einsum("kq,kqc,kqc->", faces.area, one, two))
