"""Capacity off the press axis: rods, seats, tilt and ram, and how far off is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from platestack.fea.hand.ram import guide_force
from platestack.fea.hand.support import STRUTS
from platestack.fea.jobs.tightening.passes import Bench
from platestack.fea.solid.frame.press import PressFrame
from platestack.fea.solid.frame.springs import Unheld
from platestack.geometry.parts import Point
from platestack.geometry.units import percent, plain, quantity

DIRECTIONS = 36
HALVINGS = 10
"""Of the reach, until the largest offset is found to a thousandth of it."""

ROD, OPENING, TILT, GUIDES = "rod tension", "opening", "tilt", "ram guides"


@dataclass(frozen=True)
class OffsetLoad:
    """The frame with capacity at an offset (m)."""

    offset: Point
    forces: tuple[float, ...]
    """Under the nut of each end (N)."""
    clamp: tuple[float, ...]
    """Left on each seat (N); empty without seats."""
    utilisation: float
    """Largest nut force over yield of the thread over the rods' safety factor."""
    tilt: Point
    """Of the crosshead against the bed, ∂w/∂x and ∂w/∂y."""
    moment: float
    """On the ram, force times offset (N m)."""
    side: float
    """Component of the force across the ram as crosshead and bed tilt apart (N)."""
    guide: float | None
    """Pressure on the guides of the ram over the allowable one; None without a cylinder."""
    opened: tuple[str, ...] = ()
    """Nuts that have lifted off, and seats on which nothing presses any more."""

    @property
    def least(self) -> float:
        """Least force on a seat, or under a nut where there are no seats (N)."""
        return min(self.clamp or self.forces)

    def exceeded(self, tilt_limit: float) -> list[str]:
        """What is beyond its limit here, in words."""
        tilt = math.hypot(*self.tilt)
        uses = {
            f"{ROD} is {percent(self.utilisation)} of its limit": self.utilisation,
            f"{TILT} {quantity(tilt, 'm/m', 3)} is beyond {quantity(tilt_limit, 'm/m', 3)}, "
            f"{plain(tilt / tilt_limit, 2)} times": tilt / tilt_limit,
        }
        if self.guide is not None:
            uses[f"pressure on the {GUIDES} is {percent(self.guide)} of its limit"] = self.guide
        words = [words for words, use in uses.items() if use > 1]
        return [*words, f"opens: {', '.join(self.opened)}"] if self.opened else words


@dataclass(frozen=True)
class Allowed:
    """Largest offsets (m) in one direction (degrees from x towards y), by what limits them.

    Infinite where nothing within reach does.
    """

    angle: float
    largest: dict[str, float]


@dataclass(frozen=True)
class OffCentre:
    """A tightened press, to be loaded at any offset.

    `tightened` is the press at preload, `frame` at capacity: plates that may part give in to a
    force otherwise there.
    """

    frame: PressFrame
    tilt_limit: float
    tightened: PressFrame | None = None
    """None where it is as at capacity."""

    @cached_property
    def advance(self) -> np.ndarray:
        """Advances (m,) of the nuts that give the preload."""
        frame = self.tightened or self.frame
        bench = Bench(frame.frame, len(frame.ends), frame.weight)
        preload = np.array([end.rod.preload for end in frame.ends])
        if not preload.any():
            return np.zeros(len(frame.frame.springs))
        return bench.advance_for(bench.loose, range(bench.count), preload)

    def at(self, offset: Point) -> OffsetLoad:
        """Load the press at an offset.

        Raises
        ------
        Unheld
            If the crosshead tips: no state of rods and seats holds it.
        """
        frame, press = self.frame, self.frame.press
        load = frame.pressing(press.capacity, offset) + frame.weight
        state = frame.frame.solve(self.advance, load)
        count = len(frame.ends)
        forces, seats = state.forces[:count], state.forces[count:].reshape(-1, STRUTS).sum(axis=1)
        limits = np.array([end.rod.stress_area * end.rod.material.yield_strength
                           for end in frame.ends]) / press.rod_safety_factor  # fmt: skip
        tilt = frame.tilt(state.displacement)
        side = press.capacity * float(np.hypot(*tilt))
        return OffsetLoad(
            offset,
            tuple(forces.tolist()),
            tuple(seats.tolist()),
            float((forces / limits).max()),
            (float(tilt[0]), float(tilt[1])),
            press.capacity * math.hypot(*offset),
            side,
            self._guides(math.hypot(*offset), side),
            self._opened(forces, seats),
        )

    def _opened(self, forces: np.ndarray, seats: np.ndarray) -> tuple[str, ...]:
        """Names of nuts and seats that bear nothing."""
        names = [end.name for end in self.frame.ends]
        whole = [*(f"nut of {name}" for name in names), *(f"seat of {name}" for name in names)]
        borne = [*forces, *seats]
        return tuple(name for name, f in zip(whole, borne, strict=False) if f <= 0)

    def _guides(self, offset: float, side: float) -> float | None:
        """Pressure of the ram on its guides over the allowable one.

        The gland bears the couple F·e over the distance of the guides, and the side force.
        """
        press = self.frame.press
        made = press.cylinder
        if made is None:
            return None
        couple = guide_force(press.capacity, offset, (made.piston + made.gland) / 2)
        return (couple + side) / (made.ram * made.gland / 2) / made.guide_pressure

    def allowed(self) -> tuple[Allowed, ...]:
        """Largest offset round the press axis by each limit, as far out as the rods stand.

        All demands grow outwards from the axis.
        """
        rods = np.array([rod.at for rod in self.frame.press.rods])
        reach = float(np.abs(rods).max())
        demands: dict[str, Callable[[OffsetLoad], bool]] = {
            ROD: lambda place: place.utilisation > 1,
            OPENING: lambda place: place.least <= 0,
            TILT: lambda place: math.hypot(*place.tilt) > self.tilt_limit,
        }
        if self.frame.press.cylinder is not None:
            demands[GUIDES] = lambda place: (place.guide or 0.0) > 1
        found = []
        for angle in 360 / DIRECTIONS * np.arange(DIRECTIONS):
            along = math.cos(math.radians(angle)), math.sin(math.radians(angle))
            seen: dict[float, OffsetLoad | None] = {}

            def place(
                part: float, along: Point = along, seen: dict[float, OffsetLoad | None] = seen
            ) -> OffsetLoad | None:
                if part not in seen:
                    offset = reach * part * along[0], reach * part * along[1]
                    try:
                        seen[part] = self.at(offset)
                    except Unheld:
                        seen[part] = None
                return seen[part]

            largest = {name: reach * _first(place, broken) for name, broken in demands.items()}
            found.append(Allowed(float(angle), largest))
        return tuple(found)


def _first(
    place: Callable[[float], OffsetLoad | None], broken: Callable[[OffsetLoad], bool]
) -> float:
    """Part of the reach up to which a demand is met, by halving; 0 if never, inf if always."""

    def bad(part: float) -> bool:
        here = place(part)
        return here is None or broken(here)

    if bad(0.0):
        return 0.0
    if not bad(1.0):
        return math.inf
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if bad(middle) else (middle, high)
    return low
