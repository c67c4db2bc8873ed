"""The data of the three-dimensional scene: surfaces, volumes and fields as packed arrays.

The computed part alone is packed; the page mirrors it. Surfaces keep the middle nodes of the
quadratic elements; the volume, from which the page cuts sections, keeps the corners only.
"""

from __future__ import annotations

import base64
import zlib
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.fields import Field, find_field, magnification
from platestack.fea.pictures.surface import take_skin
from platestack.fea.pictures.view import read_run
from platestack.geometry.units import shown_in

Array = np.ndarray

SHOWN = ("von_mises", "deflection", "utilisation", "principal 1", "principal 3")
MOST_CELLS = 400_000
"""A stack with more tetrahedra is shown without the field on its cut face."""


def pack(values: Array) -> str:
    """An array as base64 of its zlib-compressed little-endian bytes."""
    return base64.b64encode(zlib.compress(values.tobytes(), 9)).decode("ascii")


def unpack(text: str, kind: str) -> Array:
    """Undo `pack`."""
    return np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype=kind)


def scene(folder: Path) -> dict[str, Any]:
    """All that the scene of a run needs, ready for JSON. Lengths in m, values in shown units.

    Raises
    ------
    UsageError
        If the directory holds no run with fields.
    """
    grid, info = read_run(folder)
    fields = [find_field(name, grid.point_data) for name in SHOWN]
    owner = np.asarray(grid.cell_data["stack"])
    stacks, reach, moved = [], 0.0, 0.0
    for index, stack in enumerate(info.stacks):
        cells = np.flatnonzero(owner == index)
        if len(cells) == 0:
            continue
        names = tuple(dict.fromkeys(["displacement", *(f.source for f in fields)]))
        skin = take_skin(grid, cells, stack.symmetry, names)
        relative = skin.relative(stack.reference)
        reach = max(reach, float(np.ptp(skin.points, axis=0).max()))
        moved = max(moved, float(np.linalg.norm(relative, axis=1).max()))
        stacks.append({
            "name": stack.name,
            "mirrors": sorted(stack.symmetry),
            "nodes": len(skin.points),
            "points": pack(skin.points.astype("<f4")),
            "triangles": pack(skin.triangles.astype("<u4")),
            "edges": pack(skin.outline.astype("<u4")),
            "displacement": pack(relative.astype("<f4")),
            "fields": [pack(_values(f, skin.data, stack.reference)) for f in fields],
            "volume": _volume(grid, cells, fields, stack.reference),
            "peak": list(stack.peak.at) if stack.peak else None,
        })  # fmt: skip
    length = shown_in("m")
    return {
        "stacks": stacks,
        "fields": [
            {"label": f.label, "unit": f.unit, "signed": f.kind == "signed"} for f in fields
        ],
        "rods": [[b.x, b.y, b.z0, b.z1, b.diameter] for b in info.rods],
        "nuts": [[b.x, b.y, b.z0, b.z1, b.diameter] for b in info.nuts],
        "magnification": magnification(moved, reach),
        "length": [length.scale, length.name],
    }


def _values(field: Field, data: Any, reference: float) -> Array:
    return field.values(np.asarray(data[field.source]), reference).astype("<f4")


def _volume(grid: Any, cells: Array, fields: list[Field], reference: float) -> Any:
    """Corners of the tetrahedra with displacement and fields; None where there are too many."""
    if len(cells) > MOST_CELLS:
        return None
    (block,) = grid.cells_dict.values()
    nodes, corners = np.unique(np.asarray(block)[cells][:, :4], return_inverse=True)
    moved = np.asarray(grid.point_data["displacement"])[nodes] - np.array([0, 0, reference])
    data = {f.source: np.asarray(grid.point_data[f.source])[nodes] for f in fields}
    return {
        "nodes": len(nodes),
        "points": pack(np.asarray(grid.points)[nodes].astype("<f4")),
        "cells": pack(corners.reshape(-1, 4).astype("<u4")),
        "displacement": pack(moved.astype("<f4")),
        "fields": [pack(_values(f, data, reference)) for f in fields],
    }
