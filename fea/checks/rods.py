"""Tie rods at work: tension, bending by tilt, overload; stretch and the nuts they need."""

from __future__ import annotations

import math

from platestack.fea.checks.alike import most
from platestack.fea.checks.cylinder import overload
from platestack.fea.checks.threads import thread_shear
from platestack.fea.checks.tilt import rod_bending
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import TieRod
from platestack.geometry.units import fixed, percent, quantity

FIRST_TURN = 0.34
"""Part of the force that the first turn of a nut carries while all is elastic."""


def rods(solution: Solution) -> list[Check]:
    """Tension of each rod in its thread; tension with bending, and overload, of the worst."""
    factor = solution.press.rod_safety_factor
    checks = []
    for rod in solution.press.rods:
        force = max(solution.nut_force(rod), rod.preload)
        checks.append(
            Check(
                rod.name, "tension in the thread",
                force / rod.stress_area, rod.material.yield_strength / factor, "Pa",
                f"yield of {rod.material.grade} at this diameter / {factor:g}",
                "max(F_nut, F_preload) / A_s ≤ R_e / S", rod.material.source,
                f"{rod.thread}; bending of the rod is not included",
                (Input("F_nut", solution.nut_force(rod), "N"), Input("F_preload", rod.preload, "N"),
                 Input("A_s", rod.stress_area, "m²"),
                 Input("R_e", rod.material.yield_strength, "Pa"), Input("S", factor, "1")),
            )
        )  # fmt: skip
    return [*checks, _bent(solution), _overloaded(solution)]


def rod_facts(solution: Solution) -> list[Fact]:
    """Stretch of the rods, and the height of nut that they need."""
    rod = _most(solution)
    press, force = solution.press, max(solution.nut_force(rod), rod.preload)
    felt, working = solution.alternating_force(rod), solution.rod_force(rod)
    worst = max(thread_shear(solution), key=lambda check: check.utilisation)
    pitch = tables.rod_thread(rod.thread).pitch
    tension = force / rod.stress_area * press.rod_safety_factor / rod.material.yield_strength
    needed = pitch + worst.utilisation / tension * (rod.nut_height - pitch)
    return [
        Fact(
            "rods", rod.name, "stretch between the nuts that pressing adds",
            rod.stretch(felt, working), "m", "F_felt·δ",
            "Hooke's law",
            "shank; between inner nuts or shoulders it feels all of the pressing force",
            (Input("F_felt", felt, "N"),
             Input("δ", rod.stretch(felt, working) / felt if felt else 0.0, "m/N")),
            method="δ: free length over E A, threads and nuts left out",
        ),
        Fact(
            "rods",
            rod.name,
            "nut height at which the thread is as strong as the rod",
            needed,
            "m",
            "P + τ/τ_allowed·σ_allowed/σ·(m − P)",
            worst.source,
            f"{rod.thread}; the nut has {fixed(rod.nut_height, 'm', 0)}; nut and rod of one steel",
            (
                Input("P", pitch, "m"), Input("τ", worst.value, "Pa"),
                Input("τ_allowed", worst.limit, "Pa"), Input("σ", force / rod.stress_area, "Pa"),
                Input("σ_allowed", rod.material.yield_strength / press.rod_safety_factor, "Pa"),
                Input("m", rod.nut_height, "m"),
            ),
            (
                f"The first turn carries about {percent(FIRST_TURN)} of the force while all is "
                "elastic "
                "(common practice, no source): a higher nut does not relieve it.",
            ),
        ),
    ]  # fmt: skip


def _most(solution: Solution) -> TieRod:
    return most(solution.press.rods, solution.rod_force)


def _bent(solution: Solution) -> Check:
    """Tension and bending of the rod for which both are worst."""
    factor = solution.press.rod_safety_factor

    def stress(rod: TieRod) -> float:
        return solution.nut_force(rod) / rod.stress_area + rod_bending(solution, rod).stress

    rod = most(solution.press.rods, stress)
    bent = rod_bending(solution, rod)
    tilts = (math.hypot(*bent.top), math.hypot(*bent.bottom))
    return Check(
        rod.name, "tension and bending in the thread",
        stress(rod), rod.material.yield_strength / factor, "Pa",
        f"yield of {rod.material.grade} at this diameter / {factor:g}",
        "F / A_s + σ_b ≤ R_e / S", "beam under tension, derived; tilts as computed on the mesh",
        f"{rod.thread}; nuts flat on the plates, tilts {fixed(tilts[0], 'm/m', 2)} above, "
        f"{fixed(tilts[1], 'm/m', 2)} below",
        (Input("F", solution.nut_force(rod), "N"), Input("A_s", rod.stress_area, "m²"),
         Input("σ_b", bent.stress, "Pa"), Input("R_e", rod.material.yield_strength, "Pa"),
         Input("S", factor, "1")),
        ("Bearing faces that are not square to the rod bend it too; that is not included.",),
        method=f"σ_b = M / W_s with M = {quantity(bent.moment, 'N m')} of a beam under "
        "tension, its ends turned by the tilts of the plates",
    )  # fmt: skip


def _overloaded(solution: Solution) -> Check:
    """Tension at the overload that the relief valve or a mistake allows."""
    over, rod = overload(solution), _most(solution)
    force = max(solution.nut_force(rod) + (over - 1) * solution.rod_force(rod), rod.preload)
    return Check(
        rod.name, "tension in the thread at overload",
        force / rod.stress_area, rod.material.yield_strength, "Pa",
        f"yield of {rod.material.grade} at this diameter",
        "max(F_nut + (κ − 1)·F_work, F_preload) / A_s ≤ R_e", rod.material.source,
        f"{over:.4g} times capacity: limits.overload, or the relief setting if that is higher",
        (Input("F_nut", solution.nut_force(rod), "N"), Input("κ", over, "1"),
         Input("F_work", solution.rod_force(rod), "N"), Input("F_preload", rod.preload, "N"),
         Input("A_s", rod.stress_area, "m²"), Input("R_e", rod.material.yield_strength, "Pa")),
        ("Set and seal the relief valve; above this force nothing here has been checked.",),
    )  # fmt: skip
