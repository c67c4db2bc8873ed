"""Plates: stress and deflection as computed on the mesh."""

from __future__ import annotations

from platestack.fea.hand.record import Check, Input
from platestack.fea.solid.model import Solution


def stresses(solution: Solution) -> list[Check]:
    """Peak von Mises stress of each plate."""
    factor = solution.press.yield_safety_factor
    return [
        Check(
            f"{name} {peak.plate.name}", "peak von Mises stress",
            peak.von_mises, peak.allowed, "Pa",
            f"yield of {peak.plate.material.grade} at this thickness / {factor:g}",
            "σ_vM ≤ R_eH / S", peak.plate.material.source, peak.place,
            (Input("σ_vM", peak.von_mises, "Pa"),
             Input("R_eH", peak.plate.material.yield_strength, "Pa"), Input("S", factor, "1")),
            method="σ_vM as computed on the mesh",
        )
        for name, stack in solution.stacks.items()
        for peak in stack.peaks
    ]  # fmt: skip


def deflections(solution: Solution) -> list[Check]:
    """Mid-span deflection of each stack."""
    return [
        Check(
            name, "mid-span deflection",
            stack.deflection, stack.stack.deflection_limit, "m",
            "limits.deflection × span between rods",
            "w ≤ s·L", "limit set in the case", stack.deflection_place,
            (Input("w", stack.deflection, "m"), Input("s", solution.case.limits.deflection, "1"),
             Input("L", stack.stack.deflection_limit / solution.case.limits.deflection, "m")),
            method="w as computed on the mesh; s allowed over the span L between rods",
        )
        for name, stack in solution.stacks.items()
    ]  # fmt: skip
