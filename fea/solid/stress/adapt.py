"""Where to refine: element sizes that bring the estimated errors below those asked for.

For quadratic elements a goal-oriented contribution falls with the fourth power of the element
size at a fixed place. Least elements for a given error then means sizes in proportion to the
contribution's power −1/7 (minimise Σ s⁻³ subject to Σ η s⁴ = T).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from platestack.fea.solid.stress.estimate import Estimate
from platestack.geometry.mesh import EDGES, SizeField, StackMesh

FINEST, COARSEST = 0.35, 1.6
"""Least and greatest change of the size in one pass."""

TARGET = 0.3
"""Part of the allowed error that a pass aims at. At re-entrant edges errors fall more slowly than
with the fourth power, and a pass that falls short costs more than one that goes too far."""

AIM = 0.7
"""Part of the allowed error that is aimed at where it falls no faster than the size."""

GROWTH = 1.6
"""Least growth of the unknowns to aim at; meshes have up to a quarter fewer than is expected."""

GRADE = 0.5
"""Greatest growth of the size with distance."""


@dataclass(frozen=True)
class Closer:
    """Elements within `reach` (m) of a place are to be `change` times their size at most.

    For what falls no faster than the size of elements, whatever the estimates say.
    """

    place: tuple[float, float, float]
    reach: float
    change: float


def wanted_sizes(
    mesh: StackMesh,
    goals: list[tuple[Estimate, float]],
    most_dofs: int,
    closer: Closer | None = None,
) -> SizeField:
    """Sizes for the next mesh, which has more unknowns than this one, as far as allowed.

    Parameters
    ----------
    mesh : the mesh the estimates were made on.
    goals : estimates, each with the error allowed for it.
    most_dofs : unknowns that the next mesh should not exceed.
    """
    share = np.zeros(len(mesh.tets))
    for goal, allowed in goals:
        parts = np.abs(goal.parts)
        # Contributions of both signs cancel in part, and a stated error holds more than their sum;
        # ask for what is stated, within reason.
        kept = max(goal.size / parts.sum(), 1 / 3)
        share = np.maximum(share, parts * kept / allowed)
    share = np.maximum(share, 1e-12 * share.max())
    scale = (TARGET / np.sum(share ** (3 / 7))) ** 0.25
    change = np.clip(scale * share ** (-1 / 7), FINEST, COARSEST)
    if closer is not None:
        middle = mesh.nodes[mesh.tets[:, :4]].mean(axis=1)
        near = np.linalg.norm(middle - closer.place, axis=1) < closer.reach
        change[near] = np.minimum(change[near], max(FINEST, closer.change))
    sizes = change * element_sizes(mesh)
    corners = mesh.tets[:, :4]
    count = int(corners.max()) + 1
    total = np.bincount(corners.ravel(), np.repeat(np.log(sizes), 4), count)
    nodal = np.exp(total / np.bincount(corners.ravel(), minlength=count))
    points = mesh.nodes[:count]
    nodal = graded(points, corners, nodal)
    nodal *= min(1.0, expected_unknowns(mesh, nodal) / (GROWTH * mesh.unknowns)) ** (1 / 3)
    nodal *= max(1.0, expected_unknowns(mesh, nodal) / most_dofs) ** (1 / 3)
    return SizeField(points, corners, nodal)


def finer(wanted: SizeField, made: int, before: int, most_dofs: int) -> SizeField:
    """Sizes in the same proportions, where a mesh made with `wanted` has no more unknowns.

    What the mesher makes of sizes that change over few elements is not known beforehand.
    """
    aim = min(GROWTH * before, most_dofs)
    return replace(wanted, sizes=wanted.sizes * min(1.0, made / aim) ** (1 / 3))


def expected_unknowns(mesh: StackMesh, sizes: np.ndarray) -> float:
    """Unknowns to expect of a mesh with sizes (n,) at the corner nodes of this one."""
    inside = sizes[mesh.tets[:, :4]].mean(axis=1)
    return float(np.sum((element_sizes(mesh) / inside) ** 3)) * mesh.unknowns / len(mesh.tets)


def element_sizes(mesh: StackMesh) -> np.ndarray:
    """Edge of the regular tetrahedron of the same volume, (m,) in m."""
    x = mesh.nodes[mesh.tets[:, :4]]
    volume = np.abs(np.linalg.det(x[:, 1:] - x[:, :1])) / 6
    return np.asarray((6 * np.sqrt(2) * volume) ** (1 / 3))


def graded(points: np.ndarray, tets: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """Lower sizes (n,) until they grow by no more than `GRADE` along any edge."""
    ends = np.unique(np.sort(tets[:, EDGES].reshape(-1, 2), axis=1), axis=0)
    step = GRADE * np.linalg.norm(points[ends[:, 0]] - points[ends[:, 1]], axis=1)
    sizes = sizes.copy()
    for _ in range(100):
        before = sizes.copy()
        for one, two in (ends.T, ends[:, ::-1].T):
            np.minimum.at(sizes, one, before[two] + step)
        if np.array_equal(sizes, before):
            break
    return sizes
