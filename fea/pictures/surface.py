"""The outer surface of a grid of tetrahedra, and its mirror images, as plain arrays.

The surface is taken once from the modelled part; mirroring acts on the surface, never on the
volume.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from platestack.fea.pictures.fields import mirror_signs
from platestack.fea.pictures.scene import AXES

Array = np.ndarray

# Faces of a quadratic tetrahedron, outward: three corners, then the node between each and the next.
# Node order of the VTK file format (quadratic tetra: 01, 12, 02, 03, 13, 23).
_FACES = np.array(
    [
        [0, 1, 3, 4, 8, 7],
        [1, 2, 3, 5, 9, 8],
        [2, 0, 3, 6, 7, 9],
        [0, 2, 1, 6, 5, 4],
    ]
)
SIX_AS_FOUR = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
"""A quadratic triangle as four linear ones."""
_CREASE = np.cos(np.radians(35.0))
"""Faces that meet at a larger angle are parted by a drawn edge and are not shaded as one."""


@dataclass(frozen=True)
class Skin:
    """A triangulated surface in its unloaded shape.

    Attributes
    ----------
    points : (n, 3)
        Nodes in m; a node on a sharp edge occurs once for each smooth patch that meets there.
    triangles : (m, 3), plate : (m,)
        Corners, and the plate that each triangle belongs to.
    contour, outline, mesh_lines : (k, 2)
        Segments: sharp edges but those of holes; all sharp edges and the borders of plates; all
        element edges.
    data : dict of (n,) or (n, c)
        Point data of the run.
    on_mirror : (n, 3) bool
        Components of the shading normal that vanish because the node lies on a mirror plane.
    """

    points: Array
    triangles: Array
    plate: Array
    contour: Array
    outline: Array
    mesh_lines: Array
    data: dict[str, Array]
    on_mirror: Array

    def moved(self, magnification: float, reference: float) -> Array:
        """Nodes of the bent shape, (n, 3): displacement relative to `reference` (m), magnified."""
        return self.points + magnification * self.relative(reference)

    def relative(self, reference: float) -> Array:
        """Displacement with the vertical one taken relative to `reference`, (n, 3) in m."""
        return self.data["displacement"] - np.array([0.0, 0.0, reference])

    def outer_contour(self) -> Array:
        """Contour without the edges at which two plates touch, (k, 2): these come twice."""
        middle = self.points[self.contour].mean(axis=1)
        step = 1e-6 * float(np.ptp(self.points, axis=0).max())
        _, inverse, count = np.unique(
            np.round(middle / step), axis=0, return_inverse=True, return_counts=True
        )
        return self.contour[count[inverse.ravel()] == 1]

    def areas(self) -> Array:
        """Areas of the triangles, (m,) in m²."""
        a, b, c = np.swapaxes(self.points[self.triangles], 0, 1)
        return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2

    def normals(self, points: Array) -> Array:
        """Return unit normals at the nodes of a shape of this surface, (n, 3)."""
        a, b, c = np.swapaxes(points[self.triangles], 0, 1)
        cross = np.cross(b - a, c - a)
        total = np.stack(
            [
                np.bincount(self.triangles.ravel(), np.repeat(cross[:, i], 3), len(points))
                for i in range(3)
            ],
            axis=1,
        )
        # A patch that runs on behind a mirror plane has its tangent plane square to it.
        total[self.on_mirror] = 0.0
        length = np.linalg.norm(total, axis=1, keepdims=True)
        return total / np.where(length > 0, length, 1.0)


def take_skin(
    grid: Any,
    cells: Array | None,
    symmetry: Sequence[str],
    names: Sequence[str],
    with_mirror_faces: bool = False,
) -> Skin:
    """Take the outer surface of some cells of a grid.

    Parameters
    ----------
    grid : pyvista.UnstructuredGrid
        Quadratic (or linear) tetrahedra with point data and the cell data ``plate``.
    cells : (k,) int or None
        Cells to take; None for all.
    symmetry : sequence of "x", "y"
        Planes through the axis that were modelled as mirrors. Faces in them are left out, unless
        `with_mirror_faces`.
    names : sequence of str
        Point data to carry.
    """  # fmt: skip
    nodes = _tetrahedra(grid)
    plates = np.asarray(grid.cell_data["plate"])
    if cells is not None:
        nodes, plates = nodes[cells], plates[cells]
    faces, owner = _outer_faces(nodes)
    points = np.asarray(grid.points, dtype=float)
    size = float(np.ptp(points, axis=0).max())
    mirrors = [AXES.index(name) for name in symmetry]
    if mirrors and not with_mirror_faces:
        flat = np.abs(points[faces[:, :3]][..., mirrors]) < 1e-6 * size
        kept = ~flat.all(axis=1).any(axis=1)
        faces, owner = faces[kept], owner[kept]
    closed = [] if with_mirror_faces else mirrors
    data = {name: np.asarray(grid.point_data[name]) for name in names}
    return _assemble(points, faces, plates[owner], closed, size, data)


def from_triangles(
    points: Array, triangles: Array, plate: Array, mirrors: Sequence[int], data: dict[str, Array],
    size: float,
) -> Skin:  # fmt: skip
    """Make a surface of given triangles; `mirrors` are the axes whose plane at zero is a mirror."""
    faces = np.hstack([triangles, np.full((len(triangles), 3), -1)])
    return _assemble(points, faces, plate, list(mirrors), size, data)


def _tetrahedra(grid: Any) -> Array:
    """Node numbers of the cells, (m, 10), VTK order; straight edges get no node between (-1)."""
    cells = grid.cells_dict
    ten = [np.asarray(block) for kind, block in cells.items() if kind == 24]
    four = [np.asarray(block) for kind, block in cells.items() if kind == 10]
    if len(ten) + len(four) != 1 or len(cells) != 1:
        raise ValueError("the grid must consist of linear or of quadratic tetrahedra")
    return ten[0] if ten else np.hstack([four[0], np.full((len(four[0]), 6), -1)])


def _outer_faces(nodes: Array) -> tuple[Array, Array]:
    """Faces that belong to one cell only, (f, 6), and that cell's place, (f,)."""
    faces = nodes[:, _FACES].reshape(-1, 6)
    corners = np.sort(faces[:, :3].astype(np.int64), axis=1)
    base = int(corners.max()) + 1
    if base > 2_000_000:  # three corners no longer fit in one 64-bit key
        _, inverse, count = np.unique(corners, axis=0, return_inverse=True, return_counts=True)
    else:
        key = (corners[:, 0] * base + corners[:, 1]) * base + corners[:, 2]
        _, inverse, count = np.unique(key, return_inverse=True, return_counts=True)
    outer = np.flatnonzero(count[inverse.ravel()] == 1)
    return faces[outer], outer // 4


