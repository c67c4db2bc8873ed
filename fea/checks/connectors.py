"""Dowels or weld seams that make loose plates bend together in part."""

from __future__ import annotations

import numpy as np

from platestack.fea.checks.use import Use
from platestack.fea.hand.joined import Joined
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables

PEAK_FLOW = 1.5
"""Largest over mean flow along one half under a force at mid-span: of stiff connectors 1; of very
soft ones the slip is a parabola, and so is the flow."""
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
                joined.stack.name, f"shear in the {joined.given.kind} of one half",
                float(forces[worst]), held[worst] / factor, "N",
                f"design strength of the {joined.given.kind} / {factor:g}",
                "F ≤ F_Rd / S", _SOURCE,
                f"between {joined.plates[worst].name} and {joined.plates[worst + 1].name}; "
                "force at mid-span, connectors yield before they break",
                (Input("F", float(forces[worst]), "N"), Input("F_Rd", held[worst], "N"),
                 Input("S", factor, "1")),
                method="F: integral of connector stiffness times slip over one half; F_Rd: sum of "
                "their strengths",
            )
        )  # fmt: skip
    return checks


def connector_fatigue(solution: Solution) -> list[Check]:
    """Range of shear stress of the connectors at the worst interface of each stack."""
    use, checks = Use.of(solution.case), []
    for joined in _joined(solution):
        _, forces = joined.bends(joined.acting, solution.press.capacity)
        worst = int(np.argmax(forces))
        seams = joined.given.kind == "seams"
        detail = tables.detail("fillet in shear" if seams else "pin in shear")
        checks.append(
            Check(
                joined.stack.name, f"fatigue of the {joined.given.kind}",
                PEAK_FLOW * float(forces[worst]) / joined.sheared,
                use.allowed_shear(detail.category), "Pa",
                f"category {detail.category / 1e6:g} in shear, {use.words}",
                f"{PEAK_FLOW:g}·F / A ≤ {use.shear_strength}",
                f"EN 1993-1-9:2005 7.1; {detail.source}",
                f"between {joined.plates[worst].name} and {joined.plates[worst + 1].name}; flow at "
                "its largest, as of very soft connectors; an upper bound",
                (Input("F", float(forces[worst]), "N"), Input("A", joined.sheared, "m²"),
                 Input("Δτ_C", detail.category, "Pa"), Input("N", use.equivalent(), "1"),
                 Input("γ_Mf", use.factor, "1")),
                (f"As the category asks: {detail.description}.",),
                method="F: integral of the flow over one half; A: what it shears there",
            )
        )  # fmt: skip
    return checks


def connector_facts(solution: Solution) -> list[Fact]:
    """How far the connectors make the plates act as one."""
    facts = []
    for joined in _joined(solution):
        own, loose, one = joined.softness
        facts.append(
            Fact(
                "joining",
                joined.stack.name,
                f"bending deflection with its {joined.given.kind}, over loose",
                own / loose,
                "1",
                "w / w_loose",
                _SOURCE,
                f"with full composite action {one / loose:.3f}; {len(joined.plates)} plates, "
                "without shear; the solution has them as springs unless the interface is welded",
                (Input("w", own, "m/N"), Input("w_loose", loose, "m/N")),
                method="Σ 2 F L³ / (π⁴ m⁴ EI_ef), m = 1, 3, 5 …, for a force of 1 N",
            )
        )
    return facts


def _joined(solution: Solution) -> list[Joined]:
    found = (Joined.of(solution.press, stack) for stack in solution.press.stacks)
    return [joined for joined in found if joined]
