"""Stress of an answer: at chosen nodes in a moment, over all plates when asked.

In reference coordinates the strain of a stretched plate is that of the derivatives in the plane
plus that of the derivatives along z over s. Averages at the nodes of a plate, and fits of quadratic
polynomials within it, do not feel the stretch. So the recovered stress of each basis vector is kept
in these two parts, and combined. Fits stop at the plates' faces, as plates may have different s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from platestack.fea.numerics.elasticity import shape_values
from platestack.fea.solid.reduced.affine import AffineProblem, Parameters
from platestack.fea.solid.stress import patches, recover
from platestack.fea.solid.stress.recover import PlateNodes

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class StressBasis:
    """Stress of each basis vector at plate nodes.

    Attributes
    ----------
    nodes : numbering of the nodes by plate.
    fixed, across : (N, p, 6) in Pa: what the derivatives in the plane and those along z give.
    """

    nodes: PlateNodes
    fixed: FloatArray
    across: FloatArray

    @classmethod
    def of(cls, problem: AffineProblem, basis: FloatArray) -> StressBasis:
        """Recover the stress of basis vectors (N, 3n)."""
        nodes = PlateNodes.of(problem.mesh)
        parts = [_recovered(problem, nodes, vector) for vector in basis]
        return cls(nodes, np.array([p[0] for p in parts]), np.array([p[1] for p in parts]))

    def at(self, some: npt.NDArray[np.integer]) -> StressBasis:
        """The same at some plate nodes only; `cells` stay those of all."""
        nodes = PlateNodes(self.nodes.node[some], self.nodes.plate[some], self.nodes.cells)
        return StressBasis(nodes, self.fixed[:, some], self.across[:, some])

    def stress(self, weights: FloatArray, at: Parameters) -> FloatArray:
        """Stress (p, 6) in Pa of an answer's `weights` (N,)."""
        count = len(weights)
        shape = self.fixed.shape[1:]
        weights = weights.astype(self.fixed.dtype)
        fixed = (weights @ self.fixed.reshape(count, -1)).reshape(shape)
        across = (weights @ self.across.reshape(count, -1)).reshape(shape)
        return fixed + across / np.array(at.stretch)[self.nodes.plate, None]

    def von_mises(self, weights: FloatArray, at: Parameters) -> FloatArray:
        """Von Mises stress (p,) in Pa."""
        return recover.von_mises(self.stress(weights, at))


def _recovered(
    problem: AffineProblem, nodes: PlateNodes, vector: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Both parts of the recovered stress of one vector, (p, 6) each in Pa."""
    volume = recover.volumes(problem.mesh)
    points = problem.mesh.nodes[nodes.node]
    samples = patches.SAMPLES.T
    where = np.einsum("qa,mad->mqd", shape_values(samples), problem.mesh.nodes[problem.mesh.tets])
    at_nodes = problem.space.displacement_gradients(vector, recover.NODES_OF_REFERENCE)
    at_samples = problem.space.displacement_gradients(vector, samples)
    local, inner = [], []
    for axes in ((0, 1), (2,)):
        kept = np.isin(np.arange(3), axes)
        local.append(recover.element_stress(at_nodes * kept, problem.young, problem.poisson))
        inner.append(recover.element_stress(at_samples * kept, problem.young, problem.poisson))
    averaged = recover.averaged(nodes, np.concatenate(local, axis=2), volume)
    fitted = patches.recovered(points, nodes.cells, where, np.concatenate(inner, axis=2))
    both = (averaged + fitted) / 2
    return both[:, :6], both[:, 6:]
