"""Plates by hand: shear, pressure under what loads them, fatigue of their edges."""

from __future__ import annotations

import math

import numpy as np

from platestack.fea.checks.use import Use, edge_detail, life_facts
from platestack.fea.hand import plates, section, shear
from platestack.fea.hand.bending import Load, NotABeam, bend, supports
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.fea.solid.stress.peaks import Peak
from platestack.geometry import tables
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.steel_under import steel_area
from platestack.geometry.units import fixed, quantity

_LAMELLAR = (
    "Welds that join thick plates pull them across their thickness. Against lamellar tearing order "
    "the Z quality of EN 10164 that stands with the joints, where the case gives seams; preheat."
)


def plate_shear(solution: Solution) -> list[Check]:
    """Greatest shear stress of each stack as a beam."""
    press = solution.press
    factor = press.yield_safety_factor
    checks = []
    for stack in press.stacks:
        bending = section.bending_plates(stack.plates)
        welded = stack.interface == "welded"
        try:
            curve = bend(
                bending, (Load(stack.patch, press.capacity),), supports(press.rods), welded=welded
            )
        except NotABeam:
            continue
        x, force = shear.forces(curve)
        stress = shear.peak_stress(bending, x, force, welded=welded)
        worst = int(np.argmax(stress))
        steel = min((p.material for p in bending), key=lambda m: m.yield_strength)
        checks.append(
            Check(
                stack.name, "shear across the plates",
                float(stress[worst]), steel.yield_strength / math.sqrt(3) / factor, "Pa",
                f"yield of {steel.grade} / √3 / {factor:g}",
                "τ ≤ R_eH / (√(3)·S)", "Jourawski's formula; EN 1993-1-1 6.2.6 (elastic)",
                f"beam theory, net section at x = {fixed(x[worst], 'm', 0)}",
                (Input("τ", float(stress[worst]), "Pa"), Input("R_eH", steel.yield_strength, "Pa"),
                 Input("S", factor, "1")),
                (_LAMELLAR,) if welded else (),
                method=f"τ by summation over the section; V = {quantity(abs(force[worst]), 'N')}",
            )
        )  # fmt: skip
    return checks


def patch_bearing(solution: Solution) -> list[Check]:
    """Mean pressure of ram and workpiece on the plates they touch."""
    press = solution.press
    factor = press.yield_safety_factor
    checks = []
    for stack in press.stacks:
        plate, area = _touched(stack), steel_area(stack)
        bridged = area < stack.patch.area
        checks.append(
            Check(
                f"{stack.name} {plate.name}",
                f"pressure under the {stack.patch_name}",
                press.capacity / area,
                plate.material.yield_strength / factor,
                "Pa",
                f"yield of {plate.material.grade} at this thickness / {factor:g}",
                "F / A_patch ≤ R_eH / S",
                plate.material.source,
                "mean over the patch"
                + ", holes and slots taken out" * bridged
                + ", its edges see more",
                (
                    Input("F", press.capacity, "N"), Input("A_patch", area, "m²"),
                    Input("R_eH", plate.material.yield_strength, "Pa"), Input("S", factor, "1"),
                ),
                ("Spread over the whole patch: a crown or a burr under the load is not included.",),
            )
        )  # fmt: skip
    return checks


def edge_fatigue(solution: Solution) -> list[Check]:
    """Stress range at rims and flame-cut edges, worst plate of each stack.

    Along a free edge the von Mises stress is the principal stress. On a rolled face the principal
    stress may be 2/√3 = 1.15 times larger, but the category there is 160/125 = 1.28 times higher.
    """
    case = solution.case
    use = Use.of(case)
    checks = []
    for name, solved in solution.stacks.items():
        cut = [peak for peak in solved.peaks if peak.plate in solved.stack.plates]
        peak = max(cut, key=lambda peak: peak.von_mises / _endured(case, peak))
        detail = _detail(case, peak)
        what = "the weld at its step" if peak.singular else "cut edges"
        checks.append(
            Check(
                f"{name} {peak.plate.name}",
                f"fatigue of {what}",
                peak.von_mises,
                _endured(case, peak),
                "Pa",
                f"category {detail.category / 1e6:g}, {use.words}",
                f"Δσ ≤ min({use.strength}, 1.5·f_y)",
                f"EN 1993-1-9:2005 7.1; {detail.source}",
                f"peak stress from no force to capacity, an upper bound; {peak.place}",
                (
                    Input("Δσ", peak.von_mises, "Pa"), Input("Δσ_C", detail.category, "Pa"),
                    Input("N", use.equivalent(), "1"), Input("γ_Mf", use.factor, "1"),
                    Input("f_y", peak.plate.material.yield_strength, "Pa"),
                ),
                (
                    f"As the category asks: {detail.description}; rougher edges, welds and tack "
                    "welds elsewhere stand less.",
                ),
            )
        )  # fmt: skip
    return checks


def edge_facts(solution: Solution) -> list[Fact]:
    """Miner's sum at the most tired place of each stack, and the years until it is one."""
    case = solution.case
    use, facts = Use.of(case), []
    for name, solved in solution.stacks.items():
        cut = [peak for peak in solved.peaks if peak.plate in solved.stack.plates]
        peak = max(cut, key=lambda peak: peak.von_mises / _endured(case, peak))
        part = f"{name} {peak.plate.name}"
        facts += life_facts(part, use, _detail(case, peak).category, peak.von_mises)
    return facts


def _detail(case: Case, peak: Peak) -> tables.Detail:
    """Detail category of where a plate's stress is largest: a cut edge, or a weld at a step."""
    return tables.detail("hot spot") if peak.singular else edge_detail(case)


def _endured(case: Case, peak: Peak) -> float:
    """Range (Pa) that the most stressed place of a plate stands."""
    allowed = Use.of(case).allowed(_detail(case, peak).category)
    return min(allowed, 1.5 * peak.plate.material.yield_strength)


def patch_facts(solution: Solution) -> list[Fact]:
    """The smallest workpiece that may take the whole force."""
    press = solution.press
    stack = next(stack for stack in press.stacks if stack.patch_name == "workpiece")
    factor = press.yield_safety_factor
    try:
        smallest = plates.smallest_patch(stack, press.rods, press.capacity, factor)
        return [_smallest(press, stack, smallest)] if smallest else []
    except NotABeam:
        return []


def _smallest(press: Press, stack: Stack, smallest: float) -> Fact:
    sizes = [ratio * smallest for ratio in (0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0, 1.5, 2.0)]
    curve = plates.patch_curve(stack, press.rods, press.capacity, press.yield_safety_factor, sizes)
    told = ", ".join(
        f"{fixed(press.capacity / point.utilisation, 'N', 0)} at ⌀ {fixed(point.diameter, 'm', 0)}"
        for point in curve
    )
    return Fact(
        "plates",
        "press",
        "smallest round workpiece at capacity",
        smallest,
        "m",
        "",
        "statics; beam on the rods",
        f"on the {stack.name}; the larger of pressure and nominal bending. A smaller one "
        f"takes less: {told}",
        cautions=(
            "Holes, slots and re-entrant edges raise the stress above the nominal: run the case "
            "with the smallest workpiece before you press on it.",
        ),
        method="diameter at which pressure and nominal bending both stay within yield / S",
    )


def _touched(stack: Stack) -> Plate:
    """The plate that the patch lies on."""
    return min(
        section.bending_plates(stack.plates),
        key=lambda p: min(abs(end[2] - stack.load_face) for end in p.bounds),
    )
