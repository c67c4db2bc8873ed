"""Preconditioned conjugate gradients, and what they tell of the spectrum."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.linalg import eigvalsh_tridiagonal

from platestack.fea.support.parallel import BLOCK, even, kernel, run, total

FloatArray = npt.NDArray[np.float64]
Operator = Callable[[FloatArray], FloatArray]
Array = npt.NDArray[Any]
Progress = Callable[[int, float], None]

RESTARTS = 3
"""Restarts from the true residual before the iteration is given up."""


@dataclass(frozen=True)
class Iteration:
    """Result of conjugate gradients: the solution, steps made, true relative residual."""

    solution: FloatArray
    iterations: int
    residual: float


def conjugate_gradients(
    operator: Operator,
    loads: FloatArray,
    preconditioner: Operator,
    *,
    tol: float,
    max_iterations: int,
    guess: FloatArray | None = None,
    progress: Progress | None = None,
) -> Iteration:
    """Solve ``operator(x) = loads`` until ``|loads - operator(x)| <= tol |loads|``.

    The residual returned is computed anew from the solution; if rounding has driven the running
    one away from it, the iteration restarts. The step's direction is the flexible one (Notay,
    Flexible conjugate gradients, SIAM J. Sci. Comput. 22 (2000) 1444-1460), which tolerates a
    preconditioner in single precision. It is for the caller to compare the residual with `tol`.
    """
    norm = length(loads)
    if norm == 0.0:
        return Iteration(np.zeros_like(loads), 0, 0.0)
    x = np.zeros_like(loads) if guess is None else guess.astype(float)
    steps = 0
    residual = np.inf
    for _ in range(RESTARTS + 1):
        r = loads - operator(x) if x.any() else loads.copy()
        residual = length(r) / norm
        if residual <= tol or steps >= max_iterations:
            break
        steps = _descend(
            operator, preconditioner, x, r, tol * norm, norm, steps, max_iterations, progress
        )
    else:
        residual = length(loads - operator(x)) / norm
    return Iteration(x, steps, residual)


def length(vector: FloatArray) -> float:
    """Euclidean norm."""
    return float(np.sqrt(inner(vector, vector)))


def inner(a: FloatArray, b: FloatArray) -> float:
    """Inner product, the same on any number of threads."""
    return total(dot, even(len(a)), a, b)


def _descend(
    operator: Operator,
    preconditioner: Operator,
    x: FloatArray,
    r: FloatArray,
    goal: float,
    norm: float,
    steps: int,
    max_iterations: int,
    progress: Progress | None,
) -> int:
    """Iterate on x and r in place until |r| <= goal; the number of steps made so far."""
    rows = even(len(r))
    p = np.zeros_like(r)
    last = np.zeros_like(r)
    gamma = 1.0
    while steps < max_iterations:
        z = preconditioner(r)
        product = total(dot, rows, r, z)
        beta = (product - total(dot, rows, last, z)) / gamma
        gamma = product
        run(turn, rows, beta, z, p)
        q = operator(p)
        curvature = total(dot, rows, p, q)
        if not curvature > 0.0:
            # Rounding has eaten the direction, or the matrix is not positive definite.
            break
        size = np.sqrt(total(advance, rows, gamma / curvature, p, q, x, r, last))
        steps += 1
        if progress is not None:
            progress(steps, size / norm)
        if size <= goal:
            break
    return steps


# The vectors' kernels are our own because numpy's threaded dot product leaves its threads
# spinning for a while, on the cores that the matrix products need.


@kernel
def dot(start: int, stop: int, a: FloatArray, b: FloatArray, sums: FloatArray) -> None:
    """Inner product of a and b, block by block."""
    for block in range(start // BLOCK, (stop + BLOCK - 1) // BLOCK):
        part = 0.0
        for i in range(block * BLOCK, min(stop, (block + 1) * BLOCK)):
            part += a[i] * b[i]
        sums[block] = part


@kernel
def turn(start: int, stop: int, beta: float, z: FloatArray, p: FloatArray) -> None:
    """P = z + beta p."""
    for i in range(start, stop):
        p[i] = z[i] + beta * p[i]


@kernel
def advance(
    start: int,
    stop: int,
    alpha: float,
    p: FloatArray,
    q: FloatArray,
    x: FloatArray,
    r: FloatArray,
    last: FloatArray,
    sums: FloatArray,
) -> None:
    """X += alpha p;  last = r;  r -= alpha q;  r.r block by block."""
    for block in range(start // BLOCK, (stop + BLOCK - 1) // BLOCK):
        part = 0.0
        for i in range(block * BLOCK, min(stop, (block + 1) * BLOCK)):
            last[i] = r[i]
            x[i] += alpha * p[i]
            r[i] -= alpha * q[i]
            part += r[i] * r[i]
        sums[block] = part


def largest_eigenvalue(
    operator: Callable[[Array], Array],
    preconditioner: Callable[[Array], Array],
    size: int,
    *,
    dtype: npt.DTypeLike = float,
    steps: int = 12,
) -> float:
    """Largest eigenvalue of preconditioner x operator, estimated from below.

    From the tridiagonal matrix of the Lanczos process hidden in conjugate gradients (Golub and
    Van Loan, Matrix Computations, 4th ed., section 11.3).
    """
    rows = even(size)
    start = np.random.default_rng(0).standard_normal(size)
    r = operator(preconditioner(start.astype(dtype)))
    p = np.zeros_like(r)
    diagonal: list[float] = []
    off: list[float] = []
    previous, gamma = 0.0, 0.0
    for _ in range(steps):
        z = preconditioner(r)
        fresh = total(dot, rows, r, z)
        if not fresh > 0.0:
            break
        beta = fresh / gamma if gamma else 0.0
        run(turn, rows, beta, z, p)
        q = operator(p)
        alpha = fresh / total(dot, rows, p, q)
        if diagonal:
            off.append(np.sqrt(beta) * previous)
        diagonal.append(1 / alpha + beta * previous)
        previous, gamma = 1 / alpha, fresh
        r -= q.dtype.type(alpha) * q
    return float(eigvalsh_tridiagonal(np.array(diagonal), np.array(off))[-1]) if diagonal else 1.0
