"""A solid of the project's own elements, and meshes for it: all that the published checks need.

Stiffness, solver, face integrals and stress recovery are the project's; mesh and boundary
conditions come from the benchmark. Nodes are numbered by `QuadraticSpace`; SI or any units that
belong together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import gmsh
import numpy as np
from scipy.spatial import cKDTree
from skfem import MeshTet, MeshTet2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid import readings
from platestack.fea.solid.stress import recover

Where = Callable[[np.ndarray], np.ndarray]
"""Picks places: coordinates (..., 3) to bools (...)."""

FACES = np.array([[0, 1, 2, 4, 5, 6], [0, 1, 3, 4, 8, 7], [0, 2, 3, 6, 9, 7], [1, 2, 3, 5, 9, 8]])
"""Local nodes of an element's faces: corners, then mid-edge nodes in the same sense."""


@dataclass(frozen=True)
class Answer:
    """Displacements (n, 3), stresses at the nodes (n, 6: xx, yy, zz, xy, yz, xz), reactions."""

    solid: Solid
    displacement: np.ndarray
    reaction: np.ndarray

    @cached_property
    def stress(self) -> np.ndarray:
        solid = self.solid
        gradients = solid.space.displacement_gradients(
            self.displacement.ravel(), recover.NODES_OF_REFERENCE
        )
        m = len(solid.space.cells)
        local = recover.element_stress(
            gradients, np.full(m, solid.young), np.full(m, solid.poisson)
        )
        n = len(solid.nodes)
        one_plate = recover.PlateNodes(np.arange(n), np.zeros(n, dtype=int), solid.space.cells)
        corners = solid.nodes[solid.space.cells[:, :4]]
        volumes = np.abs(np.linalg.det(corners[:, 1:] - corners[:, :1])) / 6
        return recover.averaged(one_plate, local, volumes)


