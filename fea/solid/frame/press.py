"""Crosshead, bed, rods and seats put together as one frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.linalg import block_diag

from platestack.fea.solid.frame.springs import Frame
from platestack.fea.solid.frame.stations import Stations, condense, condense_both
from platestack.fea.solid.stack import Report
from platestack.geometry.parts import Press, Stack, TieRod
from platestack.geometry.schema import Case

GRAVITY = 9.80665

STRUTS = 8
"""Struts round a sleeve's ring, each of which only presses."""


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
    """Join the stations of crosshead and bed by rods and seats.

    Every rod bends with the stacks that it is clamped to. A sleeve is a ring of struts that only
    press, of the tube's stiffness in compression and, while all of them press, in bending.
    """
    first, rods = len(crosshead.stiffness), press.rods
    inner = rods[0].seated_itself
    size = first + len(bed.stiffness) + (2 * len(rods) if inner else 0)
    stiffness = np.zeros((size, size))
    stacks = block_diag(crosshead.stiffness, bed.stiffness)
    stiffness[: len(stacks), : len(stacks)] = stacks
    for i, rod in enumerate(rods):
        length = rod.between if inner else rod.free_length
        area = rod.area_between if inner else rod.area
        bending = rod.material.young * area**2 / (4 * math.pi) / length
        for axis in (0, 1):
            row = _difference(size, crosshead.tilt(i) + axis, first + bed.tilt(i) + axis)
            stiffness += bending * np.outer(row, row)
    ram = crosshead.patch, first + bed.patch
    if inner:
        rows, springs, ends = _seated(press, crosshead, bed, stiffness)
    else:
        rows, springs, ends = _through(press, crosshead, bed, size)
    # The bed stands on the floor: three supports, which carry nothing as the ram pulls it in.
    reach = max(max(map(abs, rod.at)) for rod in rods)
    held = range(ram[1], ram[1] + 3)
    stiffness[held, held] += max(springs) * np.array([1.0, reach**2, reach**2])
    bias = np.concatenate([crosshead.bias, bed.bias, np.zeros(size - len(stacks))])
    frame = Frame(stiffness, np.array(rows), np.array(springs), bias)
    return PressFrame(press, frame, ends, ram)


Springs = tuple[list[np.ndarray], list[float], tuple[End, ...]]


def _difference(size: int, plus: int, minus: int) -> np.ndarray:
    row = np.zeros(size)
    row[plus], row[minus] = 1.0, -1.0
    return row


def _through(press: Press, crosshead: Stations, bed: Stations, size: int) -> Springs:
    """Rods from nut to nut, and sleeves if there are some."""
    first = len(crosshead.stiffness)
    rows = [_difference(size, i, first + i) for i in range(len(press.rods))]
    springs = [rod.stiffness for rod in press.rods]
    ends = tuple(End(rod.name, rod, None, rod.free_length) for rod in press.rods)
    for i, rod in enumerate(press.rods):
        if rod.seat != "sleeve":
            continue
        # Second moment of n points on a circle of radius r: n r²/2; of the tube: A (R² + r²)/4.
        radius = math.hypot(rod.seat_outer / 2, rod.sleeve_inner / 2) / math.sqrt(2)
        for turn in 2 * math.pi * np.arange(STRUTS) / STRUTS:
            row = np.zeros(size)
            arm = np.array([1.0, radius * math.cos(turn), radius * math.sin(turn)])
            for sign, start, stations in ((-1, 0, crosshead), (1, first, bed)):
                tilt = start + stations.tilt(i)
                row[[start + stations.seat(i), tilt, tilt + 1]] = sign * arm
            rows.append(row)
            springs.append(rod.material.young * rod.sleeve_area / rod.between / STRUTS)
    return rows, springs, ends


def _seated(press: Press, crosshead: Stations, bed: Stations, stiffness: np.ndarray) -> Springs:
    """Rods with a node at each of their two seats; the shank between goes into `stiffness`."""
    first, size = len(crosshead.stiffness), len(stiffness)
    nodes = first + len(bed.stiffness)
    pulled: list[np.ndarray] = []
    pressed: list[np.ndarray] = []
    through: list[float] = []
    ends: list[End] = []
    for stack, start, stations, side in zip(
        press.stacks, (0, first), (crosshead, bed), (0, 1), strict=True
    ):
        for i, rod in enumerate(press.rods):
            node = nodes + 2 * i + side
            annulus = rod.seat_annulus
            face = stack.seat_face(annulus) if annulus else None
            depth = abs(stack.nut_face - (stack.load_face if face is None else face))
            sign = stack.direction
            pulled.append(sign * _difference(size, start + i, node))
            pressed.append(sign * _difference(size, node, start + stations.seat(i)))
            ends.append(End(f"{rod.name} {stack.name}", rod, stack, depth))
            through.append(1 / (1 / ends[-1].stiffness + rod.end_compliance))
    for i, rod in enumerate(press.rods):
        shank = rod.material.young * rod.area_between / rod.between
        row = _difference(size, nodes + 2 * i, nodes + 2 * i + 1)
        stiffness += shank * np.outer(row, row)
    seats = [rod.seat_stiffness for rod in press.rods] * 2
    return pulled + pressed, through + seats, tuple(ends)
