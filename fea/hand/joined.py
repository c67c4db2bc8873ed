"""The connectors of a stack: where they join its plates, how stiff and how strong they are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from platestack.fea.hand import connectors as hand
from platestack.fea.hand import section
from platestack.fea.hand.section import FloatArray
from platestack.geometry import tables
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Connectors


@dataclass(frozen=True)
class Joined:
    """A flat stack whose plates are joined by connectors, as a simply supported beam."""

    press: Press
    stack: Stack
    given: Connectors

    @classmethod
    def of(cls, press: Press, stack: Stack) -> Joined | None:
        """The stack as joined; None without connectors, on edge, or of one plate."""
        if stack.connectors is None or stack.layout != "flat":
            return None
        made = cls(press, stack, stack.connectors)
        return made if len(made.plates) > 1 else None

    @cached_property
    def plates(self) -> tuple[Plate, ...]:
        """From below."""
        return tuple(sorted(section.bending_plates(self.stack.plates), key=lambda p: p.base))

    @property
    def layers(self) -> list[hand.Layer]:
        """The plates, holes not taken out."""
        return [
            hand.Layer(p.thickness, p.outline.mean_width, p.material.young) for p in self.plates
        ]

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

    def bends(self, moduli: list[float], force: float = 1.0) -> tuple[float, FloatArray]:
        """Deflection (m) and forces (N) across the interfaces of one half, of these slip moduli."""
        return hand.point_load(self.layers, moduli, self.span, force)

    @property
    def acting(self) -> list[float]:
        """Slip moduli by which the interfaces are stressed: of welded plates as one piece."""
        return [math.inf] * len(self.slip) if self.stack.interface == "welded" else self.slip

    @cached_property
    def softness(self) -> tuple[float, float, float]:
        """Bending deflection by force (m/N): with the connectors, loose, as one piece."""
        n = len(self.slip)
        return tuple(self.bends(m)[0] for m in (self.slip, [0.0] * n, [math.inf] * n))  # type: ignore[return-value]

    @property
    def sheared(self) -> float:
        """Area (m²) that shears in one half: throats of both seams, or shanks of dowels."""
        if self.given.kind == "seams":
            return self.span * (self.given.throat or 0.0)
        d = self.given.diameter or 0.0
        return (self.given.count or 0) // 2 * math.pi / 4 * d**2

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
