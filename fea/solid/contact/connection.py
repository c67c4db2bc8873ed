"""Shear connectors at interfaces as springs: dowels smeared over an area, seams along edges.

They are linear and act from the unloaded state on, so they belong to the elastic matrix.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import bsr_matrix, coo_matrix

from platestack.fea.solid.contact.faces import Interfaces

EDGES = np.array([[0, 1, 3], [1, 2, 4], [2, 0, 5]])
"""Local nodes of a face's edges: ends, then middle."""

_LINE = np.array([[4.0, -1.0, 2.0], [-1.0, 4.0, 2.0], [2.0, 2.0, 16.0]]) / 30
"""Products of the three shape functions of an edge, integrated over a unit length."""


def smeared(faces: Interfaces, modulus: np.ndarray) -> bsr_matrix:
    """Springs against sliding, force by slip `modulus` (k, q) in N/m³; they let the sides part."""
    along = np.eye(3) - faces.normal[:, :, None] * faces.normal[:, None, :]
    return faces.stiffness(modulus[:, :, None, None] * along[:, None])


def seams(faces: Interfaces, chosen: np.ndarray, modulus: float) -> bsr_matrix:
    """Springs in all directions along edges of faces.

    Parameters
    ----------
    chosen : (k, 3) bool, which edges of each face are seamed.
    modulus : force by slip of a seam, per length, in N/m².
    """
    face, edge = np.nonzero(chosen)
    nodes = EDGES[edge]
    lower, upper = (np.take_along_axis(side[face], nodes, 1) for side in (faces.lower, faces.upper))
    ends = np.take_along_axis(faces.places[face], nodes[:, :2, None], 1)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    both = np.hstack([lower, upper])
    products = np.kron([[1.0, -1.0], [-1.0, 1.0]], _LINE)
    local = modulus * np.multiply.outer(length, products)
    rows, columns = np.repeat(both, 6, axis=1), np.tile(both, (1, 6))
    nodal = coo_matrix((local.ravel(), (rows.ravel(), columns.ravel())), (faces.size, faces.size))
    entries = nodal.tocsr()
    data = entries.data[:, None, None] * np.eye(3)
    size = 3 * faces.size
    return bsr_matrix((data, entries.indices, entries.indptr), shape=(size, size))
