"""Baseline solver: conjugate gradients with smoothed aggregation on the quadratic matrix."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyamg
from scipy.sparse import bsr_matrix, csr_matrix, diags
from scipy.sparse.linalg import LinearOperator, cg

from geometry.errors import PlatestackError


@dataclass(frozen=True)
class Ties:
    rows: csr_matrix
    stiffness: np.ndarray


@dataclass(frozen=True)
class System:
    matrix: bsr_matrix
    fixed: np.ndarray
    ties: Ties | None = None


@dataclass(frozen=True)
class Solve:
    displacement: np.ndarray
    iterations: int
    residual: float


def solve(system: System, space, loads: np.ndarray, tol: float = 1e-8) -> Solve:
    free = (~system.fixed.ravel()).astype(float)
    K = system.matrix
    if system.ties is not None:
        W = system.ties.rows
        K = (K + W.T @ diags(system.ties.stiffness) @ W)
    D = diags(free)
    K = (D @ K @ D + diags(1 - free)).tobsr((3, 3))
    x = space.nodes - space.nodes.mean(axis=0)
    B = np.zeros((len(x), 3, 6))
    for i in range(3):
        B[:, i, i] = 1
    B[:, 0, 3], B[:, 1, 3] = -x[:, 1], x[:, 0]
    B[:, 1, 4], B[:, 2, 4] = -x[:, 2], x[:, 1]
    B[:, 2, 5], B[:, 0, 5] = -x[:, 0], x[:, 2]
    B = B.reshape(-1, 6) * free[:, None]
    ml = pyamg.smoothed_aggregation_solver(K, B=B, strength=("symmetric", {"theta": 0.0}), max_coarse=300)
    count = [0]
    f = loads * free
    u, info = cg(K, f, rtol=tol, maxiter=500, M=ml.aspreconditioner(), callback=lambda x: count.__setitem__(0, count[0] + 1))
    residual = float(np.linalg.norm(K @ u - f) / np.linalg.norm(f))
    if info:
        raise PlatestackError("not converged")
    return Solve(u, count[0], residual)
