"""One stack under the pressing force: solved, refined until its errors are small, and read."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix

from platestack.fea.hand.beam import BeamCheck, beam_check
from platestack.fea.solid import clamping, loads
from platestack.fea.solid.clamping import BoltForce
from platestack.fea.solid.interfaces import InterfaceResult
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.pressing import Pressing
from platestack.fea.solid.standing import Standing
from platestack.fea.solid.stress import adapt, estimate, peaks, recover
from platestack.fea.solid.stress.estimate import Body, Estimate
from platestack.fea.solid.stress.peaks import Fields, Peak
from platestack.geometry import mesher
from platestack.geometry.mesh import SizeField, Sizes, StackMesh, default_sizes
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case, MeshWish
from platestack.geometry.symmetry import Symmetry, choose_symmetry
from platestack.geometry.units import quantity

log = logging.getLogger(__name__)

MOST_PASSES = 6
"""Meshes tried for one stack."""

Report = Callable[[str], None]
"""Called with the name of each step as it begins."""


@dataclass(frozen=True)
class MeshRefinement:
    """What one mesh of the refinement gave."""

    unknowns: int
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
    """One for each plate, and each washer or flange that is a body."""
    deflection: float
    deflection_error: float
    deflection_place: str
    flatness_patch: float
    flatness_face: float
    strain_energy: float
    strain_energy_error: float
    rods: dict[str, RodForces]
    """What each modelled rod bears at capacity."""
    composite: float | None
    """Where a clamped stack's stiffness lies between loose (0) and welded (1)."""
    residual_deflection: float | None
    """Of a clamped stack, once the pressing force is taken away (m)."""
    nut_mean: float
    """Mean vertical displacement of the nut annuli (m)."""
    balance: float
    interfaces: tuple[InterfaceResult, ...]
    beam: BeamCheck
    iterations: int
    residual: float
    passes: tuple[MeshRefinement, ...]
    accurate: bool
    """Whether the accuracy asked for was reached."""
    seconds: dict[str, float]
    bolts: tuple[BoltForce, ...] = ()
    """What each modelled clamp bolt bears at capacity."""
    standing: Standing | None = None
    """How rods with seats stand, to be joined to the other stack."""
    complementarity: float | None = None
    """Largest complementarity error (`Contact.complementarity`) of the states, None if welded."""

    @property
    def peak(self) -> Peak:
        """The most stressed plate's peak; washers and the cylinder's end are not plates."""
        plates = (peak for peak in self.peaks if peak.plate in self.stack.plates)
        return max(plates, key=lambda peak: peak.von_mises)

    @property
    def worst(self) -> Peak:
        """The peak with the highest utilisation."""
        return max(self.peaks, key=lambda peak: peak.utilisation)


def mesh_stack(
    press: Press, stack: Stack, case: Case, wanted: SizeField | None = None
) -> StackMesh:
    """Mesh a stack as the case wishes, or with the sizes wanted after an earlier pass."""
    return mesher.make(stack, press.rods, *mesh_plan(press, stack, case), wanted)


def mesh_plan(press: Press, stack: Stack, case: Case) -> tuple[Symmetry, Sizes]:
    """Mirror planes and element sizes of a stack's first mesh."""
    symmetry = choose_symmetry(stack, press.rods, case.mesh.symmetry)
    return symmetry, default_sizes(stack, press.rods, case.mesh.size)


def solve_stack(press: Press, stack: Stack, case: Case, report: Report) -> StackSolution:
    """Mesh, solve and refine a stack until the accuracy of the case or its budget is reached.

    Raises
    ------
    MeshError, SolveError
        If a mesh cannot be made, or a solution cannot be found or is out of balance.
    """
    clock = Clock(report, stack.name)
    symmetry, sizes = mesh_plan(press, stack, case)
    log.info(
        f"{stack.name}: {_model_words(symmetry)}, {stack.interface} plates, elements of "
        f"{quantity(sizes.body, 'm', 3)} away from rims"
    )
    passes: list[MeshRefinement] = []
    wanted: SizeField | None = None
    before: tuple[Peak, ...] = ()
    while True:
        number = len(passes) + 1
        clock.begin("mesh", number)
        made = mesh_stack(press, stack, case, wanted)
        if wanted is not None and made.unknowns <= passes[-1].unknowns:
            wanted = adapt.finer(
                wanted, made.unknowns, passes[-1].unknowns, case.mesh.most_unknowns
            )
            made = mesh_stack(press, stack, case, wanted)
        reading = _Reading(press, stack, made, clock, number)
        mesh = reading.mesh
        reading.compare(before, case.mesh.stress_accuracy)
        before = reading.peaks
        passes.append(reading.as_pass())
        goals = reading.goals(case.mesh)
        accurate = all(goal.size <= allowed for goal, allowed in goals)
        log.info(
            f"{stack.name}: mesh {number}, {mesh.unknowns:,} unknowns: estimated "
            "over allowed error "
            + ", ".join(
                f"{what} {goal.size / allowed:.2f}"
                for what, (goal, allowed) in zip(("deflection", "stress"), goals, strict=False)
            )
        )
        full = mesh.unknowns > 0.8 * case.mesh.most_unknowns
        if accurate or full or number == MOST_PASSES:
            log.info(f"{stack.name}: {_ending(accurate, full)}")
            return reading.solution(tuple(passes), accurate and reading.worst.bounded)
        wanted = adapt.wanted_sizes(mesh, goals, case.mesh.most_unknowns, reading.closer(case.mesh))


