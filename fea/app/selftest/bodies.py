"""Bodies for the self-test: bent grids of quadratic tetrahedra, and two blocks that touch.

No mesher is needed, so that a fault of the mesher is not taken for one of the solution.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from skfem import MeshTet, MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid import readings
from platestack.fea.solid.stress import recover
from platestack.fea.solid.stress.estimate import Body
from platestack.geometry.mesh import StackMesh, quality
from platestack.geometry.numbering import compact

Place = Callable[[np.ndarray], np.ndarray]
"""Picks places: coordinates (n, 3) to bools (n,)."""

FACES = np.array([[0, 1, 2, 4, 5, 6], [0, 1, 3, 4, 8, 7], [0, 2, 3, 6, 9, 7], [1, 2, 3, 5, 9, 8]])
"""Local nodes of an element's faces: corners, then mid-edge nodes in the same sense."""


def grid(
    x: np.ndarray, y: np.ndarray, z: np.ndarray, bent: Place = lambda points: points
) -> MeshTet2:
    """Mesh a grid of bricks, each cut into tetrahedra, its nodes (n, 3) moved by `bent`."""
    mesh = MeshTet2.from_mesh(MeshTet.init_tensor(x, y, z))
    return MeshTet2(bent(mesh.doflocs.T).T.copy(), mesh.t)


class Solid:
    """A body of one material; E = 210 GPa, ν = 0.3."""

    young, poisson = 210e9, 0.3

    def __init__(self, mesh: MeshTet2) -> None:
        self.space = QuadraticSpace(mesh)
        self.nodes = self.space.nodes
        faces = self.space.cells[:, FACES].reshape(-1, 6)
        _, first, count = np.unique(
            np.sort(faces[:, :3], axis=1), axis=0, return_index=True, return_counts=True
        )
        self.skin = faces[first[count == 1]]
        self.matrix = self.space.stiffness(self.young, self.poisson)

    def weights(self, where: Place) -> np.ndarray:
        """Areas (n,) in m² that nodes of the surface stand for, of faces that lie there."""
        chosen = where(self.nodes)[self.skin].all(axis=1)
        return readings.face_weights(self.nodes, self.skin[chosen])

    def held(self, x: Place, y: Place, z: Place) -> np.ndarray:
        """Components held at zero, (n, 3)."""
        return np.column_stack([where(self.nodes) for where in (x, y, z)])

    def solve(
        self, forces: np.ndarray, fixed: np.ndarray, method: solvers.Method = "auto"
    ) -> np.ndarray:
        """Displacements (n, 3) in m under nodal forces (n, 3) in N."""
        system = System(self.matrix, fixed)
        found = solvers.solve(system, self.space, forces.ravel(), method).displacement
        return found.reshape(-1, 3)

    def stress(self, displacement: np.ndarray) -> np.ndarray:
        """Stress at the nodes, (n, 6) in Pa: xx, yy, zz, xy, yz, xz."""
        cells = self.space.cells
        body = Body.of(
            self.space, np.full(len(cells), self.young), np.full(len(cells), self.poisson)
        )
        local = body.stress(displacement.ravel(), recover.NODES_OF_REFERENCE)
        own = np.arange(len(self.nodes))
        nodes = recover.PlateNodes(own, np.zeros_like(own), cells)
        corners = self.nodes[cells[:, :4]]
        volume = np.abs(np.linalg.det(corners[:, 1:] - corners[:, :1])) / 6
        return recover.averaged(nodes, local, volume)

    def node(self, *point: float) -> int:
        """The node nearest to a point."""
        return int(np.linalg.norm(self.nodes - point, axis=1).argmin())


def plane(axis: int, value: float = 0.0) -> Place:
    """Where a coordinate has a value."""
    return lambda points: np.abs(points[:, axis] - value) < 1e-9


def two_blocks(x: np.ndarray, y: np.ndarray, z: np.ndarray, between: float) -> StackMesh:
    """A block on another, on one grid; they meet at the height `between`, one of `z`."""
    straight = MeshTet.init_tensor(x, y, z)
    space = QuadraticSpace(MeshTet2.from_mesh(straight))
    numbering = compact(space.cells)
    nodes, tets = space.nodes[numbering.nodes], numbering.tets
    plate = (nodes[tets[:, :4], 2].mean(axis=1) > between).astype(int)
    faces = tets[plate == 0][:, FACES].reshape(-1, 6)
    shared = faces[(np.abs(nodes[faces, 2] - between) < 1e-12).all(axis=1)]
    names = ("lower", "upper")
    shape = quality(nodes, tets)
    return StackMesh(nodes, tets, plate, names, {"lower | upper": shared}, frozenset(), shape, 0.0)
