"""The one entry: a case in, a solution out. It knows which steps a case needs, and nothing else."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from skfem import MeshTet2

from fea import loads, places, recover
from fea.elasticity import QuadraticSpace
from fea.hand.beam import BeamCheck, beam_check
from fea.solvers import solve
from fea.system import System
from geometry import layout, mesher
from geometry.errors import PlatestackError
from geometry.mesh import Sizes, StackMesh, choose_symmetry, default_sizes
from geometry.parts import Plate, Press, Stack, TieRod
from geometry.schema import Case

BALANCE = 1e-6
"""Largest allowed difference between rod forces and applied force, as a part of the latter."""

Report = Callable[[str], None]
"""Called with the name of each step as it begins."""


class UnbalancedError(PlatestackError):
    """Rod forces do not add up to the applied force: the solution is not to be trusted."""


@dataclass(frozen=True)
class Peak:
    """The largest von Mises stress of a plate and where it is."""

    plate: Plate
    von_mises: float
    at: tuple[float, float, float]
    place: str
    allowed: float
    """Yield strength over the safety factor (Pa)."""

    @property
    def utilisation(self) -> float:
        """Peak stress over allowed stress."""
        return self.von_mises / self.allowed


@dataclass(frozen=True)
class Fields:
    """Nodal results of a stack, on plate nodes (p of them)."""

    nodes: recover.PlateNodes
    displacement: np.ndarray
    """(p, 3) in m."""
    stress: np.ndarray
    """(p, 6) in Pa, order xx yy zz xy yz xz."""
    von_mises: np.ndarray
    principal: np.ndarray


@dataclass(frozen=True)
class StackSolution:
    """All that is known of a loaded stack."""

    stack: Stack
    mesh: StackMesh
    fields: Fields
    peaks: tuple[Peak, ...]
    """One for each plate."""
    deflection: float
    deflection_place: str
    flatness_patch: float
    flatness_face: float
    strain_energy: float
    rod_forces: dict[str, float]
    """Working force of each modelled rod, N."""
    nut_mean: float
    """Mean vertical displacement of the nut annuli (m)."""
    balance: float
    beam: BeamCheck
    iterations: int
    residual: float
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def peak(self) -> Peak:
        """The most stressed plate's peak."""
        return max(self.peaks, key=lambda peak: peak.von_mises)

    @property
    def worst(self) -> Peak:
        """The peak with the highest utilisation."""
        return max(self.peaks, key=lambda peak: peak.utilisation)


@dataclass(frozen=True)
class Solution:
    """All that is known of a press at capacity."""

    case: Case
    press: Press
    stacks: dict[str, StackSolution]
    seconds: float

    def rod_force(self, rod: TieRod) -> float:
        """Working force of a rod (N): the larger of what crosshead and bed say."""
        return max(
            _mirrored_force(solution, rod, self.press.rods) for solution in self.stacks.values()
        )


def analyse(case: Case, report: Report = lambda step: None) -> Solution:
    """Mesh and solve both stacks of a press at capacity.

    Raises
    ------
    PlatestackError
        If a stack cannot be meshed, solved or balanced.
    """
    start = time.perf_counter()
    press = layout.build(case)
    stacks = {stack.name: solve_stack(press, stack, case, report) for stack in press.stacks}
    return Solution(case, press, stacks, time.perf_counter() - start)


def mesh_stack(press: Press, stack: Stack, case: Case) -> StackMesh:
    """Mesh a stack as the case wishes."""
    symmetry = choose_symmetry(stack, press.rods, case.mesh.symmetry)
    sizes: Sizes = default_sizes(stack, press.rods, case.mesh.size)
    return mesher.make(stack, press.rods, symmetry, sizes)


