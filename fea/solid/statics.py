"""A press as beams on its rods: what a `Solution` would say of the rods, without a mesh.

All kinds of checks can run on it: a kind that loops over `solution.stacks` finds none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from platestack.fea.hand import joint
from platestack.fea.hand.beam import BeamResult
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.model import Solution
from platestack.geometry import layout
from platestack.geometry.parts import TieRod

SLOPE = 16 / 5
"""Slope at the outer rods over sag by span, of a beam loaded all along; loaded in the middle, 3."""


@dataclass(frozen=True)
class Statics(Solution):
    """A solution without fields: each rod bears the most that the beams of a stack say.

    `beams` has one or several ideals of each stack (welded, loose); none where only what does not
    depend on them is asked. Of rods with seats, a nut bears the most that the joint diagram leaves
    it, and a seat the least.
    """

    beams: Mapping[str, tuple[BeamResult, ...]] = field(default_factory=dict)
    times: float = 1.0
    """Factor on force and tilt of the rods, from a full solution."""
    relief: float = 1.0
    """Factor on what pressing takes off their seats, from a full solution."""

    def tilts(self, rod: TieRod) -> dict[str, tuple[float, float]]:
        """Slopes at a rod by the sag of each stack."""
        x, span = rod.at[0], layout.span(tuple(one.at for one in self.press.rods))
        found: dict[str, tuple[float, float]] = {}
        for stack in self.press.stacks if self.beams else ():
            sag = self.times * max(ideal.expected for ideal in self.beams[stack.name])
            found[stack.name] = (-stack.direction * SLOPE * sag / span * 2 * x / span, 0.0)
        return found

    def _bears(self, rod: TieRod) -> list[RodForces]:
        forces, tilts = [], self.tilts(rod).values()
        for ideals in self.beams.values():
            force = self.times * max(share(ideal, rod) for ideal in ideals)
            least, most = joint.felt(rod).usual
            edge = max(joint.tilted(rod, force, math.hypot(*tilt))[0] for tilt in tilts)
            # All of it, once the seat has opened, and what an edge of the seat still bears.
            nut = max(rod.preload + most * force, force, edge)
            left = max(rod.preload - self.relief * (1 - least) * force, 0.0)
            forces.append(RodForces(rod.name, nut, force, None if rod.seat == "none" else left))
        return forces


def share(found: BeamResult, rod: TieRod) -> float:
    """Working load of a rod (N): rods of a row take equal parts."""
    row = min(found.rows, key=lambda row: abs(row.x - rod.at[0]))
    return row.force / row.rods


def single(beams: Mapping[str, BeamResult]) -> dict[str, tuple[BeamResult, ...]]:
    """Beams of stacks whose interface is known, as `Statics` takes them."""
    return {name: (found,) for name, found in beams.items()}
