"""The mesh of a stack as data: quadratic tetrahedra with named plates and named faces.

How fine its mesh should be, and how good a mesh is, are decided here; `geometry.mesher` makes it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platestack.geometry.parts import Stack, TieRod
from platestack.geometry.symmetry import Symmetry

EDGES = np.array([[0, 1], [1, 2], [0, 2], [0, 3], [1, 3], [2, 3]])
"""Corner pairs of the edge nodes 4 to 9, the order of VTK and of scikit-fem."""


@dataclass(frozen=True)
class Quality:
    """Shape of the elements: 1 for the regular tetrahedron, 0 for a flat one."""

    worst: float
    mean: float
    least_jacobian: float
    """Least Jacobian determinant over that of the straight element; negative where inverted."""


@dataclass(frozen=True)
class StackMesh:
    """Mesh of a stack, or of the half or quarter that its symmetry leaves.

    Attributes
    ----------
    nodes : (n, 3) coordinates in m, corners and edge nodes.
    tets : (m, 10) node numbers, corners first, then edge nodes in the order of `EDGES`.
    plate : (m,) index of each element's plate in `plate_names`.
    faces : named sets of element faces, each (k, 6), corners first: the loaded patch ("ram" or
        "workpiece"), "nut of rod 1", "seat of rod 1" (where it has one), "symmetry x",
        "symmetry y", "plate 1 | plate 2" (interface). Where a pad covers one of the stack's loaded
        areas, such as "nut of rod 1", the force acts on the pad's far face, "outside nut of rod 1".
    symmetry : mirror planes used.
    pads : how many of `plate_names`, the last ones, are washers or the cylinder's end.
    """

    nodes: np.ndarray
    tets: np.ndarray
    plate: np.ndarray
    plate_names: tuple[str, ...]
    faces: dict[str, np.ndarray]
    symmetry: Symmetry
    quality: Quality
    seconds: float
    pads: int = 0

    @property
    def share(self) -> int:
        """How many times the model fits into the whole stack: 1, 2 or 4."""
        return int(2 ** len(self.symmetry))

    @property
    def unknowns(self) -> int:
        """Displacement unknowns."""
        return 3 * len(self.nodes)

    @property
    def of_plates(self) -> np.ndarray:
        """Which elements (m,) are of plates and not of pads on them."""
        return np.asarray(self.plate < len(self.plate_names) - self.pads)

    def pressed(self, area: str) -> np.ndarray:
        """Faces (k, 6) on which the force at an area of the stack acts: the pad's, where one is."""
        return self.faces.get(f"outside {area}", self.faces[area])

    @property
    def interfaces(self) -> tuple[str, ...]:
        """Names of the faces where two plates, or a plate and a pad, meet."""
        return tuple(name for name in self.faces if " | " in name)


@dataclass(frozen=True)
class Sizes:
    """Element sizes (m): `body` away from features; divisions at rims, rings and patches."""

    body: float
    round_divisions: int = 20
    ring_divisions: int = 4
    patch_divisions: int = 10
    growth: float = 0.45
    """Growth of the size with distance from a feature."""

    @property
    def least(self) -> float:
        """Smallest size (m), against runaway refinement at tiny features."""
        return self.body / 30


@dataclass(frozen=True)
class SizeField:
    """Wanted element sizes over an earlier mesh: (n, 3) points, (m, 4) elements, (n,) sizes (m)."""

    points: np.ndarray
    tets: np.ndarray
    sizes: np.ndarray


def default_sizes(stack: Stack, rods: tuple[TieRod, ...], wish: float | None = None) -> Sizes:
    """Sizes for a stack: as wished, else from its thinnest plate, kept within the span's scale."""
    if wish is not None:
        return Sizes(wish)
    xs = [rod.at[0] for rod in rods]
    span = max(xs) - min(xs)
    thinnest = min(plate.thickness for plate in stack.main_plates)
    return Sizes(float(np.clip(0.75 * thinnest, span / 30, span / 12)))


def quality(nodes: np.ndarray, tets: np.ndarray) -> Quality:
    """Shape quality and least scaled Jacobian of quadratic tetrahedra.

    The shape measure is the mean ratio 12 (3 V)^(2/3) / Σ l² over the straight element (Liu & Joe,
    BIT 34 (1994) 268).
    """
    volume = _volumes(nodes, tets)
    ends = nodes[tets[:, EDGES]]
    squares = ((ends[:, :, 1] - ends[:, :, 0]) ** 2).sum(axis=(1, 2))
    shape = np.sign(volume) * 12 * (3 * np.abs(volume)) ** (2 / 3) / squares
    least = float(scaled_jacobians(nodes, tets).min())
    return Quality(float(shape.min()), float(shape.mean()), least)


def scaled_jacobians(nodes: np.ndarray, tets: np.ndarray) -> np.ndarray:
    """Least Jacobian determinant of each element over that of its straight twin, (m,).

    Taken at corners, edge nodes and the centre; 1 for a straight element, negative for one turned
    inside out.
    """
    straight = 6 * _volumes(nodes, tets)
    least = np.full(len(tets), np.inf)
    x = nodes[tets]
    for gradient in _gradients():
        least = np.minimum(least, np.linalg.det(np.einsum("kd,mkj->mdj", gradient, x)))
    return np.where(straight > 0, least / np.where(straight > 0, straight, 1.0), -1.0)


def _volumes(nodes: np.ndarray, tets: np.ndarray) -> np.ndarray:
    """Signed volumes of the straight elements (m,), m³."""
    x = nodes[tets[:, :4]]
    return np.linalg.det(x[:, 1:] - x[:, :1]) / 6


def _gradients() -> np.ndarray:
    """Gradients of the ten shape functions at eleven points of the reference element."""
    corners = np.vstack([np.zeros(3), np.eye(3)])
    points = np.vstack([corners, corners[EDGES].mean(axis=1), corners.mean(axis=0)])
    slopes = np.vstack([-np.ones(3), np.eye(3)])
    gradients = []
    for point in points:
        bary = np.array([1 - point.sum(), *point])
        rows = [(4 * bary[i] - 1) * slopes[i] for i in range(4)]
        rows += [4 * (bary[i] * slopes[j] + bary[j] * slopes[i]) for i, j in EDGES]
        gradients.append(rows)
    return np.array(gradients)
