"""Matching faces of plates that may part: the jump of displacement across them, and its forces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from scipy.sparse import bsr_matrix, csr_matrix

from platestack.fea.solid import readings
from platestack.geometry.split import FacePair

VALUES = readings.TRIANGLE_VALUES
"""Six shape functions at the quadrature points, (q, 6)."""

FROM_POINTS = np.linalg.inv(VALUES)
"""Values at the six nodes of the quadratic function given at the points, (6, q)."""

Gap = Callable[[np.ndarray], np.ndarray]
"""An initial gap (m): places (..., 3) to lengths (...)."""


@dataclass(frozen=True)
class Interfaces:
    """All opened interfaces of a stack as one set of face pairs.

    Attributes
    ----------
    lower, upper : (k, 6) matching nodes. places : (k, 6, 3) where they are (m).
    area : (k, q) area that each quadrature point stands for (m²).
    normal : (k, 3) unit normal from lower to upper; tangents : (k, 2, 3).
    friction : (k,) coefficients. gap : (k, 6) initial gap at the nodes (m).
    owner : (k,) number of the interface in `names`.
    penalty : normal stiffness ε (N/m³).
    """

    names: tuple[str, ...]
    lower: np.ndarray
    upper: np.ndarray
    places: np.ndarray
    area: np.ndarray
    normal: np.ndarray
    tangents: np.ndarray
    friction: np.ndarray
    gap: np.ndarray
    owner: np.ndarray
    penalty: float
    size: int

    @classmethod
    def of(
        cls,
        nodes: np.ndarray,
        pairs: tuple[FacePair, ...],
        friction: float | Sequence[float],
        gap: float | np.ndarray | Gap,
        penalty: float,
    ) -> Interfaces:
        """Gather face pairs of flat interfaces.

        `friction` is one coefficient, or one for each of `pairs`; `gap` the initial gap (m): one
        value, one at each node (k, 6), or a function of places (..., 3).
        """
        lower = np.concatenate([pair.lower for pair in pairs])
        upper = np.concatenate([pair.upper for pair in pairs])
        counts = [len(pair.lower) for pair in pairs]
        axis = np.repeat([pair.axis for pair in pairs], counts)
        normal, tangents = _frames(nodes[lower[:, :3]], axis)
        given = gap(nodes[lower]) if callable(gap) else np.broadcast_to(gap, lower.shape)
        return cls(
            tuple(pair.name for pair in pairs),
            lower,
            upper,
            nodes[lower],
            readings.point_areas(nodes, lower),
            normal,
            tangents,
            np.repeat(np.broadcast_to(friction, len(pairs)), counts),
            np.array(given, dtype=float),
            np.repeat(np.arange(len(pairs)), counts),
            penalty,
            len(nodes),
        )

    def jump(self, u: np.ndarray) -> np.ndarray:
        """Displacement of the upper less that of the lower side at the nodes, (k, 6, 3) in m."""
        nodal = u.reshape(-1, 3)
        return np.asarray(nodal[self.upper] - nodal[self.lower])

    def forces(self, traction: np.ndarray) -> np.ndarray:
        """Nodal forces (3n,) of tractions (k, q, 3) on the lower side and their opposite above."""
        local = VALUES.T @ (self.area[:, :, None] * traction)
        result = np.empty((self.size, 3))
        for c in range(3):
            part = local[:, :, c].ravel()
            result[:, c] = np.bincount(self.lower.ravel(), part, self.size)
            result[:, c] -= np.bincount(self.upper.ravel(), part, self.size)
        return result.ravel()

    def averaged(self, values: np.ndarray, chosen: np.ndarray) -> np.ndarray:
        """Values (k, q, ...) of the `chosen` (k,) faces at their nodes, as means over the faces.

        Continuous quadratic functions given by (k, 6, ...), zero at nodes of no such face; what is
        one already stays as it is.
        """
        own = np.einsum("aq,kq...->ka...", FROM_POINTS, values[chosen])
        weights = np.repeat(self.area[chosen].sum(axis=1), 6)
        node = self.lower[chosen].ravel()
        total = np.bincount(node, weights, self.size)
        parts = own.reshape(len(node), int(np.prod(values.shape[2:])))
        sums = [np.bincount(node, weights * part, self.size) for part in parts.T]
        mean = np.stack(sums, axis=1) / np.where(total > 0, total, 1.0)[:, None]
        return mean[self.lower].reshape(*self.lower.shape, *values.shape[2:])

    @cached_property
    def frame(self) -> np.ndarray:
        """Normal and tangents as the rows of (k, 3, 3)."""
        return np.concatenate([self.normal[:, None], self.tangents], axis=1)

    def chosen(self, which: np.ndarray) -> Interfaces:
        """The faces marked in `which` (k,) alone."""
        own = {
            field.name: getattr(self, field.name)[which]
            for field in fields(self)
            if isinstance(getattr(self, field.name), np.ndarray)
        }
        return replace(self, **own)

    def springs(self, slope: np.ndarray) -> bsr_matrix:
        """Block matrix of slopes (k, q, 3, 3) of the traction in the faces' frames, in N/m³."""
        frame = self.frame[:, None]
        return self.stiffness(frame.transpose(0, 1, 3, 2) @ slope @ frame)

    def stiffness(self, tangent: np.ndarray) -> bsr_matrix:
        """Block matrix of tangents (k, q, 3, 3), force by jump, in N/m³."""
        weights = (self.area[:, :, None] * tangent.reshape(*self.area.shape, 9)).transpose(0, 2, 1)
        products = np.einsum("qa,qb->qab", VALUES, VALUES).reshape(len(VALUES), 36)
        local = (weights @ products).transpose(0, 2, 1).reshape(-1, 9)
        data = (self._pattern.gather @ local).reshape(-1, 3, 3)
        shape = (3 * self.size, 3 * self.size)
        return bsr_matrix((data, self._pattern.indices, self._pattern.indptr), shape=shape)

    @cached_property
    def _pattern(self) -> _Pattern:
        lower, upper = (np.repeat(side, 6, axis=1).ravel() for side in (self.lower, self.upper))
        below, above = (np.tile(side, (1, 6)).ravel() for side in (self.lower, self.upper))
        rows = np.concatenate([lower, upper, lower, upper])
        columns = np.concatenate([below, above, above, below])
        return _Pattern.of(rows, columns, np.repeat([1.0, -1.0], 2 * lower.size), self.size)


