"""How high stacks may be: which faces are machined, and what rolling leaves open. Lengths in m."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from typing import Literal

from platestack.geometry import tables
from platestack.geometry.errors import Problem
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.stacking import Assumptions, material
from platestack.geometry.stock import thicknesses
from platestack.geometry.tables import OutOfTable
from platestack.geometry.units import LENGTH, percent, show

MACHINED = 2e-4
"""Deviation of the thickness of a plate one face of which is machined (m), common practice."""
BEYOND = 0.015
"""Deviation of a rolled plate over its thickness where the table ends (common practice)."""

LEAST_CUT = 1e-3
"""Machined off a face at the least, so that a plate at its lower deviation is still clean (m)."""

Face = Literal["lower", "upper"]


def machined_faces(stack: Stack, plate: Plate) -> tuple[Face, ...]:
    """Faces of a flat plate that must be even: those outside, and those on which edges stand."""
    if plate.normal == "y" or plate.role == "spacer":
        return ()
    if plate.role == "saddle" or stack.layout == "on edge" or len(stack.plates) == 1:
        return "lower", "upper"
    ends = (stack.load_face, stack.nut_face)
    sides: tuple[tuple[Face, float], ...] = (("lower", plate.base), ("upper", plate.top))
    return tuple(
        face for face, z in sides if any(math.isclose(z, end, abs_tol=1e-9) for end in ends)
    )


def deviation(stack: Stack, plate: Plate) -> tuple[float, float]:
    """Least and greatest departure of a flat plate's thickness from that of the case."""
    if _machined(stack, plate):
        return -MACHINED, MACHINED
    return as_rolled(plate.thickness)


def as_rolled(thickness: float) -> tuple[float, float]:
    """Least and greatest departure of a rolled plate's thickness, also beyond the table."""
    try:
        return tables.thickness_tolerance(thickness)
    except OutOfTable:
        return -BEYOND * thickness, BEYOND * thickness


def tolerance_source(stack: Stack) -> str:
    """What says how far the plates of a flat stack that are used as rolled may depart."""
    rolled = (p.thickness for p in stack.plates if p.normal == "z" and not _machined(stack, p))
    ends = [as_rolled(thickness)[1] == BEYOND * thickness for thickness in rolled]
    table = "EN 10029:1991 Table 1, class A, secondary copy"
    beyond = f"{percent(BEYOND, 1)} of the thickness, common practice, no source"
    return f"{table}; beyond it {beyond}" if any(ends) else table


def _machined(stack: Stack, plate: Plate) -> bool:
    return bool(machined_faces(stack, plate)) or plate.bought > plate.thickness


def stack_deviation(stack: Stack) -> tuple[float, float]:
    """Least and greatest departure of a stack's height, all its plates at their limits.

    Upright plates are machined on both edges.
    """
    flat = [plate for plate in stack.plates if plate.normal == "z"]
    across = {plate.base: plate for plate in flat}.values()  # saddles stand side by side
    each = [deviation(stack, plate) for plate in across]
    if stack.layout == "on edge":
        each.append((-MACHINED, MACHINED))
    return sum(low for low, _ in each), sum(high for _, high in each)


def as_bought(stack: Stack, case: Case, notes: Assumptions) -> Stack:
    """The stack with the thickness of which plates with machined faces are made, and its strength.

    Left out, it is the next that is stocked above the finished one and what is machined off.
    """
    plates = []
    for plate in stack.plates:
        faces = machined_faces(stack, plate)
        if faces and plate.blank is None:
            blank = least_blank(plate, len(faces), case)
            notes.length(f"{stack.name} {plate.name}, blank", None, blank)
            plate = replace(plate, blank=blank)
        if plate.blank is not None:
            with suppress(OutOfTable):  # refused for the thickness of the case, if that is too much
                steel = material(case, plate.material.grade, plate.blank)
                plate = replace(plate, material=steel)
        plates.append(plate)
    return replace(stack, plates=tuple(plates))


def least_blank(plate: Plate, faces: int, case: Case) -> float:
    """Next thickness in stock (m) for so many machined faces; whole 5 mm where none is enough."""
    needed = plate.thickness + faces * case.cutting.face_allowance
    stock = (t for t in thicknesses(case.stock) if t >= needed - 1e-9)
    return next(stock, math.ceil(200 * needed - 1e-6) / 200)


def mistakes(press: Press) -> Iterator[Problem]:
    """Plates bought too thin for what is machined off them."""
    for stack in press.stacks:
        for plate in stack.plates:
            faces = len(machined_faces(stack, plate))
            least = plate.thickness + faces * LEAST_CUT
            if plate.bought < least - 1e-9:
                yield Problem(
                    f"{stack.name}, {plate.name}, blank",
                    show(plate.bought, LENGTH),
                    f"allowed: at least {show(least, LENGTH)}, the finished thickness"
                    + (f" and 1 mm for each of {faces} machined faces" if faces else ""),
                )
