"""Where something is, in words a person at the plates understands."""

from __future__ import annotations

import math

from platestack.geometry.parts import Plate, Stack, TieRod
from platestack.geometry.shapes import ContourHole, Groove, RectangleHole, RoundHole
from platestack.geometry.units import dimension, fixed, place, shown_in

AWAY = 2e-3
"""Distance (m) from which a place is told as beside a feature, not at it."""


def quadrant(x: float, y: float) -> str:
    """Side of the press a place is on: "+x +y", "+x", "axis"."""
    signs = [f"{'+' if v > 0 else '-'}{name}" for v, name in ((x, "x"), (y, "y")) if abs(v) > 5e-3]
    return " ".join(signs).replace("-", "−") or "axis"


def ordinal(stack: Stack, plate: Plate) -> str:
    """Name of a plate with how it is counted."""
    if plate.role != "plate":
        return plate.name
    return f"{plate.name} from {'below' if plate.normal == 'z' else '−y'}"


def describe(
    stack: Stack,
    rods: tuple[TieRod, ...],
    plate: Plate,
    at: tuple[float, float, float],
    tolerance: float,
) -> str:
    """Name a place of a plate: what is near it, on which side, and its coordinates.

    `tolerance` is how near counts as at (m), about an element.
    """
    x, y, z = at
    u, v, n = (x, y, z) if plate.normal == "z" else (x, z, y)
    features = [*_holes(plate, u, v, n), *_areas(stack, rods, at)]
    distance, feature = min(features, default=(math.inf, ""))
    if distance > tolerance:
        distance, feature = abs(plate.outline.clearance((u, v))), _edge(plate, u, v, tolerance)
    if distance > tolerance:
        on_face = min(abs(n - plate.base), abs(n - plate.top)) < tolerance / 4
        feature = "face" if on_face else "inside"
    elif distance >= AWAY:
        feature = f"{fixed(distance, 'm', 0)} from the {feature}"
    side = quadrant(x, y)
    where = f" at {side}" if side != "axis" else " on the press axis"
    return f"{ordinal(stack, plate)}, {feature}{where} ({place(*at)} {shown_in('m').name})"


def _holes(plate: Plate, u: float, v: float, n: float) -> list[tuple[float, str]]:
    found = []
    for hole in plate.holes:
        if isinstance(hole, RoundHole):
            away = abs(math.hypot(u - hole.at[0], v - hole.at[1]) - hole.diameter / 2)
            name = f"{hole.purpose} hole" if hole.purpose != "opening" else "round opening"
            found.append((away, f"rim of the {name}"))
        elif isinstance(hole, RectangleHole):
            a = abs(abs(u - hole.at[0]) - hole.length / 2)
            b = abs(abs(v - hole.at[1]) - hole.width / 2)
            inside = (
                abs(u - hole.at[0]) <= hole.length / 2 + 1e-6
                and abs(v - hole.at[1]) <= hole.width / 2 + 1e-6
            )
            if inside:
                found.append((min(a, b), "edge of the rectangular opening"))
        elif isinstance(hole, ContourHole):
            found.append((abs(hole.contour.clearance((u, v))), "edge of the opening"))
        elif isinstance(hole, Groove):
            across = abs((v if hole.along == "x" else u) - hole.at) - hole.reach
            down = (plate.top - n if plate.grooved == "+" else n - plate.base) - hole.depth
            found.append((math.hypot(max(across, 0.0), max(down, 0.0)), "groove"))
    return found


def _edge(plate: Plate, u: float, v: float, tolerance: float) -> str:
    """The outer edge, or the inner corner of the contour that is there."""
    contour = plate.outline.contour
    for (x, y), radius in contour.inner_corners if contour is not None else ():
        if math.hypot(u - x, v - y) < tolerance + radius:
            return f"inner corner, radius {dimension(radius)}" if radius else "sharp inner corner"
    return "outer edge"


def _areas(
    stack: Stack, rods: tuple[TieRod, ...], at: tuple[float, float, float]
) -> list[tuple[float, str]]:
    x, y, z = at
    found = []
    patch = stack.patch
    down = abs(z - stack.load_face)
    if patch.shape == "rectangle":
        a, b = (
            abs(x - patch.centre[0]) - patch.length / 2,
            abs(y - patch.centre[1]) - patch.width / 2,
        )
        away = abs(max(a, b))
    else:
        r = math.hypot(x - patch.centre[0], y - patch.centre[1])
        away = min(abs(r - patch.length / 2), abs(r - patch.inner / 2) if patch.inner else math.inf)
    found.append((math.hypot(away, down), f"edge of the {stack.patch_name} patch"))
    for pad in stack.pads:
        r = math.hypot(x - pad.force.centre[0], y - pad.force.centre[1])
        rims = [pad.force.length / 2, *filter(None, [pad.force.inner / 2])]
        away = min(abs(r - rim) for rim in rims)
        found.append((math.hypot(away, z - pad.far), f"edge of the {pad.presser}"))
    for rod in rods:
        r = math.hypot(x - rod.at[0], y - rod.at[1])
        found.append(
            (
                math.hypot(r - rod.bearing_outer / 2, z - stack.nut_face),
                "edge of the nut's bearing ring",
            )
        )
    return found
