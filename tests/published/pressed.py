"""Blocks that press on each other: meshes, loads and readings for the checks of contact.

Interfaces are opened by the project's `split`; faces, law and solver are the project's too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from skfem import MeshTet, MeshTet2

from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import contact, readings
from platestack.fea.solid.contact import Contact
from platestack.geometry.mesh import StackMesh, quality
from platestack.geometry.numbering import compact
from platestack.geometry.split import split

YOUNG, POISSON = 210e9, 0.3

FACES = np.array([[0, 1, 2, 4, 5, 6], [0, 1, 3, 4, 8, 7], [0, 2, 3, 6, 9, 7], [1, 2, 3, 5, 9, 8]])
"""Local nodes of an element's faces: corners, then mid-edge nodes in the same sense."""

Where = Callable[[np.ndarray], np.ndarray]
"""Picks places: coordinates (..., 3) to bools (...)."""


def blocks(
    x: np.ndarray,
    y: np.ndarray,
    heights: list[np.ndarray],
    moved: Callable[[np.ndarray], np.ndarray] = lambda points: points,
) -> StackMesh:
    """Mesh blocks piled along z: grids of bricks cut into tetrahedra, one of `heights` a block.

    The grids of neighbours share their last and first height. `moved` displaces the vertices
    (n, 3), to make the mesh irregular.
    """
    z = np.concatenate([heights[0], *(more[1:] for more in heights[1:])])
    grid = MeshTet.init_tensor(x, y, z)
    middle = grid.p[2, grid.t].mean(axis=0)
    plate = np.searchsorted([more[-1] for more in heights], middle)
    quadratic = MeshTet2.from_mesh(MeshTet(moved(grid.p.T).T.copy(), grid.t))
    space = QuadraticSpace(quadratic)
    numbering = compact(space.cells)
    nodes, tets, plate = space.nodes[numbering.nodes], numbering.tets, plate[numbering.elements]
    names = tuple(f"plate {i + 1}" for i in range(len(heights)))
    faces = {
        f"{lower} | {upper}": _between(tets, plate, i)
        for i, (lower, upper) in enumerate(pairwise(names))
    }
    shape = quality(nodes, tets)
    return StackMesh(nodes, tets, plate, names, faces, frozenset(), shape, 0.0)


def without(mesh: StackMesh, gone: np.ndarray) -> StackMesh:
    """The mesh without the elements marked in `gone` (t,), and without their faces."""
    numbering = compact(mesh.tets[~gone])
    place = np.full(len(mesh.nodes), -1)
    place[numbering.nodes] = np.arange(len(numbering.nodes))
    plate = mesh.plate[~gone][numbering.elements]
    own = [_between(numbering.tets, plate, i) for i in range(len(mesh.plate_names) - 1)]
    faces = dict(zip(mesh.faces, own, strict=True))
    return replace(
        mesh, nodes=mesh.nodes[numbering.nodes], tets=numbering.tets, plate=plate, faces=faces
    )


def shaken(points: np.ndarray, amount: float, keep: np.ndarray) -> np.ndarray:
    """Move points (n, 3) at random by up to `amount`, but for the components to `keep` (n, 3)."""
    shifts = np.random.default_rng(7).uniform(-amount, amount, points.shape)
    return points + np.where(keep, 0.0, shifts)


def _between(tets: np.ndarray, plate: np.ndarray, lower: int) -> np.ndarray:
    """Faces (k, 6) that elements of plate `lower` share with those of the next."""
    own = tets[plate == lower][:, FACES].reshape(-1, 6)
    others = tets[plate == lower + 1][:, FACES[:, :3]].reshape(-1, 3)
    keys = {tuple(face) for face in np.sort(others, axis=1).tolist()}
    shared = [tuple(face) in keys for face in np.sort(own[:, :3], axis=1).tolist()]
    return own[shared]


