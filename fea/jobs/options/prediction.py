"""What an option is expected to be like, from options that were solved in full.

Hand calculations give the trend, solved options the level: the ratio of a solved stack's deflection
to that of the beam with all it leaves out is carried over to other plates, and the ratio of its
peak stresses to a nominal stress likewise. Over several solved options of a kind the
logarithm of the ratio is a straight line in that of the depth, fitted with a ridge on its slope,
options near in plates counting more.
Where a reduced model of a welded stack is at hand, it takes the place of beam and nominal stress.

A prediction has no error but with a reduced model: its bound, and the error of the mesh of the
nearest solved option. It is never the last word: what is ordered
from is to be solved in full. `Predictor.spread` says how far predictions missed so far.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from platestack.fea.hand.beam import BeamCheck, beam_check
from platestack.fea.hand.bending import NotABeam
from platestack.fea.solid.model import Solution
from platestack.fea.solid.reduced import ReducedResult
from platestack.fea.solid.stack import StackSolution
from platestack.fea.solid.stress.peaks import Peak
from platestack.geometry import layout
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Case

Estimate = Callable[[Press, Stack], ReducedResult | None]
"""What a reduced model tells of a stack, where it can."""


RIDGE = 2e-3
"""On the slope: depths that differ by a twentieth tell little of it, by a fifth nearly all."""


@dataclass(frozen=True)
class _Sample:
    press: Press
    solved: StackSolution
    beam: float
    told: ReducedResult | None


class Predictor:
    """Learns from full solutions, predicts others."""

    def __init__(self, estimate: Estimate = lambda press, stack: None):
        self._estimate = estimate
        self._samples: dict[tuple[object, ...], list[_Sample]] = {}
        self.spread = 0.0
        """Largest part by which a deflection or peak stress was missed that was solved later."""

    def learn(self, solution: Solution) -> None:
        """Take a full solution in; where it was predictable before, note by how much it missed."""
        before = self.predict(solution.case)
        if before is not None:
            for name, solved in solution.stacks.items():
                guess = before.stacks[name]
                for expected, true in (
                    (guess.deflection, solved.deflection),
                    (guess.worst.utilisation, solved.worst.utilisation),
                ):
                    self.spread = max(self.spread, abs(expected / true - 1))
        for solved in solution.stacks.values():
            told = self._estimate(solution.press, solved.stack)
            sample = _Sample(solution.press, solved, solved.beam.actual.expected, told)
            self._samples.setdefault(kind(solution.press, solved.stack), []).append(sample)

    def knows(self, press: Press) -> bool:
        """Whether stacks of these kinds have been solved."""
        return all(kind(press, stack) in self._samples for stack in press.stacks)

    def predict(self, case: Case) -> Solution | None:
        """A solution of a case with expected figures; None where nothing alike was solved.

        Mesh, fields and places of its stacks are those of the nearest solved option, displacements
        in proportion to the deflection.
        """
        press = layout.build(case)
        if not self.knows(press):
            return None
        stacks: dict[str, StackSolution] = {}
        for stack in press.stacks:
            made = self.stack(press, stack)
            if made is None:
                return None
            stacks[stack.name] = made
        return Solution(case, press, stacks, 0.0)

    def stack(self, press: Press, stack: Stack) -> StackSolution | None:
        """One stack with expected figures; None where nothing alike was solved, or is no beam."""
        samples = self._samples.get(kind(press, stack), [])
        if not samples:
            return None
        try:
            beam = beam_check(stack, press.rods, press.capacity)
        except NotABeam:
            return None
        weights = [1 / (_distance(stack, s.solved.stack) ** 2 + 1e-2) for s in samples]
        nearest = samples[weights.index(max(weights))].solved
        told = self._estimate(press, stack)
        if any(sample.told is None for sample in samples):
            told = None
        deflection, error = beam.actual.expected, 0.0
        levels = [s.solved.deflection / s.beam for s in samples]
        if told is not None:
            deflection = told.deflection
            error = told.bound / deflection + nearest.deflection_error / nearest.deflection
            levels = [s.solved.deflection / s.told.deflection for s in samples if s.told]
        level = _level(levels, weights, samples, stack)
        # The nuts tilt, and bend the rods, in proportion.
        moved = level * deflection / nearest.deflection * nearest.fields.displacement
        return replace(
            nearest,
            stack=stack,
            beam=beam,
            fields=replace(nearest.fields, displacement=moved),
            deflection=level * deflection,
            deflection_error=error * level * deflection,
            peaks=_peaks(press, stack, beam, told, samples, weights, nearest),
        )


def kind(press: Press, stack: Stack) -> tuple[object, ...]:
    """What stacks must share so that one tells about another."""
    rod = press.rods[0]
    upright = None if stack.layout == "flat" else len(stack.plates)
    pads = tuple((pad.body.role, pad.kind) for pad in stack.pads)
    return stack.name, stack.layout, stack.interface, rod.diameter, len(press.rods), upright, pads


def _peaks(
    press: Press,
    stack: Stack,
    beam: BeamCheck,
    told: ReducedResult | None,
    samples: list[_Sample],
    weights: list[float],
    nearest: StackSolution,
) -> tuple[Peak, ...]:
    made = []
    plates = stack.plates
    if len(plates) == len(nearest.stack.plates):  # a mirrored twin has no peak
        names = {peak.plate.name for peak in nearest.peaks}
        plates = tuple(plate for plate in plates if plate.name in names)
    for plate in plates:
        ratios = []
        for sample in samples:
            peak = _counterpart(stack, plate, sample.solved)
            solved = sample.solved
            known = sample.told if told else None
            nominal = _nominal(solved.stack, peak.plate, solved.beam, known, press.capacity)
            ratios.append(peak.von_mises / nominal)
        nominal = _nominal(stack, plate, beam, told, press.capacity)
        value = _level(ratios, weights, samples, stack) * nominal
        like = _counterpart(stack, plate, nearest)
        made.append(
            replace(
                like,
                plate=plate,
                von_mises=value,
                error=0.0,
                raw=value,
                allowed=plate.material.yield_strength / press.yield_safety_factor,
            )
        )
    return tuple(made)


def _nominal(
    stack: Stack, plate: Plate, beam: BeamCheck, told: ReducedResult | None, force: float
) -> float:
    """Stress of a plate (Pa) as its reduced model tells it, or: bending, and the patch's pressure.

    Plates that slide are bent to one curvature. The pressure stands for what bending theory leaves
    out about the patch and does not fall with the depth.
    """
    peak = math.nan if told is None else told.peaks[stack.plates.index(plate)]
    if math.isfinite(peak):
        return peak
    return _bending(stack, plate, beam) + force / stack.patch.area


def _bending(stack: Stack, plate: Plate, beam: BeamCheck) -> float:
    stress = beam.actual.bending_stress
    if stack.interface == "welded" or stack.layout != "flat":
        return stress
    return stress * plate.thickness / max(p.thickness for p in stack.main_plates)


def _counterpart(stack: Stack, plate: Plate, solved: StackSolution) -> Peak:
    """The peak of the plate that stands in a solved stack where `plate` does in its own."""
    named = {peak.plate.name: peak for peak in solved.peaks}
    if plate.name in named and len(stack.plates) == len(solved.stack.plates):
        return named[plate.name]
    alike = [peak for peak in solved.peaks if peak.plate.role == plate.role] or list(solved.peaks)
    own = [p.name for p in stack.plates if p.role == plate.role]
    share = own.index(plate.name) / max(len(own) - 1, 1)
    return alike[round(share * (len(alike) - 1))]


def _distance(one: Stack, other: Stack) -> float:
    """How far two stacks differ in depth, number of plates and single thicknesses."""
    depths = [math.log(_depth(s)) for s in (one, other)]
    counts = [math.log(len(s.main_plates)) for s in (one, other)]
    far = abs(depths[0] - depths[1]) + abs(counts[0] - counts[1])
    if len(one.plates) == len(other.plates):
        pairs = zip(one.plates, other.plates, strict=True)
        far += sum(abs(math.log(a.thickness / b.thickness)) for a, b in pairs) / len(one.plates)
    return far


def _level(
    ratios: list[float], weights: list[float], samples: list[_Sample], stack: Stack
) -> float:
    """Ratio for a stack from those of samples: a line in the logarithm of the depth."""
    depth = np.log([_depth(s.solved.stack) for s in samples])
    level = np.log(ratios)
    weight = np.array(weights) / sum(weights)
    mean, at = weight @ level, weight @ depth
    spread = weight @ (depth - at) ** 2
    slope = weight @ ((depth - at) * (level - mean)) / (spread + RIDGE)
    return float(np.exp(mean + slope * (np.log(_depth(stack)) - at)))


def _depth(stack: Stack) -> float:
    return sum(plate.thickness for plate in stack.main_plates)
