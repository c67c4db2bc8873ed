"""A reduced model with the stresses of its plates: what thicknesses in metres are asked of.

The peak of a plate is the largest nodal stress away from re-entrant edges. It is read at the nodes
that come near the largest of their plate at some training point; the whole field takes a little
longer. Deflections have a bound; stresses have none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from platestack.fea.solid.reduced.affine import AffineProblem, Parameters
from platestack.fea.solid.reduced.model import ReducedStack
from platestack.fea.solid.reduced.stress import StressBasis
from platestack.fea.solid.reduced.training import train, training_points
from platestack.fea.solid.stress import singular

FloatArray = npt.NDArray[np.float64]

NEAR_PEAK = 0.9
"""Part of a plate's largest stress from which a node may hold it at thicknesses between."""


@dataclass(frozen=True)
class ReducedResult:
    """What a reduced model tells of other thicknesses.

    Attributes
    ----------
    deflection : at mid-span (m).
    bound : of its difference to a full solve on the same mesh (m); infinite where `inside` is not.
    peaks : (plates,) largest von Mises stress of each plate (Pa), nan for one that is mirrored
        away; no bound.
    inside : whether the model was made for these thicknesses, and no seat of a rod has opened.
    """

    deflection: float
    bound: float
    peaks: tuple[float, ...]
    inside: bool


@dataclass(frozen=True)
class ReducedModel:
    """A model and its stresses.

    Attributes
    ----------
    thickness : (plates,) of the reference (m), from below up.
    model : answers deflections.
    field : stress of the basis at all plate nodes, in single precision.
    critical : plate nodes that the peaks are read at.
    """

    thickness: FloatArray
    model: ReducedStack
    field: StressBasis
    critical: npt.NDArray[np.int64]

    @classmethod
    def of(
        cls,
        problem: AffineProblem,
        low: float = 0.5,
        high: float = 2.0,
        target: float = 8e-3,
        report: Callable[[str], None] = lambda words: None,
    ) -> ReducedModel:
        """Train a model and recover its stresses; arguments as of `training.train`."""
        model = train(problem, low, high, target=target, report=report)
        report("stresses")
        full = StressBasis.of(problem, model.basis)
        field = StressBasis(
            full.nodes, full.fixed.astype(np.float32), full.across.astype(np.float32)
        )
        thickness = np.array([plate.thickness for plate in problem.stack.plates])
        return cls(thickness, model, field, _critical(problem, model, field))

    def parameters(self, thicknesses: Sequence[float], springs: Sequence[float] = ()) -> Parameters:
        """Factors over the reference; springs as there unless given."""
        if len(thicknesses) != len(self.thickness):
            raise ValueError(f"{len(self.thickness)} thicknesses are needed, not {thicknesses}")
        stretch = np.asarray(thicknesses, dtype=float) / self.thickness
        return Parameters(tuple(stretch), tuple(springs) or (1.0,) * len(self.model.relieved))

    def answer(self, at: Parameters) -> ReducedResult:
        """Deflection, bound and peaks."""
        found = self.model.answer(at)
        few = self._few
        stress = few.von_mises(found.weights, at)
        peaks = [
            float(stress[few.nodes.plate == index].max(initial=-np.inf))
            for index in range(len(self.thickness))
        ]
        return ReducedResult(
            found.deflection,
            found.bound if found.inside else np.inf,
            tuple(peak if np.isfinite(peak) else np.nan for peak in peaks),
            found.inside,
        )

    @cached_property
    def _few(self) -> StressBasis:
        return self.field.at(self.critical)

    def stress(self, at: Parameters) -> FloatArray:
        """Stress (p, 6) in Pa at all plate nodes."""
        return self.field.stress(self.model.answer(at).weights, at)


def answer(
    model: ReducedModel, thicknesses: Sequence[float], springs: Sequence[float] = ()
) -> ReducedResult:
    """Tell deflection with its bound and the plates' peak stresses for other thicknesses (m).

    Parameters
    ----------
    model : of the stack.
    thicknesses : one for each plate, from below up (m).
    springs : stiffness of the rods' springs over that of the reference (`affine.factors`).

    Raises
    ------
    ValueError
        If the number of thicknesses is not that of the plates, or one is not positive.
    """
    return model.answer(model.parameters(thicknesses, springs))


def _critical(
    problem: AffineProblem, model: ReducedStack, field: StressBasis
) -> npt.NDArray[np.int64]:
    """Plate nodes that may hold their plate's peak somewhere in the range."""
    mesh, nodes = problem.mesh, field.nodes
    edges = singular.Surface.of(mesh).reentrant
    distance = singular.Distance(mesh.nodes, edges)(mesh.nodes[nodes.node])
    thickness = np.array([plate.thickness for plate in problem.stack.plates])
    finite = distance >= singular.NEAR * thickness[nodes.plate]
    for plate in np.unique(nodes.plate):  # one that lies near such edges altogether keeps its nodes
        own = nodes.plate == plate
        finite[own] |= not finite[own].any()
    kept = np.zeros(len(nodes.node), dtype=bool)
    for at in training_points(model.low, model.high, problem.plates):
        stress = np.where(finite, field.von_mises(model.answer(at).weights, at), 0.0)
        largest = np.zeros(problem.plates)
        np.maximum.at(largest, nodes.plate, stress)
        kept |= stress >= NEAR_PEAK * largest[nodes.plate]
    return np.flatnonzero(kept & finite)
