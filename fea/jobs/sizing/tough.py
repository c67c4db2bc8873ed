"""The sub-grade of a plan's plates: the first of its strength class that is tough enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from platestack.fea.checks.brittle import thickness_check
from platestack.fea.hand.record import Check
from platestack.fea.jobs.sizing.plan import PressPlan
from platestack.geometry import tables

WARM = (0.0, 10.0)
"""Temperatures (°C) below which a shop with thick plates may be asked not to fall."""


def tough_enough(plan: PressPlan, stress: Mapping[str, float]) -> PressPlan:
    """Return the plan with the sub-grade that its thickest plates need at the lowest temperature.

    As it is where the duty names the grade, or no table lists it. Where no sub-grade does, and the
    duty does not say how cold it gets, the toughest in a shop that is kept warm, as the case then
    asks for.

    Parameters
    ----------
    stress : largest stress of the plates of each stack (Pa).
    """
    if "grade" in plan.duty.model_fields_set:
        return plan
    first, listed = tables.subgrade(plan.duty.grade, 0.0)
    if not listed:
        return plan
    said = plan.duty.lowest_temperature is not None
    for warm in (None,) if said else (None, *WARM):
        for one in (first, *tables.tougher(first)):
            plan = replace(plan, grade=None if one is first else one.name, warm=warm)
            if all(check.utilisation <= 1 for check in brittle(plan, stress)):
                return plan
    return plan


def brittle(plan: PressPlan, stress: Mapping[str, float]) -> list[Check]:
    """Thickness of each stack's thickest plate against brittle fracture."""
    checks = []
    for stack in plan.press.stacks:
        plate = max(stack.main_plates, key=lambda plate: plate.bought)
        part = f"{stack.name} {plate.name}"
        how = "peak stress by beam theory"
        checks.append(thickness_check(part, plan.case, plate.material, plate.bought,
                                      stress[stack.name], how))  # fmt: skip
    return checks
