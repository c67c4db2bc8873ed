"""The gland at the end of the stroke: its thread or its ring of bolts, and the ring itself."""

from __future__ import annotations

import math
from collections.abc import Iterator

from platestack.fea.checks.cylinder import relief
from platestack.fea.checks.flange import RING, ring_inputs
from platestack.fea.checks.joining import PRELOAD, allowed_preload, bearing, preload, tightened
from platestack.fea.hand import bolts, threads
from platestack.fea.hand.cylinder import thread_shear
from platestack.fea.hand.record import Check, Input
from platestack.fea.hand.rings import ring_stress
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Cylinder
from platestack.geometry.schema import GlandBolts
from platestack.geometry.units import fixed, percent

_STOP = (
    "At the end of its stroke the piston pushes with full force against the gland: stop the ram "
    "before it.",
)
_SOURCE = "VDI 2230-1:2015, not verified against the standard"


def gland(solution: Solution) -> list[Check]:
    """Every check of the gland and of what holds it, at relief pressure."""
    made, given = solution.press.cylinder, solution.case.cylinder.gland_bolts
    if made is None:
        return []
    held = _screwed(solution, made) if given is None else _bolted(solution, made, given)
    return [*held, _bent(solution, made, given)]


def _push(solution: Solution, made: Cylinder) -> float:
    """Force (N) of the piston on the gland."""
    return relief(solution) * made.piston_area


def bolt_circle(made: Cylinder, given: GlandBolts) -> float:
    """Diameter of the bolts' circle (m)."""
    return given.circle or (made.bore + made.outer_diameter) / 2


def _screwed(solution: Solution, made: Cylinder) -> Iterator[Check]:
    steel, factor = made.material, solution.press.yield_safety_factor
    force, d, length = _push(solution, made), made.thread_diameter, made.thread_length
    net = math.pi / 4 * (made.outer_diameter**2 - d**2)
    rows = (
        (
            "thread shear at full stroke",
            thread_shear(force, d, made.thread_pitch, length),
            math.sqrt(3),
            "F / (0.85·0.75·π·D_1·L) ≤ R_e / (√(3)·S)",
            "VDI 2230-1 simplified, not verified against the standard",
            (Input("D_1", d - 1.0825 * made.thread_pitch, "m"), Input("L", length, "m")),
        ),
        (
            "wall behind the thread at full stroke",
            force / net,
            1.0,
            "F / (π/4·(D_o² − d²)) ≤ R_e / S",
            "statics",
            (Input("D_o", made.outer_diameter, "m"), Input("d", d, "m")),
        ),
    )
    for name, value, divisor, formula, source, sizes in rows:
        yield Check(
            "cylinder gland",
            name,
            value,
            steel.yield_strength / factor / divisor,
            "Pa",
            f"yield of {steel.grade} / {factor:g}" + ("" if divisor == 1 else " / √3"),
            formula,
            f"{source}; {steel.source}",
            "at relief pressure",
            (
                Input("F", force, "N"),
                *sizes,
                Input("R_e", steel.yield_strength, "Pa"),
                Input("S", factor, "1"),
            ),
            _STOP,
        )


def _bolted(solution: Solution, made: Cylinder, given: GlandBolts) -> Iterator[Check]:
    """Parting, tension and thread in the wall. All of the force pulls the bolts when it parts."""
    thread, steel = tables.thread(given.thread), made.material
    strength = tables.property_class(given.property_class, thread.d)
    factor, each = solution.press.yield_safety_factor, _push(solution, made) / given.count
    name, scatter = f"cylinder gland bolts {given.thread}", bolts.SCATTER[given.tightening]
    tight = preload(given)
    engaged = given.engaged or 1.5 * thread.d
    wall = threads.nut_shear_area(thread, engaged)
    young = tables.steel_constants().youngs_modulus
    outer, hole = bearing(given)
    part = bolts.load_factor(
        bolts.bolt_resilience(thread, made.gland, young),
        bolts.plate_resilience(outer, hole, made.gland, young),
    )
    inputs = (Input("F_V", tight, "N"), Input("Φ", part, "1"), Input("F_A", each, "N"))
    yield Check(
        name, "preload", tight, allowed_preload(given), "N",
        f"class {given.property_class}: tension and torsion at {percent(bolts.UTILISATION)} of "
        "yield",
        PRELOAD, _SOURCE, inputs=tightened(given),
    )  # fmt: skip
    yield Check(
        name, "least preload against parting at full stroke",
        tight / scatter, (1 - part) * each, "N", "what the piston takes from the joint",
        "F_V / α_A ≥ (1 − Φ)·F_A", f"{_SOURCE}; Rötscher's cones at 30°",
        f"at relief pressure; {given.count} bolts, Φ = {part:.3g}",
        (*inputs, Input("α_A", scatter, "1")), _STOP, sense="at least",
    )  # fmt: skip
    yield Check(
        name, "tension at full stroke",
        (tight + part * each) / thread.stress_area, strength.yield_strength, "Pa",
        f"yield of class {given.property_class}", "(F_V + Φ·F_A) / A_s ≤ R_e", _SOURCE,
        "at relief pressure", (*inputs, Input("A_s", thread.stress_area, "m²"),
                               Input("R_e", strength.yield_strength, "Pa")), _STOP,
    )  # fmt: skip
    yield Check(
        name, "thread in the wall",
        (tight + part * each) / wall, threads.SHEAR_OVER_TENSION * steel.yield_strength / factor,
        "Pa", f"0.58 × yield of {steel.grade} / {factor:g}", "(F_V + Φ·F_A) / A_s ≤ 0.58·R_e / S",
        "FED-STD-H28 areas at least material; VDI 2230-1 (0.58), not verified against the standard",
        f"{fixed(engaged, 'm', 0)} engaged", (
            *inputs, Input("A_s", wall, "m²"), Input("R_e", steel.yield_strength, "Pa"),
            Input("S", factor, "1"),
        ),
    )  # fmt: skip
    left = (made.outer_diameter - made.bore) / 2 - thread.d
    yield Check(
        name, "wall left round a bolt", left / 2, 0.5 * thread.d, "m", "half a diameter",
        "(t − d) / 2 ≥ d / 2", "common practice, no source", "bolts in the middle of the wall",
        (Input("t", made.wall, "m"), Input("d", thread.d, "m")), sense="at least",
    )  # fmt: skip


def _bent(solution: Solution, made: Cylinder, given: GlandBolts | None) -> Check:
    """The gland as a flat ring between the piston's push and what holds it."""
    steel, factor = made.material, solution.press.yield_safety_factor
    mean = (made.ram + made.bore) / 4
    on, rim = made.thread_diameter / 2, made.thread_diameter / 2
    if given is not None:
        on, rim = bolt_circle(made, given) / 2, made.outer_diameter / 2
    force = _push(solution, made)
    return Check(
        "cylinder gland", "bending of the ring at full stroke",
        ring_stress(force, made.gland, (made.ram / 2, rim), (mean, on), steel.poisson),
        steel.yield_strength / factor,
        "Pa",
        f"yield of {steel.grade} / {factor:g}",
        RING,
        "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 17",
        "at relief pressure; the groove of seals is not taken off",
        ring_inputs(force, made.gland, (made.ram / 2, rim), (mean, on), steel, factor),
        _STOP,
    )  # fmt: skip
