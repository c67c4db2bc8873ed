"""Crosshead, bed, rods and sleeves put together as one frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag

from fea.frame.springs import Frame
from fea.frame.stations import Stations
from geometry import tables
from geometry.parts import Press, TieRod

GRAVITY = 9.80665


def end_compliance(rod: TieRod) -> float:
    """Yielding of one nut and the thread engaged in it (m/N).

    0.5 d of thread on its core area A3 and 0.4 d of nut on the nominal area (VDI 2230-1:2015,
    5.1.1, from memory).
    """
    thread = tables.thread(rod.thread)
    core, full = np.pi / 4 * thread.d3**2, np.pi / 4 * thread.d**2
    return float((0.5 * thread.d / core + 0.4 * thread.d / full) / rod.material.young)


def rod_spring(rod: TieRod) -> float:
    """Stiffness of a rod with its two nuts (N/m)."""
    return 1 / (1 / rod.stiffness + 2 * end_compliance(rod))


@dataclass(frozen=True)
class PressFrame:
    """A press as a frame. Its springs: the rods, then the sleeves."""

    press: Press
    frame: Frame
    ram: tuple[int, int]
    """Unknowns of the patch of crosshead and bed."""

    @property
    def weight(self) -> np.ndarray:
        """Load (n,) of the crosshead's weight, which keeps it down while few rods are tight.

        It acts at the patch; the cylinder's weight is left out.
        """
        load = np.zeros(len(self.frame.stiffness))
        load[self.ram[0]] = -GRAVITY * self.press.crosshead.mass
        return load

    def pressing(self, force: float, offset: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
        """Load (n,) of the ram: up on the crosshead, down on the bed, `offset` (m) off centre.

        The pressure on the patches then varies linearly; their outline stays.
        """
        load = np.zeros(len(self.frame.stiffness))
        for sign, first in zip((1, -1), self.ram, strict=True):
            load[first : first + 3] = sign * force * np.array([1.0, *offset])
        return load


def assemble(press: Press, crosshead: Stations, bed: Stations) -> PressFrame:
    """Join the stations of crosshead and bed by rods and sleeves."""
    first = len(crosshead.stiffness)
    size = first + len(bed.stiffness)
    count = len(press.rods)
    rows, springs = [], []
    for number, rod in enumerate(press.rods):
        row = np.zeros(size)
        row[number], row[first + number] = 1.0, -1.0
        rows.append(row)
        springs.append(rod_spring(rod))
    sleeved = [rod for rod in press.rods if rod.seat == "sleeve"]
    for number, rod in enumerate(sleeved):
        row = np.zeros(size)
        row[count + number], row[first + count + number] = -1.0, 1.0
        rows.append(row)
        springs.append(rod.material.young * rod.sleeve_area / rod.between)
    ram = count + crosshead.seats, first + count + bed.seats
    stiffness = block_diag(crosshead.stiffness, bed.stiffness)
    # The bed stands on the floor: three supports, which carry nothing as the ram pulls it in.
    reach = max(max(map(abs, rod.at)) for rod in press.rods)
    held = range(ram[1], ram[1] + 3)
    stiffness[held, held] += max(springs) * np.array([1.0, reach**2, reach**2])
    return PressFrame(press, Frame(stiffness, np.array(rows), np.array(springs)), ram)
