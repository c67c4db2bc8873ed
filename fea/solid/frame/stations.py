"""A stack as seen from its stations: nuts, seats, loaded patch; everything else condensed.

The stack is solved with the rods as springs, under a unit force at each station in turn; where it
has mirror planes, on the part that is meshed, for even and odd motions (`fea.solid.frame.parity`).
The springs are then taken out again by algebra, which leaves the stiffness of the free stack
between its stations, rigid motions included, exactly as the mesh has it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from scipy.sparse import bsr_matrix, csr_matrix, vstack
from skfem import MeshTet2

from platestack.fea.hand.support import STATIONS
from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import clamping, contact, interfaces, loads, readings
from platestack.fea.solid.contact import Interfaces
from platestack.fea.solid.frame.parity import Parity, parities
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.pressing import PressedState, Pressing, materials
from platestack.fea.solid.stack import Report, mesh_stack
from platestack.geometry.layout import line_of
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Point, Press, Stack, TieRod
from platestack.geometry.schema import Case

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
    if at == "capacity":
        return condense_both(press, stack, case, report)[1]
    report(f"{stack.name}: mesh")
    mesh, pairs = interfaces.opened(stack, mesh_stack(press, stack, case))
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    matrix, faces = space.stiffness(*materials(stack, mesh)), None
    if pairs:
        faces = interfaces.faces_of(stack, mesh, pairs)
        joining = interfaces.joining(press, stack, mesh, faces)
        matrix = matrix if joining is None else bsr_matrix(matrix + joining)
    model = _Model(press, stack, mesh, space, matrix)
    report(f"{stack.name}: stations")
    return model.stations(None if faces is None else model.closed_by_preload(faces))


def condense_both(
    press: Press, stack: Stack, case: Case, report: Report
) -> tuple[Stations, Stations]:
    """Solve a stack for its stations at preload and at capacity, with the forces of both.

    Errors as of `condense`.
    """
    report(f"{stack.name}: mesh")
    mesh = mesh_stack(press, stack, case)
    if not interfaces.opened(stack, mesh)[1]:
        found = condense(press, stack, case, report, "preload")
        return found, found
    done = Pressing(press, stack, mesh, lambda step: report(f"{stack.name}: {step}"))
    model = _Model(press, stack, done.mesh, done.space, done.matrix)
    report(f"{stack.name}: stations")
    return model.loaded(done)


class _Station(NamedTuple):
    """What is read at a place of the whole stack: its height, or its tilt along an axis."""

    row: int
    """Of the row that reads it, or its image, on the mesh."""
    at: Point
    tilt: int | None


class _Model:
    """A stack, or the part of it that is meshed, and the rows that read its stations."""

    def __init__(
        self,
        press: Press,
        stack: Stack,
        mesh: StackMesh,
        space: QuadraticSpace,
        matrix: bsr_matrix,
    ):
        self._press, self._stack, self._mesh = press, stack, mesh
        self._space, self._matrix = space, matrix
        self._parities = parities(mesh.symmetry)
        free = tuple(replace(rod, seat="none") for rod in press.rods)
        self._held = loads.supports(mesh, free)
        self._clamps = clamping.clamps(mesh, stack)
        self._seated = press.rods[0].seat != "none"
        self._modelled = [rod for rod in press.rods if rod.name in self._held.rods]
        self._rows = self._read()
        self._stations = list(self._all())

    def loaded(self, done: Pressing) -> tuple[Stations, Stations]:
        """Stations of the stack tightened and pressed, each with the forces of its state."""
        pressed = done.pressed
        at_capacity = self.stations(pressed.solver.system.extra, pressed).through(
            self._seen(pressed.displacement),
            self._forces(done.pressed.rods, 1.0),
        )
        if done.tightened is None:
            return replace(at_capacity, bias=np.zeros_like(at_capacity.bias)), at_capacity
        rest = self.stations(done.tightened.solver.system.extra, done.tightened)
        forces = self._forces(done.tightened.rods, 0.0)
        return rest.through(self._seen(done.rest), forces), at_capacity

    def closed_by_preload(self, faces: Interfaces) -> bsr_matrix | None:
        """What contact adds to the stiffness under preload alone."""
        held = loads.supports(self._mesh, self._press.rods)
        system = System(self._matrix, held.fixed, held.squeezing)
        squeeze = held.squeeze + self._clamps.load
        return contact.solve(system, self._space, faces, squeeze).solver.system.extra

    def stations(self, closed: bsr_matrix | None, state: PressedState | None = None) -> Stations:
        """Stations with what contact adds to the stiffness, and without bolts loose in a state."""
        rods, extra = self._press.rods, None if closed is None else FIRM * closed
        loose = {bolt.bolt.name for bolt in state.bolts if bolt.working <= 0} if state else set()
        made = solvers.solver if extra is None else solvers.multigrid
        flexibility = np.zeros((len(self._stations),) * 2)
        for parity in self._parities:
            signs = np.zeros((len(self._stations), self._rows.shape[0]))
            for number, (row, at, tilt) in enumerate(self._stations):
                signs[number, row] = parity.sign(at, tilt)
            seen = np.flatnonzero(signs.any(axis=0))
            rows, signs = self._rows[seen], signs[:, seen]
            ties = self._clamps.without(
                loose | {b.name for b in self._stack.bolts if not parity.stretches(b)}
            ).added_to(self._ties(parity))
            system = System(self._matrix, parity.fixed(self._mesh), ties, extra)
            answer = made(system, self._space).solve(np.asarray(rows.T.todense()))
            flexibility += signs @ (rows @ answer.displacement) @ signs.T / self._mesh.share
        springs = np.array([2 * rod.stiffness for rod in rods])
        if self._in_line:
            springs = np.concatenate([springs, np.repeat([_tilting(rod) for rod in rods], 2)])
        stiffness = np.linalg.inv((flexibility + flexibility.T) / 2)
        stiffness[range(len(springs)), range(len(springs))] -= springs
        none = np.zeros(len(stiffness))
        return Stations(stiffness, flexibility, len(rods), self._seated, none)

    @property
    def _in_line(self) -> bool:
        """Whether rods leave tipping free: springs at their tilts hold it, and go out again."""
        return line_of([rod.at for rod in self._press.rods]) is not None

    def _ties(self, parity: Parity) -> Ties:
        """Rods, and restraints of sliding and turning, which vertical forces do not load."""
        rows, stiffness = [], []
        for number, (rod, share) in enumerate(zip(self._modelled, self._held.shares, strict=True)):
            springs: list[tuple[int | None, float]] = [(None, 2 * rod.stiffness)]
            if self._in_line:
                springs += [(0, _tilting(rod)), (1, _tilting(rod))]
            for kind, (tilt, spring) in enumerate(springs):
                if parity.sign(rod.at, tilt):
                    rows.append(self._rows[self._each * number + kind])
                    stiffness.append(share * spring)
        weights = np.asarray(self._held.nuts.sum(axis=0)).ravel()[2::3]
        hold = 2 * sum(rod.stiffness for rod in self._modelled)
        for row, motion in zip(
            readings.sliding(self._mesh, weights), ({0}, {1}, {0, 1}), strict=True
        ):
            if parity.holds(motion):
                rows.append(row)
                stiffness.append(hold)
        return Ties(csr_matrix(vstack(rows)), np.array(stiffness))

    @property
    def _each(self) -> int:
        """Rows of each rod: its nut, two tilts, its seat if it has one."""
        return 4 if self._seated else 3

    def _read(self) -> csr_matrix:
        """Rows of the stations in the model: of each rod in turn, then of the patch."""
        rows = []
        for number, rod in enumerate(self._modelled):
            on = "seat" if self._seated else "nut"
            height, *tilts = readings.plane_rows(self._mesh, f"{on} of {rod.name}", rod.at)
            nut = self._held.outward * self._held.stations[STATIONS * number]
            rows += [nut, *tilts, *([height] if self._seated else [])]
        patch = readings.plane_rows(self._mesh, self._stack.patch_name, self._centre)
        return csr_matrix(vstack(rows + patch))

    @property
    def _centre(self) -> Point:
        return self._stack.patch.centre

    def _all(self) -> Iterator[_Station]:
        """All stations of the whole stack, in their order."""
        at = [rod.at for rod in self._press.rods]
        first = [self._each * self._image(place) for place in at]
        patch = self._each * len(self._modelled)
        yield from (_Station(row, place, None) for row, place in zip(first, at, strict=True))
        for row, place in zip(first, at, strict=True):
            yield from (_Station(row + 1 + axis, place, axis) for axis in (0, 1))
        if self._seated:
            yield from (
                _Station(row + 3, place, None) for row, place in zip(first, at, strict=True)
            )
        for kind, tilt in enumerate((None, 0, 1)):
            yield _Station(patch + kind, self._centre, tilt)

    def _image(self, at: Point) -> int:
        """Number of the modelled rod that stands at a place, or at its image."""
        mirrored = self._parities[0].mirrored
        there = [abs(c) if axis in mirrored else c for axis, c in enumerate(at)]
        away = [np.hypot(*np.subtract(rod.at, there)) for rod in self._modelled]
        return int(np.argmin(away))

    def _seen(self, displacement: np.ndarray) -> np.ndarray:
        """What the stations (s,) of the whole stack read of an even state (3n,)."""
        even, read = self._parities[0], self._rows @ displacement
        return np.array([even.sign(at, tilt) * read[row] for row, at, tilt in self._stations])

    def _forces(self, rods: Sequence[RodForces], part: float) -> np.ndarray:
        """Forces (s,) on the stations, upwards: what rods bear, and a part of the capacity."""
        stack, sign, even = self._stack, self._stack.direction, self._parities[0]
        force = part * sign * self._press.capacity
        bears = {rod.rod: rod for rod in rods}
        at = [rod.at for rod in self._press.rods]
        borne = [bears[self._modelled[self._image(place)].name] for place in at]
        moments = [
            -sign * even.sign(place, axis) * one.moment[axis]
            for place, one in zip(at, borne, strict=True)
            for axis in (0, 1)
        ]
        nuts = [-sign * one.nut for one in borne]
        seats = [sign * (one.seat or 0.0) for one in borne] if self._seated else []
        return np.concatenate([nuts, moments, seats, force * np.array([1.0, *stack.off])])


def _tilting(rod: TieRod) -> float:
    """Stiffness (N m) of a spring that holds the tilt at a rod."""
    return rod.stiffness * rod.diameter**2
