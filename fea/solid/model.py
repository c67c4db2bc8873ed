"""The one entry: a case in, a solution out."""

from __future__ import annotations

import math
import time
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from platestack.fea.hand import beam
from platestack.fea.hand.bending import NotABeam
from platestack.fea.solid import forecast
from platestack.fea.solid.forecast import Forecast
from platestack.fea.solid.frame.shared import joined
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.stack import Report, StackSolution, solve_stack
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Press, TieRod
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show

Tilt = tuple[float, float]

LARGEST_SAG = 0.1
"""Sag over span up to which displacements count as small: there the chord of a bent beam is
shorter than its arc by 8/3 of its square, 3 %."""


class TooSoft(PlatestackError):
    """A stack bends so far that linear elasticity no longer describes it."""


@dataclass(frozen=True)
class Solution:
    """All that is known of a press at capacity."""

    case: Case
    """As it was solved, with the mesh made to fit this machine."""
    press: Press
    stacks: dict[str, StackSolution]
    seconds: float
    forecast: Forecast | None = field(default=None, kw_only=True)
    """What was expected, and done to make the case fit this machine."""

    @property
    def changes(self) -> list[str]:
        """What the memory of this machine made of the mesh, in sentences."""
        if self.forecast is None:
            return []
        accurate = all(stack.accurate for stack in self.stacks.values())
        wished = (self.forecast.coarsened, "" if accurate else self.forecast.shortened)
        return [words for words in wished if words]

    def rod_force(self, rod: TieRod) -> float:
        """Part of the pressing force that a rod bears (N): the mean of what both stacks say.

        A rod is in series with both. Each was solved as if the other were its mirror image; between
        two that are alike stiff the rod bears the mean, and in the mean, as in each stack, the
        rods together bear the pressing force. Rods with seats are joined to both stacks anew
        (`fea.solid.frame.shared`).
        """
        return _mean([bears.frame for bears in self._bears(rod)])

    def nut_force(self, rod: TieRod) -> float:
        """Largest force under a nut of a rod at capacity (N), preload included.

        Both nuts of a rod whose shank has no seat of its own bear the same, the mean.
        """
        nuts = [bears.nut for bears in self._bears(rod)]
        return max(nuts) if rod.seated_itself else _mean(nuts)

    def least_nut_force(self, rod: TieRod) -> float:
        """Least force under a nut of a rod at capacity (N), negative if it would have to push."""
        nuts = [bears.nut for bears in self._bears(rod)]
        return min(nuts) if rod.seated_itself else _mean(nuts)

    def alternating_force(self, rod: TieRod) -> float:
        """What pressing adds to the force in a rod's thread (N), beyond its preload."""
        return self.nut_force(rod) - rod.preload

    def clamping_force_left(self, rod: TieRod) -> float | None:
        """Least force on a seat of a rod at capacity (N): 0 once one has opened, None without."""
        if rod.seat == "none":
            return None
        return min(bears.seat or 0.0 for bears in self._bears(rod))

    def tilts(self, rod: TieRod) -> dict[str, Tilt]:
        """Tilt of the nuts' annuli, (∂w/∂x, ∂w/∂y), of each stack that was solved."""
        return {name: _tilt(solved, rod) for name, solved in self.stacks.items()}

    def rod_shares(self, rod: TieRod) -> dict[str, float]:
        """Part of the pressing force that a rod bears (N), as each stack that was solved says."""
        return {
            name: one.rods[_image(one, rod, self.press.rods)].frame
            for name, one in self.stacks.items()
        }

    @cached_property
    def _joined(self) -> dict[str, dict[str, RodForces]]:
        """What each modelled rod with seats bears between both stacks, by stack."""
        standing = [one.standing for one in self.stacks.values()]
        if len(standing) != 2 or standing[0] is None or standing[1] is None:
            return {}
        found = joined(standing[0], standing[1]) or []
        return {
            name: {pair[side].rod: pair[side] for pair in found}
            for side, name in enumerate(self.stacks if found else ())
        }

    def _bears(self, rod: TieRod) -> list[RodForces]:
        return [
            self._joined.get(name, one.rods)[_image(one, rod, self.press.rods)]
            for name, one in self.stacks.items()
        ]


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def analyse(case: Case, report: Report = lambda step: None) -> Solution:
    """Mesh and solve both stacks of a press at capacity.

    Raises
    ------
    PlatestackError
        If it bends too far, does not fit this machine, or a stack cannot be meshed, solved or
        balanced.
    """
    start = time.perf_counter()
    press = layout.build(case)
    check_sag(press)
    expected = forecast.of(press, case)
    stacks: dict[str, StackSolution] = {
        stack.name: solve_stack(press, stack, expected.case, report) for stack in press.stacks
    }
    return Solution(expected.case, press, stacks, time.perf_counter() - start, forecast=expected)


def check_sag(press: Press) -> None:
    """Refuse a stack that beam theory bends too far; what is no beam is left to the solids."""
    span = layout.span(tuple(rod.at for rod in press.rods))
    for stack in press.stacks:
        loose = stack.interface == "loose"
        with suppress(NotABeam):
            _, sag = beam.nominal(stack, press.rods, press.capacity, welded=not loose)
            if sag > LARGEST_SAG * span:
                raise TooSoft(
                    f"{stack.name}: by beam theory it bends by {show(sag, LENGTH)} at capacity; "
                    f"linear elasticity holds up to {show(LARGEST_SAG * span, LENGTH)}, a tenth "
                    "of the span. Give it thicker plates, or more of them"
                )


def _image(solved: StackSolution, rod: TieRod, rods: tuple[TieRod, ...]) -> str:
    """Name of a rod, or of its image where only the image is in the model."""
    at = [
        abs(c) if plane in solved.mesh.symmetry else c
        for c, plane in zip(rod.at, "xy", strict=True)
    ]
    for other in rods:
        if other.name in solved.rods and np.allclose(other.at, at, atol=1e-9):
            return other.name
    raise LookupError(f"{rod.name} has no image in the model of the {solved.stack.name}")


def _tilt(solved: StackSolution, rod: TieRod) -> Tilt:
    """Tilt of the plane fitted to a nut's annulus; read at the image where only that is meshed."""
    planes = ["x" in solved.mesh.symmetry, "y" in solved.mesh.symmetry]
    at = [abs(c) if plane else c for c, plane in zip(rod.at, planes, strict=True)]
    mesh, own = solved.mesh, solved.fields.nodes.node
    nuts = [mesh.pressed(name) for name in mesh.faces if name.startswith("nut of ")]
    away = mesh.nodes[own, :2] - at
    bears = np.isin(own, np.concatenate(nuts)) & (np.hypot(*away.T) < rod.bearing_outer / 2 + 1e-6)
    plane = np.column_stack([np.ones(bears.sum()), away[bears]])
    fit = np.linalg.lstsq(plane, solved.fields.displacement[bears, 2], rcond=None)[0]
    # On a plane of symmetry the annulus is halved, and does not tilt across it.
    x, y = (
        0.0 if mirrored and abs(c) < 1e-9 else math.copysign(1.0, c) * slope if mirrored else slope
        for mirrored, c, slope in zip(planes, rod.at, fit[1:], strict=True)
    )
    return float(x), float(y)
