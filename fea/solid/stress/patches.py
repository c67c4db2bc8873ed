"""Superconvergent patch recovery: a smooth stress from that of the elements.

Around every vertex a quadratic polynomial is fitted by least squares to the stress at the four
points of each element where it is most accurate; vertex values come from the own fit, edge nodes
from the fits at both ends (Zienkiewicz & Zhu, Int. J. Numer. Meth. Engng 33 (1992) 1331 and 1365).
A vertex with too few elements for a fit of its own is given the mean of its neighbours' fits, which
at surfaces is better than a fit to a wider patch.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from platestack.fea.numerics.assembly import around
from platestack.fea.support.parallel import even, kernel, run
from platestack.geometry.mesh import EDGES

_A, _B = (5 + 3 * np.sqrt(5)) / 20, (5 - np.sqrt(5)) / 20
SAMPLES = np.full((4, 3), _B) + (_A - _B) * np.vstack([np.zeros(3), np.eye(3)])
"""Reference coordinates of the four Gauss points of degree 2, (4, 3)."""

LEAST = 7
"""Elements a vertex needs for a fit of its own: 28 samples for 10 coefficients."""


def recovered(
    nodes: np.ndarray, cells: np.ndarray, points: np.ndarray, values: np.ndarray
) -> np.ndarray:
    """Smooth element values over the nodes.

    Parameters
    ----------
    nodes : (n, 3) coordinates (m).
    cells : (m, 10) nodes of each element; what does not share nodes is not smoothed together.
    points : (m, 4, 3) coordinates of the samples (m).
    values : (m, 4, c) values there.

    Returns
    -------
    (n, c) smoothed values.
    """
    width = values.shape[2]
    offsets, slots = around(cells.astype(np.int32), len(nodes))
    fits = np.zeros((len(nodes), 10, width))
    sizes = np.zeros(len(nodes))
    run(_fit, even(len(nodes)), offsets, slots, nodes, points, values, fits, sizes)
    result = fits[:, 0].copy()
    middles = cells[:, 4:]
    unique, first = np.unique(middles, return_index=True)
    ends = cells[:, EDGES].reshape(-1, 2)[first]
    fitted = sizes > 0
    homeless = np.zeros(len(nodes), dtype=bool)
    homeless[cells[:, :4]] = ~fitted[cells[:, :4]]
    homeless[unique] = ~fitted[ends].any(axis=1)
    between = ~homeless[unique]
    result[unique[between]] = _mean_of_ends(
        nodes[unique[between]], ends[between], nodes, fits, sizes
    )
    if homeless.any():
        lost = _borrow(nodes, cells, fits, sizes, homeless, result)
        if len(lost):
            _rescue(nodes, cells, points, values, fits, sizes, lost, result)
    return result


def _mean_of_ends(
    at: np.ndarray, ends: np.ndarray, nodes: np.ndarray, fits: np.ndarray, sizes: np.ndarray
) -> np.ndarray:
    """Value at edge nodes from the fits at both ends, or at the one that has a fit."""
    total = np.zeros((len(at), fits.shape[2]))
    weight = np.zeros(len(at))
    for end in ends.T:
        good = sizes[end] > 0
        total[good] += _evaluate(fits, sizes, end[good], nodes, at[good])
        weight += good
    return np.asarray(total / weight[:, None])


def _borrow(
    nodes: np.ndarray,
    cells: np.ndarray,
    fits: np.ndarray,
    sizes: np.ndarray,
    homeless: np.ndarray,
    result: np.ndarray,
) -> np.ndarray:
    """Give nodes without a fit at hand the mean of what fits in their elements say there.

    Returns those that have none there either.
    """
    element, mine = np.nonzero(homeless[cells])
    total = np.zeros((len(nodes), fits.shape[2]))
    count = np.zeros(len(nodes))
    target = cells[element, mine]
    for corner in range(4):
        source = cells[element, corner]
        good = sizes[source] > 0
        value = _evaluate(fits, sizes, source[good], nodes, nodes[target[good]])
        for c in range(fits.shape[2]):
            total[:, c] += np.bincount(target[good], value[:, c], len(nodes))
        count += np.bincount(target[good], minlength=len(nodes))
    found = np.flatnonzero(count > 0)
    result[found] = total[found] / count[found, None]
    return np.setdiff1d(target, found)


def _rescue(
    nodes: np.ndarray,
    cells: np.ndarray,
    points: np.ndarray,
    values: np.ndarray,
    fits: np.ndarray,
    sizes: np.ndarray,
    lost: np.ndarray,
    result: np.ndarray,
) -> None:
    """Give `lost` nodes what the nearest fit of their body says.

    A body so small that it has none gets one fit to all its samples, of first degree where they do
    not determine one of second.
    """
    body = _bodies(nodes, cells)
    for index in np.unique(body[lost]):
        mine = lost[body[lost] == index]
        fitted = np.flatnonzero((body == index) & (sizes > 0))
        if len(fitted):
            nearest = fitted[cKDTree(nodes[fitted]).query(nodes[mine])[1]]
            result[mine] = _evaluate(fits, sizes, nearest, nodes, nodes[mine])
            continue
        own = body[cells[:, 0]] == index
        at, value = points[own].reshape(-1, 3), values[own].reshape(-1, values.shape[2])
        middle, size = at.mean(axis=0), np.ptp(at)
        basis = _basis((at - middle) / size)
        terms = 10 if np.linalg.matrix_rank(basis, rtol=1e-6) == 10 else 4
        fit = np.linalg.lstsq(basis[:, :terms], value)[0]
        result[mine] = _basis((nodes[mine] - middle) / size)[:, :terms] @ fit


def _bodies(nodes: np.ndarray, cells: np.ndarray) -> np.ndarray:
    """Number of the connected body that each node belongs to, (n,)."""
    links = np.column_stack([np.repeat(cells[:, 0], 9), cells[:, 1:].ravel()])
    graph = coo_matrix((np.ones(len(links)), links.T), shape=(len(nodes), len(nodes)))
    return np.asarray(connected_components(graph, directed=False)[1])


def _evaluate(
    fits: np.ndarray, sizes: np.ndarray, vertex: np.ndarray, nodes: np.ndarray, at: np.ndarray
) -> np.ndarray:
    """Polynomials of `vertex` (k,) at points (k, 3)."""
    basis = _basis((at - nodes[vertex]) / sizes[vertex, None])
    return np.einsum("kb,kbc->kc", basis, fits[vertex])


def _basis(at: np.ndarray) -> np.ndarray:
    """Monomials of degree up to 2 at points (k, 3): (k, 10)."""
    x, y, z = at.T
    return np.stack([np.ones_like(x), x, y, z, x * x, y * y, z * z, x * y, y * z, x * z], axis=1)


@kernel
def _fit(start, stop, offsets, slots, nodes, points, values, fits, sizes):  # type: ignore[no-untyped-def]
    """Fit polynomials at the vertices `start` to `stop`; where that fails, sizes stay zero."""
    width = values.shape[2]
    basis = np.empty(10)
    for v in range(start, stop):
        count = 0
        size = 0.0
        for k in range(offsets[v], offsets[v + 1]):
            if slots[k] % 10 < 4:
                count += 1
                cell = slots[k] // 10
                for q in range(4):
                    for i in range(3):
                        size = max(size, abs(points[cell, q, i] - nodes[v, i]))
        if count < LEAST:
            continue
        normal = np.zeros((10, 10))
        right = np.zeros((10, width))
        for k in range(offsets[v], offsets[v + 1]):
            cell = slots[k] // 10
            for q in range(4):
                x = (points[cell, q, 0] - nodes[v, 0]) / size
                y = (points[cell, q, 1] - nodes[v, 1]) / size
                z = (points[cell, q, 2] - nodes[v, 2]) / size
                basis[0], basis[1], basis[2], basis[3] = 1.0, x, y, z
                basis[4], basis[5], basis[6] = x * x, y * y, z * z
                basis[7], basis[8], basis[9] = x * y, y * z, x * z
                for a in range(10):
                    for b in range(a + 1):
                        normal[a, b] += basis[a] * basis[b]
                    for c in range(width):
                        right[a, c] += basis[a] * values[cell, q, c]
        if _solve(normal, right):
            sizes[v] = size
            fits[v] = right


@kernel
def _solve(normal, right):  # type: ignore[no-untyped-def]
    """Solve by Cholesky's factors in place; False where the fit is not determined."""
    n, width = right.shape
    for j in range(n):
        pivot = normal[j, j]
        whole = pivot
        for k in range(j):
            pivot -= normal[j, k] ** 2
        if pivot <= 1e-6 * whole:
            return False
        normal[j, j] = np.sqrt(pivot)
        for i in range(j + 1, n):
            for k in range(j):
                normal[i, j] -= normal[i, k] * normal[j, k]
            normal[i, j] /= normal[j, j]
    for c in range(width):
        for i in range(n):
            for k in range(i):
                right[i, c] -= normal[i, k] * right[k, c]
            right[i, c] /= normal[i, i]
        for i in range(n - 1, -1, -1):
            for k in range(i + 1, n):
                right[i, c] -= normal[k, i] * right[k, c]
            right[i, c] /= normal[i, i]
    return True
