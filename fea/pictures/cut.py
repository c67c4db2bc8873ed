"""A surface opened by a plane, closed again by the section through the volume."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from platestack.fea.pictures.scene import AXES, Cut
from platestack.fea.pictures.surface import Skin, copies, from_triangles, merged, mirrored

Array = np.ndarray

KEPT_SIDE = (1.0, 1.0, -1.0)
"""Of a plane across x, y, z the side that stays: behind it as seen from the front, below it."""


def cut_open(
    grid: Any, cells: Array, skin: Skin, symmetry: Sequence[str], cut: Cut, size: float
) -> Skin | None:
    """Cut a stack open and complete it by its mirror images.

    Parameters
    ----------
    grid, cells
        The volume, and the cells of the stack (or plate) in it.
    skin : Skin
        Surface of these cells, the computed part alone.
    size : float
        Length of the press (m), the measure of what is negligible.

    Returns
    -------
    Skin or None
        None where nothing is left.
    """
    side = KEPT_SIDE[cut.axis]
    mirrors = [AXES.index(name) for name in symmetry if name != AXES[cut.axis]]
    # A little into the kept side, so that a plane through a face or a mirror has one clear answer.
    at = cut.at + 1e-6 * size * side
    pieces = []
    for signs in copies(symmetry):
        sign = signs[cut.axis]
        rest = clipped(skin, cut.axis, at * sign, side * sign)
        section = _section(grid, cells, skin, mirrors, cut.axis, at * sign, size)
        pieces += [mirrored(piece, signs) for piece in (rest, section) if piece is not None]
    return merged(pieces) if pieces else None


def _section(
    grid: Any, cells: Array, skin: Skin, mirrors: Sequence[int], axis: int, at: float, size: float
) -> Skin | None:
    """Section through the cells in the plane where coordinate `axis` is `at`, plate by plate."""
    normal, origin = np.zeros(3), np.zeros(3)
    normal[axis], origin[axis] = 1.0, at
    plates = np.asarray(grid.cell_data["plate"])[cells]
    pieces = []
    for plate in np.unique(plates):
        volume = grid.extract_cells(cells[plates == plate])
        if not volume.bounds[2 * axis] <= at <= volume.bounds[2 * axis + 1]:
            continue
        face = volume.slice(normal=normal, origin=origin).triangulate()
        if face.n_cells:
            triangles = np.asarray(face.regular_faces)
            owner = np.full(len(triangles), plate)
            data = {name: np.asarray(face.point_data[name]) for name in skin.data}
            at_nodes = np.asarray(face.points, dtype=float)
            pieces.append(from_triangles(at_nodes, triangles, owner, mirrors, data, size))
    return merged(pieces) if pieces else None


def clipped(skin: Skin, axis: int, at: float, side: float) -> Skin | None:
    """Part of a surface on one side of a plane; fields are interpolated along cut edges."""
    level = side * (skin.points[:, axis] - at)
    if level.max() < 0:
        return None
    if level.min() >= 0:
        return skin
    crossing = _Crossing(level)
    triangles, owner = _cut_triangles(skin.triangles, level, crossing)
    lines = {
        name: _cut_segments(getattr(skin, name), level, crossing)
        for name in ("contour", "outline", "mesh_lines")
    }
    a, b, t = crossing.table()

    def extended(values: Array) -> Array:
        t_ = t if values.ndim == 1 else t[:, None]
        return np.concatenate([values, (1 - t_) * values[a] + t_ * values[b]])

    return _compact(
        Skin(
            points=extended(skin.points),
            triangles=triangles,
            plate=skin.plate[owner],
            data={name: extended(values) for name, values in skin.data.items()},
            on_mirror=np.concatenate([skin.on_mirror, skin.on_mirror[a] & skin.on_mirror[b]]),
            **lines,
        )
    )


def _compact(skin: Skin) -> Skin:
    """Drop the nodes that nothing refers to."""
    arrays = {
        name: getattr(skin, name) for name in ("triangles", "contour", "outline", "mesh_lines")
    }
    used = np.zeros(len(skin.points), dtype=bool)
    for array in arrays.values():
        used[array] = True
    place = np.cumsum(used) - 1
    return replace(
        skin,
        points=skin.points[used],
        data={name: values[used] for name, values in skin.data.items()},
        on_mirror=skin.on_mirror[used],
        **{name: place[array] for name, array in arrays.items()},
    )


class _Crossing:
    """Numbers the points where edges cross the plane; each edge gets one point."""

    def __init__(self, level: Array):
        self.level = level
        self.number: dict[tuple[int, int], int] = {}

    def points(self, a: Array, b: Array) -> Array:
        """Node numbers of the crossings of edges a-b."""
        first = len(self.level)
        pairs = zip(np.minimum(a, b).tolist(), np.maximum(a, b).tolist(), strict=True)
        number = self.number
        return np.array(
            [number.setdefault(pair, first + len(number)) for pair in pairs], dtype=np.int64
        )

    def table(self) -> tuple[Array, Array, Array]:
        """Both ends of each crossed edge, and how far from the first the crossing lies (0 to 1)."""
        a, b = np.array(list(self.number), dtype=np.int64).reshape(-1, 2).T
        return a, b, self.level[a] / (self.level[a] - self.level[b])


def _cut_triangles(triangles: Array, level: Array, crossing: _Crossing) -> tuple[Array, Array]:
    """Triangles kept, whole or in part, and the triangle each comes from."""
    kept = level[triangles] >= 0
    count = kept.sum(axis=1)
    parts, owners = [triangles[count == 3]], [np.flatnonzero(count == 3)]
    for inside in (1, 2):
        rows = np.flatnonzero(count == inside)
        # Turn each triangle until the corner that differs from the other two comes first.
        odd = np.argmax(kept[rows] == (inside == 1), axis=1)
        turned = triangles[rows[:, None], (odd[:, None] + np.arange(3)) % 3]
        a, b, c = turned.T
        ab, ac = crossing.points(a, b), crossing.points(a, c)
        if inside == 1:
            parts.append(np.column_stack([a, ab, ac]))
            owners.append(rows)
        else:
            parts += [np.column_stack([ab, b, c]), np.column_stack([ab, c, ac])]
            owners += [rows, rows]
    return np.vstack(parts), np.concatenate(owners)


def _cut_segments(segments: Array, level: Array, crossing: _Crossing) -> Array:
    """Segments kept, whole or in part."""
    kept = level[segments] >= 0
    count = kept.sum(axis=1)
    rows = segments[count == 1]
    inner = np.where(kept[count == 1][:, 0], rows[:, 0], rows[:, 1])
    cut = np.column_stack([inner, crossing.points(rows[:, 0], rows[:, 1])])
    return np.vstack([segments[count == 2], cut])
