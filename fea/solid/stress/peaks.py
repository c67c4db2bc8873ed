"""The largest stress of each plate: where it is, how it was determined, and how wrong it may be.

A stress that has a finite value is read at the node. Near a re-entrant edge or a seam between loose
plates, where there is none, it is extrapolated from fixed distances (`stress.singular`). The error
of a reading comes from the spread of two recoveries of the stress about it
(`stress.estimate.doubt`); for the most used plate `fea.solid.stack` widens it to the goal-oriented
estimate with its margin (`stress.estimate.stress_spread`).

Where plates may part, an edge with which one presses on the face of another has no finite stress
either, though it grows less. There the stress is read all the same, which no bearing pressure
escapes; it is told.

At the edge of a loaded patch the stress under a uniform pressure is finite, but depends on the side
from which the edge is approached (Love, Phil. Trans. R. Soc. A 228 (1929) 377): nodal values within
`LAYERS` elements of it scatter by a tenth of the pressure on any mesh. Beyond them the stress grows
evenly towards the edge, so the largest one there is taken, with what it grows by over as many
elements again added; both shrink as elements do.

A peak that moves out of its error from one mesh to the next, or whose error refinement does not
narrow, is said to be unsettled.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_matrix

from platestack.fea.hand.joined import Joined
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
AT_PATCH = "extrapolated to the edge of the loaded patch, where the stress jumps with the pressure"
UNSETTLED = "not settled: the last refinement moved it out of its error, or did not narrow that"

LAYERS = 3
"""Elements between the edge of a loaded patch and the nearest stress that is read inside."""

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
    stress_error: np.ndarray
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
    """How it was determined: `READ`, `AT_PATCH`, `PRESSED`, `EXTRAPOLATED`; maybe `UNSETTLED`."""
    raw: float
    """The largest nodal stress of the plate, whatever the mesh makes of it (Pa)."""
    allowed: float
    """Yield strength over the safety factor (Pa)."""
    node: int
    """Plate node of a reading; the nearest one of an extrapolation."""
    read: Read = field(compare=False, repr=False)
    reach: float = 0.0
    """How far from an edge of the loaded patch it was read (m); 0 where none is near."""

    @property
    def bounded(self) -> bool:
        """Whether a finer mesh comes nearer to a finite stress."""
        return not self.way.startswith(PRESSED)

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

    def after(self, before: Peak, accuracy: float) -> Peak:
        """Return the peak compared with that of the same plate on the mesh before.

        `accuracy` is the part of the peak below which an error need not be narrowed.
        """
        change = abs(self.von_mises - before.von_mises)
        moved = change > self.error + before.error
        stuck = self.error > max(accuracy * self.von_mises, NARROWER * before.error)
        if not (moved or stuck):
            return self
        error = max(self.error, change)
        return replace(self, error=error, way=f"{self.way}; {UNSETTLED}")


def find(press: Press, stack: Stack, mesh: StackMesh, fields: Fields) -> tuple[Peak, ...]:
    """Find the peak of each plate and pad in the model."""
    surface = singular.Surface.of(mesh).with_seams(_seams(press, stack))
    distance = singular.Distance(mesh.nodes, surface.unbounded)
    pressed = _pressing_edges(stack, mesh)
    edge = _PatchEdge.of(stack, mesh, surface)
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
            readings.append(edge.largest(own[finite], fields))
        known = [reading for reading in readings if reading is not None]
        if not known:  # all nodes are near a re-entrant edge, and none can be extrapolated
            known = [replace(_largest(mesh, own, fields), error=float(value.max()))]
        best = max(known, key=lambda reading: reading.value)
        near_pressing = pressed(best.at[None])[0] < singular.NEAR * plate.thickness
        if best.way in (READ, AT_PATCH) and near_pressing:
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
                reach=best.reach,
            )
        )
    return tuple(found)


def _seams(press: Press, stack: Stack) -> list[tuple[float, float]]:
    """Half width and height (m) of the seams that join plates in the solid model."""
    joined = Joined.of(press, stack) if stack.interface != "welded" else None
    if joined is None or joined.given.kind != "seams":
        return []
    return [
        (min(lower.outline.width, upper.outline.width) / 2, lower.top)
        for lower, upper in pairwise(joined.plates)
    ]


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
    reach: float = 0.0
    """How far from the edge of the loaded patch it was read (m); 0 where none is near."""


def _largest(mesh: StackMesh, among: np.ndarray, fields: Fields) -> _Reading:
    """Read the largest stress among plate nodes."""
    best = int(among[fields.von_mises[among].argmax()])
    slope = estimate.von_mises_slope(fields.stress[best])
    return _Reading(
        float(fields.von_mises[best]),
        float(fields.stress_error[best]),
        mesh.nodes[fields.nodes.node[best]],
        READ,
        Read(np.array([best]), slope[None]),
    )


@dataclass(frozen=True)
class _PatchEdge:
    """The edge of the loaded patch, and the nodes (n,) inside the body that are near it.

    `shells` lie within `LAYERS` elements of it, within as many again, and so on. Nodes on other
    faces than the loaded one, such as those on walls of holes, are in none.
    """

    mesh: StackMesh
    ends: np.ndarray
    shells: tuple[np.ndarray, np.ndarray, np.ndarray]

    @classmethod
    def of(cls, stack: Stack, mesh: StackMesh, surface: singular.Surface) -> _PatchEdge:
        """Find the edge, mirror planes left out."""
        faces = mesh.pressed(stack.patch_name)
        sides = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        sides, count = np.unique(sides, axis=0, return_counts=True)
        ends = sides[count == 1]
        for axis, plane in enumerate("xy"):
            if plane in mesh.symmetry:
                ends = ends[(np.abs(mesh.nodes[ends, axis]) > 1e-9).any(axis=1)]
        level = mesh.nodes[faces[0, 0], 2]
        other = (np.abs(mesh.nodes[surface.faces[:, :3], 2] - level) > 1e-9).any(axis=1)
        elsewhere = np.unique(surface.faces[other])
        within = np.zeros(len(mesh.nodes), dtype=bool)
        within[ends] = True
        shells: list[np.ndarray] = []
        for _ in range(3):
            before = within.copy()
            for _ in range(LAYERS):
                within[mesh.tets[within[mesh.tets].any(axis=1)]] = True
            shell = within & ~before if shells else within.copy()
            shell[elsewhere] = False
            shells.append(shell)
        return cls(mesh, ends, (shells[0], shells[1], shells[2]))

    def largest(self, among: np.ndarray, fields: Fields) -> _Reading:
        """Read the largest stress among plate nodes, at the edge by what it grows towards it.

        On large elements, where that is known less well than the scattered values at the edge are,
        those are read.
        """
        nodes = fields.nodes.node[among]
        parts = [among[shell[nodes]] for shell in self.shells]
        if not all(map(len, parts)):
            raw = _largest(self.mesh, among, fields)
            start, end = np.moveaxis(self.mesh.nodes[self.ends], 1, 0)
            too_large = LAYERS * float(np.linalg.norm(end - start, axis=1).mean())
            near = len(parts[0]) > 0 and raw.value <= fields.von_mises[parts[0]].max()
            return replace(raw, reach=too_large if near else 0.0)
        at_edge, beside, farther = (_largest(self.mesh, part, fields) for part in parts)
        outside = _largest(self.mesh, among[~self.shells[0][nodes]], fields)
        if at_edge.value <= outside.value:
            return outside
        grows = max(0.0, beside.value - farther.value)
        value = min(max(beside.value + grows, outside.value), at_edge.value)
        error = float(np.hypot(beside.error, value - beside.value))
        middles = self.mesh.nodes[self.ends].mean(axis=1)
        away = np.linalg.norm(middles - beside.at, axis=1)
        at, reach = middles[away.argmin()], float(away.min())
        if max(error, at_edge.value - at_edge.error - value) > at_edge.error:
            return replace(at_edge, reach=reach)
        return replace(beside, value=value, error=error, at=at, way=AT_PATCH, reach=reach)


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
    error = float(np.abs(hot.factors) @ fields.stress_error[nodes].max(axis=1))
    read = Read(nodes[used].ravel(), shares[used].reshape(-1, 6))
    return _Reading(hot.value, error, hot.at, EXTRAPOLATED, read)
