"""What acts on a stack: the loaded patch, rods at their nuts and seats, mirrors.

Everything is a vector or a sparse row on the unknowns, degree of freedom ``3 * node + component``.
A *row* is a linear reading: its product with the displacements is a length in m.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix, vstack

from platestack.fea.hand.support import NUT, SEAT, STATIONS, BoolArray, Support
from platestack.fea.numerics.system import Ties
from platestack.fea.solid.readings import (
    ON_PLANE,
    face_weights,
    plane_rows,
    point_row,
    sliding,
    weighted_row,
)
from platestack.geometry.layout import line_of
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Stack, TieRod

RESTRAINT = 1.0
"""Stiffness of restraints that only hold free rigid motions, as a part of the rods' stiffness.

They carry no force, so that its value changes no answer; but an uneven mesh puts the patch a little
off the line of two rods, and a weak restraint would let the stack tip visibly.
"""

_NO_STIFFNESS = 1e-10
"""Part of the largest stiffness of a rod's stations that is none."""


@dataclass(frozen=True)
class RodEnd:
    """What of a rod is in the model of one stack.

    Attributes
    ----------
    share : part of its annuli that is in the model: 1, 1/2 or 1/4.
    copies : how many rods of the whole press it stands for.
    support : its members, as they are at rest.
    stood : (4,) where its stations stood at rest (m); tilts count from nothing.
    at_work : (m,) bool, which members press or pull.
    """

    rod: str
    share: float
    copies: float
    seated: bool
    support: Support
    stood: np.ndarray
    at_work: BoolArray

    @cached_property
    def law(self) -> tuple[np.ndarray, np.ndarray]:
        """Stiffness (4, 4) of the whole rod at its stations and forces (4,) where these are 0."""
        stiffness, rest = self.support.condensed(self.at_work)
        return stiffness, rest - stiffness @ self.stood

    def springs(self) -> list[tuple[np.ndarray, float]]:
        """Rows (4,) of the stations and stiffness of springs that act as the model's part."""
        if self.at_work.all():
            return [(row, self.share * stiffness) for row, stiffness in self.support.springs()]
        stiffness = self.law[0]
        own = np.diag(stiffness)
        level = own.max()
        root = np.sqrt(np.where(own > _NO_STIFFNESS * level, own, 0.0))
        safe = np.where(root > 0, root, np.inf)
        values, vectors = np.linalg.eigh(stiffness / np.outer(safe, safe))
        rows = vectors.T * root / np.sqrt(level)
        return [
            (row, float(self.share * level * value))
            for row, value in zip(rows, values, strict=True)
            if value > _NO_STIFFNESS
        ]

    def forces(self, stations: np.ndarray) -> RodForces:
        """What the rod bears with its stations at (4,) m."""
        stiffness, still = self.law
        felt = still + stiffness @ stations
        touches = bool(self.at_work[self.support.ring > 0].any())
        nut, seat = float(felt[NUT]), -float(felt[SEAT])
        moment = float(felt[1]), float(felt[2])
        return RodForces(self.rod, nut, nut - seat, seat if touches else None, moment)


