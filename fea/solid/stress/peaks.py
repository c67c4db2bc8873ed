"""The largest stress of each plate: where it is, how it was judged, and how wrong it may be.

A stress that has a finite value is read at the node. Near a re-entrant edge, where there is none,
it is extrapolated from fixed distances (`stress.singular`). The error of a reading comes from the
spread of two recoveries of the stress about it (`stress.estimate.doubt`); for the most used plate
`fea.solid.stack` widens it to the goal-oriented estimate.

Where plates may part, an edge with which one presses on the face of another has no finite stress
either, though it grows less. There the stress is read all the same, which no bearing pressure
escapes; it is told.

A peak that moves out of its error from one mesh to the next, or whose error refinement does not
narrow, is said to be unsettled. The usual one lies at the edge of a loaded patch: under a uniform
pressure the stress is finite there but jumps, so that nodal values keep scattering about it, within
errors of about a tenth of the pressure that no refinement makes smaller.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.sparse import csr_matrix

from platestack.fea.solid.stress import estimate, places, recover, singular
from platestack.fea.solid.stress.estimate import Body
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Plate, Press, Stack

READ = "read at the node"
PRESSED = (
    f"{READ}, near an edge with which a plate presses on another, where elasticity has no finite "
    "stress: finer elements may read more"
)
EXTRAPOLATED = "extrapolated to the re-entrant edge from 0.4 and 1.0 plate thicknesses"
UNSETTLED = "not settled: the last refinement moved it out of its error, or did not narrow that"

NARROWER = 0.9
"""Part of the earlier error below which an error counts as narrowed."""


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
    """(p,) error of the von Mises stress, from the spread of two recoveries (Pa)."""


@dataclass(frozen=True)
class Read:
    """The nodes that a stress was read at, to first order in the stress.

    Attributes
    ----------
    nodes : (k,) plate nodes.
    slopes : (k, 6) derivative of what is read by the stress at each.
    """

    nodes: np.ndarray
    slopes: np.ndarray

    def row(self, body: Body, cells: np.ndarray) -> csr_matrix:
        """Row on the displacements that reads it; `cells` (m, 10) are plate nodes of elements."""
        rows = []
        for node, slope in zip(self.nodes, self.slopes, strict=True):
            own = np.flatnonzero((cells == node).any(axis=1))
            local = int(np.argmax(cells[own[0]] == node))
            at = int(body.space.cells[own[0], local])
            rows.append(estimate.stress_row(body, at, own, slope))
        return csr_matrix(sum(rows[1:], rows[0]))


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
    """How it was judged: `READ`, `PRESSED` or `EXTRAPOLATED`, and whether it is `UNSETTLED`."""
    raw: float
    """The largest nodal stress of the plate, whatever the mesh makes of it (Pa)."""
    allowed: float
    """Yield strength over the safety factor (Pa)."""
    node: int
    """Plate node of a reading; the nearest one of an extrapolation."""
    read: Read = field(compare=False, repr=False)

    @property
    def utilisation(self) -> float:
        """Peak stress over allowed stress."""
        return self.von_mises / self.allowed

    @property
    def singular(self) -> bool:
        """Whether elasticity has no finite stress at the place."""
        return self.way.startswith(EXTRAPOLATED)

    @property
    def settled(self) -> bool:
        """Whether it stayed within its errors since the mesh before, if there was one."""
        return not self.way.endswith(UNSETTLED)

    def doubted(self, error: float) -> Peak:
        """Return the peak with an error no smaller than this (Pa)."""
        return replace(self, error=max(self.error, error))

    def after(self, before: Peak, accuracy: float) -> Peak:
        """Return the peak judged against that of the same plate on the mesh before.

        `accuracy` is the part of the peak below which an error need not be narrowed.
        """
        change = abs(self.von_mises - before.von_mises)
        moved = change > self.error + before.error
        stuck = self.error > max(accuracy * self.von_mises, NARROWER * before.error)
        if not (moved or stuck):
            return self
        return replace(self.doubted(change), way=f"{self.way}; {UNSETTLED}")


def find(press: Press, stack: Stack, mesh: StackMesh, fields: Fields) -> tuple[Peak, ...]:
    """Find the peak of each plate and pad in the model."""
    surface = singular.Surface.of(mesh)
    distance = singular.Distance(mesh.nodes, surface.reentrant)
    pressed = _pressing_edges(stack, mesh)
    reach = 1.5 * float(np.cbrt(recover.volumes(mesh).mean()))
    found = []
    for index, plate in enumerate(stack.bodies):
        own = np.flatnonzero(fields.nodes.plate == index)
        if not len(own):  # a mirrored twin is in the model
            continue
        value, nodes = fields.von_mises[own], fields.nodes.node[own]
        finite = distance(mesh.nodes[nodes]) >= singular.NEAR * plate.thickness
        readings = [_hot_spot(surface, index, plate, own, fields)]
        if finite.any():
            readings.append(_largest(mesh, own[finite], fields))
        known = [reading for reading in readings if reading is not None]
        if not known:  # all nodes are near a re-entrant edge, and none can be extrapolated
            known = [replace(_largest(mesh, own, fields), error=float(value.max()))]
        best = max(known, key=lambda reading: reading.value)
        if best.way == READ and pressed(best.at[None])[0] < singular.NEAR * plate.thickness:
            best = replace(best, way=PRESSED)
        at = (float(best.at[0]), float(best.at[1]), float(best.at[2]))
        found.append(
            Peak(
                plate=plate,
                von_mises=best.value,
                error=best.error,
                at=at,
                place=places.describe(stack, press.rods, plate, at, reach),
                way=best.way,
                raw=float(value.max()),
                allowed=plate.material.yield_strength / press.yield_safety_factor,
                node=int(own[np.linalg.norm(mesh.nodes[nodes] - best.at, axis=1).argmin()]),
                read=best.read,
            )
        )
    return tuple(found)


def _pressing_edges(stack: Stack, mesh: StackMesh) -> singular.Distance:
    """Distance from the edges with which plates that may part press on each other."""
    if stack.interface == "welded":
        return singular.Distance(mesh.nodes, np.empty((0, 2), dtype=int))
    joined = singular.Surface.of(mesh, touching=True)
    return singular.Distance(joined.nodes, joined.reentrant)


@dataclass(frozen=True)
class _Reading:
    """A stress (Pa) with its error, place, way, and the nodes it came from."""

    value: float
    error: float
    at: np.ndarray
    way: str
    read: Read


def _largest(mesh: StackMesh, among: np.ndarray, fields: Fields) -> _Reading:
    """Read the largest stress among plate nodes."""
    best = int(among[fields.von_mises[among].argmax()])
    slope = estimate.von_mises_slope(fields.stress[best])
    return _Reading(
        float(fields.von_mises[best]),
        float(fields.doubt[best]),
        mesh.nodes[fields.nodes.node[best]],
        READ,
        Read(np.array([best]), slope[None]),
    )


def _hot_spot(
    surface: singular.Surface, index: int, plate: Plate, own: np.ndarray, fields: Fields
) -> _Reading | None:
    """Extrapolate to the re-entrant edges of a plate, `own` its plate nodes."""
    stress = np.zeros((len(surface.nodes), 6))
    stress[fields.nodes.node[own]] = fields.stress[own]
    hot = singular.hot_spot(surface, index, plate.thickness, stress)
    if hot is None:
        return None
    nodes = own[np.searchsorted(fields.nodes.node[own], hot.nodes)]
    at = np.einsum("ri,ric->rc", hot.weights, fields.stress[nodes])
    slopes = np.array([estimate.von_mises_slope(stress) for stress in at])
    shares = (hot.factors[:, None] * hot.weights)[:, :, None] * slopes[:, None, :]
    used = np.flatnonzero(hot.factors)
    # Errors of the readings add with the size of their factors.
    error = float(np.abs(hot.factors) @ fields.doubt[nodes].max(axis=1))
    read = Read(nodes[used].ravel(), shares[used].reshape(-1, 6))
    return _Reading(hot.value, error, hot.at, EXTRAPOLATED, read)
