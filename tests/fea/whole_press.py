"""Both stacks on one mesh, solved anew for every state of the rods: nothing is condensed.

A check on `solid.frame`. Plates are welded, or press on each other with friction or without, from
one state of the rods to the next; sleeves are struts under the sectors of their annuli, which only
press; the crosshead has its weight in all its elements; rods do not bend.
"""

from __future__ import annotations

import numpy as np
from body_force import body_force
from scipy.sparse import csr_matrix, vstack
from skfem import MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import contact, interfaces, loads, readings
from platestack.fea.solid.contact import Contact, Interfaces
from platestack.fea.solid.frame.press import GRAVITY
from platestack.fea.solid.stack import mesh_stack
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.split import FacePair

SECTORS = 6

TOLERANCE = 1e-5
"""Forces out of balance where plates may part, over those at work."""


class WholePress:
    """A press whose rods are set one after another."""

    def __init__(self, press: Press, case: Case):
        wish = case.mesh.model_copy(update={"symmetry": "whole"})
        case = case.model_copy(update={"mesh": wish})
        opened = [interfaces.opened(one, mesh_stack(press, one, case)) for one in press.stacks]
        meshes = [mesh for mesh, _ in opened]
        corners = [int(m.tets[:, :4].max()) + 1 for m in meshes]
        nodes = [len(m.nodes) for m in meshes]
        # Corners of both first, then edges of both: the numbering that the space expects.
        new = [
            np.r_[: corners[0], sum(corners) : sum(corners) + nodes[0] - corners[0]],
            np.r_[corners[0] : sum(corners), sum(corners) + nodes[0] - corners[0] : sum(nodes)],
        ]
        points = np.empty((sum(nodes), 3))
        for own, mesh in zip(new, meshes, strict=True):
            points[own] = mesh.nodes
        tets = np.vstack([own[mesh.tets] for own, mesh in zip(new, meshes, strict=True)])
        self._space = QuadraticSpace(MeshTet2(points.T, tets.T))
        assert np.array_equal(self._space.nodes, points)
        size = 3 * len(points)

        def placed(row: np.ndarray, which: int) -> csr_matrix:
            """A row (n,) of heights of one stack as a row of the whole."""
            full = np.zeros(size)
            full[3 * new[which] + 2] = row
            return csr_matrix(full)

        def mean(which: int, faces: np.ndarray) -> csr_matrix:
            weights = readings.face_weights(meshes[which].nodes, faces)
            return placed(weights / weights.sum(), which)

        rods = press.rods
        nuts = [[mean(w, meshes[w].faces[f"nut of {rod.name}"]) for rod in rods] for w in (0, 1)]
        self.rows = [up - down for up, down in zip(*nuts, strict=True)]
        self.springs = [rod.stiffness for rod in rods]
        for rod in rods:
            sectors = [_sectors(mesh, rod) for mesh in meshes]
            for up, down in zip(*sectors, strict=True):
                self.rows.append(mean(1, down) - mean(0, up))
                area = sum(readings.face_weights(meshes[0].nodes, up))
                share = area / sum(
                    readings.face_weights(meshes[0].nodes, meshes[0].faces[f"seat of {rod.name}"])
                )
                self.springs.append(share * rod.material.young * rod.sleeve_area / rod.between)
        held, ground = [], sum(self.springs)
        for which, mesh in enumerate(meshes):
            still = loads.supports(mesh, rods).rest.rows
            wide = np.repeat(3 * new[which], 3) + np.tile([0, 1, 2], len(new[which]))
            spread = csr_matrix(
                (np.ones(len(wide)), (np.arange(len(wide)), wide)), shape=(len(wide), size)
            )
            # The crosshead must not slide or turn; the bed must not rise nor tip either.
            held.append((still if which else still[:3]) @ spread)
        self._held = csr_matrix(vstack(held))
        self._hold = np.full(self._held.shape[0], ground)
        young, poisson = rods[0].material.young, rods[0].material.poisson
        self._matrix = self._space.stiffness(young, poisson)
        density = np.zeros((len(tets), 3))
        plates = press.crosshead.plates
        density[: len(meshes[0].tets), 2] = (
            -GRAVITY * np.array([plate.material.density for plate in plates])[meshes[0].plate]
        )
        self._weight = body_force(self._space, density).ravel()
        pairs = [
            FacePair(pair.name, own[pair.lower], own[pair.upper], pair.axis)
            for own, (_, found) in zip(new, opened, strict=True)
            for pair in found
        ]
        self._faces = _faces(press, points, pairs) if pairs else None
        self._found: Contact | None = None
        self.count = len(rods)
        self.advance = np.zeros(len(self.springs))
        self.tight: set[int] = set()
        self._active = np.ones(len(self.springs), dtype=bool)
        self.squeezed = np.zeros(self.count)
        """Force (N) in the sleeve of each rod, in the last state."""
        self.solves = 0

    def loosen(self) -> None:
        """Take all nuts off again, and forget how the plates have slid."""
        self.tight, self.advance = set(), np.zeros(len(self.springs))
        self._found = None

    def pull(self, rods: tuple[int, ...], forces: tuple[float, ...]) -> np.ndarray:
        """Bring rods to given forces (N), as jacks do, and run their nuts down; forces of all.

        The nut takes over what the jack held, and nothing moves.
        """
        pulled = dict(zip(rods, forces, strict=True))
        now, u = self._state(set(rods), pulled)
        for rod, force in pulled.items():
            self.advance[rod] = force / self.springs[rod] - float((self.rows[rod] @ u)[0])
            self._active[rod] = True
        self.tight |= set(rods)
        return now

    def _state(
        self, without: set[int], pulled: dict[int, float] | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Solve until the springs at work are those that the solution asks for."""
        usable = np.array([i >= self.count or (i in self.tight and i not in without)
                           for i in range(len(self.springs))])  # fmt: skip
        active = self._active & usable
        load = self._weight.copy()
        for rod, force in (pulled or {}).items():
            load -= force * self.rows[rod].toarray().ravel()
        for _ in range(30):
            on = np.flatnonzero(active)
            springs = np.array(self.springs)[on]
            rows = vstack([*(self.rows[i] for i in on), self._held])
            ties = Ties(csr_matrix(rows), np.concatenate([springs, self._hold]))
            system = System(self._matrix, np.zeros((len(load) // 3, 3), dtype=bool), ties)
            own = load - ties.rows[: len(on)].T @ (springs * self.advance[on])
            u, found = self._solved(system, own)
            if found and self._faces and not self._faces.friction.any():
                self._found = found  # Without friction nothing is remembered: a nearer start.
            stretch = np.array([float((row @ u)[0]) for row in self.rows]) + self.advance
            wanted = usable & (stretch > 0)
            if (wanted == active).all():
                self._active, self._found = active, found
                forces = np.where(active, self.springs * stretch, 0.0)
                self.squeezed = forces[self.count :].reshape(self.count, -1).sum(axis=1)
                forces = forces[: self.count]
                for rod, force in (pulled or {}).items():
                    forces[rod] = force
                return forces, u
            active = wanted
        raise AssertionError("the springs at work do not settle")

    def _solved(self, system: System, load: np.ndarray) -> tuple[np.ndarray, Contact | None]:
        """Displacements under a load, and what it leaves for the next to remember."""
        self.solves += 1
        if self._faces is None:
            return solvers.solver(system, self._space).solve(load).displacement, None
        found = contact.solve(
            system, self._space, self._faces, load, tol=TOLERANCE, before=self._found
        )
        return found.displacement, found


def _faces(press: Press, points: np.ndarray, pairs: list[FacePair]) -> Interfaces:
    """Interfaces of all stacks of several plates, which must be of one kind."""
    bed = press.bed
    several = [one for one in press.stacks if len(one.plates) > 1]
    assert {(one.interface, one.friction, one.gap) for one in several} == {
        (bed.interface, bed.friction, bed.gap)
    }
    friction = bed.friction if bed.interface == "clamped" else 0.0
    thinnest = min(plate.thickness for one in press.stacks for plate in one.plates)
    penalty = contact.STIFFNESS * bed.plates[0].material.young / thinnest
    return Interfaces.of(points, tuple(pairs), friction, bed.gap.uniform, penalty)


def _sectors(mesh, rod) -> list[np.ndarray]:
    """Faces of a sleeve's seat, by the angle at which they lie about the rod."""
    faces = mesh.faces[f"seat of {rod.name}"]
    x, y = (mesh.nodes[faces[:, :3]].mean(axis=1)[:, :2] - rod.at).T
    turn = np.floor((np.arctan2(y, x) / (2 * np.pi) % 1) * SECTORS).astype(int)
    return [faces[turn == sector] for sector in range(SECTORS)]
