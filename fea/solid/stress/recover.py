"""Stress at the nodes: recovery from the displacements, von Mises and principal stresses.

Stress order: xx, yy, zz, xy, yz, xz. Nodes on an interface belong to several plates and have a
stress in each, so the fields live on *plate nodes*: one for each node of each plate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from platestack.geometry.mesh import EDGES, StackMesh

VOIGT = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))
_CORNERS = np.vstack([np.zeros(3), np.eye(3)])
NODES_OF_REFERENCE = np.vstack([_CORNERS, _CORNERS[EDGES].mean(axis=1)]).T
"""Reference coordinates of the ten nodes, (3, 10)."""


@dataclass(frozen=True)
class PlateNodes:
    """Numbering of nodes by plate.

    Attributes
    ----------
    node : (p,) node of the mesh; plate : (p,) its plate; cells : (m, 10) plate nodes of elements.
    """

    node: np.ndarray
    plate: np.ndarray
    cells: np.ndarray

    @classmethod
    def of(cls, mesh: StackMesh) -> PlateNodes:
        """Number the nodes of each plate of a mesh."""
        keys = mesh.plate[:, None].astype(np.int64) * len(mesh.nodes) + mesh.tets
        unique, inverse = np.unique(keys, return_inverse=True)
        plate, node = np.divmod(unique, len(mesh.nodes))
        return cls(node, plate, inverse.reshape(mesh.tets.shape))


def element_stress(gradients: np.ndarray, young: np.ndarray, poisson: np.ndarray) -> np.ndarray:
    """Hooke's law: displacement gradients (m, q, 3, 3) to stress (m, q, 6) in Pa."""
    strain = (gradients + gradients.swapaxes(2, 3)) / 2
    lam = (young * poisson / ((1 + poisson) * (1 - 2 * poisson)))[:, None]
    mu = (young / (2 * (1 + poisson)))[:, None]
    dilation = np.trace(strain, axis1=2, axis2=3)
    return np.stack(
        [2 * mu * strain[:, :, i, j] + (lam * dilation if i == j else 0) for i, j in VOIGT], axis=2
    )


def averaged(nodes: PlateNodes, values: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Average element values (m, 10, c) at plate nodes, weighted by element: (p, c)."""
    m = len(weight)
    slots = nodes.cells.ravel()
    spread = csr_matrix(
        (np.repeat(weight, 10), (slots, np.arange(10 * m))), shape=(len(nodes.node), 10 * m)
    )
    total = np.bincount(slots, np.repeat(weight, 10), len(nodes.node))
    return (spread @ values.reshape(10 * m, -1)) / total[:, None]


def von_mises(stress: np.ndarray) -> np.ndarray:
    """Von Mises equivalent stress of (..., 6) stresses (Pa)."""
    xx, yy, zz, xy, yz, xz = np.moveaxis(stress, -1, 0)
    direct = (xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2
    return np.sqrt(direct / 2 + 3 * (xy**2 + yz**2 + xz**2))


def principal(stress: np.ndarray) -> np.ndarray:
    """Principal stresses (..., 3) of (..., 6) stresses, greatest first (Pa)."""
    xx, yy, zz, xy, yz, xz = np.moveaxis(stress, -1, 0)
    tensor = np.stack([np.stack(row, -1) for row in ((xx, xy, xz), (xy, yy, yz), (xz, yz, zz))], -2)
    return np.linalg.eigvalsh(tensor)[..., ::-1]


def volumes(mesh: StackMesh) -> np.ndarray:
    """Volume of each element, taken straight (m,) in m³."""
    x = mesh.nodes[mesh.tets[:, :4]]
    return np.abs(np.linalg.det(x[:, 1:] - x[:, :1])) / 6
