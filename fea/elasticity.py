"""Linear elasticity of quadratic tetrahedra with scikit-fem's generic form."""

from __future__ import annotations

import numpy as np
from scipy.sparse import bsr_matrix
from skfem import Basis, ElementTetP2, ElementVector, MeshTet2, asm
from skfem.helpers import ddot, eye, sym_grad, trace
from skfem import BilinearForm


class QuadraticSpace:
    """Quadratic displacements on a mesh with nodes (n, 3) and cells (m, 10)."""

    def __init__(self, nodes: np.ndarray, cells: np.ndarray):
        self.nodes, self.cells = nodes, cells
        self.mesh = MeshTet2(nodes.T.copy(), cells.T.copy())

    def stiffness(self, young: np.ndarray, poisson: np.ndarray) -> bsr_matrix:
        """Stiffness matrix (3n, 3n), N/m."""
        lam = young * poisson / ((1 + poisson) * (1 - 2 * poisson))
        mu = young / (2 * (1 + poisson))
        basis = Basis(self.mesh, ElementVector(ElementTetP2()), intorder=2)

        @BilinearForm
        def form(u, v, w):
            strain, virtual = sym_grad(u), sym_grad(v)
            stress = w.lam * eye(trace(strain), 3) + 2 * w.mu * strain
            return ddot(stress, virtual)

        ones = np.ones(basis.dx.shape[1])
        K = asm(form, basis, lam=lam[:, None] * ones, mu=mu[:, None] * ones)
        return K.tobsr((3, 3))

    def displacement_gradients(self, displacement: np.ndarray, points: np.ndarray) -> np.ndarray:
        """du_i/dx_j at reference points (3, q): (m, q, 3, 3)."""
        element = ElementTetP2()
        reference = np.array([element.lbasis(points, i)[1] for i in range(10)]).transpose(2, 0, 1)
        jacobian = np.einsum("cai,qap->cqpi", self.nodes[self.cells], reference)
        gradients = reference @ np.linalg.inv(jacobian).transpose(0, 1, 3, 2)
        nodal = displacement.reshape(-1, 3)[self.cells]
        return np.einsum("cai,cqaj->cqij", nodal, gradients)
