"""Crosshead, bed, rods and seats put together as one frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.linalg import block_diag

from platestack.fea.hand.support import UNKNOWNS, Support, bending
from platestack.fea.solid.frame.springs import Frame
from platestack.fea.solid.frame.stations import Stations, condense, condense_both
from platestack.fea.solid.stack import Report
from platestack.geometry.parts import Press, Stack, TieRod
from platestack.geometry.schema import Case

GRAVITY = 9.80665


@dataclass(frozen=True)
class End:
    """A nut that is turned to tighten a rod.

    `stack` is the one that it presses against the rod's seat there; None where the whole rod is
    stretched between both stacks.
    """

    name: str
    rod: TieRod
    stack: Stack | None
    stretched: float
    """Length of rod that an indicator reads (m): between the nuts, or from nut to seat."""

    @property
    def stiffness(self) -> float:
        """EA/L of the length that is read (N/m)."""
        return self.rod.material.young * self.rod.area / self.stretched


@dataclass(frozen=True)
class PressFrame:
    """A press as a frame. Its first springs are those of `ends`, seats follow."""

    press: Press
    frame: Frame
    ends: tuple[End, ...]
    ram: tuple[int, int]
    """First of the three unknowns of the patch of crosshead and of bed."""

    @property
    def weight(self) -> np.ndarray:
        """Load (n,) of the crosshead's weight, which keeps it down while few rods are tight.

        It acts on the press axis, at the patch; the cylinder's weight is left out.
        """
        return self._at_patch(0, -GRAVITY * self.press.crosshead.mass, (0.0, 0.0))

    def pressing(self, force: float, offset: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
        """Load (n,) of the ram: up on the crosshead, down on the bed, `offset` (m) from the axis.

        The pressure on the patches varies linearly, so that its resultant is there; their outline
        stays.
        """
        return self._at_patch(0, force, offset) + self._at_patch(1, -force, offset)

    def _at_patch(self, which: int, force: float, at: tuple[float, float]) -> np.ndarray:
        """Load (n,) of a force (N, upwards) on the patch of crosshead (0) or bed (1)."""
        load = np.zeros(len(self.frame.stiffness))
        first, centre = self.ram[which], self.press.stacks[which].patch.centre
        load[first : first + 3] = force * np.array([1.0, at[0] - centre[0], at[1] - centre[1]])
        return load

    def tilt(self, displacement: np.ndarray) -> np.ndarray:
        """Tilt (2,) of the crosshead's patch against the bed's, ∂w/∂x and ∂w/∂y."""
        up, down = (displacement[first + 1 : first + 3] for first in self.ram)
        return np.asarray(up - down)


def of_case(
    press: Press, case: Case, report: Report, at: Literal["preload", "capacity"]
) -> PressFrame:
    """Condense both stacks of a press and join them.

    Raises
    ------
    MeshError, SolveError
        If a stack cannot be meshed or solved.
    """
    crosshead, bed = (condense(press, stack, case, report, at) for stack in press.stacks)
    return assemble(press, crosshead, bed)


def tightened_and_pressed(
    press: Press, case: Case, report: Report
) -> tuple[PressFrame, PressFrame]:
    """Join both stacks as they are at preload and as at capacity; errors as of `of_case`."""
    crosshead, bed = (condense_both(press, stack, case, report) for stack in press.stacks)
    return assemble(press, crosshead[0], bed[0]), assemble(press, crosshead[1], bed[1])


def assemble(press: Press, crosshead: Stations, bed: Stations) -> PressFrame:
    """Join the stations of crosshead and bed by rods and seats (`fea.hand.support`).

    Rods without seats bend with the stacks that they are clamped to, so that two of them hold a
    crosshead upright too.
    """
    first, rods = len(crosshead.stiffness), press.rods
    stacks = block_diag(crosshead.stiffness, bed.stiffness)
    places = _Places((crosshead, bed), (0, first), len(stacks), rods[0].seated_itself)
    stiffness = np.zeros((places.size, places.size))
    stiffness[: len(stacks), : len(stacks)] = stacks
    pulled: list[tuple[np.ndarray, float]] = []
    pressed: list[tuple[np.ndarray, float]] = []
    ends: list[End] = []
    for side, stack in enumerate(press.stacks):
        for i, rod in enumerate(rods):
            annulus = rod.seat_annulus
            face = stack.seat_face(annulus) if annulus else None
            depth = abs(stack.nut_face - (stack.load_face if face is None else face))
            support = Support.of(rod, depth)
            unseated = (_bent(axis) for axis in (0, 1)) if rod.seat == "none" else ()
            members = zip(
                support.rows, support.stiffness, support.across, support.ring, strict=True
            )
            for number, (row, spring, across, part) in enumerate(
                (*members, *((row, bending(rod), True, 0.0) for row in unseated))
            ):
                if across and side == 1:
                    continue  # it is one member, from the crosshead on
                whole = places.row(i, row, (0, 1) if across else (side,))
                if part > 0:
                    pressed.append((whole, spring))
                elif number > 0:
                    stiffness += spring * np.outer(whole, whole)
                else:
                    pulled.append((whole, spring))
                    ends.append(
                        End(rod.name, rod, None, rod.free_length)
                        if across
                        else End(f"{rod.name} {stack.name}", rod, stack, depth)
                    )
    rows, springs = zip(*(pulled + pressed), strict=True)
    ram = crosshead.patch, first + bed.patch
    # The bed stands on the floor: three supports, which carry nothing as the ram pulls it in.
    reach = max(max(map(abs, rod.at)) for rod in rods)
    held = range(ram[1], ram[1] + 3)
    stiffness[held, held] += max(springs) * np.array([1.0, reach**2, reach**2])
    bias = np.concatenate([crosshead.bias, bed.bias, np.zeros(places.size - len(stacks))])
    frame = Frame(stiffness, np.array(rows), np.array(springs), bias)
    return PressFrame(press, frame, tuple(ends), ram)


@dataclass(frozen=True)
class _Places:
    """Where the stations of both stacks, and points of the rods' own, are among all unknowns."""

    stacks: tuple[Stations, Stations]
    first: tuple[int, int]
    owns: int
    """First of the rods' own: three for each rod at each stack, if there are any."""
    seated_itself: bool

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.owns + 6 * self.stacks[0].count * self.seated_itself

    def row(self, rod: int, row: np.ndarray, sides: tuple[int, ...]) -> np.ndarray:
        """A member's row (7,) by outward stations of a rod, among all unknowns of some stacks."""
        found = np.zeros(self.size)
        for side in sides:
            stations, first, outward = self.stacks[side], self.first[side], (1.0, -1.0)[side]
            own = self.owns + 3 * (side * stations.count + rod)
            at = [first + rod, first + stations.tilt(rod), first + stations.tilt(rod) + 1]
            at += [first + stations.seat(rod), own, own + 1, own + 2]
            for place, value in zip(at, row, strict=True):
                if value:
                    found[place] += outward * value
        return found


def _bent(axis: int) -> np.ndarray:
    """Row (7,) of a tilt of the stack."""
    return np.eye(UNKNOWNS)[1 + axis]
