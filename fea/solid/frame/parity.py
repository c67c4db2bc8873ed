"""Even and odd motions of a mirrored stack, each computed on the part of it that is meshed.

Any motion of a stack with mirror planes is a sum of motions that are even or odd at each plane. Its
stiffness couples none of them, as long as its state of contact is mirrored too. So the answer to a
force anywhere comes from the meshed half or quarter, with other components held at the mirrors for
each parity: a quarter of the unknowns in place of the whole stack's.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from platestack.fea.solid.readings import ON_PLANE
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import ClampBolt, Point
from platestack.geometry.symmetry import Symmetry


@dataclass(frozen=True)
class Parity:
    """Axes (0: x, 1: y) whose mirror is in the model, and those of them where motions are odd.

    Even means w(-x) = w(x) and u(-x) = -u(x), odd the opposite sign of all components.
    """

    mirrored: frozenset[int]
    odd: frozenset[int]

    @property
    def even(self) -> bool:
        """Whether motions are even at every mirror."""
        return not self.odd

    def fixed(self, mesh: StackMesh) -> np.ndarray:
        """Components (n, 3) that are zero on the mirror planes."""
        fixed = np.zeros((len(mesh.nodes), 3), dtype=bool)
        for axis in self.mirrored:
            on_plane = np.unique(mesh.faces[f"symmetry {'xy'[axis]}"])
            for component in {0, 1, 2} - {axis} if axis in self.odd else {axis}:
                fixed[on_plane, component] = True
        return fixed

    def sign(self, at: Point, tilt: int | None = None) -> int:
        """Height at a place of the whole stack over that at its image in the model: 1, -1 or 0.

        Or, where `tilt` is an axis, its slope ∂w/∂x or ∂w/∂y. Zero where the parity allows none.
        """
        sign = 1
        for axis in self.mirrored:
            across = (-1 if axis in self.odd else 1) * (-1 if axis == tilt else 1)
            if abs(at[axis]) < ON_PLANE:
                sign *= (across + 1) // 2
            elif at[axis] < 0:
                sign *= across
        return sign

    def holds(self, motion: Collection[int]) -> bool:
        """Whether a motion that is odd at some axes, and even at others, has this parity."""
        return self.odd == self.mirrored & frozenset(motion)

    def stretches(self, bolt: ClampBolt) -> bool:
        """Whether a clamp bolt may become longer: not one that an odd mirror cuts."""
        for axis in self.odd:
            along = bolt.normal == "xyz"[axis]
            if bolt.low < 0 < bolt.high if along else abs(bolt.at[axis]) < ON_PLANE:
                return False
        return True


def parities(symmetry: Symmetry) -> list[Parity]:
    """All parities of a model with mirror planes: 1, 2 or 4, the even one first."""
    mirrored = sorted("xy".index(plane) for plane in symmetry)
    return [
        Parity(frozenset(mirrored), frozenset(odd))
        for count in range(len(mirrored) + 1)
        for odd in itertools.combinations(mirrored, count)
    ]
