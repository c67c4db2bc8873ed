"""Edges at which linear elasticity has no finite stress, and what to read in their place.

At a re-entrant edge (the step between a plate and a shorter one welded to it, the corner of a slot)
the stress grows without bound as the mesh is refined. There the stress is not read; it is
extrapolated along the surface from fixed distances, as for the structural stress at a weld toe:
σ = 1.67 σ(0.4 t) − 0.67 σ(1.0 t), t the plate's thickness (Hobbacher, Recommendations for Fatigue
Design of Welded Joints and Components, IIW-2259-15, section 2.2.3; not verified). The line along
which a seam pulls at a plate, modelled as springs without width, is such an edge too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree

from platestack.fea.solid.stress import recover
from platestack.geometry.mesh import StackMesh

NEAR, FAR = 0.4, 1.0
"""Distances of the readings, in plate thicknesses."""

FACTORS = np.array([FAR, -NEAR]) / (FAR - NEAR)
"""Of the readings at `NEAR` and `FAR` in the stress extrapolated to the edge."""

FOLD = np.sin(np.radians(40))
"""Faces that fold outwards by more than this make a re-entrant edge; rims of holes fold less."""

ON_LINE = 1e-6
"""Distance from a line (m) within which a node is on it."""

_FACES = np.array([[0, 2, 1, 6, 5, 4], [0, 1, 3, 4, 8, 7], [1, 2, 3, 5, 9, 8], [0, 3, 2, 7, 9, 6]])
"""Nodes of the faces of a positive tetrahedron: corners, seen from outside counter-clockwise, then
the middles of the sides that follow them."""


@dataclass(frozen=True)
class Surface:
    """Faces of a body that are no mirror planes.

    Attributes
    ----------
    nodes : (n, 3) coordinates of the mesh (m).
    faces : (k, 6) outward faces, corners first.
    plate : (k,) plate that each belongs to.
    seams : (s, 2) corner pairs, ascending, of lines along which seams pull.
    """

    nodes: np.ndarray
    faces: np.ndarray
    plate: np.ndarray
    seams: np.ndarray = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))

    def with_seams(self, lines: Iterable[tuple[float, float]]) -> Surface:
        """The surface with seams along x on both long sides, each at its |y| and z (m)."""
        pairs = np.unique(self._sides[0], axis=0)
        y, z = np.abs(self.nodes[pairs, 1]), self.nodes[pairs, 2]
        on = np.zeros(len(pairs), dtype=bool)
        for side, height in lines:
            on |= ((np.abs(y - side) < ON_LINE) & (np.abs(z - height) < ON_LINE)).all(axis=1)
        return replace(self, seams=pairs[on])

    @cached_property
    def unbounded(self) -> np.ndarray:
        """Corner pairs (k, 2) of all edges at which there is no finite stress."""
        return np.concatenate([self.reentrant, self.seams])

    @classmethod
    def of(cls, mesh: StackMesh, *, touching: bool = False) -> Surface:
        """Find the surface of a mesh; with `touching`, as if plates that touch were of one piece.

        Then its re-entrant edges are also those with which a plate presses on the face of another.
        """
        nodes, tets = mesh.nodes, mesh.tets
        if touching:
            nodes, same = np.unique(nodes.round(9), axis=0, return_inverse=True)
            tets = same.reshape(-1)[tets]
        faces = tets[:, _FACES].reshape(-1, 6)
        key = np.sort(faces[:, :3], axis=1)
        _, first, count = np.unique(key, axis=0, return_index=True, return_counts=True)
        outer = first[count == 1]
        for axis, plane in enumerate("xy"):
            if plane in mesh.symmetry:
                on_plane = (np.abs(nodes[faces[outer, :3], axis]) < 1e-9).all(axis=1)
                outer = outer[~on_plane]
        return cls(nodes, faces[outer], mesh.plate[outer // 4])

    @cached_property
    def reentrant(self) -> np.ndarray:
        """Corner pairs (k, 2), ascending, of the edges at which the body folds back on itself.

        The angle is that of the straight faces.
        """
        key, opposite, face = self._sides
        order = np.lexsort((key[:, 1], key[:, 0]))
        key, opposite, face = key[order], opposite[order], face[order]
        starts = np.flatnonzero(np.r_[True, (np.diff(key, axis=0) != 0).any(axis=1)])
        counts = np.diff(np.r_[starts, len(key)])
        twice = starts[counts == 2]
        a, b, c = (self.nodes[self.faces[:, i]] for i in range(3))
        normals = _unit(np.cross(b - a, c - a))
        across = self._across(key[twice], opposite[twice + 1])
        fold = (across * normals[face[twice]]).sum(axis=1)
        several = starts[counts > 2]
        return np.concatenate([key[twice[fold > FOLD]], key[several]])

    def feet(self, plate: int) -> tuple[np.ndarray, np.ndarray]:
        """Middles of the unbounded edges of a plate's faces, and the way into the face.

        Two arrays (k, 3), the second of unit vectors; an edge counts once for each of its faces.
        """
        key, opposite, face = self._sides
        pair = key[:, 0] * len(self.nodes) + key[:, 1]
        edges = self.unbounded[:, 0] * len(self.nodes) + self.unbounded[:, 1]
        mine = np.isin(pair, edges) & (self.plate[face] == plate)
        key = key[mine]
        return self.nodes[key].mean(axis=1), self._across(key, opposite[mine])

    @cached_property
    def _sides(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Sides of all faces: ascending corner pairs, the corner opposite, the face."""
        a, b, c = self.faces[:, :3].T.astype(np.int64)
        pairs = np.concatenate([np.stack(p, axis=1) for p in ((a, b), (b, c), (c, a))])
        face = np.tile(np.arange(len(self.faces)), 3)
        return np.sort(pairs, axis=1), np.concatenate([c, a, b]), face

    def _across(self, pairs: np.ndarray, opposite: np.ndarray) -> np.ndarray:
        """Unit vectors square to edges, towards a corner that is not on them."""
        a = self.nodes[pairs[:, 0]]
        along = _unit(self.nodes[pairs[:, 1]] - a)
        across = self.nodes[opposite] - a
        return _unit(across - (across * along).sum(axis=1)[:, None] * along)

    def locate(self, plate: int, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Find the faces of a plate that hold points (k, 3).

        Returns
        -------
        faces (k, 6) and the weights (k, 6) of their nodes; weights are nan where no face holds
        the point. Faces are taken straight.
        """
        faces = self.faces[self.plate == plate]
        corners = self.nodes[faces[:, :3]]
        count = min(40, len(faces))
        near = cKDTree(corners.mean(axis=1)).query(points, k=count)[1].reshape(len(points), count)
        a, b, c = np.moveaxis(corners[near], 2, 0)
        off = points[:, None] - a
        normal = np.cross(b - a, c - a)
        area = (normal**2).sum(axis=2)
        r = (np.cross(off, c - a) * normal).sum(axis=2) / area
        s = (np.cross(b - a, off) * normal).sum(axis=2) / area
        height = np.abs((off * normal).sum(axis=2)) / area**0.75  # over the size of the face
        bary = np.stack([1 - r - s, r, s], axis=2)
        inside = np.where(height < 0.05, bary.min(axis=2), -np.inf)
        best = inside.argmax(axis=1)
        row = np.arange(len(points))
        one, two, three = bary[row, best].T
        weights = np.stack(
            [one * (2 * one - 1), two * (2 * two - 1), three * (2 * three - 1),
             4 * one * two, 4 * two * three, 4 * three * one], axis=1,
        )  # fmt: skip
        weights[inside[row, best] < -0.02] = np.nan
        return faces[near[row, best]], weights


def _unit(vectors: np.ndarray) -> np.ndarray:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


class Distance:
    """Distance of points from a set of edges."""

    def __init__(self, nodes: np.ndarray, edges: np.ndarray):
        ends = nodes[edges]
        steps = np.linspace(0, 1, 9)[None, :, None]
        points = (ends[:, :1] + steps * (ends[:, 1:] - ends[:, :1])).reshape(-1, 3)
        self._tree = cKDTree(points) if len(edges) else None

    def __call__(self, at: np.ndarray) -> np.ndarray:
        """Distance (k,) of points (k, 3) in m; infinite where there are no edges."""
        if self._tree is None:
            return np.full(len(at), np.inf)
        return np.asarray(self._tree.query(at)[0])


@dataclass(frozen=True)
class HotSpot:
    """A von Mises stress extrapolated to a re-entrant edge.

    Attributes
    ----------
    value : the stress (Pa); at : (3,) its place on the edge (m).
    nodes, weights : (r, 6) the nodes of the faces read, and their shares in each reading.
    factors : (r,) what each reading counts.
    """

    value: float
    at: np.ndarray
    nodes: np.ndarray
    weights: np.ndarray
    factors: np.ndarray


def hot_spot(surface: Surface, plate: int, thickness: float, stress: np.ndarray) -> HotSpot | None:
    """Largest extrapolated stress along a plate's unbounded edges; None where it cannot be read.

    Parameters
    ----------
    surface, plate : the body's surface, and the number of the plate in it.
    thickness : of the plate (m).
    stress : (n, 6) the plate's stress at the nodes of the mesh (Pa).
    """
    feet, across = surface.feet(plate)
    if not len(feet):
        return None
    found = [surface.locate(plate, feet + d * thickness * across) for d in (NEAR, FAR)]
    nodes = np.stack([faces for faces, _ in found], axis=1)
    weights = np.stack([weights for _, weights in found], axis=1)
    read = recover.von_mises(np.einsum("kri,kric->krc", weights, stress[nodes]))
    # A stress that falls towards the edge is not extrapolated.
    value = np.maximum(read @ FACTORS, read[:, 0])
    if np.isnan(value).all():
        return None
    best = int(np.nanargmax(value))
    kept = FACTORS if value[best] > read[best, 0] else np.array([1.0, 0.0])
    return HotSpot(float(value[best]), feet[best], nodes[best], weights[best], kept)
