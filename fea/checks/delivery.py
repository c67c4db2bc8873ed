"""What plates are delivered as: how far stack and gaps may be from the drawing."""

from __future__ import annotations

import math

from platestack.fea.hand.record import Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import heights, tables
from platestack.geometry.parts import Plate, Stack
from platestack.geometry.units import fixed, quantity


def delivery_facts(solution: Solution) -> list[Fact]:
    """Height of each flat stack by the tolerances of its plates, and their flatness."""
    facts = []
    for stack in solution.press.stacks:
        plates = [plate for plate in stack.main_plates if plate.normal == "z"]
        facts += [*_height(stack, plates), *_flatness(stack, plates)]
    return facts


def _height(stack: Stack, plates: list[Plate]) -> list[Fact]:
    if not plates:
        return []
    each = [heights.deviation(stack, plate) for plate in plates]
    low, high = (sum(end) for end in zip(*each, strict=True))
    likely = math.hypot(*((high - low) / 2 for low, high in each))
    return [
        Fact(
            "plates", stack.name, "height of its plates, at the least",
            sum(plate.thickness for plate in plates) + low, "m", "t + e",
            heights.tolerance_source(stack),
            f"at the most {fixed(high - low, 'm', 1)} more; likely within "
            f"± {fixed(likely, 'm', 1)} of the middle (deviations independent); machined plates "
            f"± {fixed(heights.MACHINED, 'm', 1)}, the others as rolled",
            (Input("t", sum(plate.thickness for plate in plates), "m"), Input("e", low, "m")),
            ("Stresses and deflections are computed on nominal thicknesses.",),
            method="nominal height, and the sum of lower deviations",
        )
    ]  # fmt: skip


def _flatness(stack: Stack, plates: list[Plate]) -> list[Fact]:
    try:
        gap = max((tables.flatness_tolerance(plate.thickness) for plate in plates), default=0.0)
    except tables.OutOfTable:
        return []
    if len(plates) < 2:
        return []
    return [
        Fact(
            "plates",
            stack.name,
            "gap under a straight-edge that a plate may be delivered with",
            gap,
            "m",
            "",
            "EN 10029:1991 Table 4, class N, steel type L, not verified against the standard",
            "two such plates may part by twice as much before they are pressed together",
            cautions=(
                "Until gaps have closed the press gives more than computed; flatten, machine or "
                "match the plates.",
            ),
            method=f"a straight-edge of {quantity(1.0, 'run', 3)}; largest of its plates",
        )
    ]