class Pile:
    """A mesh with its interfaces opened, ready for loads."""

    def __init__(
        self,
        mesh: StackMesh,
        friction: float = 0.0,
        *,
        opened: tuple[str, ...] | None = None,
        young: np.ndarray | float = YOUNG,
        poisson: float = POISSON,
        penalty: float | None = None,
    ) -> None:
        """Open the interfaces named, or all; `young` (Pa) is one value or one for each plate."""
        self.mesh, pairs = split(mesh, mesh.interfaces if opened is None else opened)
        self.nodes = self.mesh.nodes
        self.space = QuadraticSpace(MeshTet2(self.nodes.T, self.mesh.tets.T))
        moduli = np.broadcast_to(young, len(mesh.plate_names))
        self.matrix = self.space.stiffness(moduli[self.mesh.plate], poisson)
        spans = [np.ptp(self.nodes[self.of_plate(i), 2]) for i in range(len(mesh.plate_names))]
        if penalty is None:
            penalty = contact.STIFFNESS * float(moduli.max()) / min(spans)
        self.faces = (
            contact.Interfaces.of(self.nodes, pairs, friction, 0.0, penalty) if pairs else None
        )

    def of_plate(self, index: int) -> np.ndarray:
        """Nodes of a plate."""
        return np.unique(self.mesh.tets[self.mesh.plate == index])

    @cached_property
    def places(self) -> np.ndarray:
        """The interfaces' quadrature points, (k, q, 3)."""
        return np.einsum("qa,kac->kqc", readings.TRIANGLE_VALUES, self.nodes[self.faces.lower])

    def with_gap(self, gap: Callable[[np.ndarray], np.ndarray]) -> Pile:
        """The same pile with an initial gap (m), a function of places (..., 3)."""
        other = object.__new__(Pile)
        other.__dict__ |= self.__dict__
        other.faces = replace(self.faces, gap=gap(self.nodes[self.faces.lower]))
        return other

    def surface(self, where: Where, plate: int | None = None) -> np.ndarray:
        """Element faces (k, 6), of one plate or of all, with all nodes where asked."""
        tets = self.mesh.tets if plate is None else self.mesh.tets[self.mesh.plate == plate]
        faces = tets[:, FACES].reshape(-1, 6)
        found = faces[where(self.nodes[faces]).all(axis=1)]
        assert len(found), "no face there"
        return found

    def force(
        self, where: Where, total: tuple[float, float, float], plate: int | None = None
    ) -> np.ndarray:
        """Nodal forces (3n,) of a force (N) spread evenly over faces."""
        weights = readings.face_weights(self.nodes, self.surface(where, plate))
        return np.multiply.outer(weights / weights.sum(), total).ravel()

    def held(self, **where: Where | tuple[Where, int]) -> np.ndarray:
        """Components held at zero, (n, 3): ``held(x=..., z=(where, plate))``."""
        fixed = np.zeros(self.nodes.shape, dtype=bool)
        for key, places in where.items():
            only = np.arange(len(self.nodes))
            if isinstance(places, tuple):
                places, plate = places
                only = self.of_plate(plate)
            chosen = only[places(self.nodes[only])]
            assert len(chosen), f"nothing to hold along {key}"
            fixed[chosen, "xyz".index(key[0])] = True
        return fixed

    def system(self, fixed: np.ndarray, ties: Ties | None = None) -> System:
        """The elastic system; keep it over the steps of a load history."""
        return System(self.matrix, fixed, ties)

    def solve(
        self,
        system: System,
        load: np.ndarray,
        before: Contact | None = None,
        tol: float = 1e-8,
        penetration: float = contact.NEGLIGIBLE,
    ) -> Contact:
        """Bring a load into balance."""
        return contact.solve(
            system, self.space, self.faces, load, tol=tol, penetration=penetration, before=before
        )

    def strain_energy(self, found: Contact) -> float:
        """Elastic energy (J)."""
        u = found.displacement
        return float(u @ (self.matrix @ u)) / 2

    def resultant(self, found: Contact, name: str) -> np.ndarray:
        """Force (3,) on the upper side of an interface, in N."""
        faces, state = self.faces, found.state
        own = faces.owner == faces.names.index(name)
        pressed = np.einsum("kq,kq,kc->c", faces.area[own], state.pressure[own], faces.normal[own])
        rubbed = np.einsum(
            "kq,kqt,ktc->c", faces.area[own], state.friction[own], faces.tangents[own]
        )
        return pressed - rubbed


def plane(axis: str, value: float = 0.0, tol: float = 1e-9) -> Where:
    """Where a coordinate has a value."""
    index = "xyz".index(axis)
    return lambda x: np.abs(x[..., index] - value) < tol


def graded(start: float, fine: float, end: float, growth: float) -> np.ndarray:
    """Grid from 0 to `end`: steps `fine` up to `start`, then growing by the factor `growth`."""
    steps = [fine] * round(start / fine)
    while sum(steps) < end:
        steps.append(steps[-1] * growth)
    points = np.concatenate([[0.0], np.cumsum(steps)])
    tail = points > start * (1 + 1e-9)
    points[tail] = start + (points[tail] - start) * (end - start) / (points[-1] - start)
    return points
