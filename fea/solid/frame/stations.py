"""A stack as seen from its stations: nuts, seats, loaded patch; everything else condensed.

The stack is solved on its whole mesh with the rods as springs, under a unit force at each station
in turn. The springs are then taken out again by algebra, which leaves the stiffness of the free
stack between its stations, rigid motions included, exactly as the mesh has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.sparse import bsr_matrix, csr_matrix, vstack
from skfem import MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import clamping, contact, interfaces, loads
from platestack.fea.solid.contact import Interfaces
from platestack.fea.solid.pressing import Pressing
from platestack.fea.solid.stack import Report, mesh_stack
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case

IN_PLANE = 3
"""Restraints of sliding and turning, which vertical forces do not load."""

FIRM = 20.0
"""By what the interfaces' penalty is made stiffer: nothing penetrates once contact is found, and
the penalty alone would let a closed interface yield like half of its thinner plate."""


@dataclass(frozen=True)
class Stations:
    """Stiffness (s, s) of a free stack between its stations.

    In the order: the nuts' heights (m upwards); the tilts ∂w/∂x and ∂w/∂y at each rod, of its seat
    or, without one, of its nut; the seats' heights, if there are seats; the patch: its mean height
    and its two tilts.
    """

    stiffness: np.ndarray
    flexibility: np.ndarray
    """As solved for, with the rods as springs: symmetric only as far as the solver is exact."""
    count: int
    """Rods."""
    seated: bool
    bias: np.ndarray
    """(s,) in N: forces on the stations are stiffness times displacements, plus these, which the
    closing and opening of gaps leaves."""

    def through(self, displacement: np.ndarray, forces: np.ndarray) -> Stations:
        """Return the same slope, through a state: displacements (s,) in m under forces in N."""
        return replace(self, bias=forces - self.stiffness @ displacement)

    def tilt(self, rod: int) -> int:
        """Number of the first of two tilts at a rod."""
        return self.count + 2 * rod

    def seat(self, rod: int) -> int:
        """Number of a seat's height."""
        return 3 * self.count + rod

    @property
    def patch(self) -> int:
        """Number of the first of the patch's three."""
        return (4 if self.seated else 3) * self.count


def condense(
    press: Press,
    stack: Stack,
    case: Case,
    report: Report,
    at: Literal["preload", "capacity"] = "capacity",
) -> Stations:
    """Solve a stack for its stations.

    Plates that may part keep the state that they have at preload, or at capacity: the stations'
    stiffness is the slope of the forces there. Forces at capacity are those there, too.

    Raises
    ------
    MeshError, SolveError
        If the stack cannot be meshed or solved.
    """
    model = _Model(press, stack, case, report)
    if model.pairs:
        return model.tightened() if at == "preload" else model.loaded()[1]
    return model.stations(None)


def condense_both(
    press: Press, stack: Stack, case: Case, report: Report
) -> tuple[Stations, Stations]:
    """Solve a stack for its stations at preload and at capacity, with the forces of both.

    Errors as of `condense`.
    """
    model = _Model(press, stack, case, report)
    if model.pairs:
        return model.loaded()
    found = model.stations(None)
    return found, found


