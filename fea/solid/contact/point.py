"""Where Newton's method stands, and how far it goes along a step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from platestack.fea.numerics.krylov import inner, length
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import at_points
from platestack.fea.solid.contact.law import Law, State

ENOUGH, FARTHEST = 0.5, 8.0
"""Unbalance along a step, as a part of that at its start, to be content with; longest stretch."""


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

        With the bound of friction held they derive from a convex potential.
        """
        faces = law.faces
        stretch, change = system.apply(step), faces.jump(step)
        bound = self.state.bound
        pull, stiffness = inner(step, self.elastic), inner(step, stretch)
        weighted = faces.area[:, :, None] * at_points(change)

        def slope(part: float) -> float:
            traction = law.traction(law.state(self.jump + part * change, bound))
            return part * stiffness - pull - float((weighted * traction).sum())

        part = _balanced(slope)
        law.steadied(part)
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
