"""The cylinder: bore, wall, bottom, ram and guides. `fea.checks.gland` has the gland."""

from __future__ import annotations

import math
from collections.abc import Iterator

from platestack.fea.hand.cylinder import ThickCylinder, disc_centre, disc_edge
from platestack.fea.hand.ram import Column, guide_force
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.cylinder import RELIEF, TEST_FACTOR
from platestack.geometry.parts import Cylinder, Press
from platestack.geometry.schema import Case
from platestack.geometry.units import percent

LAME = "Lamé, closed ends (Timoshenko and Goodier, Theory of Elasticity, art. 28)"
PLATES = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 16"
PRACTICE = "common practice, no source"
BURST = 2.0
BUCKLING = 3.0
TOOL_EFFICIENCY = 0.95


def relief(solution: Solution) -> float:
    """Setting of the relief valve (Pa)."""
    return relief_of(solution.press, solution.case)


def relief_of(press: Press, case: Case) -> float:
    """The same without a solution."""
    return case.hydraulics.relief or RELIEF * press.working_pressure


def overload(solution: Solution) -> float:
    """Force over capacity that may come: what the relief valve lets through, or the case says."""
    press = solution.press
    area = press.cylinder.piston_area if press.cylinder else 0.0
    return max(solution.case.limits.overload, relief(solution) * area / press.capacity)


def cylinder(solution: Solution) -> list[Check]:
    """Every check of the cylinder."""
    press = solution.press
    made = press.cylinder
    if made is None:
        return []
    kinds = (_force, _wall, _fits, _bottom, _ram)
    return [check for kind in kinds for check in kind(solution, press, made)]


