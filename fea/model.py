"""The one entry: a case in, a solution out."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from fea.stack import Report, StackSolution, solve_stack
from geometry import layout
from geometry.parts import Press, TieRod
from geometry.schema import Case


@dataclass(frozen=True)
class Solution:
    """All that is known of a press at capacity."""

    case: Case
    press: Press
    stacks: dict[str, StackSolution]
    seconds: float

    def rod_force(self, rod: TieRod) -> float:
        """Working force of a rod (N): the larger of what crosshead and bed say."""
        return max(_force(solved, rod, self.press.rods) for solved in self.stacks.values())


def analyse(case: Case, report: Report = lambda step: None) -> Solution:
    """Mesh and solve both stacks of a press at capacity.

    Raises
    ------
    PlatestackError
        If a stack cannot be meshed, solved or balanced.
    """
    start = time.perf_counter()
    press = layout.build(case)
    stacks: dict[str, StackSolution] = {
        stack.name: solve_stack(press, stack, case, report) for stack in press.stacks
    }
    return Solution(case, press, stacks, time.perf_counter() - start)


def _force(solved: StackSolution, rod: TieRod, rods: tuple[TieRod, ...]) -> float:
    """Force of a rod, or of its image where only the image is in the model (N)."""
    image = [
        abs(c) if plane in solved.mesh.symmetry else c
        for c, plane in zip(rod.at, "xy", strict=True)
    ]
    for other in rods:
        if other.name in solved.rod_forces and np.allclose(other.at, image, atol=1e-9):
            return solved.rod_forces[other.name]
    raise LookupError(f"{rod.name} has no image in the model of the {solved.stack.name}")
