"""Sparse matrices of 3x3 blocks: products, products of three, smoothing, on several threads."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import bsr_matrix, csr_matrix

from platestack.fea.support.parallel import Ranges, even, kernel, ranges, run

Array = npt.NDArray[Any]
IntArray = npt.NDArray[np.int32]


@dataclass(frozen=True)
class Blocks:
    """A matrix of 3x3 blocks: offsets `indptr`, block columns `indices`, entries `data` (9 nnz,).

    The entries may be in single precision; rows need not be sorted.
    """

    indptr: IntArray
    indices: IntArray
    data: Array
    columns: int
    rows: Ranges

    @staticmethod
    def of(matrix: bsr_matrix, dtype: npt.DTypeLike = np.float64) -> "Blocks":
        """A view of a scipy matrix in 3x3 blocks, or its copy in another precision."""
        data = matrix.data.astype(dtype, copy=False).reshape(-1)
        indptr = matrix.indptr.astype(np.int32, copy=False)
        indices = matrix.indices.astype(np.int32, copy=False)
        return Blocks(indptr, indices, data, matrix.shape[1] // 3, ranges(indptr))

    @property
    def count(self) -> int:
        """Number of block rows."""
        return len(self.indptr) - 1

    def astype(self, dtype: npt.DTypeLike) -> "Blocks":
        """The matrix in another precision; itself if that is its own."""
        data = self.data.astype(dtype, copy=False)
        return Blocks(self.indptr, self.indices, data, self.columns, self.rows)

    def scipy(self) -> bsr_matrix:
        """The matrix as scipy's, sharing memory."""
        shape = (3 * self.count, 3 * self.columns)
        return bsr_matrix((self.data.reshape(-1, 3, 3), self.indices, self.indptr), shape=shape)

    def transposed(self) -> "Blocks":
        """The transpose, copied."""
        return Blocks.of(bsr_matrix(self.scipy().T), self.data.dtype)

    def apply(self, x: Array) -> Array:
        """The product with a vector (3 columns,)."""
        return self.add(x, np.zeros(3 * self.count, dtype=self.data.dtype))

    def add(self, x: Array, y: Array, scale: float = 1.0) -> Array:
        """Add `scale` times the product with x (3 columns,) to y (3 count,), in place."""
        scale = self.data.dtype.type(scale)
        run(add_product, self.rows, self.indptr, self.indices, self.data, x, scale, y)
        return y

    def restricted(self, free: npt.NDArray[np.bool_], dtype: npt.DTypeLike) -> "Blocks":
        """A copy with the rows and columns of components that are not `free` (3n,) set to zero."""
        data = np.empty(self.data.shape, dtype=dtype)
        run(mask, self.rows, self.indptr, self.indices, self.data, free, data)
        return Blocks(self.indptr, self.indices, data, self.columns, self.rows)

    def joined(self, other: "Blocks") -> "Blocks":
        """The sum with another matrix; every block of either is kept, though it be zero."""
        size = self.count, self.columns

        def pattern(one: "Blocks") -> csr_matrix:
            return csr_matrix((np.ones(len(one.indices), np.int8), one.indices, one.indptr), size)

        both = csr_matrix(pattern(self) + pattern(other))
        indptr = both.indptr.astype(np.int32, copy=False)
        indices = both.indices.astype(np.int32, copy=False)
        data = np.zeros(9 * len(indices), dtype=self.data.dtype)
        total = Blocks(indptr, indices, data, self.columns, ranges(indptr))
        total.insert(self)
        total.insert(other)
        return total

    def insert(self, term: "Blocks") -> None:
        """Add in place a matrix that has no block where this one has none."""
        run(
            insert, term.rows, self.indptr, self.indices, self.data,
            term.indptr, term.indices, term.data,
        )  # fmt: skip

    def galerkin(self, coarse: "Blocks", transposed: "Blocks") -> "Blocks":
        """``transposed A coarse`` for a prolongation `coarse` and its transpose, in float64."""
        counts = np.zeros(transposed.count + 1, dtype=np.int32)
        rows = transposed.rows
        pattern = (
            transposed.indptr, transposed.indices, self.indptr, self.indices,
            coarse.indptr, coarse.indices,
        )  # fmt: skip
        run(count_triple, rows, *pattern, coarse.columns, counts)
        indptr = np.cumsum(counts, dtype=np.int32)
        indices = np.empty(indptr[-1], dtype=np.int32)
        data = np.zeros(9 * len(indices))
        values = (transposed.data, self.data, coarse.data)
        run(triple, rows, *pattern, coarse.columns, *values, indptr, indices, data)
        return Blocks(indptr, indices, data, coarse.columns, ranges(indptr))

    def diagonal(self, rows: Array | None = None) -> Array:
        """The diagonal blocks, (n, 3, 3), of all rows or of those given."""
        if rows is None:
            rows = np.arange(self.count)
        diagonal = np.zeros((len(rows), 3, 3), dtype=self.data.dtype)
        run(find_diagonal, even(len(rows)), rows, self.indptr, self.indices, self.data, diagonal)
        return diagonal


