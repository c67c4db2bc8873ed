"""Read the meshed model: nodes, elements, the plate of each element, named faces."""

from __future__ import annotations

import gmsh
import numpy as np

from geometry.mesh import EDGES
from geometry.mesher.solids import Model

TET10, TRI6 = 11, 9
FROM_GMSH = [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]
"""gmsh swaps the last two edge nodes against the order of VTK and scikit-fem."""


def read(
    model: Model,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Nodes, elements, plate of each element and named faces of the meshed model."""
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    tets, plate = [], []
    for index, volumes in enumerate(model.volumes):
        for volume in volumes:
            cells = _elements(3, volume, TET10)[:, FROM_GMSH]
            tets.append(cells)
            plate.append(np.full(len(cells), index))
    faces = {
        name: np.concatenate([_elements(2, surface, TRI6) for surface in surfaces])
        for name, surfaces in model.faces.items()
    }
    return _renumbered(
        tags, coordinates.reshape(-1, 3), np.concatenate(tets), np.concatenate(plate), faces
    )


def _renumbered(
    tags: np.ndarray,
    points: np.ndarray,
    tets: np.ndarray,
    plate: np.ndarray,
    faces: dict[str, np.ndarray],
) -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Number the nodes as scikit-fem does: corners, then edges in the order of their corners."""
    place = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    place[tags.astype(np.int64)] = np.arange(len(tags))
    tets = place[tets]
    corners = np.unique(tets[:, :4])
    number = np.full(len(points), -1, dtype=np.int64)
    number[corners] = np.arange(len(corners))
    ends = np.sort(number[tets[:, :4]][:, EDGES], axis=2).reshape(-1, 2)
    keys, first = np.unique(ends[:, 0] * len(corners) + ends[:, 1], return_index=True)
    middles = tets[:, 4:].reshape(-1)[first]
    number[middles] = len(corners) + np.arange(len(keys))
    nodes = points[np.concatenate([corners, middles])]
    named = {name: number[place[triangles]] for name, triangles in faces.items()}
    return nodes, number[tets], plate, named


def _elements(dim: int, entity: int, kind: int) -> np.ndarray:
    kinds, _, nodes = gmsh.model.mesh.getElements(dim, entity)
    width = 10 if kind == TET10 else 6
    for found, numbers in zip(kinds, nodes, strict=True):
        if found == kind:
            return np.asarray(numbers, dtype=np.int64).reshape(-1, width)
    return np.empty((0, width), dtype=np.int64)
