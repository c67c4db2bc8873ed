"""Checks: demand against a named limit, each with its formula and source."""

from __future__ import annotations

from dataclasses import dataclass

from fea.model import Solution
from geometry.schema import Limits


@dataclass(frozen=True)
class Check:
    """One demand against one limit, in SI units."""

    name: str
    value: float
    limit: float
    unit: str
    limit_name: str
    formula: str
    source: str
    note: str = ""

    @property
    def utilisation(self) -> float:
        """Demand over limit; above 1 the limit is exceeded."""
        return self.value / self.limit


def all_checks(solution: Solution) -> list[Check]:
    """Every check of a solution, worst first."""
    checks = [
        *_stresses(solution),
        *_deflections(solution),
        *_rods(solution),
        *_room(solution, solution.case.limits),
    ]
    return sorted(checks, key=lambda check: -check.utilisation)


def _stresses(solution: Solution) -> list[Check]:
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


def _deflections(solution: Solution) -> list[Check]:
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


def _rods(solution: Solution) -> list[Check]:
    factor = solution.press.rod_safety_factor
    checks = []
    for rod in solution.press.rods:
        force = max(solution.rod_force(rod), rod.preload)
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


def _room(solution: Solution, limits: Limits) -> list[Check]:
    press = solution.press
    checks = []
    if limits.ceiling is not None:
        checks.append(
            Check(
                "height over the rods",
                press.height,
                limits.ceiling,
                "m",
                "limits.ceiling",
                "rod length",
                "geometry",
                "no room for lifting included",
            )
        )
    if limits.hoist is not None:
        plate, stack = max(
            ((p, s) for s in press.stacks for p in s.plates), key=lambda pair: pair[0].mass
        )
        checks.append(
            Check(
                "heaviest plate to lift",
                plate.mass,
                limits.hoist,
                "kg",
                "limits.hoist",
                "volume × density",
                "geometry",
                f"{stack.name} {plate.name}; lifted one by one, slings not included",
            )
        )
    return checks