def at_points(nodal: np.ndarray) -> np.ndarray:
    """Values (k, q, ...) at the quadrature points of quadratic functions given by (k, 6, ...)."""
    return nodal @ VALUES.T if nodal.ndim == 2 else VALUES @ nodal


def _frames(corners: np.ndarray, axis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (k, 3) with a positive component along `axis`, and tangents (k, 2, 3)."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal *= np.sign(np.take_along_axis(normal, axis[:, None], 1))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    first = np.eye(3)[(axis + 1) % 3]
    first -= (first * normal).sum(axis=1, keepdims=True) * normal
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return normal, np.stack([first, np.cross(normal, first)], axis=1)


@dataclass(frozen=True)
class _Pattern:
    """Block pattern of an interface matrix, and the sum of its contributions."""

    indptr: np.ndarray
    indices: np.ndarray
    gather: csr_matrix

    @classmethod
    def of(cls, rows: np.ndarray, columns: np.ndarray, sign: np.ndarray, size: int) -> _Pattern:
        """Pattern of signed contributions at rows and columns (4e,): all e of each part in turn."""
        unique, inverse = np.unique(rows.astype(np.int64) * size + columns, return_inverse=True)
        every = np.tile(np.arange(len(rows) // 4), 4)
        shape = (len(unique), len(rows) // 4)
        gather = csr_matrix((sign, (inverse, every)), shape=shape)
        row, column = np.divmod(unique, size)
        return cls(np.searchsorted(row, np.arange(size + 1)), column, gather)
