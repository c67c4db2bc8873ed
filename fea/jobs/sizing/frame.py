"""Where plates, rods and cylinder stand: sizes in plan that follow from cylinder and rods."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from platestack.fea.jobs.duty.duty import Duty
from platestack.fea.jobs.duty.usual import up
from platestack.geometry.errors import UsageError
from platestack.geometry.layout import rod_hole
from platestack.geometry.units import LENGTH, show

CLEAR = 0.02
"""Between a rod's hole and the cylinder, beside the cylinder's seat (m), common practice."""
BESIDE_SEAT = 0.005
"""Between cylinder and seat of a rod, which is no larger than its washer (m)."""
BETWEEN_WASHERS = 0.01


class TooNarrow(UsageError):
    """A width was given that plates on edge do not fit into; `least` (m) would do."""

    def __init__(self, message: str, least: float):
        super().__init__(message)
        self.least = least


@dataclass(frozen=True)
class Edge:
    """What only a stack on edge has (m); its platen is as long as its plates.

    A platen that ended between the rods would press on the bent plates with its sharp end, and the
    harder the thicker it is: so at 160 tf, 1.44 of what is allowed in place of 0.45.
    """

    gaps: tuple[float, ...]
    platen: float
    """Least thickness, as that of the saddle."""
    saddle: float


@dataclass(frozen=True)
class PlanSize:
    """Sizes of crosshead and bed in plan (m)."""

    length: float
    width: float
    pitch: tuple[float, ...]
    corner: float
    edge: Edge | None = None


def bearing(rod: float) -> float:
    """Outer diameter of the washer (m), as `geometry.stacking` takes it of rods from 8 mm on."""
    return 1.75 * rod


def edge_of(rod: float) -> float:
    """Distance of a rod from the plate's edge (m): half the washer and a quarter rod, whole 5 mm.

    Common practice, no source.
    """
    return up(bearing(rod) / 2 + 0.25 * rod, 1)


def flat(duty: Duty, outer: float, rod: float) -> PlanSize:
    """Flat plates as given, or as small as a cylinder of diameter `outer` and the rods allow.

    Raises
    ------
    UsageError
        If given sizes are too small.
    """
    edge = edge_of(rod)
    least = _least_pitch(duty.rods, outer, rod)
    least_width = max(outer + 2 * CLEAR, 2 * edge + (least[1] if len(least) > 1 else 0.0))
    length = _given(duty.length, least[0] + 2 * edge, "length")
    width = _given(duty.width, least_width, "width")
    pitch = (length - 2 * edge, width - 2 * edge)[: len(least)]
    return PlanSize(length, width, pitch, up(0.5 * rod, 1))


def on_edge(duty: Duty, outer: float, rod: float, count: int, thickness: float) -> PlanSize:
    """Upright plates side by side, with the rods in gaps between them.

    Four and more rods stand in two gaps, with about a quarter of the plates outside each; two rods
    in the middle gap. What width the cylinder needs beyond is shared among gaps inside.
    """
    slot = up(rod_hole(rod) + 0.01, 1)
    washer = bearing(rod)
    least = _least_pitch(duty.rods, outer, rod)
    edge = up(0.7 * washer, 1)
    groups: tuple[int, ...]
    if duty.rods == 2:
        groups = (count // 2, count // 2)
    else:
        outside = max(1, count // 4)
        groups = (outside, count - 2 * outside, outside)
    wanted = max(outer + 2 * CLEAR, duty.width or 0.0)
    inside = groups[len(groups) // 2] - 1 if duty.rods > 2 else sum(groups) - len(groups)
    slots = len(groups) - 1
    gap = max(0.0, (wanted - count * thickness - slots * slot) / max(inside, 1))
    if duty.rods > 2:
        within = least[1] - slot - groups[1] * thickness
        gap = max(gap, within / max(inside, 1))
    gap = 0.0 if gap < 1e-9 else max(0.01, up(gap, 1))
    gaps: list[float] = []
    for index, group in enumerate(groups):
        spread = duty.rods == 2 or index == 1
        gaps += [gap if spread else 0.0] * (group - 1)
        if index < slots:
            gaps.append(slot)
    width = count * thickness + sum(gaps)
    if washer > slot + 2 * groups[0] * thickness:
        raise UsageError(
            f"plates of {show(thickness, LENGTH)} on edge are too thin for washers of "
            f"{show(washer, LENGTH)}; allowed: more or thicker plates outside the rods"
        )
    if duty.width is not None and width > duty.width + 1e-9:
        raise TooNarrow(
            f"--width: given {show(duty.width, LENGTH)}; allowed: at least {show(width, LENGTH)} "
            f"for {count} plates {show(thickness, LENGTH)} on edge and the rods between them",
            width,
        )
    length = _given(duty.length, least[0] + 2 * edge, "length")
    along = length - 2 * edge
    middle = groups[1] * thickness + (groups[1] - 1) * gap if duty.rods > 2 else 0.0
    pitch = (along, middle + slot) if duty.rods > 2 else (along,)
    platen = max(0.2 * outer, 0.8 * gap, 0.6 * slot)
    return PlanSize(length, width, pitch, 0.0, Edge(tuple(gaps), platen, 0.9 * rod))


def _least_pitch(count: int, outer: float, rod: float) -> tuple[float, ...]:
    """Smallest distances of the outermost rods along x and y (m)."""
    away, apart = 2 * _away(outer, rod), bearing(rod) + BETWEEN_WASHERS
    if count == 2:
        return (up(away, 2),)
    if count == 4:
        return up(away, 2), up(apart, 2)
    columns = count // 2
    along = max(away, (columns - 1) * apart)
    near = 0.0 if columns == 3 else along / 3
    return up(along, 2), up(max(apart, math.sqrt(max(away**2 - near**2, 0.0))), 2)


def _away(outer: float, rod: float) -> float:
    """Least distance of a rod, with any seat, from the press axis (m)."""
    return outer / 2 + max(rod_hole(rod) / 2 + CLEAR, bearing(rod) / 2 + BESIDE_SEAT)


def _given(given: float | None, least: float, name: str) -> float:
    if given is not None and given < least - 1e-9:
        raise UsageError(
            f"--{name}: given {show(given, LENGTH)}; allowed: at least {show(least, LENGTH)}, so "
            "that cylinder, rods and washers have room"
        )
    return given if given is not None else up(least, 2)


def stock(least: float, thicknesses: Sequence[float]) -> float:
    """The next thickness (m) in stock from a least one; the thickest where none is."""
    return next((t for t in thicknesses if t >= least - 1e-9), thicknesses[-1])
