"""The stiffness of a flat stack as a sum of fixed parts, scaled by its plate thicknesses.

A plate whose thickness is s times that of the reference mesh has its mesh stretched along z. In
reference coordinates a derivative along z is divided by s and a volume multiplied by s, so that
the plate's stiffness is exactly

    K(s) = s A + B + C / s:

A holds products of two derivatives in the plane, C of two along z, B the mixed ones. Elements
curved in the plane stay what they are: the stretch is linear within a plate. Loads, nut annuli and
mirrors lie in the plane and do not change. Springs take factors of their own: those of the rods at
their nuts, and those at their seats, which change with the depth of the stack in another ratio.
A patch of another size moves the mesh and is no such factor; nor is what plates that part do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix
from skfem import MeshTet2

from platestack.fea.hand.support import SEAT, STATIONS, TURNS, Support
from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import loads
from platestack.fea.solid.loads import Held
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Press, Stack, TieRod
from platestack.geometry.shapes import Groove

FloatArray = npt.NDArray[np.float64]

SAMPLES = (0.5, 1.0, 2.0)
"""Stretches from which A, B and C are found: three stiffness matrices, three unknowns."""


MOST_PLATES = 6
"""Each thickness is a parameter; with more, training finds no end."""


class NotAffineError(ValueError):
    """The stack's stiffness is no sum of fixed parts scaled by its thicknesses."""


@dataclass(frozen=True)
class Parameters:
    """Thickness of each plate over that of the reference, and stiffness of springs likewise.

    `springs` has the factor of each spring that a rod is, in the order of
    `Support.springs`, both tilts alike.
    """

    stretch: tuple[float, ...]
    springs: tuple[float, ...] = (1.0,)

    def coefficients(self) -> FloatArray:
        """Factors of the parts: 1, s of each plate, 1/s of each plate, the springs."""
        s = np.array(self.stretch)
        return np.concatenate([[1.0], s, 1 / s, self.springs])


