"""The cylinder in its place: sizes left out are derived by the rules stated here."""

from __future__ import annotations

import math

from platestack.geometry import tables
from platestack.geometry.cylinder_part import Cylinder, Material
from platestack.geometry.schema import Case
from platestack.geometry.stacking import Assumptions, given_material, steel

TUBE, FORGING = "E355+N", "C45+N forged"
BOTTOMS = ("S355J2", "S355K2", "S355NL")
"""Plate of which a bottom is made where the case says nothing: the first that is tough enough."""
RELIEF = 1.1
"""Setting of the relief valve over working pressure, unless given."""
TEST_FACTOR = 1.05
"""Yield strength over stress in a pressure test, EN 13445-3 (not verified against the standard)."""
LENGTH_STEP = 0.005


def least_outer(case: Case, bore: float) -> float:
    """Outer diameter (m) that holds working, relief and proof pressure, at least 1.25 bores.

    Lamé, von Mises stress at the bore of a closed cylinder: √3 p K²/(K²−1). An eighth of the bore
    of wall is common practice. Where no wall up to half the bore holds, that is returned.
    """
    wall = bore / 8
    while wall < bore / 2:
        k2 = (1 + 2 * wall / bore) ** 2
        stress = math.sqrt(3) * case.press.working_pressure * k2 / (k2 - 1)
        if stress <= wall_material(case, wall).yield_strength / reserve(case):
            break
        wall = math.floor(wall / LENGTH_STEP + 1 + 1e-9) * LENGTH_STEP
    return bore + 2 * min(wall, bore / 2)


def reserve(case: Case) -> float:
    """Yield strength over stress at working pressure, so that relief and proof hold too."""
    relief = (case.hydraulics.relief or RELIEF * case.press.working_pressure) / (
        case.press.working_pressure
    )
    wish = case.cylinder
    return max(case.limits.yield_safety_factor * max(relief, 1.0), wish.proof_factor * TEST_FACTOR)


def wall_material(case: Case, wall: float) -> Material:
    """Material of a wall of this thickness (m); raises `tables.TableError`."""
    tube_ends = 0.1
    grade = case.cylinder.grade or (TUBE if wall <= tube_ends + 1e-9 else FORGING)
    return _material(case, grade, wall)


def build(
    case: Case,
    bore: float,
    outer: float | None,
    closed: float,
    face: float,
    direction: int,
    notes: Assumptions,
) -> Cylinder:
    """Put the cylinder together; `outer` is the diameter of the wall where it bears.

    Raises
    ------
    tables.TableError
        If a grade is unknown or not listed at its thickness.
    """
    wish = case.cylinder
    diameter = notes.length(
        "cylinder.outer_diameter", wish.outer_diameter, outer or least_outer(case, bore)
    )
    bottom = notes.length("cylinder.bottom_thickness", wish.bottom_thickness, _bottom(case, bore))
    bottom_grade = wish.bottom_grade or _bottom_grade(case, bore, bottom)
    if wish.bottom_grade is None:
        notes.made.append(("cylinder.bottom_grade", bottom_grade))
    rods = [rod for rod in tables.cylinder_rods(bore) if rod <= 0.8 * bore]
    thick = math.floor(80 * bore) / 100 if bore > 0.46 else rods[-1] if rods else 0.7 * bore
    ram = notes.length("cylinder.ram_diameter", wish.ram_diameter, thick)
    # Piston and gland guide the ram over a third of the bore each (common practice, no source).
    gland = notes.length("cylinder.gland_length", wish.gland_length, bore / 3)
    piston = notes.length("cylinder.piston_length", wish.piston_length, bore / 3)
    protrusion = max(0.0, closed - case.press.stroke - bottom - piston - gland)
    reach = case.press.stroke + protrusion
    offset = math.hypot(*case.workpiece.offset)
    return Cylinder(
        bore,
        diameter,
        bottom,
        piston,
        gland,
        ram,
        case.press.stroke,
        protrusion,
        notes.length("cylinder.thread_pitch", wish.thread_pitch, _pitch(bore)),
        notes.length("cylinder.thread_length", wish.thread_length, gland / 2),
        # H8/f7 is near 0.03 % of a bore of 300 mm on the radius (common practice, no source).
        notes.length("cylinder.clearance", wish.clearance, 5e-5 + 2e-4 * bore),
        wish.seal_gap,
        wish.proof_factor,
        wish.guide_pressure,
        # The least: a thousandth of the ram's reach out of true (common practice, no source).
        notes.length("cylinder.eccentricity", wish.eccentricity, offset + reach / 1000),
        wish.efficiency,
        face,
        direction,
        wall_material(case, (diameter - bore) / 2),
        _plate(case, bottom_grade, bottom),
        _material(case, wish.ram_grade, ram),
        wish.grooves,
    )


def _pitch(bore: float) -> float:
    """Pitch of the gland's thread (m): the largest usual one up to a twentieth of the bore."""
    usual = (0.006, 0.004, 0.003, 0.002)
    return next((pitch for pitch in usual if pitch <= bore / 20), 0.001)


def _bottom(case: Case, bore: float) -> float:
    """Thickness (m): a disc on a supported edge, 3(3+ν)/8 p (a/t)², with the wall's reserve."""
    thickness, grade = LENGTH_STEP, case.cylinder.bottom_grade or BOTTOMS[0]
    while thickness < 0.395:
        bearable = _plate(case, grade, thickness).yield_strength / reserve(case)
        if thickness >= 0.01 and _bending(case, bore, thickness) <= bearable:
            break
        thickness += LENGTH_STEP
    return round(thickness, 6)


def _bending(case: Case, bore: float, thickness: float) -> float:
    """Stress (Pa) in the middle of a disc on a supported edge at working pressure."""
    return 3 * 3.3 / 8 * case.press.working_pressure * (bore / 2 / thickness) ** 2


def _bottom_grade(case: Case, bore: float, thickness: float) -> str:
    """The first of `BOTTOMS` that may be so thick (m) in the cold, else the toughest."""
    stress, cold = _bending(case, bore, thickness), case.shop.lowest_temperature
    for name in BOTTOMS:
        try:
            ratio = stress / _plate(case, name, thickness).yield_strength
        except tables.OutOfTable:
            continue
        if tables.subgrade(name, 0.0)[0].allowed(cold, ratio) >= thickness:
            return name
    return BOTTOMS[0] if thickness > 0.25 else BOTTOMS[-1]


def _plate(case: Case, grade: str, thickness: float) -> Material:
    own = given_material(case, grade)
    if own is not None:
        return own
    try:
        found = tables.structural_grade(grade)
    except tables.UnknownName:
        return _material(case, grade, thickness)
    return steel(grade, found, thickness)


def _material(case: Case, grade: str, thickness: float) -> Material:
    return given_material(case, grade) or steel(grade, tables.cylinder_grade(grade), thickness)
