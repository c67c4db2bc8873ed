"""The stiffness of a flat stack as a sum of fixed parts, scaled by its plate thicknesses.

A plate whose thickness is s times that of the reference mesh has its mesh stretched along z. In
reference coordinates a derivative along z is divided by s and a volume multiplied by s, so that
the plate's stiffness is exactly

    K(s) = s A + B + C / s:

A holds products of two derivatives in the plane, C of two along z, B the mixed ones. Elements
curved in the plane stay what they are: the stretch is linear within a plate. Loads, nut annuli and
mirrors lie in the plane and do not change; the rods' springs take the factor of the rods'
stiffness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix
from skfem import MeshTet2

from fea import loads, solvers
from fea.elasticity import QuadraticSpace
from fea.loads import Held
from fea.system import System, Ties
from geometry.mesh import StackMesh
from geometry.parts import Groove, Press, Stack

FloatArray = npt.NDArray[np.float64]

SAMPLES = (0.5, 1.0, 2.0)
"""Stretches from which A, B and C are found: three stiffness matrices, three unknowns."""


class NotAffineError(ValueError):
    """The stack's stiffness is no sum of fixed parts scaled by its thicknesses."""


@dataclass(frozen=True)
class Parameters:
    """Thickness of each plate over that of the reference, and the rods' stiffness likewise."""

    stretch: tuple[float, ...]
    rods: float = 1.0

    def coefficients(self) -> FloatArray:
        """Factors of the parts: 1, s of each plate, 1/s of each plate, the rods."""
        s = np.array(self.stretch)
        return np.concatenate([[1.0], s, 1 / s, [self.rods]])


@dataclass(frozen=True)
class Problem:
    """A welded flat stack on its reference mesh.

    Attributes
    ----------
    stack, mesh : the stack and its mesh, plates as thick as the reference.
    space, young, poisson : quadratic displacements; elastic constants of each element.
    held : how the stack is held.
    load : (3n,) in N, zero on mirrors.
    reading : (3n,) whose product with the displacements is the mid-span deflection (m).
    """

    stack: Stack
    mesh: StackMesh
    space: QuadraticSpace
    young: FloatArray
    poisson: FloatArray
    held: Held
    load: FloatArray
    reading: FloatArray

    @classmethod
    def of(cls, press: Press, stack: Stack, mesh: StackMesh) -> Problem:
        """The problem of a stack of the press on a mesh whose plates share nodes.

        Raises
        ------
        NotAffineError
            For a stack on edge, or one with grooves, whose depth would be stretched.
        """
        grooved = any(isinstance(hole, Groove) for plate in stack.plates for hole in plate.holes)
        if stack.layout != "flat" or grooved:
            raise NotAffineError(
                f"{stack.name}: only flat stacks without grooves have a reduced model"
            )
        held = loads.supports(mesh, press.rods)
        free = ~held.fixed.ravel()
        reading = loads.deflection_row(mesh, stack, held)[0].toarray().ravel()
        young = np.array([plate.material.young for plate in stack.plates])[mesh.plate]
        poisson = np.array([plate.material.poisson for plate in stack.plates])[mesh.plate]
        space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
        load = loads.patch_load(mesh, stack, press.capacity)
        return cls(stack, mesh, space, young, poisson, held, load * free, reading * free)

    @property
    def plates(self) -> int:
        """Number of plates, each with a thickness of its own."""
        return len(self.stack.plates)

    @property
    def reference(self) -> Parameters:
        """The thicknesses of the mesh."""
        return Parameters((1.0,) * self.plates)

    def nodes(self, stretch: Sequence[float]) -> FloatArray:
        """Coordinates (n, 3) of the nodes with the plates stretched, from the lowest face up."""
        ends = np.array([plate.base for plate in self.stack.plates] + [self.stack.plates[-1].top])
        moved = ends[0] + np.concatenate([[0.0], np.cumsum(np.diff(ends) * np.array(stretch))])
        nodes = self.mesh.nodes.copy()
        nodes[:, 2] = np.interp(nodes[:, 2], ends, moved)
        return nodes

    def system(self, at: Parameters) -> tuple[System, QuadraticSpace]:
        """The full system for other thicknesses, assembled on the stretched mesh."""
        space = self.space.moved(self.nodes(at.stretch))
        ties = Ties(self.held.ties.rows, at.rods * self.held.ties.stiffness)
        return System(space.stiffness(self.young, self.poisson), self.held.fixed, ties), space

    def full(self, at: Parameters, loading: FloatArray, tol: float = 1e-9) -> FloatArray:
        """Displacements (3n,) or (3n, k) under one or several loads, by a full solve."""
        system, space = self.system(at)
        return solvers.solver(system, space).solve(loading, tol=tol).displacement

    @cached_property
    def parts(self) -> tuple[bsr_matrix, ...]:
        """B of all plates together, A of each plate, C of each plate."""
        inverse = np.linalg.inv([[s, 1.0, 1 / s] for s in SAMPLES])
        spaces = [self.space.moved(self.nodes((s,) * self.plates)) for s in SAMPLES]
        mixed: FloatArray | None = None
        plane, across = [], []
        for index in range(self.plates):
            young = np.where(self.mesh.plate == index, self.young, 0.0)
            data = [space.stiffness(young, self.poisson) for space in spaces]
            a, b, c = (sum(f * k.data for f, k in zip(row, data, strict=True)) for row in inverse)
            mixed = b if mixed is None else mixed + b
            plane.append(_thinned(a, data[0]))
            across.append(_thinned(c, data[0]))
        assert mixed is not None
        return _thinned(mixed, data[0]), *plane, *across

    def apply(self, vector: FloatArray) -> FloatArray:
        """Product of each part, the rods' springs last, with a vector: (parts, 3n)."""
        ties = self.held.ties
        springs = ties.rows.T @ (ties.stiffness * (ties.rows @ vector))
        products = [part @ vector for part in self.parts]
        return np.array([*products, springs]) * ~self.held.fixed.ravel()


def _thinned(data: FloatArray, like: bsr_matrix) -> bsr_matrix:
    """Only the blocks that are not zero."""
    kept = np.flatnonzero(data.any(axis=(1, 2)))
    counts = np.searchsorted(kept, like.indptr)
    return bsr_matrix((data[kept], like.indices[kept], counts), shape=like.shape)
