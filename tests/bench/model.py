"""Model problem of the benchmarks: a quarter of a crosshead of five welded plates.

The quarter spans 600 mm x 400 mm and is 5 x 80 mm thick. The rod hole (90 mm diameter) sits at
(420, 260) mm; the nut bears on the annulus 160/90 mm on the top face and is carried by the rod, a
spring tied to the annulus' mean vertical displacement. The ram presses the annulus 400/260 mm
on the bottom face with 2.5 MN (on the whole, a quarter of it here).
"""

from dataclasses import dataclass
from pathlib import Path

import gmsh
import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix
from skfem import MeshTet

from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.geometry.numbering import neighbourly

FloatArray = npt.NDArray[np.float64]

YOUNG, POISSON = 210e9, 0.3
HALF = (0.6, 0.4)
ROD = (0.42, 0.26)
HOLE, NUT = 0.09, 0.16  # diameters [m]
RAM = (0.26, 0.40)
ROD_STIFFNESS = 2 * YOUNG * np.pi / 4 * 0.08**2 / 1.6
FORCE = 2.5e6
EPS = 1e-6


@dataclass(frozen=True)
class Crosshead:
    """A mesh of the quarter, and the faces that carry the rod and the ram."""

    mesh: MeshTet
    height: float
    nut: npt.NDArray[np.int64]
    ram: npt.NDArray[np.int64]
    seat: npt.NDArray[np.int64]
    """What the rod is tightened against: the nut's annulus on the bottom face."""


def crosshead(
    size: float,
    thicknesses: tuple[float, ...] = (0.08,) * 5,
    near: float = 1.0,
    seated: bool = False,
) -> Crosshead:
    """Mesh the quarter.

    `size` is the element size [m], `thicknesses` the plates' [m] from the bottom up, `near` the
    factor of refinement at the rod hole. A thin plate's own thickness does not refine the mesh
    in the plane more than `size`, so that its elements are flat. `seated` marks the seat's rim.
    """
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.option.setNumber("Mesh.MeshSizeMin", size * near)
        occ = gmsh.model.occ
        plates, z = [], 0.0
        for thickness in thicknesses:
            plates.append((3, occ.addBox(0, 0, z, *HALF, thickness)))
            z += thickness
        hole = occ.addCylinder(*ROD, -0.01, 0, 0, z + 0.02, HOLE / 2)
        plates, _ = occ.cut(plates, [(3, hole)])
        tools = [(2, occ.addDisk(*ROD, z, NUT / 2, NUT / 2))]
        tools += [(2, occ.addDisk(0, 0, 0, d / 2, d / 2)) for d in RAM]
        tools += [(2, occ.addDisk(*ROD, 0, NUT / 2, NUT / 2))] * seated
        occ.fragment(plates, tools)
        occ.synchronize()
        solid = {tag for _, tag in gmsh.model.getBoundary(gmsh.model.getEntities(3), False, False)}
        loose = [(2, t) for _, t in gmsh.model.getEntities(2) if t not in map(abs, solid)]
        occ.remove(loose, recursive=True)
        occ.synchronize()
        gmsh.model.mesh.generate(3)
        _, xyz, _ = gmsh.model.mesh.getNodes()
        tags, _, _ = gmsh.model.mesh.getNodes()
        _, cells = gmsh.model.mesh.getElementsByType(4)
    finally:
        gmsh.finalize()
    lookup = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    lookup[tags] = np.arange(tags.size)
    return _tagged(xyz.reshape(-1, 3), lookup[cells].reshape(-1, 4), z)


def _tagged(points: FloatArray, cells: npt.NDArray[np.int64], height: float) -> Crosshead:
    used, cells = np.unique(cells, return_inverse=True)
    cells = cells.reshape(-1, 4)
    order = neighbourly(cells)
    new = np.empty_like(order)
    new[order] = np.arange(len(order))
    cells = np.sort(new[cells], axis=1)
    cells = cells[np.lexsort(cells.T[::-1])]
    mesh = MeshTet(points[used][order].T.copy(), np.ascontiguousarray(cells.T))
    corners = mesh.p[:, mesh.facets]
    centre = corners.mean(axis=1)
    boundary = mesh.boundary_facets()

    def annulus(x: float, y: float, z: float, inner: float, outer: float) -> npt.NDArray[np.int64]:
        radius = np.hypot(centre[0] - x, centre[1] - y)
        level = np.abs(corners[2] - z).max(axis=0) < EPS
        inside = (radius > inner / 2 * 0.95) & (radius < outer / 2)
        found: npt.NDArray[np.int64] = boundary[(level & inside)[boundary]]
        return found

    nut = annulus(*ROD, height, HOLE, NUT)
    ram = annulus(0.0, 0.0, 0.0, *RAM)
    seat = annulus(*ROD, 0.0, HOLE, NUT)
    return Crosshead(mesh, height, nut, ram, seat)


def face_weights(space: QuadraticSpace, mesh: MeshTet, facets: npt.NDArray[np.int64]) -> FloatArray:
    """Integral of each node's shape function over flat faces, (n,) [m^2].

    On a flat quadratic triangle the vertices' functions integrate to zero, the mid-edge ones to
    a third of the area (Zienkiewicz and Taylor, vol. 1, quadratic triangle).
    """
    a, b, c = mesh.p[:, mesh.facets[:, facets]].transpose(1, 2, 0)
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    edges = mesh.f2e[:, facets] + mesh.nvertices
    shares = np.tile(area / 3, 3)
    weights: FloatArray = np.bincount(edges.ravel(), shares, len(space.nodes)).astype(float)
    return weights


def problem(case: Crosshead, space: QuadraticSpace) -> tuple[System, FloatArray]:
    """System and load vector (3n,) of the quarter, symmetry at x = 0 and y = 0."""
    count = len(space.nodes)
    matrix = space.stiffness(YOUNG, POISSON)
    fixed = np.zeros((count, 3), dtype=bool)
    fixed[:, 0] = np.abs(space.nodes[:, 0]) < EPS
    fixed[:, 1] = np.abs(space.nodes[:, 1]) < EPS
    nut = face_weights(space, case.mesh, case.nut)
    loaded = np.flatnonzero(nut)
    row = csr_matrix(
        (nut[loaded] / nut.sum(), (np.zeros_like(loaded), 3 * loaded + 2)), shape=(1, 3 * count)
    )
    loads = np.zeros((count, 3))
    ram = face_weights(space, case.mesh, case.ram)
    loads[:, 2] = FORCE / 4 * ram / ram.sum()
    return System(matrix, fixed, Ties(row, np.array([ROD_STIFFNESS]))), loads.ravel()


def cached(size: float, folder: Path, **options: object) -> Crosshead:
    """The quarter's mesh from `folder`, made at the first call."""
    name = "-".join([f"{size:g}", *(f"{k}{v}" for k, v in sorted(options.items()))])
    path = folder / f"{name.replace(' ', '').replace('/', '')}.npz"
    if path.exists():
        with np.load(path) as data:
            return _tagged(data["p"], data["t"], float(data["height"]))
    case = crosshead(size, **options)  # type: ignore[arg-type]
    folder.mkdir(parents=True, exist_ok=True)
    np.savez(path, p=case.mesh.p.T, t=case.mesh.t.T, height=case.height)
    return case
