"""A stack on one mesh: tightened, pressed, and released."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

import numpy as np
from scipy.sparse import bsr_matrix
from skfem import MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import clamping, contact, interfaces, loads
from platestack.fea.solid.clamping import BoltForce
from platestack.fea.solid.contact import Contact
from platestack.fea.solid.loads import Held, RodForces
from platestack.fea.support.errors import Singular, SolveError
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Press, Stack

log = logging.getLogger(__name__)

BALANCE = 1e-6
"""Largest allowed difference between rod forces and applied force, as a part of the latter."""

TOUCH = 1e-4
"""Part of the pressing force under which a body that floats is laid down."""

NOTHING = 1e-8
"""Force through an interface, as a part of the largest, that is rounding."""


class UnbalancedError(SolveError):
    """Rod forces do not add up to the applied force: the solution is not to be trusted."""


class Pressing:
    """What a stack does under its rods' preload and the pressing force.

    Rods and clamp bolts are tightened by given forces first. From that state of rest on they are
    springs; seats, which only push, open where nothing presses them any more, and clamp bolts,
    which only pull, come loose.

    Attributes
    ----------
    mesh : with nodes of their own for plates that may part.
    rest, pressed : displacements (3n,) in m, tightened and at capacity.
    held, rods : how the stack is held at capacity, and what each modelled rod bears.
    bolts : what each modelled clamp bolt bears.
    solver : of the linear system at capacity, for error estimates.
    interfaces : what happens between the plates at capacity.
    effort : iterations and true relative residual.

    Raises
    ------
    SolveError
        If a solution cannot be found, or is out of balance.
    """

    def __init__(
        self, press: Press, stack: Stack, mesh: StackMesh, begin: Callable[[str], None]
    ) -> None:
        self.mesh, pairs = interfaces.opened(stack, mesh)
        self._press, self._stack = press, stack
        begin("assemble")
        self.space = QuadraticSpace(MeshTet2(self.mesh.nodes.T, self.mesh.tets.T))
        self.young, self.poisson = _materials(stack, self.mesh)
        self._matrix = self.space.stiffness(self.young, self.poisson)
        self._faces = interfaces.faces_of(stack, self.mesh, pairs) if pairs else None
        if self._faces is not None:
            joining = interfaces.joining(press, stack, self.mesh, self._faces)
            if joining is not None:
                self._matrix = bsr_matrix(self._matrix + joining)
        self._found: Contact | None = None
        self._iterations = 0
        self.patch_load = loads.patch_load(self.mesh, stack, press.capacity)
        begin("solve")
        self.held = loads.supports(self.mesh, press.rods)
        self._clamps = clamping.clamps(self.mesh, stack)
        self.rest = self._tightened()
        self.pressed = self._under(self.patch_load)
        self._check_balance()
        known = interfaces.welded(stack, self.mesh)
        if self._faces is not None and self._found is not None:
            known += interfaces.described(stack, self._faces, self._found)
        self.interfaces = tuple(sorted(known, key=lambda result: result.pad))

    @property
    def moved(self) -> np.ndarray:
        """What pressing adds to the displacements, (3n,) in m."""
        return self.pressed - self.rest

    @property
    def work(self) -> float:
        """Work that the pressing force does on the whole stack and its half of the rods (J)."""
        return float(self.moved @ self.patch_load) / 2 * self.mesh.share

    def deflection(self) -> tuple[float, str]:
        """Mid-span deflection (m) that pressing adds, and where it is read."""
        row, place = loads.deflection_row(self.mesh, self._stack, self.held)
        return float((row @ self.moved)[0]), place

    def released(self) -> float | None:
        """Mid-span deflection (m) that stays when the pressing force is taken away.

        None without any preload: then nothing says where plates come to lie.
        Leaves the stack released; nothing else can be asked of it afterwards.
        """
        if not (self.held.preload + self._clamps.load).any():
            return None
        back = self._under(np.zeros_like(self.patch_load))
        row, _ = loads.deflection_row(self.mesh, self._stack, self.held)
        return float((row @ (back - self.rest))[0])

    def along(self, shares: Sequence[float]) -> list[np.ndarray]:
        """What pressing adds to the displacements, (3n,) in m, at shares of capacity in turn.

        Begins anew at the state of preload and leaves the stack in the last state.
        """
        self._found = None
        self.rest = self._tightened()
        return [self._under(share * self.patch_load) - self.rest for share in shares]

    def _tightened(self) -> np.ndarray:
        """Displacements under the preloads alone; zero where there are none."""
        preload = self.held.preload + self._clamps.load
        if not preload.any():
            return np.zeros_like(preload)
        rest = self._solved(self.held.rest, preload)
        if not self._floating():
            return rest
        # A body that nothing presses may hover in its gap: a touch of the load lays it down.
        self._solved(self.held.rest, preload + TOUCH * self.patch_load)
        return self._solved(self.held.rest, preload)

    def _floating(self) -> bool:
        """Whether no force at all passes one of the interfaces that may part."""
        if self._faces is None or self._found is None:
            return False
        force = (self._faces.area * self._found.state.pressure).sum(axis=1)
        passing = np.bincount(self._faces.owner, force, len(self._faces.names))
        return bool((passing <= NOTHING * passing.max()).any())

    def _under(self, load: np.ndarray) -> np.ndarray:
        """Displacements under a load: seats that would have to pull open, bolts come loose."""
        opened: frozenset[str] = frozenset()
        loose: frozenset[str] = frozenset()
        before = self._found
        while True:
            self._found = before
            self.held = held = loads.supports(self.mesh, self._press.rods, opened)
            clamps = self._clamps.without(loose)
            ties = clamps.added_to(held.ties)
            kept = ties.rows.T @ (ties.stiffness * (ties.rows @ self.rest))
            u = self._solved(ties, load + held.preload + clamps.load + kept)
            self.rods: list[RodForces] = held.forces(u - self.rest)
            forces = clamps.forces(u - self.rest)
            lost = {rod.rod for rod in self.rods if rod.seat is not None and rod.seat < 0}
            slack = {found.bolt.name for found in forces if found.working < 0}
            if not lost and not slack:
                still = self._clamps.forces(np.zeros_like(u))
                now = {found.bolt.name: found for found in forces}
                self.bolts: list[BoltForce] = [
                    now.get(one.bolt.name, replace(one, working=0.0)) for one in still
                ]
                return u
            log.info(f"{opening_words(lost, slack)}: solved again without them")
            opened |= lost
            loose |= slack

    def _solved(self, ties: Ties, load: np.ndarray) -> np.ndarray:
        try:
            return self._balanced(ties, load)
        except Singular as error:
            raise Singular(
                f"{self._stack.name}: a plate can move freely, as nothing presses or holds it; "
                "allowed: plates that lie between the loaded face and the nuts, or interface.kind "
                '"welded"'
            ) from error

    def _balanced(self, ties: Ties, load: np.ndarray) -> np.ndarray:
        system = System(self._matrix, self.held.fixed, ties)
        if self._faces is None:
            self.solver = solvers.solver(system, self.space)
            answer = self.solver.solve(load)
            self.effort = answer.iterations, answer.residual
            log.info(
                f"{len(load):,} unknowns solved: {answer.iterations} iterations, residual "
                f"{answer.residual:.1e}"
            )
            return answer.displacement
        found = contact.solve(
            system, self.space, self._faces, load, before=self._found, progress=log.debug
        )
        self.solver = found.solver.retarget(found.tangent)
        self.effort = found.iterations, found.residual
        self._found = found
        log.info(
            f"{len(load):,} unknowns in contact: {found.steps} Newton steps, {found.iterations} "
            f"iterations, {found.updates} updates of the multipliers, residual {found.residual:.1e}"
            + "".join(f"; {words}" for words in found.eased)
        )
        return found.displacement

    @property
    def balance(self) -> float:
        """Rods' parts of the pressing force against all of it, relative."""
        carried = sum(r.frame * c for r, c in zip(self.rods, self.held.copies, strict=True))
        return abs(float(carried) - self._press.capacity) / self._press.capacity

    def _check_balance(self) -> None:
        if not self.balance <= BALANCE:
            raise UnbalancedError(
                f"{self._stack.name}: the rods' forces differ from the applied force by "
                f"{self.balance:.1e} of it; allowed: {BALANCE:.0e}. The solution was thrown away"
            )


def _materials(stack: Stack, mesh: StackMesh) -> tuple[np.ndarray, np.ndarray]:
    """Young's modulus (Pa) and Poisson's ratio of each element."""
    young = np.array([body.material.young for body in stack.bodies])
    poisson = np.array([body.material.poisson for body in stack.bodies])
    return young[mesh.plate], poisson[mesh.plate]


__all__ = ["BALANCE", "Held", "Pressing", "UnbalancedError"]


def opening_words(seats: Collection[str], bolts: Collection[str]) -> str:
    """Name the rods whose seats open and the clamp bolts that come loose."""
    kinds = (("seats open at", seats), ("clamp bolts come loose:", bolts))
    return "; ".join(f"{words} {', '.join(sorted(names))}" for words, names in kinds if names)
