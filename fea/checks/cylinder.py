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

LAME = "Lamé, closed ends (Timoshenko and Goodier, Theory of Elasticity, art. 28)"
PLATES = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 16"
PRACTICE = "common practice, no source"
BURST = 2.0
BUCKLING = 3.0
TOOL_EFFICIENCY = 0.95


def relief(solution: Solution) -> float:
    """Setting of the relief valve (Pa)."""
    press = solution.press
    return solution.case.hydraulics.relief or RELIEF * press.working_pressure


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
        "cylinder: force at working pressure",
        press.working_pressure * made.piston_area * efficiency,
        press.capacity * (1 - 1e-3),
        "N",
        "capacity, less 0.1 %",
        "η p π/4 D² ≥ F",
        "statics",
        "nominal force, friction not deducted"
        if made.efficiency is None
        else f"with efficiency {efficiency:g}",
        (Input("p", press.working_pressure, "Pa"), Input("D", made.bore, "m")),
        sense="at least",
        by_design=True,
    )


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
            "test factor as in EN 13445-3, from memory",
        ),
    )
    for name, pressure, factor, note in cases:
        yield Check(
            f"cylinder wall: von Mises stress at {name}",
            tube.von_mises(pressure),
            steel.yield_strength / factor,
            "Pa",
            f"{strength} / {factor:g}",
            "√3 p K²/(K²−1) ≤ R_e / S",
            f"{LAME}; {steel.source}",
            note,
            (Input("p", pressure, "Pa"), Input("K", tube.ratio, "1")),
            ("Ports, weld and thread notches are not included.",),
        )
    burst = tube.burst(min(steel.yield_strength, steel.tensile_strength), steel.tensile_strength)
    yield Check(
        "cylinder wall: burst over working pressure",
        burst / press.working_pressure,
        BURST,
        "1",
        f"minimum burst factor {BURST:g}",
        "2/√3 R_e ln K (2 − R_e/R_m) / p ≥ 2",
        f"Faupel 1956 (from memory); limit: {PRACTICE}",
        inputs=(Input("burst", burst, "Pa"), Input("K", tube.ratio, "1")),
        cautions=("An estimate for sound, ductile steel; never approach it.",),
        sense="at least",
    )


