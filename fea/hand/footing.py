"""What a press stands on while it is put together: level strips, jacks, tipping. SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platestack.fea.hand import lifting
from platestack.fea.hand.record import Check, Input
from platestack.geometry.masses import Piece
from platestack.geometry.parts import Plate, Press, TieRod
from platestack.geometry.shapes import RoundHole
from platestack.geometry.units import fixed

AIR = 0.01
"""Least clearance beside a rod or the cylinder (m), common practice."""
FINGERS = 0.02
"""Room under a lower nut that is unscrewed (m), common practice."""
JACK = 0.08
"""Width of a jack's head with its plate (m), common practice."""
FOOT = 0.15
"""Side of a foot (m), as `geometry.schema.shop` has it by default."""
GRID = 0.005
NEAR = 1e-9
"""Lengths (m) closer than this are equal."""


@dataclass(frozen=True)
class FootingStrips:
    """Two level strips across the press at ±x, free from z = `low` to `high` (m)."""

    x: float
    low: float
    high: float


@dataclass(frozen=True)
class Jacking:
    """Raising one end of a load on two jacks, the other end staying on its feet.

    `at` is (x, y) of the jacks (m), `rise` how far (m), `force` that of both together (N), `tilt`
    the tilt reached and `tips` that at which the load tips, both in degrees.
    """

    load: Piece
    at: tuple[float, float]
    rise: float
    force: float
    tilt: float
    tips: float

    def checks(self) -> tuple[Check, ...]:
        """The tilt while one end is up, against a third of that at which it tips."""
        inputs = (Input("α", self.tilt, "°"), Input("α_tips", self.tips, "°"))
        return (
            Check("press", "tilt on the jacks", self.tilt, self.tips / 3, "°", "a third of tipping",
                  "α ≤ α_tips/3", "statics; a third: common practice, no source",
                  inputs=inputs,
                  method=f"atan of the rise, {fixed(self.rise, 'm', 0)}, over the base"),
        )  # fmt: skip


def tilt(load: Piece, base: tuple[float, float], floor: float) -> float:
    """Tilt (degrees) at which a load tips over the nearer edge of its base; 0 if it is outside.

    `base` is the half length and half width of a base about the press axis (m), `floor` its z.
    """
    height = load.centre[2] - floor
    arms = (max(half - abs(c), 0.0) for half, c in zip(base, load.centre, strict=False))
    return math.degrees(min(lifting.tipping_angle(arm, height) for arm in arms))


def level_places(press: Press, width: float) -> FootingStrips | None:
    """The outermost pair of strips across the press on which trestles can stand, or None.

    A strip must be level on the bed and below the crosshead, and keep clear of rods and cylinder.
    """
    half = width / 2
    gap = half + press.rods[0].diameter / 2 + AIR
    made = press.cylinder
    core = half + AIR + (made.outer_diameter / 2 if made is not None else 0.0)
    reach = max(p.bounds[1][0] for p in press.bed.plates)
    for x in np.arange(math.floor(reach / GRID) * GRID, core, -GRID).tolist():
        if any(abs(x - abs(rod.at[0])) < gap for rod in press.rods):
            continue
        low = level(press.bed.plates, x, half, up=True)
        high = level(press.crosshead.plates, x, half, up=False)
        if low is not None and high is not None:
            return FootingStrips(x, low, high)
    return None


def level(plates: Sequence[Plate], x: float, half: float, *, up: bool) -> float | None:
    """Height (m) of the face of a stack along the strip x ± half, if it is one level all across.

    `up` takes the face that looks up, else the one that looks down. Rod holes are not looked at.
    """
    ends = [_run(p, up) for p in plates]
    touched = [
        (p.bounds[1][2] if up else p.bounds[0][2], a - NEAR <= x - half and x + half <= b + NEAR)
        for p, (a, b) in zip(plates, ends, strict=True)
        if p.role != "spacer" and a < x + half - NEAR and b > x - half + NEAR
    ]
    if not touched:
        return None
    z = max(h for h, _ in touched) if up else min(h for h, _ in touched)
    outermost = [whole for h, whole in touched if abs(h - z) < NEAR]
    return z if all(outermost) else None


def _run(plate: Plate, up: bool) -> tuple[float, float]:
    """Ends along x of the upper or lower face; chamfers shorten that of an upright plate."""
    (x0, _, _), (x1, _, _) = plate.bounds
    cut = plate.outline.corner if plate.normal == "y" else 0.0
    return x0 + cut, x1 - cut


def jacking(press: Press, load: Piece, base: tuple[float, float], feet: float) -> Jacking:
    """Raise one end of a load so far that a lower nut can come off with its rod in place.

    The nut must go down by its own height and a finger's width; what the feet give already counts.
    Moments about the far edge of the base: F = m·g·(b + x_c) / (b + x_j).
    """
    rod = press.rods[0]
    x = _jack_place(press, base[0])
    have = feet - rod.reach
    rise = max(0.0, round(rod.nut_height + FINGERS - have, 9))  # to a nanometre
    lever, span = base[0] + abs(load.centre[0]), base[0] + x
    low = min(press.bed.plates, key=lambda p: (p.bounds[0][2], p.bounds[0][1]))
    y = max(0.0, low.bounds[1][1] - JACK / 2)
    force = lifting.jack_force(load.mass, lever, span)
    turned = math.degrees(math.atan2(rise, span))
    return Jacking(load, (x, y), rise, force, turned, tilt(load, base, -feet))


def _jack_place(press: Press, base: float) -> float:
    """Outermost x under the bed where a jack meets a level face, beside washers and feet (m)."""
    half = JACK / 2
    gap = half + press.rods[0].bearing_outer / 2 + AIR
    reach = max(p.bounds[1][0] for p in press.bed.plates)
    for x in np.arange(math.floor(reach / GRID) * GRID, half, -GRID).tolist():
        if any(abs(x - abs(rod.at[0])) < gap for rod in press.rods):
            continue
        if base - FOOT - half < x < base + half:
            continue
        if level(press.bed.plates, x, half, up=False) is not None:
            return x
    return reach - half


def lean(press: Press, rod: TieRod) -> float:
    """How far the top of a rod may lean in the holes of the bed (m).

    Clearance over the guided depth, times the length above it; a shouldered rod stands on its
    shoulder and one with inner nuts on its nut, but that squareness is not relied on.
    """
    guides = [
        plate
        for plate in press.bed.plates
        for hole in plate.holes
        if isinstance(hole, RoundHole) and hole.purpose == "rod" and hole.at == rod.at
    ]
    low, high = min(p.base for p in guides), max(p.top for p in guides)
    top = press.bed.nut_face - rod.reach + rod.length
    return (rod.hole - rod.diameter) / (high - low) * (top - high)
