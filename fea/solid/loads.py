"""What acts on a stack: the loaded patch, rods at their nut annuli, mirrors, and point readings.

Everything is a vector or a sparse row on the unknowns, degree of freedom ``3 * node + component``.
A *row* is a linear reading: its product with the displacements is a length in m.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix, vstack
from scipy.spatial import cKDTree

from platestack.fea.hand.joint import springs_of
from platestack.fea.numerics.system import Ties
from platestack.geometry.layout import line_of
from platestack.geometry.mesh import EDGES, StackMesh
from platestack.geometry.parts import Stack, TieRod

RESTRAINT = 1.0
"""Stiffness of restraints that only hold free rigid motions, as a part of the rods' stiffness.

They carry no force, so that its value changes no answer; but an uneven mesh puts the patch a little
off the line of two rods, and a weak restraint would let the stack tip visibly.
"""

_POINTS = np.array(
    [
        [0.445948490915965, 0.445948490915965],
        [0.445948490915965, 0.108103018168070],
        [0.108103018168070, 0.445948490915965],
        [0.091576213509771, 0.091576213509771],
        [0.091576213509771, 0.816847572980459],
        [0.816847572980459, 0.091576213509771],
    ]
)
_WEIGHTS = np.repeat([0.223381589678011, 0.109951743655322], 3) / 2
"""Rule of degree 4 on the triangle (Dunavant, Int. J. Numer. Meth. Engng 21 (1985) 1129)."""


@dataclass(frozen=True)
class Held:
    """How a stack is held: ties to the rods and to restraints, mirrors, rod readings.

    Attributes
    ----------
    ties : at work: the springs of the rods, then restraints of free motions.
    springs : the springs of the rods, in the order of the ties.
    rest : while rods are tightened, which is done by given forces: restraints only.
    nuts : (r, 3n) rows that read the mean height of each rod's nut annulus on the stack.
    outward : sign along z from the loaded face to the nuts.
    fixed : (n, 3) components held at zero by mirrors.
    rods : names of the rods in the model.
    copies : how many rods of the whole press each modelled rod stands for.
    shares : part of each modelled rod's annulus that is in the model: 1, 1/2 or 1/4.
    """

    ties: Ties
    springs: tuple[RodSpring, ...]
    rest: Ties
    nuts: csr_matrix
    outward: int
    fixed: np.ndarray
    rods: tuple[str, ...]
    copies: np.ndarray
    shares: np.ndarray

    @property
    def preload(self) -> np.ndarray:
        """Forces (3n,) of the springs on the stack before any load moves it, in N."""
        initial = np.array([spring.initial for spring in self.springs])
        return np.asarray(-self.outward * (initial @ self.ties.rows[: len(initial)]))

    def forces(self, moved: np.ndarray) -> list[RodForces]:
        """Forces of each rod once the stack has moved by (3n,) m from its state at rest."""
        count = len(self.springs)
        stretch = self.outward * (self.ties.rows[:count] @ moved)
        now = [s.initial + s.stiffness * by for s, by in zip(self.springs, stretch, strict=True)]
        found = []
        for name, share in zip(self.rods, self.shares, strict=True):
            own = [(s, f / share) for s, f in zip(self.springs, now, strict=True) if s.rod == name]
            nut = sum(force for spring, force in own if spring.pulls)
            frame = sum(force for spring, force in own if spring.grounded)
            found.append(RodForces(name, nut, frame, nut - frame if len(own) > 1 else None))
        return found


@dataclass(frozen=True)
class RodSpring:
    """A stretch of a rod or its sleeve: stiffness (N/m) and force at rest (N), of the model's part.

    `grounded` springs lead to the other half of the press; those that `pull` hang on the nut.
    """

    rod: str
    stiffness: float
    initial: float
    grounded: bool
    pulls: bool


@dataclass(frozen=True)
class RodForces:
    """What a rod bears (N): under its nut, as its part of the pressing force, on its seat.

    `seat` is None where there is no seat, or where it has opened.
    """

    rod: str
    nut: float
    frame: float
    seat: float | None


def face_weights(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Integrals of the shape functions over faces (k, 6): an (n,) vector whose sum is the area."""
    local = point_areas(nodes, faces) @ TRIANGLE_VALUES
    return np.bincount(faces.ravel(), local.ravel(), len(nodes))