def _assemble(
    points: Array, faces: Array, plate: Array, mirrors: list[int], size: float,
    data: dict[str, Array],
) -> Skin:  # fmt: skip
    """Split the faces into triangles and the nodes into those of smooth patches."""
    edges, contour, drawn, patch = _edges(points, faces, plate, mirrors, size)
    quadratic = bool(faces[0, 3] >= 0)
    width = 6 if quadratic else 3
    # One node for each pair of node and smooth patch.
    pair = faces[:, :width].astype(np.int64) * (int(patch.max()) + 1) + patch[:, None]
    pairs, local = np.unique(pair, return_inverse=True)
    local = local.reshape(-1, width)
    parent = pairs // (int(patch.max()) + 1)
    triangles = local[:, SIX_AS_FOUR].reshape(-1, 3) if quadratic else local
    first = np.zeros(len(points), dtype=np.int64)
    first[parent[::-1]] = np.arange(len(parent))[::-1]
    lines = edges[:, [0, 2, 2, 1]].reshape(-1, 2) if quadratic else edges[:, :2]
    contour, drawn = (np.repeat(which, 2 if quadratic else 1) for which in (contour, drawn))
    at = points[parent]
    on_mirror = np.zeros((len(at), 3), dtype=bool)
    on_mirror[:, mirrors] = np.abs(at[:, mirrors]) < 1e-6 * size
    return Skin(
        points=at,
        triangles=triangles,
        plate=np.repeat(plate, 4) if quadratic else plate,
        contour=first[lines[contour]],
        outline=first[lines[drawn]],
        mesh_lines=first[lines],
        data={name: values[parent] for name, values in data.items()},
        on_mirror=on_mirror,
    )


