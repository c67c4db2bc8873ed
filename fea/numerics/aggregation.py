"""Coarse spaces by smoothed aggregation of nodes.

P. Vanek, J. Mandel, M. Brezina, Algebraic multigrid by smoothed aggregation for second and fourth
order elliptic problems, Computing 56 (1996) 179-196. The aggregation and the local orthogonal
bases are pyamg's.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
from pyamg.aggregation import fit_candidates, standard_aggregation
from scipy.sparse import bsr_matrix, csr_matrix

FloatArray = npt.NDArray[np.float64]


def rigid_modes(points: FloatArray) -> FloatArray:
    """Three translations and three rotations about the centroid, (3n, 6), of points (n, 3).

    Rotations are scaled by the points' extent so that all columns are of like size.
    """
    x, y, z = (points - points.mean(axis=0)).T / max(float(np.ptp(points, axis=0).max()), 1e-300)
    modes = np.zeros((len(points), 3, 6))
    modes[:, [0, 1, 2], [0, 1, 2]] = 1.0
    modes[:, 1, 3], modes[:, 2, 3] = -z, y
    modes[:, 0, 4], modes[:, 2, 4] = z, -x
    modes[:, 0, 5], modes[:, 1, 5] = -y, x
    return modes.reshape(-1, 6)


def prolongation(
    matrix: bsr_matrix, graph: csr_matrix, modes: FloatArray, damping: FloatArray, omega: float
) -> tuple[bsr_matrix, csr_matrix, FloatArray]:
    """Smoothed prolongation (I - omega D^-1 A) T of `matrix`, its coarse `graph` and `modes`.

    Nodes are gathered along the edges of `graph` alone: plates that only press on each other, with
    no edge between them, keep aggregates and rigid motions of their own, and can slide.

    T interpolates `modes` exactly from an orthonormal basis of each aggregate; `damping` holds
    the inverse diagonal blocks D^-1 (n, b, b). All neighbours count as strongly connected: on
    flat elements a strength threshold was found to cost more than it saves.
    """
    aggregates, _ = standard_aggregation(graph)
    tentative, coarse = fit_candidates(aggregates, modes)
    tentative = bsr_matrix(tentative)
    product: Any = bsr_matrix(matrix @ tentative)
    owner = np.repeat(np.arange(len(damping)), np.diff(product.indptr))
    product.data = -omega * (damping[owner] @ product.data)
    members = csr_matrix(aggregates, dtype=float)
    return bsr_matrix(tentative + product), csr_matrix(members.T @ graph @ members), coarse