@dataclass(frozen=True)
class Held:
    """How a stack is held: rods at their stations, mirrors, restraints of motions left free.

    Attributes
    ----------
    ends : what of each rod is in the model.
    stations : (4r, 3n) rows that read the stations of each, outwards.
    restraints : at work. rest : while rods are tightened, which is done by given forces.
    nuts : (r, 3n) rows that read the mean height of each rod's nut annulus on the stack.
    outward : sign along z from the loaded face to the nuts.
    fixed : (n, 3) components held at zero by mirrors.
    """

    ends: tuple[RodEnd, ...]
    stations: csr_matrix
    restraints: Ties
    rest: Ties
    nuts: csr_matrix
    outward: int
    fixed: np.ndarray

    @property
    def rods(self) -> tuple[str, ...]:
        """Names of the rods in the model."""
        return tuple(end.rod for end in self.ends)

    @property
    def copies(self) -> np.ndarray:
        """How many rods of the whole press each modelled rod stands for, (r,)."""
        return np.array([end.copies for end in self.ends])

    @property
    def shares(self) -> np.ndarray:
        """Part of each modelled rod's annulus that is in the model, (r,)."""
        return np.array([end.share for end in self.ends])

    @cached_property
    def ties(self) -> Ties:
        """The rods as springs, in turn, then restraints."""
        rows, stiffness = [], []
        for number, end in enumerate(self.ends):
            for row, spring in end.springs():
                rows.append(csr_matrix(row) @ self._of(number))
                stiffness.append(spring)
        return _joined(Ties(csr_matrix(vstack(rows)), np.array(stiffness)), self.restraints)

    @property
    def squeezing(self) -> Ties:
        """What holds the stack while rods are tightened: their bending, rings against tilts."""
        rows, stiffness = [], []
        for number, end in enumerate(self.ends):
            if end.support.preload and end.seated:
                values, vectors = np.linalg.eigh(end.share * end.support.squeezed(end.at_work)[0])
                rows += [csr_matrix(row) @ self._of(number)[1:3] for row in vectors.T]
                stiffness += list(values)
        if not rows:
            return self.rest
        return _joined(Ties(csr_matrix(vstack(rows)), np.array(stiffness)), self.rest)

    @property
    def squeeze(self) -> np.ndarray:
        """Forces (3n,) of tightening on the stack, in N: the preloads, and rings part open."""
        load = np.zeros(self.stations.shape[1])
        for number, end in enumerate(self.ends):
            if not end.support.preload:
                continue
            forces = end.support.preload * np.array([1.0, 0.0, 0.0, -1.0 if end.seated else 0.0])
            if end.seated:
                forces[1:3] = end.support.squeezed(end.at_work)[1]
            load -= end.share * (forces @ self._of(number))
        return load

    @property
    def preload(self) -> np.ndarray:
        """Forces (3n,) of the rods on the stack where nothing has moved, in N."""
        load = np.zeros(self.stations.shape[1])
        for number, end in enumerate(self.ends):
            load -= end.share * (end.law[1] @ self._of(number))
        return load

    def forces(self, displacement: np.ndarray) -> list[RodForces]:
        """Forces of each rod under displacements (3n,) in m."""
        read = (self.stations @ displacement).reshape(-1, STATIONS)
        return [end.forces(at) for end, at in zip(self.ends, read, strict=True)]

    def tightening(self, displacement: np.ndarray) -> Held:
        """The same with the rings that press while rods are tightened to (3n,) in m."""
        read = (self.stations @ displacement).reshape(-1, STATIONS)
        return replace(self, ends=tuple(
            replace(end, at_work=end.support.tightened(at[1:3], end.at_work).pressing(at[1:3]))
            if end.seated and end.support.preload else end
            for end, at in zip(self.ends, read, strict=True)
        ))  # fmt: skip

    def pressing(self, displacement: np.ndarray) -> Held:
        """The same with the rings that press under displacements (3n,) in m."""
        read = (self.stations @ displacement).reshape(-1, STATIONS)
        return replace(self, ends=tuple(
            replace(end, at_work=end.support.at_work(at - end.stood, end.at_work))
            for end, at in zip(self.ends, read, strict=True)
        ))  # fmt: skip

    def tightened(self, displacement: np.ndarray) -> Held:
        """The same once rods are tightened, which took displacements (3n,) in m."""
        read = (self.stations @ displacement).reshape(-1, STATIONS)
        ends = []
        for end, at in zip(self.ends, read, strict=True):
            stood = at * np.array([1.0, 0.0, 0.0, 1.0])
            support = end.support
            if end.seated and support.preload:
                support = support.tightened(at[1:3], end.at_work)
            ends.append(replace(end, support=support, stood=stood))
        return replace(self, ends=tuple(ends))

    def turned(self, after: Held) -> list[str]:
        """Rods whose seats open or close, in part or all, on the way to another state."""
        pairs = zip(self.ends, after.ends, strict=True)
        return [end.rod for end, one in pairs if not np.array_equal(end.at_work, one.at_work)]

    def _of(self, number: int) -> csr_matrix:
        return self.stations[STATIONS * number : STATIONS * (number + 1)]