def _model_words(symmetry: Symmetry) -> str:
    planes = " and ".join(f"{plane} = 0" for plane in sorted(symmetry))
    share = {0: "the whole", 1: "half", 2: "a quarter"}[len(symmetry)]
    return f"{share} is modelled, " + (f"mirrored at {planes}" if planes else "no mirror plane")


def _ending(accurate: bool, full: bool) -> str:
    if accurate:
        return "accurate enough"
    return "refinement ends at mesh.most_unknowns" if full else f"given up after {MOST_PASSES}"


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
        self._report(f"{self._name}: {step}" + (f" (mesh {number})" if number > 1 else ""))

    def end(self) -> None:
        """Note that the current step has ended."""
        if self._step:
            spent = time.perf_counter() - self._since
            self.seconds[self._step] = self.seconds.get(self._step, 0.0) + spent
            log.debug(f"{self._name}: {self._step} took {spent:.2f} s")
            self._step = ""


class _Reading:
    """A solution on one mesh, with its readings and their errors."""

    def __init__(self, press: Press, stack: Stack, mesh: StackMesh, clock: Clock, number: int):
        self._press, self._stack, self._clock, self._whole = press, stack, clock, mesh
        self._pressing = pressing = Pressing(
            press, stack, mesh, lambda step: clock.begin(step, number)
        )
        self.mesh, self._u = pressing.mesh, pressing.pressed.displacement
        self._body = Body.of(pressing.space, pressing.young, pressing.poisson)
        clock.begin("stress", number)
        self._fields = self._recover(self._u)
        found = peaks.find(press, stack, self.mesh, self._judged())
        clock.begin("errors", number)
        self._row, self._place = loads.deflection_row(self.mesh, stack, pressing.held)
        self._gap = self._body.gap(self._u)
        self._deflection_error = self._error_of_deflection(self._row)
        worst = max(found, key=lambda peak: peak.utilisation)
        self._stress_error = self._estimate(worst.read.row(self._body, self._fields.nodes.cells))
        self.peaks = tuple(
            replace(peak, error=estimate.stress_error(peak.error, self._stress_error))
            if peak is worst
            else peak
            for peak in found
        )

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
        """Mid-span deflection that pressing adds (m)."""
        return float((self._row @ self._pressing.moved)[0])

    @property
    def worst(self) -> Peak:
        """The peak with the highest utilisation."""
        return max(self.peaks, key=lambda peak: peak.utilisation)

    def as_pass(self) -> MeshRefinement:
        """Headline numbers for the record of passes."""
        peak = self.worst
        raw = max(peak.raw for peak in self.peaks)
        error = self._deflection_error.size
        return MeshRefinement(
            self.mesh.unknowns, self.deflection, error, peak.von_mises, peak.error, raw
        )

    def goals(self, wish: MeshWish) -> list[tuple[Estimate, float]]:
        """Estimates that steer the refinement, each with the error allowed for it.

        A stress without a finite value is no goal: it is said at once that it has none.
        """
        peak = self.worst
        goals = [(self._deflection_error, wish.deflection_accuracy * abs(self.deflection))]
        if peak.bounded:
            stress = replace(self._stress_error, size=peak.error)
            goals.append((stress, wish.stress_accuracy * peak.von_mises))
        return goals

    def closer(self, wish: MeshWish) -> adapt.Closer | None:
        """Where the worst peak is read too far from the edge of the loaded patch."""
        peak = self.worst
        allowed = wish.stress_accuracy * peak.von_mises
        if not peak.reach or peak.error <= allowed:
            return None
        return adapt.Closer(peak.at, 1.5 * peak.reach, adapt.AIM * allowed / peak.error)

    def solution(self, passes: tuple[MeshRefinement, ...], accurate: bool) -> StackSolution:
        """All results of this mesh."""
        stack, mesh, pressing = self._stack, self.mesh, self._pressing
        u = pressing.moved
        uz = u[2::3]
        patch = np.unique(mesh.faces[stack.patch_name])
        own = np.unique(mesh.tets[mesh.of_plates])
        face = own[np.abs(mesh.nodes[own, 2] - stack.load_face) < 1e-9]
        energy_error = estimate.energy_error(self._body, self._gap)
        state = pressing.pressed
        states = [state] if pressing.tightened is None else [pressing.tightened, state]
        composite = residual = None
        clamped, opened = stack.interface == "clamped", stack.interface != "welded"
        between = not all(interface.pad for interface in state.interfaces)
        if between and (clamped or (opened and stack.connectors)):
            self._clock.begin("between loose and welded", len(passes))
            composite = self._composite()
        if between and clamped:
            released = pressing.released()
            if released is not None:
                residual = pressing.deflection(released)[0]
                states.append(released)
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
            strain_energy=pressing.work,
            strain_energy_error=energy_error * mesh.share,
            rods={rod.rod: rod for rod in state.rods},
            nut_mean=float((loads.mean_of_nuts(pressing.held) @ u)[0]),
            balance=pressing.balance,
            interfaces=state.interfaces,
            composite=composite,
            residual_deflection=residual,
            beam=beam_check(stack, self._press.rods, self._press.capacity),
            iterations=state.iterations,
            residual=state.residual,
            complementarity=max(
                (s.complementarity for s in states if s.complementarity is not None), default=None
            ),
            passes=passes,
            accurate=accurate,
            seconds=self._clock.seconds,
            bolts=state.bolts,
            standing=Standing.of(state, mesh.symmetry),
        )

    def _estimate(self, row: csr_matrix) -> Estimate:
        """Error of a linear reading, by the dual problem that the reading loads."""
        dual = self._pressing.pressed.solver.solve(row.toarray().ravel(), tol=1e-4).displacement
        return estimate.estimate(self._body, self._gap, self._body.gap(dual))

    def _error_of_deflection(self, row: csr_matrix) -> Estimate:
        """What the mesh leaves, and what contact leaves on it."""
        found = self._estimate(row)
        return replace(found, size=found.size + self._pressing.contact_error)

    def _judged(self) -> Fields:
        """The fields by which peaks are determined: near clamp bolts, of what pressing adds.

        The squeeze of a bolt itself is held in by steel around it, and checked by its pressure.
        """
        fields = self._fields
        near = clamping.near(self._stack, self.mesh.nodes[fields.nodes.node])
        if not near.any():
            return fields
        added = self._recover(self._pressing.moved)

        def mixed(name: str) -> np.ndarray:
            whole, part = getattr(fields, name), getattr(added, name)
            return np.where(near.reshape(-1, *[1] * (whole.ndim - 1)), part, whole)

        return replace(
            fields,
            stress=mixed("stress"),
            von_mises=mixed("von_mises"),
            principal=mixed("principal"),
            stress_error=mixed("stress_error"),
        )

    def _recover(self, u: np.ndarray) -> Fields:
        nodes = recover.PlateNodes.of(self.mesh)
        local = self._body.stress(u, recover.NODES_OF_REFERENCE)
        averaged = recover.averaged(nodes, local, recover.volumes(self.mesh))
        fitted = np.empty_like(averaged)
        fitted[nodes.cells.ravel()] = self._body.recovered(u).reshape(-1, 6)
        # Averages fall short at surfaces, fits as often exceed: their mean is nearer than either.
        stress = (averaged + fitted) / 2
        size = recover.von_mises(stress)
        stress_error = estimate.stress_spread(nodes.cells, averaged, fitted)
        displacement = self._pressing.moved.reshape(-1, 3)[nodes.node]
        return Fields(nodes, displacement, stress, size, recover.principal(stress), stress_error)

    def _composite(self) -> float:
        """Where the stiffness lies between the loose and the welded stack's, on this mesh."""
        bounds = []
        for kind in ("loose", "welded"):
            stack = replace(self._stack, interface=kind, connectors=None)
            other = Pressing(self._press, stack, self._whole, lambda step: None)
            bounds.append(1 / other.deflection()[0])
        loose, welded = bounds
        return (1 / self.deflection - loose) / (welded - loose)
