"""Edges at which linear elasticity has no finite stress, and what to read in their place.

At a re-entrant edge (the step between a plate and a shorter one welded to it, the corner of a slot)
the stress grows without bound as the mesh is refined. There the stress is not read; it is
extrapolated along the surface from fixed distances, as for the structural stress at a weld toe:
σ = 1.67 σ(0.4 t) − 0.67 σ(1.0 t), t the plate's thickness (Hobbacher, Recommendations for Fatigue
Design of Welded Joints and Components, IIW-2259-15, section 2.2.3; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from geometry.mesh import StackMesh

NEAR, FAR = 0.4, 1.0
"""Distances of the readings, in plate thicknesses."""

FOLD = np.sin(np.radians(40))
"""Faces that fold outwards by more than this make a re-entrant edge; rims of holes fold less."""

_FACES = ((0, 2, 1), (0, 1, 3), (1, 2, 3), (0, 3, 2))
"""Corners of the faces of a positive tetrahedron, seen from outside counter-clockwise."""


def reentrant_edges(mesh: StackMesh) -> np.ndarray:
    """Corner pairs (k, 2) of the boundary edges at which the body folds back on itself.

    Mirror planes are no boundary. The angle is that of the straight faces.
    """
    faces = _boundary(mesh)
    pairs = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    opposite = np.concatenate([faces[:, 2], faces[:, 0], faces[:, 1]])
    face = np.tile(np.arange(len(faces)), 3)
    key = np.sort(pairs, axis=1)
    order = np.lexsort((key[:, 1], key[:, 0]))
    key, opposite, face = key[order], opposite[order], face[order]
    starts = np.flatnonzero(np.r_[True, (np.diff(key, axis=0) != 0).any(axis=1)])
    counts = np.diff(np.r_[starts, len(key)])
    twice = starts[counts == 2]
    normals = _normals(mesh.nodes, faces)
    a = mesh.nodes[key[twice, 0]]
    along = mesh.nodes[key[twice, 1]] - a
    along /= np.linalg.norm(along, axis=1)[:, None]
    across = mesh.nodes[opposite[twice + 1]] - a
    across -= (across * along).sum(axis=1)[:, None] * along
    across /= np.linalg.norm(across, axis=1)[:, None]
    fold = (across * normals[face[twice]]).sum(axis=1)
    several = starts[counts > 2]
    return np.concatenate([key[twice[fold > FOLD]], key[several]])


def outer_nodes(mesh: StackMesh) -> np.ndarray:
    """Corner nodes of the body's surface, mirror planes excepted."""
    return np.unique(_boundary(mesh))


def _boundary(mesh: StackMesh) -> np.ndarray:
    """Outward faces (k, 3) of the body without mirror planes."""
    corners = mesh.tets[:, :4]
    faces = np.concatenate([corners[:, face] for face in _FACES])
    key = np.sort(faces, axis=1)
    _, first, count = np.unique(key, axis=0, return_index=True, return_counts=True)
    outer = first[count == 1]
    faces = faces[outer]
    for axis, plane in enumerate("xy"):
        if plane in mesh.symmetry:
            on_plane = (np.abs(mesh.nodes[faces][:, :, axis]) < 1e-9).all(axis=1)
            faces = faces[~on_plane]
    return faces


def _normals(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    a, b, c = (nodes[faces[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    return normal / np.linalg.norm(normal, axis=1)[:, None]


class Distance:
    """Distance of points from a set of edges, and the nearest place on them."""

    def __init__(self, nodes: np.ndarray, edges: np.ndarray):
        ends = nodes[edges]
        steps = np.linspace(0, 1, 9)[None, :, None]
        self._points = (ends[:, :1] + steps * (ends[:, 1:] - ends[:, :1])).reshape(-1, 3)
        self._tree = cKDTree(self._points) if len(edges) else None

    def __call__(self, at: np.ndarray) -> np.ndarray:
        """Distance (k,) of points (k, 3) in m; infinite where there are no edges."""
        if self._tree is None:
            return np.full(len(at), np.inf)
        return np.asarray(self._tree.query(at)[0])

    def nearest(self, at: np.ndarray) -> np.ndarray:
        """Nearest places (k, 3) on the edges."""
        assert self._tree is not None
        return np.asarray(self._points[self._tree.query(at)[1]])


@dataclass(frozen=True)
class HotSpot:
    """A stress extrapolated to a re-entrant edge: value (Pa), place (3,), the points read."""

    stress: float
    at: np.ndarray
    near: int
    far: int


def extrapolated(
    at: np.ndarray, value: np.ndarray, distance: np.ndarray, foot: np.ndarray, thickness: float
) -> HotSpot | None:
    """Largest extrapolated stress along re-entrant edges; None where it cannot be read.

    Parameters
    ----------
    at : (k, 3) points on the surface of one plate.
    value : (k,) von Mises stress there (Pa).
    distance, foot : (k,), (k, 3) distance from the edges and nearest place on them (m).
    thickness : of the plate (m).
    """
    near = np.flatnonzero(np.abs(distance / thickness - NEAR) < 0.15)
    far = np.flatnonzero(np.abs(distance / thickness - FAR) < 0.2)
    if not len(near) or not len(far):
        return None
    gap, partner = cKDTree(foot[far]).query(foot[near])
    # Both readings on one face, straight away from the same place of the edge.
    partner = far[partner]
    one, two = at[near] - foot[near], at[partner] - foot[partner]
    straight = (one * two).sum(axis=1) > 0.9 * distance[near] * distance[partner]
    usable = (gap < 0.5 * thickness) & straight
    if not usable.any():
        return None
    near, partner = near[usable], partner[usable]
    slope = (value[near] - value[partner]) / (distance[partner] - distance[near])
    hot = np.maximum(value[near] + slope * distance[near], value[near])
    best = int(hot.argmax())
    return HotSpot(float(hot[best]), foot[near[best]], int(near[best]), int(partner[best]))
