"""What may buckle, tip or tear: sleeves, upright plates, spacers, bolts, plates at seams."""

from __future__ import annotations

import math
from collections.abc import Iterator

from platestack.fea.checks.alike import most
from platestack.fea.checks.cylinder import BUCKLING, PRACTICE
from platestack.fea.checks.joining import composite_shear, preload
from platestack.fea.hand import section, stability
from platestack.fea.hand.bending import NotABeam
from platestack.fea.hand.connectors import STRENGTH_FACTOR
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import layout, tables
from platestack.geometry.parts import Plate, Stack

UNEVEN = 1.5
"""Share of the most loaded of upright plates over an even one (common practice, no source)."""
_GERE = "Timoshenko and Gere, Theory of Elastic Stability, 2nd ed."


def sleeves(solution: Solution) -> Iterator[Check]:
    """Buckling of the sleeve that is tightened most, as a column and in its wall."""
    rod = most(solution.press.rods, lambda one: one.preload)
    if rod.seat != "sleeve" or rod.preload <= 0:
        return
    steel, outer, inner = rod.material, rod.seat_outer, rod.sleeve_inner
    slenderness = rod.between / (math.hypot(outer, inner) / 4)
    stress = stability.critical_stress(slenderness, steel.young, steel.yield_strength)
    euler = slenderness >= math.sqrt(2 * math.pi**2 * steel.young / steel.yield_strength)
    formula = "π²·E/λ²" if euler else "R_e·(1 − R_e·λ²/(4·π²·E))"
    inputs = [
        Input("F_preload", rod.preload, "N"), Input("A", rod.sleeve_area, "m²"),
        Input("λ", slenderness, "1"), Input("E", steel.young, "Pa"),
    ]  # fmt: skip
    yield Check(
        rod.name, "buckling of its sleeve as tightened",
        rod.preload, rod.sleeve_area * stress / BUCKLING, "N", f"buckling load / {BUCKLING:g}",
        f"F_preload ≤ A·{formula} / {BUCKLING:g}", f"{_GERE}; factor: {PRACTICE}",
        "ends as hinged; the rod inside, which guides it, is left out",
        tuple(inputs if euler else [*inputs, Input("R_e", steel.yield_strength, "Pa")]),
        method="λ: length between the stacks over the radius of gyration √(D² + d²)/4",
    )  # fmt: skip
    yield Check(
        rod.name, "wall of its sleeve against local buckling",
        2 * outer / (outer - inner), 90 * 235e6 / steel.yield_strength, "1",
        "diameter over wall of a tube that yields first",
        "2·D / (D − d) ≤ 90·R_0 / R_e",
        "EN 1993-1-1 Table 5.2, class 3, not verified against the standard",
        inputs=(Input("D", outer, "m"), Input("d", inner, "m"), Input("R_0", 235e6, "Pa"),
                Input("R_e", steel.yield_strength, "Pa")),
    )  # fmt: skip


def upright_plates(solution: Solution) -> Iterator[Check]:
    """Plates on edge: tipping sideways, wrinkling under the patch, and their spacers."""
    for stack in solution.press.stacks:
        plates = [p for p in stack.plates if p.role == "plate" and p.normal == "y"]
        if plates:
            weakest = min(plates, key=lambda plate: plate.thickness)
            yield from _upright(solution, stack, weakest, len(plates))
            yield from _spacers(solution, stack, len(plates))


def _upright(solution: Solution, stack: Stack, plate: Plate, count: int) -> Iterator[Check]:
    press, steel = solution.press, plate.material
    span = layout.span(tuple(rod.at for rod in press.rods))
    height, t = plate.outline.width, plate.thickness
    shear = steel.young / (2 * (1 + steel.poisson))
    load = UNEVEN * press.capacity / count
    borne = (Input("s", UNEVEN, "1"), Input("F", press.capacity, "N"), Input("n", count, "1"))
    tipping = stability.tipping_load(steel.young, shear, height, t, span, height / 2)
    yield Check(
        f"{stack.name} {plate.name}",
        "tipping sideways under its load",
        load,
        max(tipping / BUCKLING, 1.0),
        "N",
        f"load at which it tips / {BUCKLING:g}",
        "s·F/n ≤ max(16.94·√(B·C)/l²·max(1 − 1.74·a/l·√(B/C), 0) / 3, 1)",
        f"{_GERE}, art. 6.4, not verified; factor: {PRACTICE}",
        "without what platen and spacers hold; the most loaded plate bears more than its share",
        (
            *borne,
            Input("B", steel.young * height * t**3 / 12, "N m²"),
            Input("C", shear * height * t**3 / 3, "N m²"),
            Input("l", span, "m"),
            Input("a", height / 2, "m"),
        ),
        method="B and C: bending sideways and twist of the plate; 1 N at least",
    )
    squash = stack.patch.length * t * steel.yield_strength
    critical = stability.wrinkling_load(steel.young, height, t, span)
    wrinkled = min(1.0, 0.5 * math.sqrt(critical / squash)) * squash / 1.1
    yield Check(
        f"{stack.name} {plate.name}",
        f"wrinkling under the {stack.patch_name}",
        load,
        wrinkled / press.yield_safety_factor,
        "N",
        f"resistance to patch loading / {press.yield_safety_factor:g}",
        "s·F/n ≤ min(1, 0.5·√(F_cr/F_y))·F_y / (1.1·S)",
        "EN 1993-1-5, 6.2 to 6.5, not verified against the standard",
        "length of the patch alone, not what the platen spreads",
        (
            *borne,
            Input("F_cr", critical, "N"),
            Input("F_y", squash, "N"),
            Input("S", press.yield_safety_factor, "1"),
        ),
        method="F_cr = 0.9·k_F·E·t³/h, k_F = 3.5 + 2·(h/l)²; F_y = length·t·f_y",
    )


