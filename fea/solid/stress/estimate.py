"""How wrong the numbers are: recovery-based and goal-oriented estimates of the error.

With σ_h the stress of the elements and σ* the one recovered from it (`stress.patches`), the
error in energy is estimated by ∫ (σ* − σ_h) : C⁻¹ : (σ* − σ_h) (Zienkiewicz & Zhu, Int. J. Numer.
Meth. Engng 24 (1987) 337). For a linear reading J(u) the dual problem, loaded by J itself, gives
a second stress τ, and the error of the reading is estimated by ∫ (σ* − σ_h) : C⁻¹ : (τ* − τ_h)
(Becker & Rannacher, Acta Numerica 10 (2001) 1, with recovered stresses in place of the exact ones).

A recovered stress is no exact one, so that an estimate is right only to a factor. What is stated as
an error is therefore the estimate times a margin, calibrated on bodies whose answer is known
(`tests/published/test_error_bars.py`) so that it covers the true error in nine of ten.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTet

from platestack.fea.numerics.elasticity import QuadraticSpace, shape_gradients, shape_values
from platestack.fea.solid.stress import patches, recover

MARGIN = 1.75
"""Stated error over the signed estimate of a reading's error."""

ENERGY_MARGIN = 2.0
"""Stated over estimated error of the strain energy."""

CANCELLED = 0.35
"""Part of the elements' contributions, summed by size, that the stated error never falls below: a
sum in which much cancels is known no better."""

_DOUBLED = np.array([1.0, 1.0, 1.0, 2.0, 2.0, 2.0])
"""Weights that make the product of two stress rows the double contraction of the tensors."""


@dataclass(frozen=True)
class Body:
    """An elastic body on its mesh.

    Attributes
    ----------
    space : the quadratic displacements.
    young, poisson : (m,) of each element.
    smooth : (m, 10) numbering of nodes within what may be smoothed together (one material).
    points : coordinates of the nodes so numbered (m).
    """

    space: QuadraticSpace
    young: np.ndarray
    poisson: np.ndarray
    smooth: np.ndarray
    points: np.ndarray

    @classmethod
    def of(cls, space: QuadraticSpace, young: np.ndarray, poisson: np.ndarray) -> Body:
        """Smooth across all elements of the same elastic constants."""
        pairs = np.unique(np.column_stack([young, poisson]), axis=0, return_inverse=True)[1]
        keys = pairs.reshape(-1, 1).astype(np.int64) * len(space.nodes) + space.cells
        unique, inverse = np.unique(keys, return_inverse=True)
        points = space.nodes[unique % len(space.nodes)]
        return cls(space, young, poisson, inverse.reshape(space.cells.shape), points)

    def stress(self, u: np.ndarray, points: np.ndarray) -> np.ndarray:
        """Stress of the elements at reference points (3, q): (m, q, 6) in Pa."""
        gradients = self.space.displacement_gradients(u, points)
        return recover.element_stress(gradients, self.young, self.poisson)

    def recovered(self, u: np.ndarray) -> np.ndarray:
        """Recovered stress at the ten nodes of each element, (m, 10, 6) in Pa."""
        points = patches.SAMPLES.T
        at = np.einsum("qa,mad->mqd", shape_values(points), self.space.nodes[self.space.cells])
        smooth = patches.recovered(self.points, self.smooth, at, self.stress(u, points))
        return smooth[self.smooth]

    def gap(self, u: np.ndarray) -> np.ndarray:
        """Recovered less element stress at the points of `RULE`, (m, q, 6) in Pa."""
        values = shape_values(RULE[0])
        smooth = np.einsum("qa,mac->mqc", values, self.recovered(u))
        return smooth - self.stress(u, RULE[0])

    def product(self, one: np.ndarray, two: np.ndarray) -> np.ndarray:
        """∫ σ : C⁻¹ : τ over each element, (m,) in J, of stresses at the points of `RULE`."""
        shear = ((1 + self.poisson) / self.young)[:, None]
        bulk = (self.poisson / self.young)[:, None]
        double = np.einsum("mqc,mqc,c->mq", one, two, _DOUBLED)
        density = shear * double - bulk * one[:, :, :3].sum(axis=2) * two[:, :, :3].sum(axis=2)
        return np.asarray((density * self.measure) @ RULE[1])

    @cached_property
    def measure(self) -> np.ndarray:
        """Volume of each element over that of the reference one at the points of `RULE`, (m, q)."""
        measure = np.repeat(self.six_volumes[:, None], len(RULE[1]), axis=1)
        bent = self.space.curved
        x = self.space.nodes[self.space.cells[bent]]
        jacobian = np.einsum("mai,qap->mqpi", x, shape_gradients(RULE[0]))
        measure[bent] = np.abs(np.linalg.det(jacobian))
        return measure

    @cached_property
    def six_volumes(self) -> np.ndarray:
        """Six times the volume of each straight element, (m,) in m³."""
        x = self.space.nodes[self.space.cells[:, :4]]
        return np.abs(np.linalg.det(x[:, 1:] - x[:, :1]))


