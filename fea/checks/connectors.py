"""Dowels or weld seams that make loose plates bend together in part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fea.hand import connectors as hand
from fea.hand import section
from fea.hand.record import Check, Fact, Input
from fea.model import Solution
from geometry import tables
from geometry.parts import Plate, Press, Stack
from geometry.schema import Connectors

_SOURCE = "Newmark, Siess and Viest 1951; EN 1993-1-8, from memory"


@dataclass(frozen=True)
class Joined:
    """A flat stack whose plates are joined by connectors, as a simply supported beam."""

    press: Press
    stack: Stack
    given: Connectors

    @cached_property
    def plates(self) -> tuple[Plate, ...]:
        """From below."""
        return tuple(sorted(section.bending_plates(self.stack.plates), key=lambda p: p.base))

    @property
    def layers(self) -> list[hand.Layer]:
        """The plates, holes not taken out."""
        return [hand.Layer(p.thickness, p.outline.width, p.material.young) for p in self.plates]

    @property
    def span(self) -> float:
        """Between the outer rods (m)."""
        rows = [rod.at[0] for rod in self.press.rods]
        return max(rows) - min(rows)

    @cached_property
    def slip(self) -> list[float]:
        """Slip modulus of each interface (N/m²)."""
        if self.given.kind == "seams":
            return [
                hand.seam_stiffness(p.material.young / (2 * (1 + p.material.poisson)), 2)
                for p in self.plates[:-1]
            ]
        count, d = self.given.count or 0, self.given.diameter or 0.0
        tensile = tables.property_class(self.given.property_class, d).tensile_strength
        return [
            count
            / self.span
            * hand.dowel_stiffness(
                d,
                (a.thickness, b.thickness),
                tensile,
                min(a.material.tensile_strength, b.material.tensile_strength),
            )
            for a, b in zip(self.plates[:-1], self.plates[1:], strict=True)
        ]

    def strength(self, lower: Plate, upper: Plate) -> float:
        """Shear force (N) that the connectors of one half carry between two plates."""
        weaker = min(lower.material.tensile_strength, upper.material.tensile_strength)
        if self.given.kind == "seams":
            return self.span * (self.given.throat or 0.0) * hand.weld_strength(weaker)
        d = self.given.diameter or 0.0
        steel = tables.property_class(self.given.property_class, d)
        yielding = min(
            steel.yield_strength, lower.material.yield_strength, upper.material.yield_strength
        )
        # A plate inside the stack bears on the dowel from both faces: half its thickness for each.
        depth = min(lower.thickness, upper.thickness) / 2
        each = hand.dowel_strength(d, depth, steel.tensile_strength, yielding)
        return (self.given.count or 0) // 2 * each


def connector_checks(solution: Solution) -> list[Check]:
    """Shear force on the connectors of the worst interface of each stack that has them."""
    checks = []
    factor = solution.press.yield_safety_factor
    for joined in _joined(solution):
        _, forces = hand.point_load(
            joined.layers, joined.slip, joined.span, solution.press.capacity
        )
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
                "∫ k s dx ≤ Σ F_Rd / S",
                _SOURCE,
                f"between {joined.plates[worst].name} and {joined.plates[worst + 1].name}; "
                "force at mid-span, connectors yield before they break",
                (Input("k", joined.slip[worst], "N/m²"), Input("span", joined.span, "m")),
                ("Holes of dowels and fatigue of dowels and seams are not checked.",),
            )
        )
    return checks


def connector_facts(solution: Solution) -> list[Fact]:
    """How far the connectors make the plates act as one."""
    facts = []
    for joined in _joined(solution):
        layers, slip = joined.layers, joined.slip

        def bends(moduli: list[float], joined: Joined = joined) -> float:
            return hand.point_load(joined.layers, moduli, joined.span, 1.0)[0]

        own, loose = bends(slip), bends([0.0] * len(slip))
        one = bends([np.inf] * len(slip))
        facts.append(
            Fact(
                "joining",
                f"{joined.stack.name}: bending deflection with its {joined.given.kind}, over loose",
                own / loose,
                "1",
                "Σ 2 F L³ / (π⁴ m⁴ (EI)_ef), m = 1, 3, 5 …",
                _SOURCE,
                f"as one it would be {one / loose:.3f}; {len(layers)} plates, without shear; the "
                "mesh knows welded, loose or clamped plates only",
                (Input("k", min(slip), "N/m²"),),
            )
        )
    return facts


def _joined(solution: Solution) -> list[Joined]:
    found = []
    for stack in solution.press.stacks:
        given = getattr(solution.case, stack.name).connectors
        joined = Joined(solution.press, stack, given) if given else None
        if joined and stack.layout == "flat" and len(joined.plates) > 1:
            found.append(joined)
    return found