def _spacers(solution: Solution, stack: Stack, count: int) -> Iterator[Check]:
    given = getattr(solution.case, stack.name).clamp_bolts
    spacers = [plate for plate in stack.plates if plate.role == "spacer"]
    if not given or not spacers or count < 2:
        return
    area = sum(plate.outline.area for plate in spacers) / (count - 1)
    steel, factor = spacers[0].material, solution.press.yield_safety_factor
    force = sum(preload(bolt) for bolt in given)
    yield Check(
        f"{stack.name} spacers", "pressure by the clamp bolts",
        force / area,
        steel.yield_strength / factor,
        "Pa",
        f"yield of {steel.grade} / {factor:g}",
        "F_V / A ≤ R_eH / S",
        f"statics; {steel.source}",
        "all bolts on the spacers of one gap, alike",
        (Input("F_V", force, "N"), Input("A", area, "m²"),
         Input("R_eH", steel.yield_strength, "Pa"), Input("S", factor, "1")),
    )  # fmt: skip


def tearing_facts(solution: Solution) -> Iterator[Fact]:
    """Z quality that seams ask of plates, and what clamp bolts bear in shear once they slip."""
    for stack in solution.press.stacks:
        if stack.connectors is not None and stack.connectors.kind == "seams":
            yield _lamellar(stack, stack.connectors.throat or 0.0)
        if stack.bolts and stack.layout == "flat":
            yield from _sheared(solution, stack)


def _lamellar(stack: Stack, throat: float) -> Fact:
    plate = max(stack.main_plates, key=lambda one: one.thickness)
    terms = tables.lamellar_terms(throat, plate.thickness)
    asked, preheat = tables.lamellar_quality(sum(terms))
    warm, _ = tables.lamellar_quality(sum(terms) + preheat)
    return Fact(
        "joining", stack.name, "lamellar tearing, Z value that its seams ask of the plates",
        sum(terms), "1", "Z_a + Z_b + Z_c + Z_d",
        "EN 1993-1-10:2005 Table 3.2, EN 10164, not verified against the standard",
        f"order {asked}; preheated to 100 °C or more: {warm}",
        tuple(Input(f"Z_{n}", z, "1") for n, z in zip("abcd", terms, strict=True)),
        ("Only its certificate tells whether a plate in stock has that quality.",),
        method="partial or full penetration, medium restraint: what is not known here",
    )  # fmt: skip


def _sheared(solution: Solution, stack: Stack) -> Iterator[Fact]:
    try:
        force, _ = composite_shear(solution.press, stack)
    except (NotABeam, ValueError):
        return
    if len(section.bending_plates(stack.plates)) < 2:
        return
    strength = 0.0
    for bolt in stack.bolts:
        thread = tables.thread(bolt.thread)
        steel = tables.property_class(bolt.property_class, thread.d)
        strength += 0.6 * steel.tensile_strength * thread.stress_area / STRENGTH_FACTOR
    held = strength / 2
    yield Fact(
        "joining", stack.name,
        "shear in the clamp bolts once plates slide until the bolts bear, over strength",
        force / held, "1", "T / F_v",
        "EN 1993-1-8 Table 3.4, thread in the shear plane, not verified against the standard",
        "by full composite action, an upper bound; half of the bolts on each side of the press "
        "axis",
        (Input("T", force, "N"), Input("F_v", held, "N")),
        ("Bolts in clearance holes bear one after the other: count on friction, not on this.",),
    )  # fmt: skip
