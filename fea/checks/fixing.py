"""The bolts that hold the cylinder to its stack: they must neither part, yield nor tire."""

from __future__ import annotations

import math

from platestack.fea.checks.joining import PRELOAD, allowed_preload, bearing, preload, tightened
from platestack.fea.hand import bolts
from platestack.fea.hand.record import Check, Input
from platestack.fea.hand.rings import TStub
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.schema import Fixing
from platestack.geometry.units import percent

_SOURCE = "VDI 2230-1:2015, not verified against the standard; Rötscher's cones at 30°"
GRAVITY = 9.80665


def fixing(solution: Solution) -> list[Check]:
    """Separation, strength and fatigue of the cylinder's fixing bolts, if the case gives them."""
    given = solution.case.ram.fixing
    if given is None:
        return []
    one = stub(solution, given)
    levered = pull(solution, given) * (one.pried if one else 1.0)
    checks = _pulled(given, levered, _part(solution, given))
    return [_preload(given), *checks] if given.preload else checks


def pull(solution: Solution, given: Fixing) -> float:
    """Force (N) that pulls the cylinder from its stack: return stroke, and weight if it hangs."""
    press = solution.press
    made = press.cylinder
    stroke = given.pull or (press.working_pressure * made.annulus_area if made else 0.0)
    weight = made.mass * GRAVITY if made and solution.case.ram.mounted == "crosshead" else 0.0
    return stroke + weight


def _part(solution: Solution, given: Fixing) -> float:
    """Part of the pull that a bolt feels, Φ; 1 where nothing spreads the clamping force."""
    length = grip(solution, given)
    outer, hole = bearing(given)
    if outer <= hole or length <= 0:
        return 1.0
    young = tables.steel_constants().youngs_modulus
    own = bolts.bolt_resilience(tables.thread(given.thread), length, young)
    return bolts.load_factor(own, bolts.plate_resilience(outer, hole, length, young))


def grip(solution: Solution, given: Fixing) -> float:
    """Thickness that the bolts clamp (m): given, or that of flange or bottom."""
    ram, made = solution.case.ram, solution.press.cylinder
    return given.grip or (ram.flange.thickness if ram.flange else made.bottom if made else 0.0)


def stub(solution: Solution, given: Fixing) -> TStub | None:
    """A bolt with its share of the flange; None where the cylinder has no flange to lever it."""
    own, made = solution.case.ram.flange, solution.press.cylinder
    if own is None or made is None:
        return None
    thread = tables.thread(given.thread)
    circle = given.circle or (made.outer_diameter + own.outer_diameter) / 2
    lever = (circle - made.outer_diameter) / 2
    strength = tables.property_class(given.property_class, thread.d).tensile_strength
    return TStub(
        lever,
        (own.outer_diameter - circle) / 2,
        min(2 * math.pi * lever, math.pi * circle / given.count),
        own.thickness,
        made.bottom_material.yield_strength,
        # EN 1993-1-8 Table 3.4.
        0.9 * strength * thread.stress_area / 1.25,
    )


def _preload(given: Fixing) -> Check:
    return Check(
        f"cylinder fixing bolts {given.thread}", "preload",
        preload(given), allowed_preload(given), "N",
        f"class {given.property_class}: tension and torsion at {percent(bolts.UTILISATION)} of "
        "yield",
        PRELOAD, _SOURCE,
        inputs=tightened(given),
    )  # fmt: skip


def _pulled(given: Fixing, force: float, part: float) -> list[Check]:
    thread = tables.thread(given.thread)
    strength = tables.property_class(given.property_class, thread.d)
    scatter, each = bolts.SCATTER[given.tightening], force / given.count
    name = f"cylinder fixing bolts {given.thread}"
    inputs = (Input("F_A", each, "N"), Input("Φ", part, "1"), Input("F_V", preload(given), "N"))
    note = f"{given.count} bolts, pulled alike; leverage of a flange counted"
    checks = [
        Check(
            name, "least preload against parting",
            preload(given) / scatter, (1 - part) * each, "N", "what the pull takes from the joint",
            "F_V / α_A ≥ (1 − Φ)·F_A", _SOURCE, note,
            (*inputs, Input("α_A", scatter, "1")),
            sense="at least",
        ),
        Check(
            name,
            "tension",
            (preload(given) + part * each) / thread.stress_area,
            strength.yield_strength,
            "Pa",
            f"yield of class {given.property_class}",
            "(F_V + Φ·F_A) / A_s ≤ R_e",
            _SOURCE,
            note,
            (
                *inputs,
                Input("A_s", thread.stress_area, "m²"),
                Input("R_e", strength.yield_strength, "Pa"),
            ),
        ),
    ]  # fmt: skip
    if 0.008 <= thread.d <= 0.040:
        checks.append(
            Check(
                name,
                "stress amplitude",
                part * each / (2 * thread.stress_area),
                bolts.endurance_amplitude(thread.d),
                "Pa",
                "endurance of a thread rolled before heat treatment",
                "Φ·F_A / (2·A_s) ≤ 0.85·(d_0/d + 45)·σ_0",
                _SOURCE,
                note,
                (
                    *inputs[:2],
                    Input("A_s", thread.stress_area, "m²"),
                    Input("d_0", 0.150, "m"),
                    Input("d", thread.d, "m"),
                    Input("σ_0", 1e6, "Pa"),
                ),
            )
        )
    return checks
