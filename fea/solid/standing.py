"""How the stations of rods with seats stand at capacity, and how the stack there gives in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platestack.fea.solid.loads import RodEnd
from platestack.fea.solid.pressing import PressedState
from platestack.geometry.symmetry import Symmetry

ACCURATE = 1e-5
"""Of the solutions for stations."""


@dataclass(frozen=True)
class Standing:
    """How the rods' stations of a stack stand at capacity, and how they give in.

    Attributes
    ----------
    ends : rods at work. at : (4r,) heights and tilts in m, outwards.
    read : (4r,) bool, which stations the model has.
    flexibility : (k, k) of these with the rods as springs at work, of the model's part.
    """

    ends: tuple[RodEnd, ...]
    at: np.ndarray
    read: np.ndarray
    flexibility: np.ndarray
    symmetry: Symmetry

    @classmethod
    def of(cls, state: PressedState, symmetry: Symmetry) -> Standing | None:
        """Read it off a state; None of rods without seats."""
        held = state.held
        if not any(end.seated for end in held.ends):
            return None
        at = held.stations @ state.displacement
        read = abs(held.stations).max(axis=1).toarray().ravel() > 0
        rows = held.stations[np.flatnonzero(read)]
        given = state.solver.solve(np.asarray(rows.T.todense()), tol=ACCURATE).displacement
        found = rows @ given
        return cls(held.ends, at, read, (found + found.T) / 2, symmetry)