class _Model:
    """A stack on its whole mesh, and the rows that read its stations."""

    def __init__(self, press: Press, stack: Stack, case: Case, report: Report):
        report(f"{stack.name}: mesh")
        self._press, self._stack = press, stack
        wish = case.mesh.model_copy(update={"symmetry": "whole"})
        self._whole = mesh_stack(press, stack, case.model_copy(update={"mesh": wish}))
        self._mesh, self.pairs = interfaces.opened(stack, self._whole)
        report(f"{stack.name}: stations")
        self._faces = interfaces.faces_of(stack, self._mesh, self.pairs) if self.pairs else None
        self._space, self._matrix = _elastic(press, stack, self._mesh, self._faces)
        self._held = loads.supports(
            self._mesh, tuple(replace(rod, seat="none") for rod in press.rods)
        )
        nuts = self._held.ties.rows[: len(press.rods)]
        self._read = csr_matrix(vstack(_rows(press, stack, self._mesh, nuts)))

    def loaded(self) -> tuple[Stations, Stations]:
        """Stations of the stack tightened and pressed, each with the forces of its state."""
        press, stack = self._press, self._stack
        done = Pressing(press, stack, self._whole, lambda step: None)
        pressed = self.stations(done.pressed.solver.system.extra)
        bears = {rod.rod: rod for rod in done.pressed.rods}
        borne = [bears[rod.name] for rod in press.rods]
        at_capacity = pressed.through(
            self._read @ done.pressed.displacement,
            self._forces([rod.nut for rod in borne], [rod.seat or 0.0 for rod in borne], 1.0),
        )
        if done.tightened is None:
            return pressed, at_capacity
        preload = [rod.preload for rod in press.rods]
        rest = self.stations(done.tightened.solver.system.extra)
        return rest.through(
            self._read @ done.rest, self._forces(preload, preload, 0.0)
        ), at_capacity

    def tightened(self) -> Stations:
        """Stations of the stack under preload alone: the slope of its forces there."""
        if self._faces is None:
            raise ValueError("no contact in this stack")
        held = loads.supports(self._mesh, self._press.rods)
        system = System(self._matrix, held.fixed, held.rest)
        squeeze = held.preload + clamping.clamps(self._mesh, self._stack).load
        return self.stations(contact.solve(system, self._space, self._faces, squeeze).tangent.extra)

    def stations(self, closed: bsr_matrix | None) -> Stations:
        """Stations with what contact adds to the stiffness, if there are interfaces."""
        press, held, read = self._press, self._held, self._read
        count, seated = len(press.rods), press.rods[0].seat != "none"
        clamps = clamping.clamps(self._mesh, self._stack)
        ties, springs = held.ties, held.ties.stiffness[:count]
        if ties.rows.shape[0] > count + IN_PLANE:
            # Rods in one line leave tipping free: springs at the tilts hold it, and go out again.
            tilting = np.repeat([rod.stiffness * rod.diameter**2 for rod in press.rods], 2)
            springs = np.concatenate([springs, tilting])
            kept = vstack([ties.rows[: count + IN_PLANE], read[count : 3 * count]])
            stiff = np.concatenate([ties.stiffness[: count + IN_PLANE], tilting])
            ties = Ties(csr_matrix(kept), stiff)
        extra = None if closed is None else FIRM * closed
        system = System(self._matrix, held.fixed, clamps.added_to(ties), extra)
        made = solvers.solver if extra is None else solvers.multigrid
        answer = made(system, self._space).solve(np.asarray(read.T.todense()))
        flexibility = np.asarray(read @ answer.displacement)
        stiffness = np.linalg.inv((flexibility + flexibility.T) / 2)
        stiffness[range(len(springs)), range(len(springs))] -= springs
        return Stations(stiffness, flexibility, count, seated, np.zeros(len(stiffness)))

    def _forces(self, nuts: list[float], seats: list[float], part: float) -> np.ndarray:
        """Forces (s,) on the stations, upwards: nuts and seats in N, a part of the capacity."""
        stack, sign = self._stack, self._stack.direction
        force = part * sign * self._press.capacity
        tilts = np.zeros(2 * len(nuts))
        seated = sign * np.array(seats) if self._press.rods[0].seat != "none" else np.zeros(0)
        patch = force * np.array([1.0, *stack.off])
        return np.concatenate([-sign * np.array(nuts), tilts, seated, patch])


def _elastic(
    press: Press, stack: Stack, mesh: StackMesh, faces: Interfaces | None
) -> tuple[QuadraticSpace, bsr_matrix]:
    """Space and stiffness of the plates and, where they may part, of their connectors."""
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    young = np.array([body.material.young for body in stack.bodies])[mesh.plate]
    poisson = np.array([body.material.poisson for body in stack.bodies])[mesh.plate]
    matrix = space.stiffness(young, poisson)
    joining = None if faces is None else interfaces.joining(press, stack, mesh, faces)
    return space, matrix if joining is None else bsr_matrix(matrix + joining)


def _rows(press: Press, stack: Stack, mesh: StackMesh, nuts: csr_matrix) -> list[csr_matrix]:
    """Rows of all stations, in their order."""
    tilts, seats = [], []
    for rod in press.rods:
        seat = rod.seat != "none"
        height, *tilted = _plane(mesh, f"{'seat' if seat else 'nut'} of {rod.name}")
        tilts += tilted
        seats += [height] if seat else []
    return [nuts, *tilts, *seats, *_plane(mesh, stack.patch_name)]


def _plane(mesh: StackMesh, name: str) -> list[csr_matrix]:
    """Rows of the mean height of some faces and of their tilts ∂w/∂x and ∂w/∂y, by area.

    The faces are taken as symmetric at x and y through their centre, as patch and annuli are.
    """
    weights = loads.face_weights(mesh.nodes, mesh.pressed(name))
    rows = [_row(weights / weights.sum())]
    for axis in (0, 1):
        off = mesh.nodes[:, axis] - weights @ mesh.nodes[:, axis] / weights.sum()
        rows.append(_row(weights * off / (weights @ off**2)))
    return rows


def _row(weights: np.ndarray) -> csr_matrix:
    """Row that reads the weighted vertical displacement."""
    full = np.zeros(3 * len(weights))
    full[2::3] = weights
    return csr_matrix(full)
