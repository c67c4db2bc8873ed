"""Whether the press fits the shop: ceiling and hoist."""

from __future__ import annotations

from fea.hand.record import Check
from fea.model import Solution


def room(solution: Solution) -> list[Check]:
    """Height under the ceiling, and the heaviest lift."""
    press, limits = solution.press, solution.case.limits
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