class Solid:
    """One material on a mesh of straight (`MeshTet`) or curved (`MeshTet2`) tetrahedra."""

    def __init__(self, mesh: MeshTet, young: float, poisson: float) -> None:
        self.space = QuadraticSpace(mesh)
        self.young, self.poisson = young, poisson
        self.nodes = self.space.nodes
        self.matrix = self.space.stiffness(young, poisson)

    @cached_property
    def skin(self) -> np.ndarray:
        """Faces on the surface, (k, 6) nodes."""
        faces = self.space.cells[:, FACES].reshape(-1, 6)
        _, first, count = np.unique(
            np.sort(faces[:, :3], axis=1), axis=0, return_index=True, return_counts=True
        )
        return faces[first[count == 1]]

    def faces(self, where: Where) -> np.ndarray:
        """Surface faces (k, 6) all nodes of which lie where asked."""
        found = self.skin[where(self.nodes[self.skin]).all(axis=1)]
        assert len(found), "no face there"
        return found

    def held(self, **where: Where) -> np.ndarray:
        """Components held at zero, (n, 3): ``held(x=..., z=...)``."""
        fixed = np.zeros(self.nodes.shape, dtype=bool)
        for component, places in where.items():
            chosen = places(self.nodes)
            assert chosen.any(), f"nothing to hold along {component}"
            fixed[chosen, "xyz".index(component)] = True
        return fixed

    def node(self, *point: float) -> int:
        """The node at a point."""
        distance = np.linalg.norm(self.nodes - point, axis=1)
        nearest = int(distance.argmin())
        assert distance[nearest] < 1e-6 * np.ptp(self.nodes), f"no node at {point}"
        return nearest

    def traction(self, faces: np.ndarray, traction: tuple[float, float, float]) -> np.ndarray:
        """Nodal forces (n, 3) of a constant traction."""
        return np.multiply.outer(readings.face_weights(self.nodes, faces), traction)

    def varying_traction(
        self, faces: np.ndarray, traction: Callable[[np.ndarray], np.ndarray]
    ) -> np.ndarray:
        """Nodal forces (n, 3) of a traction (k, q, 3) given at points (k, q, 3)."""
        values, points, normals, weights = self._on(faces)
        area = np.linalg.norm(normals, axis=2)
        forces = np.einsum("kqi,kq,q,qa->kai", traction(points), area, weights, values)
        return self._gather(faces, forces)

    def pressure(self, faces: np.ndarray, pressure: float) -> np.ndarray:
        """Nodal forces (n, 3) of a pressure, which acts against the outward normal."""
        values, points, normals, weights = self._on(faces)
        inward = self.nodes[self._cell_of(faces)].mean(axis=1) - points.mean(axis=1)
        side = np.sign(np.einsum("ki,ki->k", inward, normals.mean(axis=1)))
        forces = pressure * np.einsum("k,kqi,q,qa->kai", side, normals, weights, values)
        return self._gather(faces, forces)

    def solve(
        self,
        forces: np.ndarray,
        fixed: np.ndarray,
        given: np.ndarray | None = None,
        tol: float = 1e-8,
        method: solvers.Method = "auto",
    ) -> Answer:
        """Displacements under nodal forces (n, 3), with components fixed at `given` or at zero."""
        start = np.zeros(self.nodes.size)
        if given is not None:
            start[fixed.ravel()] = given[fixed]
        right = forces.ravel() - self.matrix @ start
        system = System(self.matrix, fixed)
        found = solvers.solve(system, self.space, right, method, tol=tol).displacement + start
        reaction = (self.matrix @ found - forces.ravel()).reshape(-1, 3)
        return Answer(self, found.reshape(-1, 3), reaction)

    def _on(self, faces: np.ndarray) -> tuple[np.ndarray, ...]:
        """Shape functions (q, 6), points, normals times area (k, q, 3), weights (q,) on faces."""
        (r, s), weights = get_quadrature(RefTri, 4)
        bary = np.stack([1 - r - s, r, s])
        slopes = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
        values = [b * (2 * b - 1) for b in bary]
        gradients = [np.multiply.outer(4 * b - 1, g) for b, g in zip(bary, slopes, strict=True)]
        for i, j in ((0, 1), (1, 2), (2, 0)):
            values.append(4 * bary[i] * bary[j])
            gradients.append(
                4 * (np.multiply.outer(bary[i], slopes[j]) + np.multiply.outer(bary[j], slopes[i]))
            )
        shapes, slope = np.stack(values, axis=1), np.stack(gradients, axis=1)
        x = self.nodes[faces]
        tangents = np.einsum("qad,kai->kqdi", slope, x)
        normals = np.cross(tangents[:, :, 0], tangents[:, :, 1])
        return shapes, np.einsum("qa,kai->kqi", shapes, x), normals, weights

    def _cell_of(self, faces: np.ndarray) -> np.ndarray:
        """Corners (k, 4) of the element behind each face."""
        all_faces = np.sort(self.space.cells[:, FACES[:, :3]].reshape(-1, 3), axis=1)
        keys = {tuple(face): index // 4 for index, face in enumerate(all_faces)}
        behind = [keys[tuple(face)] for face in np.sort(faces[:, :3], axis=1)]
        return self.space.cells[behind, :4]

    def _gather(self, faces: np.ndarray, forces: np.ndarray) -> np.ndarray:
        gathered = [
            np.bincount(faces.ravel(), forces[:, :, i].ravel(), len(self.nodes)) for i in range(3)
        ]
        return np.stack(gathered, axis=1)


def block(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> MeshTet:
    """Tetrahedra that fill a grid of bricks."""
    return MeshTet.init_tensor(x, y, z)


def meshed(build: Callable[[], None]) -> MeshTet2:
    """Mesh a gmsh model with curved tetrahedra.

    `build` makes the geometry and sets the sizes in a fresh session.
    """
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        for option in ("General.Terminal", "Mesh.MeshSizeExtendFromBoundary"):
            gmsh.option.setNumber(option, 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        build()
        gmsh.model.mesh.generate(3)
        gmsh.model.mesh.setOrder(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        _, cells = gmsh.model.mesh.getElementsByType(11)
    finally:
        gmsh.finalize()
    lookup = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    lookup[tags] = np.arange(len(tags))
    cells = lookup[cells].reshape(-1, 10)[:, [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]
    return curved(xyz.reshape(-1, 3), cells)


def curved(nodes: np.ndarray, cells: np.ndarray) -> MeshTet2:
    """Make scikit-fem's quadratic mesh of nodes (n, 3) and ten-node tetrahedra (m, 10)."""
    corners, inverse = np.unique(cells[:, :4], return_inverse=True)
    straight = MeshTet(nodes[corners].T.copy(), inverse.reshape(-1, 4).T.copy())
    mesh = MeshTet2.from_mesh(straight)
    # The mid-edge node of each edge is the one nearest to its middle.
    middles = np.unique(cells[:, 4:])
    places = mesh.doflocs.copy()
    between = places[:, straight.nvertices :]
    nearest = cKDTree(nodes[middles]).query(between.T)[1]
    assert len(np.unique(nearest)) == len(middles), "mid-edge nodes are ambiguous"
    places[:, straight.nvertices :] = nodes[middles[nearest]].T
    return MeshTet2(places, mesh.t)


def round_curves() -> list[int]:
    """Return the curves of the gmsh model that are not straight."""
    return [tag for _, tag in gmsh.model.getEntities(1) if gmsh.model.getType(1, tag) != "Line"]


def refine_near(curves: list[int], fine: float, coarse: float, growth: float = 0.3) -> None:
    """Size `fine` on curves, growing with the distance up to `coarse`."""
    field = gmsh.model.mesh.field
    distance = field.add("Distance")
    field.setNumbers(distance, "CurvesList", curves)
    field.setNumber(distance, "Sampling", 60)
    size = field.add("Threshold")
    field.setNumber(size, "InField", distance)
    field.setNumber(size, "SizeMin", fine)
    field.setNumber(size, "SizeMax", coarse)
    field.setNumber(size, "DistMin", 0.0)
    field.setNumber(size, "DistMax", (coarse - fine) / growth)
    field.setAsBackgroundMesh(size)
    for option in ("FromPoints", "FromCurvature"):
        gmsh.option.setNumber(f"Mesh.MeshSize{option}", 0)


def plane(axis: str, value: float = 0.0, tol: float = 1e-7) -> Where:
    """Where a coordinate has a value."""
    index = "xyz".index(axis)
    return lambda x: np.abs(x[..., index] - value) < tol
