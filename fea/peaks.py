"""The largest stress of each plate: where it is, how it was judged, and how wrong it may be.

A stress that has a finite value is read at the node. Near a re-entrant edge, where there is none,
it is extrapolated from fixed distances (`fea.singular`). The error of a reading is the difference
of two recoveries of the stress, averaged and fitted; for the most used plate `fea.stack` widens it to
the goal-oriented estimate.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fea import places, recover, singular
from geometry.mesh import StackMesh
from geometry.parts import Plate, Press, Stack

READ = "read at the node"
EXTRAPOLATED = "extrapolated to the re-entrant edge from 0.4 and 1.0 plate thicknesses"


@dataclass(frozen=True)
class Fields:
    """Nodal results of a stack, on plate nodes (p of them)."""

    nodes: recover.PlateNodes
    displacement: np.ndarray
    """(p, 3) in m."""
    stress: np.ndarray
    """(p, 6) in Pa, order xx yy zz xy yz xz."""
    von_mises: np.ndarray
    principal: np.ndarray
    doubt: np.ndarray
    """(p,) difference of von Mises stress between two recoveries (Pa)."""


@dataclass(frozen=True)
class Peak:
    """The largest von Mises stress of a plate and where it is."""

    plate: Plate
    von_mises: float
    error: float
    """Half width of the interval that should hold the exact value (Pa)."""
    at: tuple[float, float, float]
    place: str
    way: str
    """How it was judged: `READ` or `EXTRAPOLATED`."""
    raw: float
    """The largest nodal stress of the plate, whatever the mesh makes of it (Pa)."""
    allowed: float
    """Yield strength over the safety factor (Pa)."""
    node: int
    """Plate node of a reading; the nearest one of an extrapolation."""

    @property
    def utilisation(self) -> float:
        """Peak stress over allowed stress."""
        return self.von_mises / self.allowed

    @property
    def singular(self) -> bool:
        """Whether elasticity has no finite stress at the place."""
        return self.way == EXTRAPOLATED

    def doubted(self, error: float) -> Peak:
        """Return the peak with an error no smaller than this (Pa)."""
        return replace(self, error=max(self.error, error))


def find(press: Press, stack: Stack, mesh: StackMesh, fields: Fields) -> tuple[Peak, ...]:
    """Find the peak of each plate in the model."""
    edges = singular.Distance(mesh.nodes, singular.reentrant_edges(mesh))
    on_surface = np.zeros(len(mesh.nodes), dtype=bool)
    on_surface[singular.outer_nodes(mesh)] = True
    found = []
    for index, plate in enumerate(stack.plates):
        own = np.flatnonzero(fields.nodes.plate == index)
        if len(own):  # else a mirrored twin is in the model
            found.append(_peak(press, stack, mesh, fields, plate, own, edges, on_surface))
    return tuple(found)


def _peak(
    press: Press,
    stack: Stack,
    mesh: StackMesh,
    fields: Fields,
    plate: Plate,
    own: np.ndarray,
    edges: singular.Distance,
    on_surface: np.ndarray,
) -> Peak:
    value = fields.von_mises[own]
    nodes = fields.nodes.node[own]
    distance = edges(mesh.nodes[nodes])
    finite = distance >= singular.NEAR * plate.thickness
    allowed = plate.material.yield_strength / press.yield_safety_factor
    reach = 1.5 * float(np.cbrt(recover.volumes(mesh).mean()))

    def peak(stress: float, error: float, at: np.ndarray, way: str, node: int) -> Peak:
        x, y, z = (float(c) for c in at)
        place = places.describe(stack, press.rods, plate, (x, y, z), reach)
        raw = float(value.max())
        return Peak(plate, stress, error, (x, y, z), place, way, raw, allowed, node)

    readings = []
    if finite.any():
        best = int(np.where(finite, value, -np.inf).argmax())
        doubt = float(fields.doubt[own[best]])
        readings.append(
            peak(float(value[best]), doubt, mesh.nodes[nodes[best]], READ, int(own[best]))
        )
    skin = on_surface[nodes] & (distance < 1.5 * plate.thickness)
    if skin.any():
        at = mesh.nodes[nodes[skin]]
        hot = singular.extrapolated(
            at, value[skin], distance[skin], edges.nearest(at), plate.thickness
        )
        if hot is not None:
            nearest = int(own[np.linalg.norm(mesh.nodes[nodes] - hot.at, axis=1).argmin()])
            # Errors of the two readings add with their factors, 1.67 and 0.67.
            doubt = 1.67 * float(fields.doubt[own[skin][hot.near]])
            doubt += 0.67 * float(fields.doubt[own[skin][hot.far]])
            readings.append(peak(hot.stress, doubt, hot.at, EXTRAPOLATED, nearest))
    if not readings:  # a plate all of whose nodes are near a re-entrant edge
        best = int(value.argmax())
        node = int(own[best])
        return peak(float(value[best]), float(value[best]), mesh.nodes[nodes[best]], READ, node)
    return max(readings, key=lambda reading: reading.von_mises)
