"""Compiled loops of the assembly, by rows: no two threads write the same block.

Every row of the matrix visits the elements around its node. The elements' blocks are computed
once for each of their nodes, which is cheaper than to store or to hand them over.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from platestack.fea.support.parallel import kernel

IntArray = npt.NDArray[np.int32]
Array = npt.NDArray[Any]


def around(cells: IntArray, count: int) -> tuple[IntArray, IntArray]:
    """Elements around each of `count` nodes, as offsets and ``10 * element + local node``."""
    offsets = np.zeros(count + 1, dtype=np.int32)
    slots = np.empty(cells.size, dtype=np.int32)
    _sort_by_node(cells.ravel(), offsets, slots)
    return offsets, slots


@kernel
def _sort_by_node(nodes: Array, offsets: Array, slots: Array) -> None:
    for node in nodes:
        offsets[node + 1] += 1
    for i in range(1, len(offsets)):
        offsets[i] += offsets[i - 1]
    place = offsets[:-1].copy()
    for slot in range(len(nodes)):
        slots[place[nodes[slot]]] = slot
        place[nodes[slot]] += 1


@kernel
def count_neighbours(
    start: int, stop: int, offsets: Array, slots: Array, cells: Array, counts: Array
) -> None:
    """Number of nodes that share an element with node a, in ``counts[a + 1]``."""
    seen = np.full(len(offsets), -1, dtype=np.int32)
    for a in range(start, stop):
        count = 0
        for slot in slots[offsets[a] : offsets[a + 1]]:
            for b in cells[slot // 10]:
                if seen[b] != a:
                    seen[b] = a
                    count += 1
        counts[a + 1] = count


@kernel
def list_neighbours(
    start: int, stop: int, offsets: Array, slots: Array, cells: Array, indptr: Array, indices: Array
) -> None:
    """Sorted neighbours of each node."""
    seen = np.full(len(offsets), -1, dtype=np.int32)
    for a in range(start, stop):
        end = indptr[a]
        for slot in slots[offsets[a] : offsets[a + 1]]:
            for b in cells[slot // 10]:
                if seen[b] != a:
                    seen[b] = a
                    # Insertion sort: rows are short.
                    place = end
                    while place > indptr[a] and indices[place - 1] > b:
                        indices[place] = indices[place - 1]
                        place -= 1
                    indices[place] = b
                    end += 1


@kernel
def add_straight(
    start: int,
    stop: int,
    offsets: Array,
    slots: Array,
    cells: Array,
    metric: Array,
    lam: Array,
    mu: Array,
    reference: Array,
    indptr: Array,
    indices: Array,
    data: Array,
) -> None:
    """Add the straight elements to rows start..stop.

    metric (m, 3, 3): dX_p/dx_i as [p, i]; lam, mu (m,): Lame's parameters times the volume, zero
    for elements to be left out; reference (10, 10, 3, 3).
    """
    where = np.empty(len(offsets), dtype=np.int32)
    t = np.empty((3, 3))
    g = np.empty((3, 3))
    for a in range(start, stop):
        for k in range(indptr[a], indptr[a + 1]):
            where[indices[k]] = k
        for slot in slots[offsets[a] : offsets[a + 1]]:
            e = slot // 10
            if mu[e] == 0.0:
                continue
            local = slot - 10 * e
            m = metric[e]
            for b in range(10):
                r = reference[local, b]
                for p in range(3):
                    for j in range(3):
                        t[p, j] = r[p, 0] * m[0, j] + r[p, 1] * m[1, j] + r[p, 2] * m[2, j]
                for i in range(3):
                    for j in range(3):
                        g[i, j] = m[0, i] * t[0, j] + m[1, i] * t[1, j] + m[2, i] * t[2, j]
                block = data[where[cells[e, b]]]
                shear = mu[e] * (g[0, 0] + g[1, 1] + g[2, 2])
                for i in range(3):
                    for j in range(3):
                        block[i, j] += lam[e] * g[i, j] + mu[e] * g[j, i]
                    block[i, i] += shear


@kernel
def add_curved(
    curved: Array,
    cells: Array,
    nodes: Array,
    lam: Array,
    mu: Array,
    gradients: Array,
    weights: Array,
    indptr: Array,
    indices: Array,
    data: Array,
) -> None:
    """Add the `curved` elements by quadrature; gradients (q, 10, 3) on the reference element."""
    jac = np.empty((3, 3))
    inv = np.empty((3, 3))
    grad = np.empty((10, 3))
    g = np.empty((10, 10, 3, 3))
    for e in curved:
        g[:] = 0.0
        for q in range(len(weights)):
            jac[:] = 0.0
            for a in range(10):
                for i in range(3):
                    for p in range(3):
                        jac[i, p] += nodes[cells[e, a], i] * gradients[q, a, p]
            for p in range(3):
                for i in range(3):
                    # Cofactors, by cyclic indices.
                    i1, i2, p1, p2 = (i + 1) % 3, (i + 2) % 3, (p + 1) % 3, (p + 2) % 3
                    inv[p, i] = jac[i1, p1] * jac[i2, p2] - jac[i1, p2] * jac[i2, p1]
            det = jac[0, 0] * inv[0, 0] + jac[0, 1] * inv[1, 0] + jac[0, 2] * inv[2, 0]
            for a in range(10):
                for i in range(3):
                    grad[a, i] = (
                        gradients[q, a, 0] * inv[0, i]
                        + gradients[q, a, 1] * inv[1, i]
                        + gradients[q, a, 2] * inv[2, i]
                    ) / det
            scale = weights[q] * abs(det)
            for a in range(10):
                for b in range(10):
                    for i in range(3):
                        for j in range(3):
                            g[a, b, i, j] += scale * grad[a, i] * grad[b, j]
        for a in range(10):
            row = cells[e, a]
            for b in range(10):
                first, last = indptr[row], indptr[row + 1]
                k = first + np.searchsorted(indices[first:last], cells[e, b])
                shear = mu[e] * (g[a, b, 0, 0] + g[a, b, 1, 1] + g[a, b, 2, 2])
                for i in range(3):
                    for j in range(3):
                        data[k, i, j] += lam[e] * g[a, b, i, j] + mu[e] * g[a, b, j, i]
                    data[k, i, i] += shear