@kernel
def row_product(first: int, last: int, indices: Array, data: Array, x: Array, s: Array) -> None:
    """The nine products of a row's blocks first..last with x, summed over the blocks in s."""
    # Nine running sums, added up at a row's end, keep the loop free of waiting.
    s[:] = 0
    for k in range(first, last):
        j, p = 3 * indices[k], 9 * k
        x0, x1, x2 = x[j], x[j + 1], x[j + 2]
        s[0] += data[p] * x0
        s[1] += data[p + 1] * x1
        s[2] += data[p + 2] * x2
        s[3] += data[p + 3] * x0
        s[4] += data[p + 4] * x1
        s[5] += data[p + 5] * x2
        s[6] += data[p + 6] * x0
        s[7] += data[p + 7] * x1
        s[8] += data[p + 8] * x2


@kernel
def add_product(
    start: int,
    stop: int,
    indptr: Array,
    indices: Array,
    data: Array,
    x: Array,
    scale: float,
    y: Array,
) -> None:
    """Y += scale A x in rows start..stop."""
    s = np.zeros(9, data.dtype)
    for i in range(start, stop):
        row_product(indptr[i], indptr[i + 1], indices, data, x, s)
        y[3 * i] += scale * (s[0] + s[1] + s[2])
        y[3 * i + 1] += scale * (s[3] + s[4] + s[5])
        y[3 * i + 2] += scale * (s[6] + s[7] + s[8])


@kernel
def relax(start: int, stop: int, inverse: Array, step: float, r: Array, x: Array, z: Array) -> None:
    """Z = step D^-1 r;  x += z, with the inverse diagonal blocks (9n,)."""
    for i in range(start, stop):
        j, p = 3 * i, 9 * i
        for c in range(3):
            d = (
                inverse[p + 3 * c] * r[j]
                + inverse[p + 3 * c + 1] * r[j + 1]
                + inverse[p + 3 * c + 2] * r[j + 2]
            )
            z[j + c] = step * d
            x[j + c] += step * d


@kernel
def smooth(
    start: int,
    stop: int,
    indptr: Array,
    indices: Array,
    data: Array,
    inverse: Array,
    keep: float,
    step: float,
    z: Array,
    r: Array,
    x: Array,
    new: Array,
) -> None:
    """One step of a polynomial smoother in rows start..stop.

    r -= A z;  new = keep z + step D^-1 r;  x += new, with the inverse diagonal blocks (9n,).
    """
    s = np.zeros(9, data.dtype)
    for i in range(start, stop):
        row_product(indptr[i], indptr[i + 1], indices, data, z, s)
        j, p = 3 * i, 9 * i
        r0 = r[j] - (s[0] + s[1] + s[2])
        r1 = r[j + 1] - (s[3] + s[4] + s[5])
        r2 = r[j + 2] - (s[6] + s[7] + s[8])
        r[j], r[j + 1], r[j + 2] = r0, r1, r2
        for c in range(3):
            d = inverse[p + 3 * c] * r0 + inverse[p + 3 * c + 1] * r1 + inverse[p + 3 * c + 2] * r2
            new[j + c] = keep * z[j + c] + step * d
            x[j + c] += new[j + c]


@kernel
def mask(
    start: int, stop: int, indptr: Array, indices: Array, source: Array, free: Array, target: Array
) -> None:
    """Copy rows start..stop, zero where the row's or the column's component is not free."""
    for i in range(start, stop):
        for k in range(indptr[i], indptr[i + 1]):
            j = 3 * indices[k]
            for c in range(3):
                for d in range(3):
                    p = 9 * k + 3 * c + d
                    target[p] = source[p] if free[3 * i + c] and free[j + d] else 0.0