@dataclass(frozen=True)
class AffineProblem:
    """A welded flat stack on its reference mesh.

    Attributes
    ----------
    stack, mesh : the stack and its mesh, plates as thick as the reference.
    space, young, poisson : quadratic displacements; elastic constants of each element.
    held : how the stack is held.
    group : (ties,) which factor of `Parameters.springs` each tie takes.
    load : (3n,) in N, zero on mirrors.
    reading : (3n,) whose product with the displacements is the mid-span deflection (m).
    """

    stack: Stack
    mesh: StackMesh
    space: QuadraticSpace
    young: FloatArray
    poisson: FloatArray
    held: Held
    group: npt.NDArray[np.int64]
    load: FloatArray
    reading: FloatArray

    @classmethod
    def of(cls, press: Press, stack: Stack, mesh: StackMesh) -> AffineProblem:
        """The problem of a stack of the press on a mesh whose plates share nodes.

        Raises
        ------
        NotAffineError
            For a stack on edge, whose annuli would be stretched, one with grooves, whose depth
            would be, one with clamp bolts, which change with it, one with washers or flange as
            bodies, whose own thickness stays, and more than `MOST_PLATES`.
        """
        grooved = any(isinstance(hole, Groove) for plate in stack.plates for hole in plate.holes)
        if stack.layout != "flat" or grooved or stack.bolts or stack.pads:
            raise NotAffineError(
                f"{stack.name}: only flat stacks without grooves and clamp bolts, on which nuts "
                "and cylinder press evenly, have a reduced model"
            )
        if len(stack.plates) > MOST_PLATES:
            raise NotAffineError(
                f"{stack.name}: {len(stack.plates)} plates; only stacks of up to {MOST_PLATES} "
                "have a reduced model"
            )
        if any(rod.seat != "none" and not rod.preload for rod in press.rods):
            raise NotAffineError(
                f"{stack.name}: seats that no preload presses open and close at once; only rods "
                "without seats, or with preload, have a reduced model"
            )
        held = loads.supports(mesh, press.rods)
        group = np.zeros(len(held.ties.stiffness), dtype=np.int64)
        own = [number for end in held.ends for number in _groups(end.support)]
        group[: len(own)] = own
        free = ~held.fixed.ravel()
        reading = loads.deflection_row(mesh, stack, held)[0].toarray().ravel()
        young = np.array([plate.material.young for plate in stack.plates])[mesh.plate]
        poisson = np.array([plate.material.poisson for plate in stack.plates])[mesh.plate]
        space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
        load = loads.patch_load(mesh, stack, press.capacity)
        return cls(stack, mesh, space, young, poisson, held, group, load * free, reading * free)

    @property
    def plates(self) -> int:
        """Number of plates, each with a thickness of its own."""
        return len(self.stack.plates)

    @property
    def reference(self) -> Parameters:
        """The thicknesses of the mesh."""
        return Parameters((1.0,) * self.plates, (1.0,) * self.springs)

    @property
    def springs(self) -> int:
        """Number of groups of springs."""
        return int(self.group.max()) + 1

    @property
    def faces(self) -> FloatArray:
        """Heights (m) of the faces of the plates, from the lowest up."""
        return np.array([plate.base for plate in self.stack.plates] + [self.stack.plates[-1].top])

    def hats(self) -> FloatArray:
        """Hat function of each face, (plates + 1, n) at the nodes: 1 there, 0 at the next."""
        ends, z = self.faces, self.mesh.nodes[:, 2]
        return np.array([np.interp(z, ends, row) for row in np.eye(len(ends))])

    def nodes(self, stretch: Sequence[float]) -> FloatArray:
        """Coordinates (n, 3) of the nodes with the plates stretched, from the lowest face up."""
        ends = self.faces
        moved = ends[0] + np.concatenate([[0.0], np.cumsum(np.diff(ends) * np.array(stretch))])
        nodes = self.mesh.nodes.copy()
        nodes[:, 2] = np.interp(nodes[:, 2], ends, moved)
        return nodes

    def system(self, at: Parameters) -> tuple[System, QuadraticSpace]:
        """The full system for other thicknesses, assembled on the stretched mesh."""
        space = self.space.moved(self.nodes(at.stretch))
        factors = np.array(at.springs)[self.group]
        ties = Ties(self.held.ties.rows, factors * self.held.ties.stiffness)
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
        """Product of each part, the groups of springs last, with a vector: (parts, 3n)."""
        products = [part @ vector for part in self.parts]
        springs = self.pulls(vector) @ self.held.ties.rows
        return np.array([*products, *springs]) * ~self.held.fixed.ravel()

    def pulls(self, vector: FloatArray) -> FloatArray:
        """Force of each tie under displacements (3n,), by group: (groups, ties) in N."""
        ties = self.held.ties
        own = self.group == np.arange(self.springs)[:, None]
        return np.asarray(own * (ties.stiffness * (ties.rows @ vector)))

    def seats(self, basis: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Force on the rims of seats: at rest (r,), and by group and vector (g, r, N), in N.

        What a whole seat would bear if it were pressed all over as at a place of its rim, at
        places all round it. Where that is negative, the rim opens. The mean over a rim is the
        force on the seat.
        """
        ties, ends = self.held.ties, self.held.ends if self.springs > 1 else ()
        pull = ties.stiffness[:, None] * (ties.rows @ basis.T)
        rest, relieved, first = [], [], 0
        for end in ends:
            support, springs = end.support, end.springs()
            felt = np.zeros((TURNS, self.springs, len(basis)))
            for number, (group, (row, _)) in enumerate(
                zip(_groups(support), springs, strict=True), first
            ):
                felt[:, group] += np.multiply.outer(_rim(support) @ row, pull[number])
            first += len(springs)
            rest += TURNS * [end.share * support.preload]
            relieved.append(felt)
        whole = np.array(relieved).reshape(-1, self.springs, len(basis))
        return np.array(rest), whole.transpose(1, 0, 2)


def _groups(support: Support) -> list[int]:
    """Which factor of `Parameters.springs` each spring of a rod takes: both tilts take the last."""
    count = len(support.springs())
    return [min(number, count - 2) if count > 1 else 0 for number in range(count)]


def _rim(support: Support) -> FloatArray:
    """Force at places round a seat's rim (12, 4), as if on all of it, per force on the stations.

    Of the moment on the stations the ring bears what it adds to their stiffness against tilts.
    """
    ring = support.ring > 0
    against = support.half * support.rows[:, 1] ** 2
    arms = -support.rows[ring][-TURNS:, 1:3]
    spread = support.ring[ring] @ support.rows[ring, 1] ** 2
    found = np.zeros((TURNS, STATIONS))
    found[:, SEAT] = -1.0
    found[:, 1:3] = -arms / spread * against[ring].sum() / against.sum()
    return found


def factors(rod: TieRod, depth: float, old: TieRod, old_depth: float) -> tuple[float, ...]:
    """Factors of the springs of a rod over those of an old one; depths of their stacks in m."""
    if not rod.preload or rod.seat == "none":
        return (1.0,)  # in balance these springs only lift the stack, however stiff they are
    pairs = (Support.of(one, deep).springs() for one, deep in ((rod, depth), (old, old_depth)))
    return tuple(new[1] / before[1] for new, before in zip(*pairs, strict=True))[:-1]


def _thinned(data: FloatArray, like: bsr_matrix) -> bsr_matrix:
    """Only the blocks that are not zero."""
    kept = np.flatnonzero(data.any(axis=(1, 2)))
    counts = np.searchsorted(kept, like.indptr)
    return bsr_matrix((data[kept], like.indices[kept], counts), shape=like.shape)
