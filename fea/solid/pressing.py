"""A stack on one mesh: tightened, pressed, and released."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import bsr_matrix
from skfem import MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.solvers import Solver
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import clamping, contact, interfaces, loads
from platestack.fea.solid.clamping import BoltForce
from platestack.fea.solid.contact import Contact, Interfaces
from platestack.fea.solid.interfaces import InterfaceResult
from platestack.fea.solid.loads import Held, RodForces
from platestack.fea.support.errors import NotConverged, Singular, SolveError
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Press, Stack

log = logging.getLogger(__name__)

BALANCE = 1e-6
"""Largest allowed difference between rod forces and applied force, as a part of the latter."""

MOST_CHANGES = 40
"""Solutions in search of where seats press."""

OPENING = 6.0
"""What the complementarity error at rest counts where seats open: of bowed plates on shoulders, the
one bed of which was solved with the usual, 20 times and a tenth of it left, 5 times as much."""

TOUCH = 1e-4
"""Part of the pressing force under which a body that floats is laid down."""

PARTS = 1, 2, 4, 8
"""Parts into which a load step with contact is divided, one after the other, until it is found."""

NOTHING = 1e-8
"""Force through an interface, as a part of the largest, that is rounding."""


class UnbalancedError(SolveError):
    """Forces or energy are not in balance: the solution is not to be trusted."""


class NotSettled(SolveError):
    """Where the seats of rods press is not found."""


@dataclass(frozen=True)
class PressedState:
    """A stack at rest under some load; nothing in it changes when the stack is loaded further.

    Attributes
    ----------
    displacement : (3n,) in m, not to be written to.
    held : how rods and restraints hold the stack.
    rods, bolts : what each modelled rod and clamp bolt bears.
    contact : the state between plates that may part, if there are any.
    interfaces : what happens between the plates.
    solver : of the linear system, for error estimates.
    iterations : of the linear solves. residual : what is left of the forces at the end, relative.
    """

    displacement: np.ndarray
    held: Held
    rods: tuple[RodForces, ...]
    bolts: tuple[BoltForce, ...]
    contact: Contact | None
    interfaces: tuple[InterfaceResult, ...]
    solver: Solver
    iterations: int
    residual: float

    @property
    def complementarity(self) -> float | None:
        """Complementarity error (`Contact.complementarity`), None where nothing may part."""
        return None if self.contact is None else self.contact.complementarity


class Pressing:
    """What a stack does under its rods' preload and the pressing force.

    Rods and clamp bolts are tightened by given forces first. From that state of rest on they are
    springs; seats, which only push, open edge by edge where nothing presses them any more, and
    clamp bolts, which only pull, come loose.

    Attributes
    ----------
    mesh : with nodes of their own for plates that may part. faces : those of the interfaces.
    tightened : the state under the preloads alone; None where there are none.
    pressed : the state at capacity.

    Raises
    ------
    SolveError
        If a solution cannot be found, is out of balance, or takes energy out of the press.
    """

    def __init__(
        self, press: Press, stack: Stack, mesh: StackMesh, begin: Callable[[str], None]
    ) -> None:
        self.mesh, pairs = interfaces.opened(stack, mesh)
        self._press, self._stack = press, stack
        begin("assemble")
        self.space = QuadraticSpace(MeshTet2(self.mesh.nodes.T, self.mesh.tets.T))
        self.young, self.poisson = materials(stack, self.mesh)
        self.matrix = self.space.stiffness(self.young, self.poisson)
        self.faces = interfaces.faces_of(stack, self.mesh, pairs) if pairs else None
        if self.faces is not None:
            joining = interfaces.joining(press, stack, self.mesh, self.faces)
            if joining is not None:
                self.matrix = bsr_matrix(self.matrix + joining)
        self.patch_load = loads.patch_load(self.mesh, stack, press.capacity)
        begin("solve")
        self.held = loads.supports(self.mesh, press.rods)
        self._clamps = clamping.clamps(self.mesh, stack)
        self.tightened = self._tightened()
        self.pressed = self._under(1.0, self.tightened)
        self._check()

    @property
    def rest(self) -> np.ndarray:
        """Displacements (3n,) in m before the press presses; zero where nothing is tightened."""
        if self.tightened is None:
            return np.zeros_like(self.patch_load)
        return self.tightened.displacement

    @property
    def moved(self) -> np.ndarray:
        """What pressing adds to the displacements, (3n,) in m."""
        return self.pressed.displacement - self.rest

    @property
    def work(self) -> float:
        """Work that the pressing force does on the whole stack and its half of the rods (J)."""
        return float(self.moved @ self.patch_load) / 2 * self.mesh.share

    @property
    def contact_error(self) -> float:
        """Error (m) of the deflection at capacity that the complementarity error leaves.

        What lies too deep, or too far apart, by δ under a pressure p moves the pressing force F
        by ∫ p δ / F (reciprocity, as long as the same places touch), in either of two states. How
        a stack stands at rest says besides where its seats open.
        """
        rest, pressed = (
            0.0 if state is None or state.contact is None else state.contact.lost
            for state in (self.tightened, self.pressed)
        )
        opens = any(not end.at_work.all() for end in self.pressed.held.ends)
        lost = rest * (OPENING if opens else 1.0) + pressed
        return lost / float(np.linalg.norm(self.patch_load.reshape(-1, 3).sum(axis=0)))

    def deflection(self, state: PressedState | None = None) -> tuple[float, str]:
        """Mid-span deflection (m) that pressing has added in a state, and where it is read.

        By default the state at capacity.
        """
        row, place = loads.deflection_row(self.mesh, self._stack, self.held)
        moved = (state or self.pressed).displacement - self.rest
        return float((row @ moved)[0]), place

    def released(self) -> PressedState | None:
        """The state when the pressing force is taken away again.

        None without any preload: then nothing says where plates come to lie.
        """
        return None if self.tightened is None else self._under(0.0, self.pressed)

    def along(self, shares: Sequence[float]) -> list[np.ndarray]:
        """What pressing adds to the displacements, (3n,) in m, at shares of capacity in turn.

        Begins anew at the state of preload.
        """
        state, path = self.tightened, []
        for share in shares:
            state = self._under(share, state)
            path.append(state.displacement - self.rest)
        return path

    def _tightened(self) -> PressedState | None:
        """The state under the preloads alone, if there are any."""
        held = self.held
        if not (held.squeeze + self._clamps.load).any():
            return None
        still = np.zeros_like(self.patch_load)
        earlier: Contact | None = None
        for _ in range(MOST_CHANGES):
            preload = held.squeeze + self._clamps.load
            found = self._solved(held.squeezing, preload, earlier)
            if self._floating(found.contact):
                # A body that nothing presses may hover: a touch of the load lays it down.
                touched = preload + TOUCH * self.patch_load
                found = self._solved(held.squeezing, touched, found.contact)
                found = self._solved(held.squeezing, preload, found.contact)
            after = held.tightening(found.displacement)
            if not held.turned(after):
                break
            held = after
        held = held.tightened(found.displacement)
        rods = held.forces(found.displacement)
        return self._state(found, held, rods, self._clamps.forces(still))

    def _floating(self, found: Contact | None) -> bool:
        """Whether no force at all passes one of the interfaces that may part."""
        if self.faces is None or found is None:
            return False
        force = (self.faces.area * found.state.pressure).sum(axis=1)
        passing = np.bincount(self.faces.owner, force, len(self.faces.names))
        return bool((passing <= NOTHING * passing.max()).any())

    def _under(self, share: float, before: PressedState | None) -> PressedState:
        """The state after `before` under a share of capacity.

        Seats open where they would have to pull, bolts that would have to push come loose.
        """
        held = self.held if before is None else before.held
        loose: frozenset[str] = frozenset()
        earlier = None if before is None else before.contact
        start = earlier
        for _ in range(MOST_CHANGES):
            clamps = self._clamps.without(loose)
            other = clamps.added_to(held.restraints)
            kept = other.rows.T @ (other.stiffness * (other.rows @ self.rest))
            load = share * self.patch_load + held.preload + clamps.load + kept
            found = self._solved(clamps.added_to(held.ties), load, start)
            forces = clamps.forces(found.displacement - self.rest)
            after = held.pressing(found.displacement)
            slack = {bolt.bolt.name for bolt in forces if bolt.working < 0}
            turned = held.turned(after)
            if not slack and not turned:
                now = {bolt.bolt.name: bolt for bolt in forces}
                bolts = [
                    now.get(bolt.bolt.name, replace(bolt, working=0.0))
                    for bolt in self._clamps.forces(np.zeros_like(found.displacement))
                ]
                return self._state(found, held, held.forces(found.displacement), bolts)
            log.info(f"{opening_words(turned, slack)}: solved again")
            held, loose = after, loose | slack
            if self.faces is not None and not self.faces.friction.any():
                start = found.contact  # where nothing rubs, the way there does not matter
        raise NotSettled(
            f"{self._stack.name}: after {MOST_CHANGES} solutions the seats of its rods still "
            "change where they press; allowed: more preload, or another rods.seat"
        )

    def _state(
        self, found: _Solved, held: Held, rods: Sequence[RodForces], bolts: Sequence[BoltForce]
    ) -> PressedState:
        """The record of a solution."""
        known = interfaces.welded(self._stack, self.mesh)
        if self.faces is not None and found.contact is not None:
            known += interfaces.described(self._stack, self.faces, found.contact)
        found.displacement.setflags(write=False)
        return PressedState(
            found.displacement,
            held,
            tuple(rods),
            tuple(bolts),
            found.contact,
            tuple(sorted(known, key=lambda result: result.pad)),
            found.solver,
            found.iterations,
            found.residual,
        )

    def _solved(self, ties: Ties, load: np.ndarray, before: Contact | None) -> _Solved:
        system = System(self.matrix, self.held.fixed, ties)
        try:
            if self.faces is not None:
                return self._in_contact(system, self.faces, load, before)
            solver = solvers.solver(system, self.space)
            answer = solver.solve(load)
        except Singular as error:
            raise Singular(
                f"{self._stack.name}: a plate can move freely, as nothing presses or holds it; "
                "allowed: plates that lie between the loaded face and the nuts, or interface.kind "
                '"welded"'
            ) from error
        log.info(
            f"{len(load):,} unknowns solved: {answer.iterations} iterations, residual "
            f"{answer.residual:.1e}"
        )
        return _Solved(answer.displacement, None, solver, answer.iterations, answer.residual)

    def _in_contact(
        self, system: System, faces: Interfaces, load: np.ndarray, before: Contact | None
    ) -> _Solved:
        """A load step with contact, in parts where it finds no state in one."""
        start = contact.resisted(system, faces, before)
        for parts in PARTS:
            loads_on_the_way = [
                start + part / parts * (load - start) for part in range(1, parts)
            ] + [load]
            try:
                return self._along(system, faces, loads_on_the_way, before)
            except NotConverged as error:
                failure = error
                log.info(f"{self._stack.name}: {error}. The load step is divided")
        raise failure

    def _along(
        self, system: System, faces: Interfaces, path: list[np.ndarray], before: Contact | None
    ) -> _Solved:
        """Load steps with contact, one after the other."""
        iterations = 0
        for load in path:
            found = contact.solve(
                system, self.space, faces, load, before=before, progress=log.debug
            )
            before, iterations = found, iterations + found.iterations
            log.info(
                f"{len(load):,} unknowns in contact: {found.iterations} iterations, "
                f"{found.changes} changes of the cycle, {found.updates} updates of the "
                f"multipliers, residual {found.residual:.1e}, "
                f"complementarity error {found.complementarity:.1e}"
                + "".join(f"; {words}" for words in found.eased)
            )
        return _Solved(found.displacement, found, found.solver, iterations, found.residual)

    @property
    def balance(self) -> float:
        """Rods' parts of the pressing force against all of it, relative."""
        pairs = zip(self.pressed.rods, self.held.copies, strict=True)
        carried = sum(rod.frame * copies for rod, copies in pairs)
        return abs(float(carried) - self._press.capacity) / self._press.capacity

    def _check(self) -> None:
        if not self.balance <= BALANCE:
            raise UnbalancedError(
                f"{self._stack.name}: the rods' forces differ from the applied force by "
                f"{self.balance:.1e} of it; allowed: {BALANCE:.0e}. The solution was thrown away"
            )
        if not self.work > 0:
            raise UnbalancedError(
                f"{self._stack.name}: the pressing force does {self.work:.2g} J of work; allowed: "
                "more than 0. The solution was thrown away"
            )


@dataclass(frozen=True)
class _Solved:
    """A solution: displacements (3n,) in m, how it was found, and the state between plates."""

    displacement: np.ndarray
    contact: Contact | None
    solver: Solver
    iterations: int
    residual: float


def materials(stack: Stack, mesh: StackMesh) -> tuple[np.ndarray, np.ndarray]:
    """Young's modulus (Pa) and Poisson's ratio of each element, (m,)."""
    young = np.array([body.material.young for body in stack.bodies])
    poisson = np.array([body.material.poisson for body in stack.bodies])
    return young[mesh.plate], poisson[mesh.plate]


__all__ = ["BALANCE", "Held", "PressedState", "Pressing", "UnbalancedError"]


def opening_words(seats: Collection[str], bolts: Collection[str]) -> str:
    """Name the rods whose seats open or close, and the clamp bolts that come loose."""
    kinds = (("seats open or close at", seats), ("clamp bolts come loose:", bolts))
    return "; ".join(f"{words} {', '.join(sorted(names))}" for words, names in kinds if names)
