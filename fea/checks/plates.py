"""Plates: stress and deflection as computed on the mesh."""

from __future__ import annotations

from platestack.fea.hand.record import Check
from platestack.fea.solid.model import Solution


def stresses(solution: Solution) -> list[Check]:
    """Peak von Mises stress of each plate."""
    factor = solution.press.yield_safety_factor
    return [
        Check(
            f"{name} {peak.plate.name}: peak von Mises stress",
            peak.von_mises,
            peak.allowed,
            "Pa",
            f"yield of {peak.plate.material.grade} at this thickness / {factor:g}",
            "σ_vM ≤ R_eH(t) / S",
            peak.plate.material.source,
            peak.place,
        )
        for name, stack in solution.stacks.items()
        for peak in stack.peaks
    ]


def deflections(solution: Solution) -> list[Check]:
    """Mid-span deflection of each stack."""
    return [
        Check(
            f"{name}: mid-span deflection",
            stack.deflection,
            stack.stack.deflection_limit,
            "m",
            "limits.deflection × span between rods",
            "w ≤ slope × span",
            "limit set in the case",
            stack.deflection_place,
        )
        for name, stack in solution.stacks.items()
    ]
