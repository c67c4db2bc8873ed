"""The constant of the error bound: how much softer than the reference a stretched stack can be.

For α with K(s) ≥ α K(reference), the smallest eigenvalue of K(s) v = λ K(reference) v. The method
of the smallest factor (min-θ) gives nothing here: a field that is a rigid rotation of a plate at
one thickness strains it at another, so that no pointwise comparison of the two stiffnesses is
positive; only the stack as a whole makes it so. α is therefore computed:

- eigenvectors are gathered at points of the parameters' box by LOBPCG (A. V. Knyazev, SIAM J. Sci.
  Comput. 23 (2001) 517), started at random, preconditioned by the multigrid cycle of the
  reference;
- elsewhere, the smallest Ritz value on their span is an upper bound of α; `SAFETY` of it is taken.

The Ritz value is compared with eigenvalues at further points when the model is made, and more
eigenvectors are gathered until it is within `SAFETY` of all of them. That is checked at those
points, not proven between them; after Sirković & Kressner, SIAM J. Matrix Anal. Appl. 37 (2016)
695.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import eigh
from scipy.sparse.linalg import LinearOperator, lobpcg

from platestack.fea.numerics.solvers import MultigridSolver
from platestack.fea.solid.reduced.affine import AffineProblem, Parameters

FloatArray = npt.NDArray[np.float64]

SAFETY = 0.7
"""Part of the smallest Ritz value that is taken for α."""

BLOCK, STEPS = 3, 16
"""Eigenvectors sought together; steps of the eigenvalue solver."""


@dataclass(frozen=True)
class Coercivity:
    """Parts (q, m, m) and reference (m, m) on the span of the eigenvectors."""

    parts: FloatArray
    reference: FloatArray

    def bound(self, at: Parameters) -> float:
        """The α to use at these thicknesses."""
        return SAFETY * self.ritz(at)

    def ritz(self, at: Parameters) -> float:
        """Smallest Ritz value."""
        matrix = np.tensordot(at.coefficients(), self.parts, 1)
        return float(eigh(matrix, self.reference, eigvals_only=True, subset_by_index=[0, 0])[0])


def gather(
    problem: AffineProblem,
    solver: MultigridSolver,
    train: Sequence[Parameters],
    check: Sequence[Parameters],
) -> tuple[Coercivity, float]:
    """Gather eigenvectors at `train`, then at each of `check` that they describe badly.

    Returns the constants, and the smallest ratio of a computed eigenvalue to the Ritz value that
    stood for it before its own eigenvectors were taken in, over the points of `check`.
    """
    random = np.random.default_rng(1)
    vectors: list[FloatArray] = []
    for at in train:
        vectors += list(_lowest(problem, solver, at, random)[1].T)
    found = _projected(problem, vectors)
    worst = 1.0
    for at in check:
        value, own = _lowest(problem, solver, at, random)
        ratio = value / found.ritz(at)
        worst = min(worst, ratio)
        if ratio < (1 + SAFETY) / 2:  # nearer to 1 than it need be
            vectors += list(own.T)
            found = _projected(problem, vectors)
    return found, worst


def _lowest(
    problem: AffineProblem, solver: MultigridSolver, at: Parameters, random: np.random.Generator
) -> tuple[float, FloatArray]:
    """Smallest eigenvalue and some vectors (3n, `BLOCK`) near it."""
    system = problem.system(at)[0]
    free = system.free
    size = len(free)

    def operator(apply: object) -> LinearOperator:
        return LinearOperator((size, size), matvec=apply, dtype=float)

    def cycle(r: FloatArray) -> FloatArray:
        return np.asarray(solver.hierarchy(r.ravel() * free))

    start = np.stack([cycle(r) for r in random.standard_normal((BLOCK, size))], axis=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # not converged to the last digit: good enough
        values, vectors = lobpcg(
            operator(lambda x: system.apply(x.ravel() * free)),
            start,
            B=operator(lambda x: solver.system.apply(x.ravel() * free)),
            M=operator(cycle),
            tol=1e-6,
            maxiter=STEPS,
            largest=False,
        )
    return float(values.min()), vectors * free[:, None]


def _projected(problem: AffineProblem, vectors: Sequence[FloatArray]) -> Coercivity:
    """Project the parts on the vectors, made orthogonal first."""
    basis = np.linalg.qr(np.array(vectors).T)[0]
    products = np.array([problem.apply(v) for v in basis.T])
    parts = np.einsum("mqn,nk->qmk", products, basis)
    parts = (parts + parts.transpose(0, 2, 1)) / 2
    return Coercivity(parts, np.tensordot(problem.reference.coefficients(), parts, 1))
