"""One stack under the pressing force: solved, refined until its errors are small, and read."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix
from skfem import MeshTet2

from fea import adapt, contact, estimate, interfaces, loads, peaks, recover, solvers
from fea.elasticity import QuadraticSpace
from fea.errors import SolveError
from fea.estimate import Body, Estimate
from fea.hand.beam import BeamCheck, beam_check
from fea.interfaces import InterfaceResult
from fea.peaks import Fields, Peak
from fea.system import System
from geometry import mesher
from geometry.mesh import SizeField, StackMesh, choose_symmetry, default_sizes
from geometry.parts import Press, Stack
from geometry.schema import Case, MeshWish
from geometry.split import FacePair

BALANCE = 1e-6
"""Largest allowed difference between rod forces and applied force, as a part of the latter."""

MOST_PASSES = 4
"""Meshes tried for one stack."""

Report = Callable[[str], None]
"""Called with the name of each step as it begins."""


class UnbalancedError(SolveError):
    """Rod forces do not add up to the applied force: the solution is not to be trusted."""


@dataclass(frozen=True)
class Pass:
    """What one mesh gave, on the way to the accuracy asked for."""

    dofs: int
    deflection: float
    deflection_error: float
    peak: float
    peak_error: float
    raw_peak: float
    """Largest nodal stress, re-entrant edges included (Pa)."""


@dataclass(frozen=True)
class StackSolution:
    """All that is known of a loaded stack."""

    stack: Stack
    mesh: StackMesh
    fields: Fields
    peaks: tuple[Peak, ...]
    """One for each plate."""
    deflection: float
    deflection_error: float
    deflection_place: str
    flatness_patch: float
    flatness_face: float
    strain_energy: float
    strain_energy_error: float
    rod_forces: dict[str, float]
    """Working force of each modelled rod, N."""
    nut_mean: float
    """Mean vertical displacement of the nut annuli (m)."""
    balance: float
    interfaces: tuple[InterfaceResult, ...]
    beam: BeamCheck
    iterations: int
    residual: float
    passes: tuple[Pass, ...]
    accurate: bool
    """Whether the accuracy asked for was reached."""
    seconds: dict[str, float]

    @property
    def peak(self) -> Peak:
        """The most stressed plate's peak."""
        return max(self.peaks, key=lambda peak: peak.von_mises)

    @property
    def worst(self) -> Peak:
        """The peak with the highest utilisation."""
        return max(self.peaks, key=lambda peak: peak.utilisation)


def mesh_stack(
    press: Press, stack: Stack, case: Case, wanted: SizeField | None = None
) -> StackMesh:
    """Mesh a stack as the case wishes, or with the sizes wanted after an earlier pass."""
    symmetry = choose_symmetry(stack, press.rods, case.mesh.symmetry)
    sizes = default_sizes(stack, press.rods, case.mesh.size)
    return mesher.make(stack, press.rods, symmetry, sizes, wanted)


def solve_stack(press: Press, stack: Stack, case: Case, report: Report) -> StackSolution:
    """Mesh, solve and refine a stack until the accuracy of the case or its budget is reached.

    Raises
    ------
    MeshError, SolveError
        If a mesh cannot be made, or a solution cannot be found or is out of balance.
    """
    clock = Clock(report, stack.name)
    passes: list[Pass] = []
    wanted: SizeField | None = None
    before: tuple[Peak, ...] = ()
    while True:
        number = len(passes) + 1
        clock.begin("mesh", number)
        reading = _Reading(press, stack, mesh_stack(press, stack, case, wanted), clock, number)
        mesh = reading.mesh
        reading.compare(before, case.mesh.stress_accuracy)
        before = reading.peaks
        passes.append(reading.as_pass())
        goals = reading.goals(case.mesh)
        accurate = all(goal.size <= allowed for goal, allowed in goals)
        full = mesh.dofs > 0.8 * case.mesh.most_unknowns
        if accurate or full or number == MOST_PASSES:
            return reading.solution(tuple(passes), accurate)
        wanted = adapt.wanted_sizes(mesh, goals, case.mesh.most_unknowns)