@kernel
def find_diagonal(
    start: int, stop: int, rows: Array, indptr: Array, indices: Array, data: Array, found: Array
) -> None:
    """Copy the diagonal blocks of rows[start..stop], zero where there is none."""
    for i in range(start, stop):
        for k in range(indptr[rows[i]], indptr[rows[i] + 1]):
            if indices[k] == rows[i]:
                for c in range(9):
                    found[i, c // 3, c % 3] = data[9 * k + c]


@kernel
def insert(
    start: int,
    stop: int,
    indptr: Array,
    indices: Array,
    data: Array,
    tptr: Array,
    tind: Array,
    tdata: Array,
) -> None:
    """Add the blocks of a term's rows start..stop to those of a matrix."""
    for i in range(start, stop):
        for k in range(tptr[i], tptr[i + 1]):
            at = indptr[i]
            while indices[at] != tind[k]:
                at += 1
            for c in range(9):
                data[9 * at + c] += tdata[9 * k + c]


@kernel
def count_triple(
    start: int,
    stop: int,
    rptr: Array,
    rind: Array,
    aptr: Array,
    aind: Array,
    pptr: Array,
    pind: Array,
    columns: int,
    counts: Array,
) -> None:
    """Blocks in each row of R A P, in ``counts[row + 1]``."""
    seen = np.full(columns, -1, dtype=np.int32)
    for i in range(start, stop):
        count = 0
        for a in rind[rptr[i] : rptr[i + 1]]:
            for b in aind[aptr[a] : aptr[a + 1]]:
                for j in pind[pptr[b] : pptr[b + 1]]:
                    if seen[j] != i:
                        seen[j] = i
                        count += 1
        counts[i + 1] = count


@kernel
def triple(
    start: int,
    stop: int,
    rptr: Array,
    rind: Array,
    aptr: Array,
    aind: Array,
    pptr: Array,
    pind: Array,
    columns: int,
    rdata: Array,
    adata: Array,
    pdata: Array,
    indptr: Array,
    indices: Array,
    data: Array,
) -> None:
    """Rows start..stop of R A P, without an intermediate matrix."""
    where = np.full(columns, -1, dtype=np.int32)
    for i in range(start, stop):
        first = indptr[i]
        end = first
        for m in range(rptr[i], rptr[i + 1]):
            a, r = rind[m], rdata[9 * m : 9 * m + 9]
            for k in range(aptr[a], aptr[a + 1]):
                # Written out, so that the nine entries stay in registers.
                s = adata[9 * k : 9 * k + 9]
                t0 = r[0] * s[0] + r[1] * s[3] + r[2] * s[6]
                t1 = r[0] * s[1] + r[1] * s[4] + r[2] * s[7]
                t2 = r[0] * s[2] + r[1] * s[5] + r[2] * s[8]
                t3 = r[3] * s[0] + r[4] * s[3] + r[5] * s[6]
                t4 = r[3] * s[1] + r[4] * s[4] + r[5] * s[7]
                t5 = r[3] * s[2] + r[4] * s[5] + r[5] * s[8]
                t6 = r[6] * s[0] + r[7] * s[3] + r[8] * s[6]
                t7 = r[6] * s[1] + r[7] * s[4] + r[8] * s[7]
                t8 = r[6] * s[2] + r[7] * s[5] + r[8] * s[8]
                b = aind[k]
                for n in range(pptr[b], pptr[b + 1]):
                    j = pind[n]
                    # An entry of an earlier row lies before `first`.
                    if where[j] < first:
                        where[j] = end
                        indices[end] = j
                        end += 1
                    q = pdata[9 * n : 9 * n + 9]
                    c = data[9 * where[j] : 9 * where[j] + 9]
                    for d in range(3):
                        c[d] += t0 * q[d] + t1 * q[3 + d] + t2 * q[6 + d]
                        c[3 + d] += t3 * q[d] + t4 * q[3 + d] + t5 * q[6 + d]
                        c[6 + d] += t6 * q[d] + t7 * q[3 + d] + t8 * q[6 + d]