RULE = get_quadrature(RefTet, 4)
"""Points (3, q) and weights (q,) that integrate the square of a quadratic exactly."""


@dataclass(frozen=True)
class Estimate:
    """Estimated error of a reading: signed, each element's contribution (m,), what to state."""

    error: float
    parts: np.ndarray
    size: float


def estimate(body: Body, gap: np.ndarray, dual_gap: np.ndarray) -> Estimate:
    """Error of a reading, from the gaps of the solution and of the dual (`Body.gap`)."""
    parts = body.product(gap, dual_gap)
    error = float(parts.sum())
    return Estimate(error, parts, max(MARGIN * abs(error), CANCELLED * float(np.abs(parts).sum())))


def stress_error(doubt: float, found: Estimate) -> float:
    """Error to state for a stress: `doubt` of its recovery, or the dual estimate with its margin.

    The sizes of the elements' contributions, which `Estimate.size` never falls below, are left out:
    at one point most of them cancel, and `doubt` speaks for what is left.
    """
    return max(doubt, MARGIN * abs(found.error))


def energy_error(body: Body, gap: np.ndarray) -> float:
    """Error to state for the strain energy (J), from the gap of the solution (`Body.gap`)."""
    return ENERGY_MARGIN * float(body.product(gap, gap).sum()) / 2


def stress_spread(cells: np.ndarray, averaged: np.ndarray, fitted: np.ndarray) -> np.ndarray:
    """Error to state for the von Mises stress of the mean of two recoveries, (n,) in Pa.

    The root mean square of two differences: that of the two von Mises stresses at the node; and
    the von Mises stress of the difference of the two tensors, in the root mean square over the
    elements round the node, for at one node alone the two may agree by accident.

    Parameters
    ----------
    cells : (m, 10) nodes of each element.
    averaged, fitted : (n, 6) stress at the nodes, recovered in two ways (Pa).
    """
    here = (recover.von_mises(fitted) - recover.von_mises(averaged)) ** 2
    apart = recover.von_mises(fitted - averaged) ** 2
    slots, count = cells.ravel(), len(averaged)
    total = np.bincount(slots, np.repeat(apart[cells].mean(axis=1), 10), count)
    about = total / np.bincount(slots, minlength=count)
    return np.asarray(np.sqrt((here + about) / 2))


def stress_row(body: Body, node: int, cells: np.ndarray, direction: np.ndarray) -> csr_matrix:
    """Row that reads a combination of the stress averaged at a node over elements.

    Parameters
    ----------
    node : the node.
    cells : the elements of its plate that share it.
    direction : (6,) factors of the stress components, such as the slope of von Mises' formula.
    """
    space = body.space
    local = np.argmax(space.cells[cells] == node, axis=1)
    gradients = shape_gradients(recover.NODES_OF_REFERENCE)[local]
    x = space.nodes[space.cells[cells]]
    jacobian = np.einsum("cai,cap->cpi", x, gradients)
    slopes = gradients @ np.linalg.inv(jacobian).transpose(0, 2, 1)
    weight = body.six_volumes[cells]
    weight = weight / weight.sum()
    young, nu = body.young[cells], body.poisson[cells]
    lam = young * nu / ((1 + nu) * (1 - 2 * nu))
    mu = young / (2 * (1 + nu))
    tensor = np.zeros((3, 3))
    for (i, j), factor in zip(recover.VOIGT, direction, strict=True):
        tensor[i, j] += factor / 2
        tensor[j, i] += factor / 2
    # J = D : (λ tr(ε) I + 2 μ ε) with ε the symmetric part of u ⊗ slope.
    entries = (lam * weight * np.trace(tensor))[:, None, None] * slopes
    entries = entries + (2 * mu * weight)[:, None, None] * (slopes @ tensor)
    columns = 3 * space.cells[cells][:, :, None] + np.arange(3)
    zeros = np.zeros(entries.size, dtype=int)
    shape = (1, 3 * len(space.nodes))
    return csr_matrix((entries.ravel(), (zeros, columns.ravel())), shape=shape)


def von_mises_slope(stress: np.ndarray) -> np.ndarray:
    """Derivative of the von Mises stress by the six stress components, (6,)."""
    xx, yy, zz, xy, yz, xz = stress
    size = float(recover.von_mises(stress))
    if size == 0.0:
        return np.zeros(6)
    mean = (xx + yy + zz) / 3
    direct = 1.5 * np.array([xx - mean, yy - mean, zz - mean])
    return np.concatenate([direct, 3 * np.array([xy, yz, xz])]) / size