def _joined(one: Ties, two: Ties) -> Ties:
    rows = csr_matrix(vstack([one.rows, two.rows]))
    return Ties(rows, np.concatenate([one.stiffness, two.stiffness]))


@dataclass(frozen=True)
class RodForces:
    """What a rod bears (N): under its nut, as its part of the pressing force, on its seat.

    `seat` is None where there is no seat, or where it has opened.
    """

    rod: str
    nut: float
    frame: float
    seat: float | None
    moment: tuple[float, float] = (0.0, 0.0)
    """That the stack's tilt puts on rod and seat, about its outward slopes (N m)."""


def patch_load(mesh: StackMesh, stack: Stack, force: float) -> np.ndarray:
    """Pressure on the loaded patch, (3n,) in N; the model's share of `force`.

    Uniform, or varying linearly so that its resultant acts at `Stack.off`.
    """
    weights = face_weights(mesh.nodes, mesh.pressed(stack.patch_name))
    varies = np.ones(len(weights))
    for axis, off in enumerate(stack.off):
        if off:
            arm = mesh.nodes[:, axis] - weights @ mesh.nodes[:, axis] / weights.sum()
            varies += off * weights.sum() / (weights @ arm**2) * arm
    weights = weights * varies
    load = np.zeros((len(mesh.nodes), 3))
    load[:, 2] = stack.direction * force / mesh.share * weights / weights.sum()
    return load.ravel()


def supports(mesh: StackMesh, rods: tuple[TieRod, ...]) -> Held:
    """Rods at their stations, mirrors, and restraints of motions that nothing else holds.

    Half of a rod with its nuts belongs to each stack (`fea.hand.support`): tied to the mean
    displacement of its annulus, as the nut presses uniformly, or of where it presses on a
    washer that is a body; and to the plane fitted to its seat. A rod on a mirror plane is in the
    model in part, and does not tilt across it.
    """
    mirrored = [axis for axis, plane in enumerate("xy") if plane in mesh.symmetry]
    ends: list[RodEnd] = []
    rows: list[csr_matrix] = []
    nuts, annuli = [], []
    outward = _outward(mesh, rods)
    for rod in rods:
        faces = mesh.faces.get(f"nut of {rod.name}")
        if faces is None:
            continue
        share = 0.5 ** sum(abs(rod.at[axis]) < ON_PLANE for axis in mirrored)
        weights = face_weights(mesh.nodes, faces)
        annuli.append(weights)
        nuts.append(weighted_row(weights / weights.sum(), 2))
        weights = face_weights(mesh.nodes, mesh.pressed(f"nut of {rod.name}"))
        read = [weighted_row(weights / weights.sum(), 2)]
        seat = mesh.faces.get(f"seat of {rod.name}") if rod.seat != "none" else None
        depth = 0.0
        if seat is None:
            read += 3 * [csr_matrix(read[0].shape)]
        else:
            height, *tilts = plane_rows(mesh, f"seat of {rod.name}", rod.at)
            still = [axis in mirrored and abs(rod.at[axis]) < ON_PLANE for axis in (0, 1)]
            read += [0 * row if held else row for row, held in zip(tilts, still, strict=True)]
            read.append(height)
            depth = abs(float(mesh.nodes[faces, 2].mean() - mesh.nodes[seat, 2].mean()))
        support = Support.of(rod if seat is not None else replace(rod, seat="none"), depth)
        rows += read
        ends.append(
            RodEnd(rod.name, share, mesh.share * share, seat is not None, support,
                   np.zeros(STATIONS), support.pressed)
        )  # fmt: skip
    fixed = np.zeros((len(mesh.nodes), 3), dtype=bool)
    for axis in mirrored:
        fixed[np.unique(mesh.faces[f"symmetry {'xy'[axis]}"]), axis] = True
    weights = np.sum(annuli, axis=0)
    free = _restraints(mesh, rods, weights)
    hold = RESTRAINT * sum(end.share * end.support.half[0] for end in ends)
    still_rows = _restraints(mesh, rods, weights, alone=True)
    return Held(
        tuple(ends),
        csr_matrix(outward * vstack(rows)),
        Ties(csr_matrix(vstack(free)) if free else csr_matrix((0, fixed.size)),
             np.full(len(free), hold)),
        Ties(csr_matrix(vstack(still_rows)), np.full(len(still_rows), hold)),
        csr_matrix(vstack(nuts)),
        outward,
        fixed,
    )  # fmt: skip