def point_areas(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Area (k, q) that each quadrature point of faces (k, 6) stands for, in m²."""
    tangents = np.einsum("qad,kac->kqdc", _TRIANGLE_GRADIENTS, nodes[faces])
    area = np.linalg.norm(np.cross(tangents[:, :, 0], tangents[:, :, 1]), axis=2)
    return np.asarray(area * _WEIGHTS)


def _triangle() -> tuple[np.ndarray, np.ndarray]:
    """Six shape functions and their gradients at the rule's points: (q, 6), (q, 6, 2)."""
    bary = np.column_stack([1 - _POINTS.sum(axis=1), _POINTS])
    slopes = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
    pairs = ((0, 1), (1, 2), (2, 0))
    values = np.column_stack(
        [bary * (2 * bary - 1)] + [4 * bary[:, i] * bary[:, j] for i, j in pairs]
    )
    corner = (4 * bary - 1)[:, :, None] * slopes
    middle = [4 * (bary[:, i, None] * slopes[j] + bary[:, j, None] * slopes[i]) for i, j in pairs]
    return values, np.concatenate([corner, np.stack(middle, axis=1)], axis=1)


TRIANGLE_VALUES, _TRIANGLE_GRADIENTS = _triangle()
"""Six shape functions (q, 6) and their gradients (q, 6, 2) at the quadrature points."""


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


def supports(
    mesh: StackMesh, rods: tuple[TieRod, ...], opened: frozenset[str] = frozenset()
) -> Held:
    """Rods at their annuli, mirrors, and restraints of motions that nothing else holds.

    Half of a rod with its nuts (`TieRod.stiffness`) belongs to each stack: a spring tied to the
    mean displacement of its annulus, as the nut presses uniformly, or of where it presses on a
    washer that is a body. So does its seat. A rod on a
    mirror plane is in the model in part. The seats of the rods named in `opened` do not touch.
    """
    mirrored = [axis for axis, plane in enumerate("xy") if plane in mesh.symmetry]
    rows, springs, nuts, names, copies, shares = [], [], [], [], [], []
    annuli = []
    outward = 1
    for rod in rods:
        faces = mesh.faces.get(f"nut of {rod.name}")
        if faces is None:
            continue
        on_plane = sum(abs(rod.at[axis]) < 1e-9 for axis in mirrored)
        share = 0.5**on_plane
        weights = face_weights(mesh.nodes, faces)
        annuli.append(weights)
        nuts.append(_row(weights / weights.sum(), 2))
        weights = face_weights(mesh.nodes, mesh.pressed(f"nut of {rod.name}"))
        nut = _row(weights / weights.sum(), 2)
        seat, depth = None, 0.0
        seat_faces = mesh.faces.get(f"seat of {rod.name}")
        if seat_faces is not None and rod.seat != "none":
            weights = face_weights(mesh.nodes, seat_faces)
            seat = _row(weights / weights.sum(), 2)
            depth = float(mesh.nodes[faces, 2].mean() - mesh.nodes[seat_faces, 2].mean())
            outward = 1 if depth > 0 else -1
        for row, stretched, initial, grounded, pulls in springs_of(
            rod, nut, seat, abs(depth), rod.name in opened
        ):
            rows.append(row)
            springs.append(RodSpring(rod.name, share * stretched, share * initial, grounded, pulls))
        names.append(rod.name)
        copies.append(mesh.share * share)
        shares.append(share)
    fixed = np.zeros((len(mesh.nodes), 3), dtype=bool)
    for axis in mirrored:
        fixed[np.unique(mesh.faces[f"symmetry {'xy'[axis]}"]), axis] = True
    if not any(rod.seat != "none" for rod in rods):
        first = mesh.faces[f"nut of {names[0]}"]
        middle = mesh.nodes[mesh.tets[mesh.of_plates], 2].mean()
        outward = 1 if mesh.nodes[first, 2].mean() > middle else -1
    weights = np.sum(annuli, axis=0)
    free = _restraints(mesh, rods, weights)
    stiffness = [spring.stiffness for spring in springs]
    hold = RESTRAINT * sum(stiffness)
    ties = Ties(csr_matrix(vstack(rows + free)), np.array(stiffness + [hold] * len(free)))
    still = _restraints(mesh, rods, weights, alone=True)
    rest = Ties(csr_matrix(vstack(still)), np.full(len(still), hold))
    return Held(
        ties,
        tuple(springs),
        rest,
        csr_matrix(vstack(nuts)),
        outward,
        fixed,
        tuple(names),
        np.array(copies),
        np.array(shares),
    )


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
        rows.append(_row(weights, 2))
        if free_x:
            rows.append(_row(weights * x / reach, 2))
        if free_y:
            rows.append(_row(weights * y / reach, 2))
        return rows
    across = line_of([rod.at for rod in rods])
    if free_y and across is not None:
        off = (mesh.nodes[:, :2] - rods[0].at) @ across
        rows.append(_row(weights * off / reach, 2))
    return rows


def sliding(mesh: StackMesh, weights: np.ndarray) -> list[csr_matrix]:
    """Rows of the mean motion along x, along y, and turning about z, by weights (n,) of nodes."""
    weights = weights / weights.sum()
    x, y = mesh.nodes[:, 0], mesh.nodes[:, 1]
    reach = np.sqrt(weights @ (x**2 + y**2))
    turn = _row(-weights * y / reach, 0) + _row(weights * x / reach, 1)
    return [_row(weights, 0), _row(weights, 1), turn]


def _row(values: np.ndarray, component: int) -> csr_matrix:
    """One row with `values` (n,) at a displacement component."""
    index = np.flatnonzero(values)
    return csr_matrix(
        (values[index], (np.zeros(len(index), dtype=int), 3 * index + component)),
        shape=(1, 3 * len(values)),
    )


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


def point_row(mesh: StackMesh, point: tuple[float, float, float], component: int) -> csr_matrix:
    """Row that reads a displacement component at a point (m) of the stack's plates.

    A point in a mirrored part is read at its image.

    Raises
    ------
    LookupError
        If no element holds the point.
    """
    at = np.array(point, dtype=float)
    sign = 1.0
    for axis, plane in enumerate("xy"):
        if plane in mesh.symmetry and at[axis] < 0:
            at[axis] = -at[axis]
            sign = -sign if component == axis else sign
    values, nodes = _locate(mesh, at)
    row = np.zeros(len(mesh.nodes))
    row[nodes] = sign * values
    return _row(row, component)


def _locate(mesh: StackMesh, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shape functions (10,) and nodes (10,) of the element that holds a point.

    Elements are taken straight; a point up to a hundredth of an element outside counts as in.
    """
    tets = mesh.tets[mesh.of_plates]
    corners = mesh.nodes[tets[:, :4]]
    near = cKDTree(corners.mean(axis=1)).query(at, k=min(400, len(corners)))[1]
    x = corners[np.atleast_1d(near)]
    edges = (x[:, 1:] - x[:, :1]).transpose(0, 2, 1)
    local = np.linalg.solve(edges, (at - x[:, 0])[:, :, None])[:, :, 0]
    bary = np.column_stack([1 - local.sum(axis=1), local])
    best = int(bary.min(axis=1).argmax())
    if bary[best].min() < -0.01:
        raise LookupError(f"no element at {at}")
    b = bary[best]
    values = np.concatenate([b * (2 * b - 1), 4 * b[EDGES[:, 0]] * b[EDGES[:, 1]]])
    return values, tets[np.atleast_1d(near)[best]]
