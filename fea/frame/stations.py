"""A stack as seen from its stations: nuts, seats, loaded patch; everything else condensed.

The stack is solved on its whole mesh with the rods as springs, under a unit force at each station
in turn. The springs are then taken out again by algebra, which leaves the stiffness of the free
stack between its stations, rigid motions included, exactly as the mesh has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix, vstack
from skfem import MeshTet2

from fea import contact, interfaces, loads, solvers
from fea.elasticity import QuadraticSpace
from fea.stack import Report, mesh_stack
from fea.system import System
from geometry.errors import UsageError
from geometry.parts import Press, Stack
from geometry.schema import Case


@dataclass(frozen=True)
class Stations:
    """Stiffness (s, s) of a free stack between its stations, and which is which.

    In the order: nut of each rod, seat of each rod that has one (both in m upwards), then the
    patch: its mean displacement (m) and its tilts ∂w/∂x, ∂w/∂y.
    """

    stiffness: np.ndarray
    flexibility: np.ndarray
    """(s, s) with the rods as springs, before they are taken out."""
    seats: int


def condense(press: Press, stack: Stack, case: Case, report: Report) -> Stations:
    """Solve a stack for its stations.

    Loose plates keep the contact state that they have at capacity: the stations' stiffness is the
    slope of the forces there.

    Raises
    ------
    MeshError, SolveError
        If the stack cannot be meshed or solved.
    """
    report(f"{stack.name}: mesh")
    wish = case.mesh.model_copy(update={"symmetry": "whole"})
    mesh = mesh_stack(press, stack, case.model_copy(update={"mesh": wish}))
    mesh, pairs = interfaces.opened(stack, mesh)
    report(f"{stack.name}: stations")
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    young = np.array([plate.material.young for plate in stack.plates])[mesh.plate]
    poisson = np.array([plate.material.poisson for plate in stack.plates])[mesh.plate]
    held = loads.supports(mesh, tuple(replace(rod, seat="none") for rod in press.rods))
    system = System(space.stiffness(young, poisson), held.fixed, held.ties)
    if pairs:
        faces = interfaces.faces_of(stack, mesh, pairs)
        load = loads.patch_load(mesh, stack, press.capacity)
        found = contact.solve(system, space, faces, load)
        solver: solvers.Solver = found.solver.retarget(found.tangent)
    else:
        solver = solvers.solver(system, space)
    count = len(press.rods)
    rows = [held.ties.rows[:count]]
    seats = [rod for rod in press.rods if rod.seat != "none"]
    for rod in seats:
        weights = loads.face_weights(mesh.nodes, mesh.faces[f"seat of {rod.name}"])
        rows.append(_row(weights / weights.sum()))
    weights = loads.face_weights(mesh.nodes, mesh.faces[stack.patch_name])
    rows.append(_row(weights / weights.sum()))
    for axis in (0, 1):
        off = mesh.nodes[:, axis] - weights @ mesh.nodes[:, axis] / weights.sum()
        rows.append(_row(weights * off / (weights @ off**2)))
    read = csr_matrix(vstack(rows))
    answer = solver.solve(np.asarray(read.T.todense()))
    flexibility = read @ answer.displacement
    flexibility = (flexibility + flexibility.T) / 2
    stiffness = np.linalg.inv(flexibility)
    stiffness[range(count), range(count)] -= held.ties.stiffness[:count]
    return Stations(stiffness, flexibility, len(seats))


def _row(weights: np.ndarray) -> csr_matrix:
    """Row that reads the weighted vertical displacement."""
    full = np.zeros(3 * len(weights))
    full[2::3] = weights
    return csr_matrix(full)


def tightenable(press: Press) -> None:
    """Refuse a press whose rods have nothing to be tightened against.

    Raises
    ------
    UsageError
        If the rods have no seats.
    """
    seat = press.rods[0].seat
    if seat == "none":
        raise UsageError(
            'rods.seat: given "none"; the rods have nothing to be tightened against between the '
            'stacks and cannot hold a preload; allowed here: "sleeve"'
        )
    if seat != "sleeve":
        raise UsageError(
            f'rods.seat: given "{seat}"; each rod is tightened against its own seat and hardly '
            'changes the others, so there are no passes to plan; allowed here: "sleeve"'
        )
