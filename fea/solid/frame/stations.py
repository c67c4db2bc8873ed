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
    stiffness is the slope of the forces there.

    Raises
    ------
    MeshError, SolveError
        If the stack cannot be meshed or solved.
    """
    report(f"{stack.name}: mesh")
    wish = case.mesh.model_copy(update={"symmetry": "whole"})
    whole = mesh_stack(press, stack, case.model_copy(update={"mesh": wish}))
    mesh, pairs = interfaces.opened(stack, whole)
    report(f"{stack.name}: stations")
    faces = interfaces.faces_of(stack, mesh, pairs) if pairs else None
    space, matrix = _elastic(press, stack, mesh, faces)
    held = loads.supports(mesh, tuple(replace(rod, seat="none") for rod in press.rods))
    count, seated = len(press.rods), press.rods[0].seat != "none"
    read = csr_matrix(vstack(_rows(press, stack, mesh, held.ties.rows[:count])))
    clamps = clamping.clamps(mesh, stack)
    ties, springs = held.ties, held.ties.stiffness[:count]
    if ties.rows.shape[0] > count + IN_PLANE:
        # Rods in one line leave tipping free: springs at the tilts hold it, and go out again too.
        tilting = np.repeat([rod.stiffness * rod.diameter**2 for rod in press.rods], 2)
        springs = np.concatenate([springs, tilting])
        kept = vstack([ties.rows[: count + IN_PLANE], read[count : 3 * count]])
        ties = Ties(csr_matrix(kept), np.concatenate([ties.stiffness[: count + IN_PLANE], tilting]))
    closed = FIRM * _closed(press, stack, whole, at) if pairs else None
    system = System(matrix, held.fixed, clamps.added_to(ties), closed)
    solver = solvers.solver(system, space) if closed is None else solvers.multigrid(system, space)
    flexibility = np.asarray(read @ solver.solve(np.asarray(read.T.todense())).displacement)
    stiffness = np.linalg.inv((flexibility + flexibility.T) / 2)
    stiffness[range(len(springs)), range(len(springs))] -= springs
    return Stations(stiffness, flexibility, count, seated)


def _closed(
    press: Press, stack: Stack, whole: StackMesh, at: Literal["preload", "capacity"]
) -> bsr_matrix:
    """Stiffness of the interfaces as they are at preload, or at capacity."""
    if at == "capacity":
        return _extra(Pressing(press, stack, whole, lambda step: None).pressed.solver.system)
    mesh, pairs = interfaces.opened(stack, whole)
    faces = interfaces.faces_of(stack, mesh, pairs)
    space, matrix = _elastic(press, stack, mesh, faces)
    held = loads.supports(mesh, press.rods)
    system = System(matrix, held.fixed, held.rest)
    squeeze = held.preload + clamping.clamps(mesh, stack).load
    return _extra(contact.solve(system, space, faces, squeeze).tangent)


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


def _extra(system: System) -> bsr_matrix:
    """What contact adds to the stiffness of a stack."""
    if system.extra is None:
        raise ValueError("no contact in this system")
    return system.extra


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

    The faces are taken as symmetric about x and y through their centre, as patch and annuli are.
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