def _fits(_: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel = made.material
    growth = _tube(made).growth(press.working_pressure, steel.young, steel.poisson)
    yield Check(
        "cylinder: radial gap behind the piston seal",
        made.clearance + growth,
        made.seal_gap,
        "m",
        "cylinder.seal_gap",
        "clearance + growth of the bore ≤ gap the seal bridges",
        LAME,
        "default gap: common practice, no source; ask the maker of the seal",
        (Input("clearance", made.clearance, "m"), Input("growth", growth, "m")),
    )
    yield Check(
        "cylinder: room for its parts, ram in",
        made.length - made.protrusion,
        press.closed_length,
        "m",
        "ram.closed_length",
        "bottom + piston + stroke + gland ≤ closed length",
        "geometry",
        by_design=True,
    )


def _bottom(solution: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel, radius, p = made.bottom_material, made.bore / 2, relief(solution)
    allowed = steel.yield_strength / press.yield_safety_factor
    limit = f"yield of {steel.grade} at this thickness / {press.yield_safety_factor:g}"
    inputs = (Input("p", p, "Pa"), Input("a", radius, "m"), Input("t", made.bottom, "m"))
    caution = ("The true edge lies between supported and clamped; the weld is not checked.",)
    centre = disc_centre(p, radius, made.bottom, steel.poisson)
    edge = disc_edge(p, radius, made.bottom)
    shear = p * radius / (2 * made.bottom)
    rows = (
        ("bending at the centre", centre, 1.0, "3(3+ν)/8 p (a/t)²", "edge as supported"),
        ("bending at the edge", edge, 1.0, "3/4 p (a/t)²", "edge as clamped"),
        ("mean shear at the edge", shear, math.sqrt(3), "p a / 2t", "limit by von Mises, /√3"),
    )
    for name, value, divisor, formula, note in rows:
        yield Check(
            f"cylinder bottom: {name}",
            value,
            allowed / divisor,
            "Pa",
            limit,
            f"{formula} ≤ R_e / S",
            f"{PLATES}; {steel.source}" if divisor == 1 else f"statics; {steel.source}",
            f"at relief pressure; {note}",
            inputs,
            caution,
        )


def _ram(solution: Solution, press: Press, made: Cylinder) -> Iterator[Check]:
    steel = made.ram_material
    reach = made.stroke + made.protrusion
    column = Column(made.ram, reach, steel.young, steel.yield_strength)
    force = max(press.capacity, relief(solution) * made.piston_area)
    inputs = (Input("F", force, "N"), Input("d", made.ram, "m"), Input("L", reach, "m"))
    yield Check(
        "ram: buckling, stroke out",
        force,
        column.critical / BUCKLING,
        "N",
        f"buckling load / {BUCKLING:g}",
        "Euler, or J. B. Johnson's parabola where stubby; clamped and free, K = 2",
        f"Timoshenko and Gere, Theory of Elastic Stability; factor: {PRACTICE}",
        f"at relief pressure; slenderness {column.slenderness:.3g}",
        inputs,
    )
    yield Check(
        "ram: compression with bending, stroke out",
        column.stress(force, made.eccentricity),
        steel.yield_strength / press.yield_safety_factor,
        "Pa",
        f"yield of {steel.grade} at this diameter / {press.yield_safety_factor:g}",
        "F/A [1 + 8e/d sec(λ/2 √(F/EA))] ≤ R_e / S",
        f"secant formula (Timoshenko and Gere, art. 1.13); {steel.source}",
        "at relief pressure",
        (*inputs, Input("e", made.eccentricity, "m")),
    )
    worked = next(stack.patch for stack in press.stacks if stack.patch_name == "workpiece")
    touched = min(made.ram_area, worked.area)
    yield Check(
        "ram: pressure on its end",
        force / touched,
        steel.yield_strength / press.yield_safety_factor,
        "Pa",
        f"yield of {steel.grade} at this diameter / {press.yield_safety_factor:g}",
        "F / min(A_ram, A_workpiece) ≤ R_e / S",
        f"statics; {steel.source}",
        "at relief pressure; as if the work bore on the ram itself",
        (Input("F", force, "N"), Input("A", touched, "m²")),
    )
    apart = (made.piston + made.gland) / 2
    side = guide_force(force, made.eccentricity, apart)
    yield Check(
        "ram: pressure on the guide rings",
        side / (made.ram * made.gland / 2),
        made.guide_pressure,
        "Pa",
        "cylinder.guide_pressure",
        "F e / (distance of guides · d · half the gland) ≤ p_allowed",
        f"statics; limit: {PRACTICE}",
        "friction at the work, which would relieve the guides, is left out",
        (Input("side load", side, "N"), Input("e", made.eccentricity, "m")),
    )


def cylinder_facts(solution: Solution) -> list[Fact]:
    """Figures of the cylinder without a limit of their own."""
    press = solution.press
    made = press.cylinder
    if made is None:
        return []
    p, tube, steel = press.working_pressure, _tube(made), made.material
    ratio = made.piston_area / made.annulus_area

    def fact(name: str, value: float, unit: str, formula: str, source: str, *words: str) -> Fact:
        return Fact("cylinder", name, value, unit, formula, source, cautions=words)

    return [
        fact("mass", made.mass, "kg", "volume × density", "geometry"),
        fact("mass of piston and ram", made.ram_mass, "kg", "volume × density", "geometry"),
        fact("force at the tool, friction deducted",
             (made.efficiency or TOOL_EFFICIENCY) * p * made.piston_area, "N", "η p π/4 D²",
             "statics" if made.efficiency else f"efficiency {TOOL_EFFICIENCY:g}: {PRACTICE}"),
        fact("force at relief setting", relief(solution) * made.piston_area, "N",
             "p_relief π/4 D²", "statics",
             "Plates, rods and cylinder are checked for it with what they have left."),
        fact("yield through the whole wall", tube.collapse(steel.yield_strength), "Pa",
             "2/√3 R_e ln K", "Hill, The Mathematical Theory of Plasticity, 1950"),
        fact("rod-side pressure if its line is blocked", ratio * p, "Pa", "p D²/(D²−d²)", "statics",
             "The ram side multiplies the pressure: give it a relief valve of its own."),
    ]  # fmt: skip


def _tube(made: Cylinder) -> ThickCylinder:
    return ThickCylinder(made.bore / 2, made.outer_diameter / 2)
