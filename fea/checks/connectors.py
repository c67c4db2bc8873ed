"""Dowels or weld seams that make loose plates bend together in part."""

from __future__ import annotations

import numpy as np

from platestack.fea.hand.joined import Joined
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution

_SOURCE = "Newmark, Siess and Viest 1951; EN 1993-1-8, not verified against the standard"


def connector_checks(solution: Solution) -> list[Check]:
    """Shear force on the connectors of the worst interface of each stack that has them."""
    checks = []
    factor = solution.press.yield_safety_factor
    for joined in _joined(solution):
        _, forces = joined.bends(joined.acting, solution.press.capacity)
        held = [
            joined.strength(a, b)
            for a, b in zip(joined.plates[:-1], joined.plates[1:], strict=True)
        ]
        worst = int(np.argmax(forces / np.array(held)))
        checks.append(
            Check(
                f"{joined.stack.name}: shear in the {joined.given.kind} of one half",
                float(forces[worst]),
                held[worst] / factor,
                "N",
                f"design strength of the {joined.given.kind} / {factor:g}",
                "F ≤ F_Rd / S",
                _SOURCE,
                f"between {joined.plates[worst].name} and {joined.plates[worst + 1].name}; "
                "force at mid-span, connectors yield before they break",
                (
                    Input("F", float(forces[worst]), "N"),
                    Input("F_Rd", held[worst], "N"),
                    Input("S", factor, "1"),
                ),
                ("Holes of dowels and fatigue of dowels and seams are not checked.",),
                method="F: integral of connector stiffness times slip over one half; F_Rd: sum of "
                "their strengths",
            )
        )
    return checks


def connector_facts(solution: Solution) -> list[Fact]:
    """How far the connectors make the plates act as one."""
    facts = []
    for joined in _joined(solution):
        own, loose, one = joined.softness
        facts.append(
            Fact(
                "joining",
                f"{joined.stack.name}: bending deflection with its {joined.given.kind}, over loose",
                own / loose,
                "1",
                "w / w_loose",
                _SOURCE,
                f"as one it would be {one / loose:.3f}; {len(joined.plates)} plates, without "
                "shear; the solution has them as springs unless the interface is welded",
                (Input("w", own, "m/N"), Input("w_loose", loose, "m/N")),
                method="Σ 2 F L³ / (π⁴ m⁴ EI_ef), m = 1, 3, 5 …, for a force of 1 N",
            )
        )
    return facts


def _joined(solution: Solution) -> list[Joined]:
    found = (Joined.of(solution.press, stack) for stack in solution.press.stacks)
    return [joined for joined in found if joined]
