"""Plates at what the relief valve, or a mistake, lets through: nothing yields for good.

Rods have such a check of their own (`fea.checks.rods`); the cylinder is checked at relief pressure
throughout.
"""

from __future__ import annotations

from platestack.fea.checks.cylinder import overload
from platestack.fea.hand.record import Check, Input
from platestack.fea.solid.model import Solution

_SET = ("Set and seal the relief valve; above this force nothing here has been checked.",)


def overloaded(solution: Solution) -> list[Check]:
    """Peak stress of each stack at overload."""
    over = overload(solution)
    note = f"{over:.4g} times capacity: limits.overload, or the relief setting if that is higher"
    checks = []
    for name, solved in solution.stacks.items():
        # What is allowed is the yield strength over one and the same factor.
        peak = max(solved.peaks, key=lambda peak: peak.von_mises / peak.allowed)
        steel = peak.plate.material
        checks.append(
            Check(
                f"{name} {peak.plate.name}", "peak von Mises stress at overload",
                over * peak.von_mises, steel.yield_strength, "Pa",
                f"yield of {steel.grade} at this thickness",
                "κ·σ_vM ≤ R_eH", steel.source, f"{note}; stress taken as proportional to force",
                (Input("κ", over, "1"), Input("σ_vM", peak.von_mises, "Pa"),
                 Input("R_eH", steel.yield_strength, "Pa")),
                _SET,
            )
        )  # fmt: skip
    return checks