class Clock:
    """Times the steps of one stack, added over its passes, and tells of each."""

    def __init__(self, report: Report, name: str):
        self._report, self._name = report, name
        self.seconds: dict[str, float] = {}
        self._step, self._since = "", 0.0

    def begin(self, step: str, number: int) -> None:
        """Note that a step of pass `number` begins, and the one before has ended."""
        self.end()
        self._step, self._since = step, time.perf_counter()
        self._report(f"{self._name}: {step}" + (f" (pass {number})" if number > 1 else ""))

    def end(self) -> None:
        """Note that the current step has ended."""
        if self._step:
            spent = time.perf_counter() - self._since
            self.seconds[self._step] = self.seconds.get(self._step, 0.0) + spent
            self._step = ""


class _Reading:
    """A solution on one mesh, with its readings and their errors."""

    def __init__(self, press: Press, stack: Stack, mesh: StackMesh, clock: Clock, number: int):
        mesh, pairs = interfaces.opened(stack, mesh)
        self._press, self._stack, self.mesh, self._clock = press, stack, mesh, clock
        clock.begin("assemble", number)
        space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
        young, poisson = _materials(stack, mesh)
        self._body = Body.of(space, young, poisson)
        self._held = loads.supports(mesh, press.rods)
        self._load = loads.patch_load(mesh, stack, press.capacity)
        system = System(space.stiffness(young, poisson), self._held.fixed, self._held.ties)
        clock.begin("solve", number)
        self._solve(system, space, pairs)
        self._forces = self._rod_forces()
        clock.begin("stress", number)
        self._fields = self._recover()
        found = peaks.find(press, stack, mesh, self._fields)
        clock.begin("errors", number)
        self._row, self._place = loads.deflection_row(mesh, stack, self._held)
        self._gap = self._body.gap(self._u)
        self._deflection_error = self._estimate(self._row)
        worst = max(found, key=lambda peak: peak.utilisation)
        self._stress_error = self._estimate(worst.read.row(self._body, self._fields.nodes.cells))
        self.peaks = tuple(
            peak.doubted(abs(self._stress_error.error)) if peak is worst else peak for peak in found
        )

    def _solve(self, system: System, space: QuadraticSpace, pairs: tuple[FacePair, ...]) -> None:
        """Solve; keeps what the error estimates need to solve again."""
        if not pairs:
            self._solver = solvers.solver(system, space)
            answer = self._solver.solve(self._load)
            self._u, self._effort = answer.displacement, (answer.iterations, answer.residual)
            self._interfaces = interfaces.welded(self.mesh)
            return
        faces = interfaces.faces_of(self._stack, self.mesh, pairs)
        found = contact.solve(system, space, faces, self._load)
        self._solver = found.solver.retarget(found.tangent)
        self._u, self._effort = found.displacement, (found.iterations, found.residual)
        self._interfaces = interfaces.described(faces, found, self._stack.interface)

    def compare(self, before: tuple[Peak, ...], accuracy: float) -> None:
        """Judge the peaks against those of the mesh before; refinement aims at the worst."""
        earlier = {peak.plate.name: peak for peak in before}
        worst = self.worst
        self.peaks = tuple(
            peak.after(earlier[peak.plate.name], accuracy if peak is worst else np.inf)
            if peak.plate.name in earlier
            else peak
            for peak in self.peaks
        )

    @property
    def deflection(self) -> float:
        """Mid-span deflection (m)."""
        return float((self._row @ self._u)[0])

    @property
    def worst(self) -> Peak:
        """The peak with the highest utilisation."""
        return max(self.peaks, key=lambda peak: peak.utilisation)

    def as_pass(self) -> Pass:
        """Headline numbers for the record of passes."""
        peak = self.worst
        raw = max(peak.raw for peak in self.peaks)
        error = self._deflection_error.size
        return Pass(self.mesh.dofs, self.deflection, error, peak.von_mises, peak.error, raw)

    def goals(self, wish: MeshWish) -> list[tuple[Estimate, float]]:
        """Estimates that steer the refinement, each with the error allowed for it."""
        peak = self.worst
        stress = replace(self._stress_error, size=peak.error)
        return [
            (self._deflection_error, wish.deflection_accuracy * abs(self.deflection)),
            (stress, wish.stress_accuracy * peak.von_mises),
        ]

    def solution(self, passes: tuple[Pass, ...], accurate: bool) -> StackSolution:
        """All results of this mesh."""
        stack, mesh, u = self._stack, self.mesh, self._u
        uz = u[2::3]
        patch = np.unique(mesh.faces[stack.patch_name])
        face = np.flatnonzero(np.abs(mesh.nodes[:, 2] - stack.load_face) < 1e-9)
        energy_error = estimate.energy_error(self._body, self._gap)
        self._clock.end()
        return StackSolution(
            stack=stack,
            mesh=mesh,
            fields=self._fields,
            peaks=self.peaks,
            deflection=self.deflection,
            deflection_error=self._deflection_error.size,
            deflection_place=self._place,
            flatness_patch=float(np.ptp(uz[patch])),
            flatness_face=float(np.ptp(uz[face])),
            strain_energy=float(u @ self._load) / 2 * mesh.share,
            strain_energy_error=energy_error * mesh.share,
            rod_forces=dict(zip(self._held.rods, self._forces.tolist(), strict=True)),
            nut_mean=float((loads.mean_of_nuts(self._held) @ u)[0]),
            balance=self._balance(),
            interfaces=self._interfaces,
            beam=beam_check(stack, self._press.rods, self._press.capacity),
            iterations=self._effort[0],
            residual=self._effort[1],
            passes=passes,
            accurate=accurate,
            seconds=self._clock.seconds,
        )

    def _estimate(self, row: csr_matrix) -> Estimate:
        """Error of a linear reading, by the dual problem that the reading loads."""
        dual = self._solver.solve(row.toarray().ravel(), tol=1e-4).displacement
        return estimate.estimate(self._body, self._gap, self._body.gap(dual))

    def _recover(self) -> Fields:
        nodes = recover.PlateNodes.of(self.mesh)
        local = self._body.stress(self._u, recover.NODES_OF_REFERENCE)
        averaged = recover.averaged(nodes, local, recover.volumes(self.mesh))
        fitted = np.empty_like(averaged)
        fitted[nodes.cells.ravel()] = self._body.recovered(self._u).reshape(-1, 6)
        # Averages fall short at surfaces, fits as often exceed: their mean is nearer than either.
        stress = (averaged + fitted) / 2
        size = recover.von_mises(stress)
        doubt = estimate.doubt(nodes.cells, averaged, fitted)
        displacement = self._u.reshape(-1, 3)[nodes.node]
        return Fields(nodes, displacement, stress, size, recover.principal(stress), doubt)

    def _rod_forces(self) -> np.ndarray:
        """Working force of each modelled rod (N), positive in tension.

        Raises
        ------
        UnbalancedError
            If together they do not carry the applied force to within `BALANCE`.
        """
        count = len(self._held.rods)
        ties = self._held.ties
        forces = ties.stiffness[:count] * (ties.rows[:count] @ self._u) / self._held.shares
        self._forces = np.asarray(self._stack.direction * forces)
        if not self._balance() <= BALANCE:
            raise UnbalancedError(
                f"{self._stack.name}: the rods' forces differ from the applied force by "
                f"{self._balance():.1e} of it; allowed: {BALANCE:.0e}. The solution was thrown away"
            )
        return self._forces

    def _balance(self) -> float:
        capacity = self._press.capacity
        return abs(float(self._forces @ self._held.copies) - capacity) / capacity


def _materials(stack: Stack, mesh: StackMesh) -> tuple[np.ndarray, np.ndarray]:
    """Young's modulus (Pa) and Poisson's ratio of each element."""
    young = np.array([plate.material.young for plate in stack.plates])
    poisson = np.array([plate.material.poisson for plate in stack.plates])
    return young[mesh.plate], poisson[mesh.plate]
