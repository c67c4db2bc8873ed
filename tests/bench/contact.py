"""Stacks that may part against the welded one: ``python -m tests.bench.contact``.

The model problem with its four interfaces opened: loose under the ram's force; clamped with
friction, tightened by paired forces on the rod's annuli and then pressed. Each is compared with
set-up and solution of the welded stack, to 1e-8 on the same mesh before it is split.
"""

import argparse
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree
from skfem import MeshTet2

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System, Ties
from platestack.fea.solid import contact
from platestack.fea.solid.contact import Contact, Interfaces
from platestack.geometry.mesh import StackMesh, quality
from platestack.geometry.split import split
from tests.bench.measure import MESHES, alternate, table
from tests.bench.model import POISSON, YOUNG, Crosshead, cached, face_weights, problem

FloatArray = npt.NDArray[np.float64]

THICKNESS = 0.08
FRICTION = 0.2
PRELOAD = 800e3
"""Of each rod [N], 1.3 times its share of the ram's force."""

FACES = np.array([[0, 1, 2, 4, 5, 6], [0, 1, 3, 4, 8, 7], [0, 2, 3, 6, 9, 7], [1, 2, 3, 5, 9, 8]])
"""Local nodes of an element's faces: corners, then mid-edge nodes in the same sense."""


@dataclass(frozen=True)
class Problem:
    """A system with its load [N] and with the forces by which the rods are tightened."""

    system: System
    space: QuadraticSpace
    load: FloatArray
    tightening: FloatArray


def welded(case: Crosshead) -> Problem:
    """The stack in one piece."""
    space = QuadraticSpace(case.mesh)
    system, load = problem(case, space)
    forces = np.zeros((len(space.nodes), 3))
    for faces, sign in ((case.nut, -1), (case.seat, 1)):
        weights = face_weights(space, case.mesh, faces)
        forces[:, 2] += sign * PRELOAD * weights / weights.sum()
    return Problem(system, space, load, forces.ravel())


def stack_mesh(space: QuadraticSpace) -> StackMesh:
    """The mesh as data, with its interfaces."""
    height = space.nodes[space.cells[:, :4], 2].mean(axis=1)
    plate = (height / THICKNESS).astype(int)
    names = tuple(f"plate {i + 1}" for i in range(plate.max() + 1))
    faces = {}
    for i, (lower, upper) in enumerate(pairwise(names)):
        own = space.cells[plate == i][:, FACES].reshape(-1, 6)
        level = np.abs(space.nodes[own[:, :3], 2] - (i + 1) * THICKNESS).max(axis=1)
        faces[f"{lower} | {upper}"] = own[level < 1e-9]
    shape = quality(space.nodes, space.cells)
    return StackMesh(space.nodes, space.cells, plate, names, faces, frozenset(), shape, 0.0)


def parted(whole: Problem) -> tuple[Problem, dict[str, Interfaces]]:
    """The same stack in five pieces, and its interfaces as they are when loose and clamped."""
    before = stack_mesh(whole.space)
    mesh, pairs = split(before, before.interfaces)
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    # What acts on the outer faces, and the mirrors, go over by place.
    old = cKDTree(before.nodes).query(space.nodes)[1]
    component = (3 * old[:, None] + np.arange(3)).ravel()
    ties = whole.system.free_ties
    system = System(
        space.stiffness(YOUNG, POISSON),
        whole.system.fixed[old],
        Ties(ties.rows[:, component], ties.stiffness),
    )
    penalty = contact.STIFFNESS * YOUNG / THICKNESS
    faces = {
        kind: Interfaces.of(space.nodes, pairs, friction, 0.0, penalty)
        for kind, friction in (("loose", 0.0), ("clamped", FRICTION))
    }
    return Problem(system, space, whole.load[component], whole.tightening[component]), faces


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=float, default=0.0235, help="element size [m]")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--steps", action="store_true", help="only once, telling of each step")
    args = parser.parse_args()
    whole = welded(cached(args.size, MESHES, seated=True))
    apart, faces = parted(whole)
    print(f"{whole.system.size:,} unknowns welded, {apart.system.size:,} apart")
    tell = print if args.steps else lambda words: None
    found: dict[str, list[Contact]] = {}

    def one_piece() -> None:
        solvers.multigrid(whole.system, whole.space).solve(whole.load)

    def solved(kind: str, loads: list[FloatArray]) -> None:
        steps: list[Contact] = []
        for load in loads:
            before = steps[-1] if steps else None
            steps.append(
                contact.solve(
                    apart.system, apart.space, faces[kind], load, before=before, progress=tell
                )
            )
        found[kind] = steps

    ways = {
        "welded": one_piece,
        "loose": lambda: solved("loose", [apart.load]),
        "clamped: preload, press": lambda: solved(
            "clamped", [apart.tightening, apart.tightening + apart.load]
        ),
    }
    if args.steps:
        for way in ways.values():
            way()
    else:
        print(table(alternate(ways, args.repeats), "welded"))
    for kind, steps in found.items():
        for number, step in enumerate(steps, 1):
            closed = float((faces[kind].area * step.state.closed).sum() / faces[kind].area.sum())
            print(
                f"{kind}, load {number}: {step.iterations} iterations, "
                f"{step.changes} changes of the cycle, {step.updates} updates, "
                f"residual {step.residual:.1e}, {closed:.0%} closed, "
                f"complementarity error {step.complementarity:.1e}"
            )


if __name__ == "__main__":
    main()
