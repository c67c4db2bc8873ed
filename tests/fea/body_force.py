"""Nodal forces of weight and the like, for tests: presses are solved without."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from platestack.fea.numerics.elasticity import QuadraticSpace


def body_force(space: QuadraticSpace, density: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Forces (n, 3) [N] of a force density [N/m³], (3,) or (m, 3), on straight elements."""
    density = np.broadcast_to(np.asarray(density, dtype=float), (len(space.cells), 3))
    corners = space.nodes[space.cells[:, :4]]
    volume = np.abs(np.linalg.det(corners[:, 1:] - corners[:, :1])) / 6
    # Integral of the shape functions: -V/20 at vertices, V/5 at mid-edge nodes
    # (Zienkiewicz, Taylor and Zhu, 6th ed., volume coordinates).
    shares = np.multiply.outer(volume, np.repeat([-1 / 20, 1 / 5], [4, 6]))
    nodal = np.zeros((len(space.nodes), 3))
    np.add.at(nodal, space.cells, shares[:, :, None] * density[:, None])
    return nodal
