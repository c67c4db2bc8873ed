"""Tie rods at work."""

from __future__ import annotations

from fea.hand.record import Check
from fea.model import Solution


def rods(solution: Solution) -> list[Check]:
    """Tension of each rod in its thread."""
    factor = solution.press.rod_safety_factor
    checks = []
    for rod in solution.press.rods:
        force = max(solution.nut_force(rod), rod.preload)
        checks.append(
            Check(
                f"{rod.name}: tension in the thread",
                force / rod.stress_area,
                rod.material.yield_strength / factor,
                "Pa",
                f"yield of {rod.material.grade} at this diameter / {factor:g}",
                "max(F_work, F_preload) / A_s ≤ R_e / S",
                rod.material.source,
                f"{rod.thread}; bending of the rod is not included",
            )
        )
    return checks