def _outward(mesh: StackMesh, rods: tuple[TieRod, ...]) -> int:
    """Sign along z from the loaded face to the nuts."""
    first = next(f for rod in rods if (f := mesh.faces.get(f"nut of {rod.name}")) is not None)
    middle = mesh.nodes[mesh.tets[mesh.of_plates], 2].mean()
    return 1 if mesh.nodes[first, 2].mean() > middle else -1


def _restraints(
    mesh: StackMesh, rods: tuple[TieRod, ...], weights: np.ndarray, alone: bool = False
) -> list[csr_matrix]:
    """Rows for the rigid motions left: sliding along x and y, turning about z, tipping.

    They carry no force under vertical loads in balance; only their readings are made zero. Rods in
    one line let the stack tip about it, unless the line is the mirror y = 0. `alone` no rod holds
    the stack: it may also rise, and tip about both axes.
    """
    weights = weights / weights.sum()
    free_x, free_y = "x" not in mesh.symmetry, "y" not in mesh.symmetry
    free = free_x, free_y, free_x and free_y
    rows = [row for row, moves in zip(sliding(mesh, weights), free, strict=True) if moves]
    x, y = mesh.nodes[:, 0], mesh.nodes[:, 1]
    reach = np.sqrt(weights @ (x**2 + y**2))
    if alone:
        rows.append(weighted_row(weights, 2))
        if free_x:
            rows.append(weighted_row(weights * x / reach, 2))
        if free_y:
            rows.append(weighted_row(weights * y / reach, 2))
        return rows
    across = line_of([rod.at for rod in rods])
    if free_y and across is not None:
        off = (mesh.nodes[:, :2] - rods[0].at) @ across
        rows.append(weighted_row(weights * off / reach, 2))
    return rows


def mean_of_nuts(held: Held) -> csr_matrix:
    """Row of the mean vertical displacement of all nut annuli of the press."""
    weights = held.copies / held.copies.sum()
    return csr_matrix(weights @ held.nuts)


def deflection_row(mesh: StackMesh, stack: Stack, held: Held) -> tuple[csr_matrix, str]:
    """Row that reads the mid-span deflection, positive in the sense of the load, and its words.

    At the press axis on the loaded face; where there is an opening, the mean over points round it.
    Relative to the mean of the nut annuli.
    """
    try:
        face, place = point_row(mesh, (0.0, 0.0, stack.load_face), 2), "at the press axis"
    except LookupError:
        face, place = _beside_axis(mesh, stack)
    return stack.direction * (face - mean_of_nuts(held)), place


def _beside_axis(mesh: StackMesh, stack: Stack) -> tuple[csr_matrix, str]:
    """Row of the mean over up to eight points round the opening on the press axis, and its words.

    They stand on the inner edge of an annular patch, else as far from the axis as the steel that is
    nearest to it; those of them that are in air are left out.
    """
    x, y, z = mesh.nodes.T
    distance = np.where(np.abs(z - stack.load_face) < 1e-9, np.hypot(x, y), np.inf)
    nearest = int(distance.argmin())
    radius = max(float(distance[nearest]), stack.patch.inner / 2)
    rows = []
    for turn in np.arctan2(y[nearest], x[nearest]) + np.arange(8) * np.pi / 4:
        point = radius * np.cos(turn), radius * np.sin(turn), stack.load_face
        with suppress(LookupError):
            rows.append(point_row(mesh, point, 2))
    edge = "inner edge of the patch" if stack.patch.inner else "opening"
    return sum(rows) / len(rows), f"mean round the {edge} (there is a hole on the press axis)"