def _force(_: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    efficiency = made.efficiency or 1.0
    yield Check(
        "cylinder",
        "force at working pressure",
        press.working_pressure * made.piston_area * efficiency,
        press.capacity * (1 - 1e-3),
        "N",
        f"capacity, less {percent(1e-3, 1)}",
        "η·p·π/4·D² ≥ 0.999·F",
        "statics",
        "nominal force, friction not deducted"
        if made.efficiency is None
        else f"with efficiency {efficiency:g}",
        (
            Input("η", efficiency, "1"), Input("p", press.working_pressure, "Pa"),
            Input("D", made.bore, "m"), Input("F", press.capacity, "N"),
        ),
        sense="at least",
        by_design=True,
    )  # fmt: skip


def _wall(solution: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    tube, steel = _tube(made), made.material
    strength = f"yield of {steel.grade} at this wall"
    cases = (
        ("working pressure", press.working_pressure, press.yield_safety_factor, ""),
        ("relief pressure", relief(solution), press.yield_safety_factor, ""),
        (
            "proof pressure",
            made.proof_factor * press.working_pressure,
            TEST_FACTOR,
            "test factor as in EN 13445-3, not verified against the standard",
        ),
    )
    for name, pressure, factor, note in cases:
        yield Check(
            "cylinder wall", f"von Mises stress at {name}",
            tube.von_mises(pressure), steel.yield_strength / factor, "Pa",
            f"{strength} / {factor:g}",
            "√(3)·p·K² / (K² − 1) ≤ R_e / S", f"{LAME}; {steel.source}", note,
            (Input("p", pressure, "Pa"), Input("K", tube.ratio, "1"),
             Input("R_e", steel.yield_strength, "Pa"), Input("S", factor, "1")),
            ("Ports, weld and thread notches are not included.",),
        )  # fmt: skip
    yielding = min(steel.yield_strength, steel.tensile_strength)
    burst = tube.burst(yielding, steel.tensile_strength)
    yield Check(
        "cylinder wall", "burst over working pressure",
        burst / press.working_pressure, BURST, "1", f"minimum burst factor {BURST:g}",
        f"2·R_e/√(3)·ln(K)·(2 − R_e/R_m) / p ≥ {BURST:g}",
        f"Faupel 1956 (not verified against the standard); limit: {PRACTICE}",
        inputs=(Input("R_e", yielding, "Pa"), Input("R_m", steel.tensile_strength, "Pa"),
                Input("K", tube.ratio, "1"), Input("p", press.working_pressure, "Pa")),
        cautions=("An estimate for sound, ductile steel; never approach it.",),
        sense="at least",
    )  # fmt: skip


def _fits(_: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel = made.material
    tube = _tube(made)
    growth = tube.growth(press.working_pressure, steel.young, steel.poisson)
    yield Check(
        "cylinder", "radial gap behind the piston seal",
        made.clearance + growth, made.seal_gap, "m", "cylinder.seal_gap",
        "c + a·p/E·((K² + 1 − ν) / (K² − 1) + ν) ≤ g", LAME,
        "default gap: common practice, no source; ask the maker of the seal",
        (Input("c", made.clearance, "m"), Input("a", tube.inner, "m"),
         Input("p", press.working_pressure, "Pa"), Input("E", steel.young, "Pa"),
         Input("K", tube.ratio, "1"), Input("ν", steel.poisson, "1"),
         Input("g", made.seal_gap, "m")),
        method="clearance c as made, growth of the bore, gap g that the seal bridges",
    )  # fmt: skip
    yield Check(
        "cylinder", "room for its parts, ram in",
        made.length - made.protrusion, press.closed_length, "m", "ram.closed_length",
        "t + L_piston + s + L_gland ≤ L_closed", "geometry",
        inputs=(Input("t", made.bottom, "m"), Input("L_piston", made.piston, "m"),
                Input("s", made.stroke, "m"), Input("L_gland", made.gland, "m"),
                Input("L_closed", press.closed_length, "m")),
        by_design=True,
    )  # fmt: skip


def _bottom(solution: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel, radius, p = made.bottom_material, made.bore / 2, relief(solution)
    allowed = steel.yield_strength / press.yield_safety_factor
    limit = f"yield of {steel.grade} at this thickness / {press.yield_safety_factor:g}"
    inputs = (
        Input("p", p, "Pa"), Input("a", radius, "m"), Input("t", made.bottom, "m"),
        Input("R_e", steel.yield_strength, "Pa"), Input("S", press.yield_safety_factor, "1"),
    )  # fmt: skip
    bent = (*inputs, Input("ν", steel.poisson, "1"))
    caution = ("The true edge lies between supported and clamped.",)
    centre = disc_centre(p, radius, made.bottom, steel.poisson)
    edge = disc_edge(p, radius, made.bottom)
    shear = p * radius / (2 * made.bottom)
    rows = (
        ("bending at the centre", centre, 1.0, "3·(3 + ν)/8·p·(a/t)² ≤ R_e / S",
         "edge as supported", bent),
        ("bending at the edge", edge, 1.0, "3/4·p·(a/t)² ≤ R_e / S", "edge as clamped", inputs),
        ("mean shear at the edge", shear, math.sqrt(3), "p·a / (2·t) ≤ R_e / (√(3)·S)",
         "limit by von Mises, /√3", inputs),
    )  # fmt: skip
    for name, value, divisor, formula, note, put in rows:
        yield Check(
            "cylinder bottom", name,
            value, allowed / divisor, "Pa", limit,
            formula, f"{PLATES}; {steel.source}" if divisor == 1 else f"statics; {steel.source}",
            f"at relief pressure; {note}",
            put,
            caution,
        )  # fmt: skip


def _ram(solution: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel = made.ram_material
    reach = made.stroke + made.protrusion
    column = Column(made.ram, reach, steel.young, steel.yield_strength)
    force = max(press.capacity, relief(solution) * made.piston_area)
    inputs = (
        Input("F", force, "N"), Input("d", made.ram, "m"), Input("L", reach, "m"),
        Input("E", steel.young, "Pa"), Input("R_e", steel.yield_strength, "Pa"),
    )  # fmt: skip
    factor = Input("S", press.yield_safety_factor, "1")
    johnson = "R_e·π/4·d²·(1 − R_e·(8·L/d)² / (4·π²·E))"
    euler = "π²·E·π/4·d² / (8·L/d)²"
    yield Check(
        "ram", "buckling, stroke out",
        force, column.critical / BUCKLING, "N", f"buckling load / {BUCKLING:g}",
        f"F ≤ {euler if column.slender else johnson} / {BUCKLING:g}",
        f"Timoshenko and Gere, Theory of Elastic Stability; factor: {PRACTICE}",
        f"at relief pressure; slenderness {column.slenderness:.3g}",
        inputs,
        method=f"{'Euler' if column.slender else 'J. B. Johnson, as it is stubby'}; clamped and "
        "free: slenderness λ = 8 L/d",
    )  # fmt: skip
    yield Check(
        "ram", "compression with bending, stroke out",
        column.stress(force, made.eccentricity), steel.yield_strength / press.yield_safety_factor,
        "Pa", f"yield of {steel.grade} at this diameter / {press.yield_safety_factor:g}",
        "4·F/(π·d²)·(1 + 8·e/(d·cos(4·L/d·√(4·F/(π·E·d²))))) ≤ R_e / S",
        f"secant formula (Timoshenko and Gere, art. 1.13); {steel.source}", "at relief pressure",
        (*inputs, Input("e", made.eccentricity, "m"), factor),
    )  # fmt: skip
    worked = next(stack.patch for stack in press.stacks if stack.patch_name == "workpiece")
    touched = min(made.ram_area, worked.area)
    yield Check(
        "ram", "pressure on its end",
        force / touched, steel.yield_strength / press.yield_safety_factor, "Pa",
        f"yield of {steel.grade} at this diameter / {press.yield_safety_factor:g}",
        "F / min(A_ram, A_workpiece) ≤ R_e / S", f"statics; {steel.source}",
        "at relief pressure; as if the workpiece bore on the ram itself",
        (Input("F", force, "N"), Input("A_ram", made.ram_area, "m²"),
         Input("A_workpiece", worked.area, "m²"), Input("R_e", steel.yield_strength, "Pa"), factor),
    )  # fmt: skip
    yield _guide_rings(made, force)


def _guide_rings(made: Cylinder, force: float) -> Check:
    apart = (made.piston + made.gland) / 2
    side = guide_force(force, made.eccentricity, apart)
    return Check(
        "ram", "pressure on the guide rings",
        side / (made.ram * made.gland / 2), made.guide_pressure, "Pa", "cylinder.guide_pressure",
        "F·e / ((L_piston + L_gland)/2·d·L_gland/2) ≤ p_allowed", f"statics; limit: {PRACTICE}",
        "friction at the workpiece, which would relieve the guides, is left out",
        (Input("F", force, "N"), Input("e", made.eccentricity, "m"),
         Input("L_piston", made.piston, "m"), Input("L_gland", made.gland, "m"),
         Input("d", made.ram, "m"), Input("p_allowed", made.guide_pressure, "Pa")),
        method="couple F e over the distance of the guides, on half the gland",
    )  # fmt: skip


def cylinder_facts(solution: Solution) -> list[Fact]:
    """Figures of the cylinder without a limit of their own."""
    press = solution.press
    made = press.cylinder
    if made is None:
        return []
    p, tube, steel = press.working_pressure, _tube(made), made.material
    ratio = made.piston_area / made.annulus_area

    D, d = Input("D", made.bore, "m"), Input("d", made.ram, "m")
    yielding, K = Input("R_e", steel.yield_strength, "Pa"), Input("K", tube.ratio, "1")
    efficiency = made.efficiency or TOOL_EFFICIENCY

    def fact(name: str, value: float, unit: str, formula: str, source: str,
             inputs: tuple[Input, ...], *words: str) -> Fact:  # fmt: skip
        return Fact("cylinder", "press", name, value, unit, formula, source, "", inputs, words)

    return [
        Fact("cylinder", "press", "mass",
             made.mass, "kg", "", "geometry", method="volume × density"),
        Fact("cylinder", "press", "mass of piston and ram", made.ram_mass, "kg", "", "geometry",
             method="volume × density"),
        fact("force at the tool, friction deducted", efficiency * p * made.piston_area, "N",
             "η·p·π/4·D²",
             "statics" if made.efficiency else f"efficiency {TOOL_EFFICIENCY:g}: {PRACTICE}",
             (Input("η", efficiency, "1"), Input("p", p, "Pa"), D)),
        fact("force at relief setting", relief(solution) * made.piston_area, "N",
             "p_relief·π/4·D²", "statics", (Input("p_relief", relief(solution), "Pa"), D),
             "Plates, rods and cylinder are checked at this force too."),
        fact("yield through the whole wall", tube.collapse(steel.yield_strength), "Pa",
             "2·R_e/√(3)·ln(K)", "Hill, The Mathematical Theory of Plasticity, 1950",
             (yielding, K)),
        fact("rod-side pressure if its line is blocked", ratio * p, "Pa", "p·D² / (D² − d²)",
             "statics", (Input("p", p, "Pa"), D, d),
             "The ram side multiplies the pressure: give it a relief valve of its own."),
    ]  # fmt: skip


def _tube(made: Cylinder) -> ThickCylinder:
    return ThickCylinder(made.bore / 2, made.outer_diameter / 2)