def _edges(
    points: Array, faces: Array, plate: Array, mirrors: list[int], size: float
) -> tuple[Array, Array, Array, Array]:
    """Edges of the faces, those of the contour, those to draw, and the smooth patch of each face.

    The edges are (e, 3): corner, corner, node between.
    """
    a, b, c = np.swapaxes(points[faces[:, :3]], 0, 1)
    centre = (a + b + c) / 3
    normal = np.cross(b - a, c - a)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    edge = faces[:, [[0, 1, 3], [1, 2, 4], [2, 0, 5]]].reshape(-1, 3)
    low, high = edge[:, :2].min(axis=1), edge[:, :2].max(axis=1)
    key = low.astype(np.int64) * len(points) + high
    order = np.argsort(key, kind="stable")
    start = np.flatnonzero(np.diff(key[order], prepend=-1))
    count = np.diff(start, append=len(order))
    face = np.repeat(np.arange(len(faces)), 3)[order]
    left, right = face[start], face[np.minimum(start + 1, len(order) - 1)]
    shared = count == 2
    smooth = shared & (np.einsum("ij,ij->i", normal[left], normal[right]) > _CREASE)
    ends = points[edge[order[start], :2]]
    in_mirror = (np.abs(ends[..., mirrors]) < 1e-6 * size).all(axis=1).any(axis=1)
    border = shared & (plate[left] != plate[right])
    sharp = np.where(shared, ~smooth, ~in_mirror)
    links = coo_array(
        (np.ones(int(smooth.sum())), (left[smooth], right[smooth])), shape=(len(faces),) * 2
    )
    patch = connected_components(links, directed=False)[1]
    hollow = _hollow(centre, normal, patch)[patch]
    contour = sharp & ~hollow[left] & ~hollow[right]
    return edge[order[start]], contour, sharp | border, patch


def _hollow(centre: Array, normal: Array, patch: Array) -> Array:
    """Which smooth patches are curved inwards, as the wall of a hole is, (number of patches,).

    There the outward normals point to the middle of the patch.
    """
    count = np.bincount(patch)
    middle = np.stack([np.bincount(patch, x) / count for x in centre.T], axis=1)
    offset = centre - middle[patch]
    bulge = np.bincount(patch, np.einsum("ij,ij->i", offset, normal))
    return bulge < -1e-3 * np.bincount(patch, np.linalg.norm(offset, axis=1))


def copies(symmetry: Sequence[str]) -> list[tuple[float, float, float]]:
    """Signs of the coordinates in each mirror image, the modelled part first."""
    x, y = ((1.0, -1.0) if name in symmetry else (1.0,) for name in "xy")
    return [(a, b, 1.0) for a, b in product(x, y)]


def mirrored(skin: Skin, signs: Sequence[float]) -> Skin:
    """Mirror image of a surface: coordinates, fields and orientation."""
    data = dict(skin.data)
    for axis in (i for i in range(3) if signs[i] < 0):
        data = {name: values * mirror_signs(name, axis) for name, values in data.items()}
    flip = bool(np.prod(signs) < 0)
    return Skin(
        skin.points * np.asarray(signs),
        skin.triangles[:, ::-1] if flip else skin.triangles,
        skin.plate,
        skin.contour,
        skin.outline,
        skin.mesh_lines,
        data,
        skin.on_mirror,
    )


def merged(skins: Sequence[Skin]) -> Skin:
    """Join surfaces into one; they keep their own nodes."""
    offsets = np.cumsum([0] + [len(skin.points) for skin in skins[:-1]])

    def shifted(name: str) -> Array:
        pieces = zip(skins, offsets, strict=True)
        return np.vstack([getattr(skin, name) + offset for skin, offset in pieces])

    return Skin(
        np.vstack([skin.points for skin in skins]),
        shifted("triangles"),
        np.concatenate([skin.plate for skin in skins]),
        shifted("contour"),
        shifted("outline"),
        shifted("mesh_lines"),
        {name: np.concatenate([s.data[name] for s in skins]) for name in skins[0].data},
        np.vstack([skin.on_mirror for skin in skins]),
    )


def whole(skin: Skin, symmetry: Sequence[str]) -> Skin:
    """Complete a surface with its mirror images."""
    return merged([mirrored(skin, signs) for signs in copies(symmetry)])
