"""Read the meshed model: nodes, elements, the plate of each element, named faces."""

from __future__ import annotations

import gmsh
import numpy as np

from platestack.geometry.mesher.solids import Model
from platestack.geometry.numbering import compact

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
    place = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    place[tags.astype(np.int64)] = np.arange(len(tags))
    numbering = compact(place[np.concatenate(tets)])
    nodes = coordinates.reshape(-1, 3)[numbering.nodes]
    named = {name: numbering.renamed(place[triangles]) for name, triangles in faces.items()}
    return nodes, numbering.tets, np.concatenate(plate)[numbering.elements], named


def _elements(dim: int, entity: int, kind: int) -> np.ndarray:
    kinds, _, nodes = gmsh.model.mesh.getElements(dim, entity)
    width = 10 if kind == TET10 else 6
    for found, numbers in zip(kinds, nodes, strict=True):
        if found == kind:
            return np.asarray(numbers, dtype=np.int64).reshape(-1, width)
    return np.empty((0, width), dtype=np.int64)