def solve_stack(press: Press, stack: Stack, case: Case, report: Report) -> StackSolution:
    """Mesh a stack, solve it under the pressing force, and read the results."""
    clock = _Clock(report, stack.name)
    clock.begin("mesh")
    mesh = mesh_stack(press, stack, case)
    clock.begin("assemble")
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    young, poisson = _materials(stack, mesh)
    held = loads.supports(mesh, press.rods)
    system = System(space.stiffness(young, poisson), held.fixed, held.ties)
    load = loads.patch_load(mesh, stack, press.capacity)
    clock.begin("solve")
    answer = solve(system, space, load)
    clock.begin("stress")
    u = answer.displacement
    fields = _fields(mesh, space, u, young, poisson)
    row, place = loads.deflection_row(mesh, stack, held)
    forces = held.ties.stiffness[: len(held.rods)] * (held.ties.rows[: len(held.rods)] @ u)
    balance = _balance(stack, forces * held.copies / held.shares, press.capacity)
    clock.begin("read")
    uz = u[2::3]
    patch = np.unique(mesh.faces[stack.patch_name])
    face = np.flatnonzero(np.abs(mesh.nodes[:, 2] - stack.load_face) < 1e-9)
    solution = StackSolution(
        stack,
        mesh,
        fields,
        tuple(_peaks(press, stack, mesh, fields)),
        float((row @ u)[0]),
        place,
        float(np.ptp(uz[patch])),
        float(np.ptp(uz[face])),
        float(u @ load) / 2 * mesh.share,
        dict(zip(held.rods, np.abs(forces / held.shares), strict=True)),
        float((loads.mean_of_nuts(held) @ u)[0]),
        balance,
        beam_check(stack, press.rods, press.capacity),
        answer.iterations,
        answer.residual,
        clock.done(),
    )
    return solution


class _Clock:
    """Times the steps of one stack and tells of each."""

    def __init__(self, report: Report, name: str):
        self._report, self._name = report, name
        self._seconds: dict[str, float] = {}
        self._step, self._since = "", 0.0

    def begin(self, step: str) -> None:
        self.done()
        self._step, self._since = step, time.perf_counter()
        self._report(f"{self._name}: {step}")

    def done(self) -> dict[str, float]:
        if self._step:
            self._seconds[self._step] = time.perf_counter() - self._since
            self._step = ""
        return self._seconds


def _materials(stack: Stack, mesh: StackMesh) -> tuple[np.ndarray, np.ndarray]:
    """Young's modulus (Pa) and Poisson's ratio of each element."""
    young = np.array([plate.material.young for plate in stack.plates])
    poisson = np.array([plate.material.poisson for plate in stack.plates])
    return young[mesh.plate], poisson[mesh.plate]


def _fields(
    mesh: StackMesh, space: Any, u: np.ndarray, young: np.ndarray, poisson: np.ndarray
) -> Fields:
    nodes = recover.PlateNodes.of(mesh)
    gradients = space.displacement_gradients(u, recover.NODES_OF_REFERENCE)
    local = recover.element_stress(gradients, young, poisson)
    stress = recover.averaged(nodes, local, recover.volumes(mesh))
    return Fields(
        nodes,
        u.reshape(-1, 3)[nodes.node],
        stress,
        recover.von_mises(stress),
        recover.principal(stress),
    )


def _balance(stack: Stack, forces: np.ndarray, capacity: float) -> float:
    """Relative difference between all rod forces and the applied force.

    Raises
    ------
    UnbalancedError
        If it is larger than `BALANCE`.
    """
    balance = abs(stack.direction * forces.sum() - capacity) / capacity
    if not balance <= BALANCE:
        raise UnbalancedError(
            f"{stack.name}: the rods carry {abs(forces.sum()) / capacity:.6%} of the applied force; "
            f"allowed: 100 % to within {BALANCE:.0e}. The solution was thrown away"
        )
    return float(balance)


def _peaks(press: Press, stack: Stack, mesh: StackMesh, fields: Fields) -> list[Peak]:
    peaks = []
    reach = np.cbrt(recover.volumes(mesh).mean()) * 1.5
    for index, plate in enumerate(stack.plates):
        own = np.flatnonzero(fields.nodes.plate == index)
        if not len(own):  # a mirrored twin is in the model
            continue
        node = own[fields.von_mises[own].argmax()]
        x, y, z = (float(value) for value in mesh.nodes[fields.nodes.node[node]])
        place = places.describe(stack, press.rods, plate, (x, y, z), reach)
        allowed = plate.material.yield_strength / press.yield_safety_factor
        peaks.append(Peak(plate, float(fields.von_mises[node]), (x, y, z), place, allowed))
    return peaks


def _mirrored_force(solution: StackSolution, rod: TieRod, rods: tuple[TieRod, ...]) -> float:
    """Force of a rod, or of its image where only the image is in the model."""
    if rod.name in solution.rod_forces:
        return solution.rod_forces[rod.name]
    image = [
        abs(c) if plane in solution.mesh.symmetry else c
        for c, plane in zip(rod.at, "xy", strict=True)
    ]
    for other in rods:
        if other.name in solution.rod_forces and np.allclose(other.at, image, atol=1e-9):
            return solution.rod_forces[other.name]
    raise LookupError(f"{rod.name} has no image in the model of the {solution.stack.name}")
