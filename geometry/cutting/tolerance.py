"""What a cut leaves, against what rods, edges and interfaces need. Lengths in m, forces in N.

A hole as cut is smaller than drawn by its limit deviation, leans by the squareness of its wall on
both sides, and stands off its place by half the deviation of the pitch, in the hole's plate and in
its neighbour's. What is left is a straight passage for the rod.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from platestack.geometry import tables
from platestack.geometry.parts import Plate, Stack
from platestack.geometry.schema import Cutting
from platestack.geometry.tables import OutOfTable

EASE = 1e-3
"""Least play of a rod in the passage that is left, so that it goes in hanging (common practice)."""
CLOSING = 0.1
"""Part of the capacity that may go into pressing a bowed plate flat (common practice)."""


@dataclass(frozen=True)
class HoleFit:
    """Tolerances of one plate. None where the tables do not reach, or nothing asks for it."""

    squareness: float | None
    """u: between two parallel lines lies the face of the cut."""
    profile: float | None
    allowance: float | None
    """Least allowance that leaves no trace of the cut on bored walls and machined edges."""
    flat: float | None
    """Bow over the length that its neighbours can bear (`flat_enough`)."""
    delivered: float | None
    """Gap under a straight-edge allowed on delivery, over 1 m, or 2 m for longer plates."""


def passage(diameter: float, thickness: float, pitch: float, cutting: Cutting) -> float | None:
    """Straight passage through a round hole as cut, at worst (m); None outside ISO 9013.

    D − δ(D) − 2·u − δ(pitch): one plate may stand off by half δ one way, its neighbour the other.
    """
    try:
        taper = 2 * tables.squareness(thickness, cutting.squareness)
        off = tables.cut_deviation(thickness, pitch) if pitch > 0 else 0.0
        return diameter - tables.cut_deviation(thickness, diameter) - taper - off
    except OutOfTable:
        return None


def least_allowance(size: float, thickness: float, pitch: float, cutting: Cutting) -> float | None:
    """Allowance that surely holds all of a cut (m): u + Rz5 + δ(size)/2 + δ(pitch)/2."""
    try:
        own = tables.squareness(thickness, cutting.squareness)
        own += tables.profile_height(thickness, cutting.squareness)
        off = tables.cut_deviation(thickness, pitch) if pitch > 0 else 0.0
        return own + (tables.cut_deviation(thickness, size) + off) / 2
    except OutOfTable:
        return None


def fit(
    plate: Plate, cutting: Cutting, asked: tuple[float | None, ...], flat: float | None
) -> HoleFit:
    """Tolerances of a plate.

    `asked` are the allowances that its bored holes and machined edges need, `flat` how flat its
    faces must be for its neighbours (None if it has none).
    """
    square = profile = delivered = None
    low, high = tables.cut_scope(cutting.process)
    if low <= plate.thickness <= high * (1 + 1e-9):
        square = tables.squareness(plate.thickness, cutting.squareness)
        profile = tables.profile_height(plate.thickness, cutting.squareness)
    known = [one for one in asked if one is not None]
    if flat is not None:
        with suppress(OutOfTable):
            gauge: Literal[1, 2] = 1 if plate.outline.length <= 1.0 else 2
            delivered = tables.flatness_tolerance(plate.thickness, gauge)
    return HoleFit(square, profile, max(known, default=None), flat, delivered)


def flat_enough(plate: Plate, stack: Stack, capacity: float) -> float | None:
    """Bow over its length that a plate of a flat stack may have (m); None without neighbours.

    It must close under a tenth of the capacity, and as it closes it adds to the deflection that an
    indicator reads: at most half of that limit (both common practice).
    """
    if stack.layout != "flat" or len(stack.plates) < 2:
        return None
    return min(bow_pressed_out(plate, CLOSING * capacity), stack.deflection_limit / 2)


def bow_pressed_out(plate: Plate, force: float) -> float:
    """Bow over a plate's length that a force, spread evenly, presses out of it (m).

    5·F·L³ / (384·E·I): a beam on its two ends, I = b·t³/12; holes are not taken off.
    """
    length, inertia = plate.outline.length, plate.outline.width * plate.thickness**3 / 12
    return 5 * force * length**3 / (384 * plate.material.young * inertia)
