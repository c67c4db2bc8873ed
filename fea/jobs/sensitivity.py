"""What matters most, and what tolerances make of the headline numbers.

Derivatives are differences of full solves on coarse meshes of one element size, without
refinement: what meshes of two thicknesses differ by is far below what the steps change. A load
offset is compared on whole models, as it breaks the mirrors.

The study of tolerances draws thicknesses and friction by Latin hypercube (M. D. McKay, R. J.
Beckman & W. J. Conover, Technometrics 21 (1979) 239; `scipy.stats.qmc`) and answers each draw by
those derivatives, as powers: it is as good as they are straight in logarithms over the range.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import qmc

from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import Report
from platestack.geometry import heights, layout, rules
from platestack.geometry.errors import CaseError
from platestack.geometry.schema import Case, StackSection
from platestack.geometry.units import GAP, LENGTH, percent, show

STEP = 0.05
"""Relative step of thicknesses."""
FRICTION_STEP, PRELOAD_STEP = 0.25, 0.1
GAP_STEP = 0.2e-3
OFFSET_PART = 0.02
"""Load offset tried, over the span between the rods: little work is set down more exactly."""
FRICTION_RANGE = (0.7, 1.3)
"""Of the friction assumed, in the study of tolerances; common practice, no source."""

Change = Callable[[Case], Case]
STACKS = ("crosshead", "bed")
NUMBERS = tuple(f"{stack} {what}" for stack in STACKS for what in ("deflection", "stress"))
"""Headline numbers: mid-span deflection (m) and peak stress of the most used plate (Pa)."""


@dataclass(frozen=True)
class InputEffect:
    """What changing one thing from `low` to `high` does to each of `NUMBERS`, as parts of it."""

    name: str
    low: str
    high: str
    at_low: tuple[float, ...]
    at_high: tuple[float, ...]
    steps: tuple[float, float]
    """Relative steps of what is changed, down and up; 0 where there is none."""

    @property
    def swing(self) -> float:
        """Largest difference between both ends."""
        pairs = zip(self.at_low, self.at_high, strict=True)
        return max(abs(high - low) for low, high in pairs)

    def powers(self) -> npt.NDArray[np.float64]:
        """D log(number) / d log(what is changed), for relative steps both ways."""
        span = math.log((1 + self.steps[1]) / (1 + self.steps[0]))
        return np.asarray(np.log1p(self.at_high) - np.log1p(self.at_low)) / span


@dataclass(frozen=True)
class Sensitivity:
    """Headline numbers of the coarse base, and effects, the largest first."""

    base: tuple[float, ...]
    effects: tuple[InputEffect, ...]


@dataclass(frozen=True)
class Spread:
    """Headline numbers (draws, numbers) as parts of those at nominal values."""

    names: tuple[str, ...]
    """Of what was drawn."""
    draws: npt.NDArray[np.float64]

    def quantiles(self) -> npt.NDArray[np.float64]:
        """5, 50 and 95 per cent of the draws lie below: (3, numbers)."""
        return np.asarray(np.quantile(self.draws, [0.05, 0.5, 0.95], axis=0))


@dataclass(frozen=True)
class _Trial:
    name: str
    low: str
    high: str
    down: Change | None
    """None where the base is the lower end."""
    up: Change
    steps: tuple[float, float] = (0.0, 0.0)
    whole: bool = False


def sensitivity(
    case: Case, report: Report, solve: Callable[[Case, Report], Solution] = analyse
) -> Sensitivity:
    """Change one thing at a time; errors as of `analyse`."""
    span = layout.span(tuple(rod.at for rod in layout.build(case).rods))
    coarse = _coarse(case, span)
    report("base")
    base = _numbers(solve(coarse, report))
    whole: tuple[float, ...] | None = None
    effects = []
    for trial in _trials(case, span):
        reference, start = base, coarse
        if trial.whole:
            start = coarse.model_copy(
                update={"mesh": coarse.mesh.model_copy(update={"symmetry": "whole"})}
            )
            report(f"{trial.name}: base")
            whole = whole or _numbers(solve(start, report))
            reference = whole
        ends = []
        for words, change in ((trial.low, trial.down), (trial.high, trial.up)):
            if change is None:
                ends.append(reference)
                continue
            changed = change(start)
            problems = rules.check(changed)
            if problems:
                raise CaseError(f"case with {trial.name} {words}", problems)
            report(f"{trial.name}: {words}")
            ends.append(_numbers(solve(changed, report)))
        parts = [
            tuple(value / old - 1 for value, old in zip(end, reference, strict=True))
            for end in ends
        ]
        effects.append(
            InputEffect(trial.name, trial.low, trial.high, parts[0], parts[1], trial.steps)
        )
    return Sensitivity(base, tuple(sorted(effects, key=lambda effect: -effect.swing)))


def tolerance(case: Case, found: Sensitivity, draws: int) -> Spread:
    """Distribution of the headline numbers over tolerances of thickness and the friction range.

    Thicknesses lie evenly within EN 10029 class A (`geometry.heights` where its table ends), plates
    of a stack alike, as if from one heat: the widest the stack's answer can spread.
    """
    drawn, ranges = [], []
    for effect in found.effects:
        stack, _, what = effect.name.partition(" ")
        if stack not in STACKS:
            continue
        section = getattr(case, stack)
        if what == "thickness":
            thickness = section.plates[0].thickness
            low, high = heights.as_rolled(thickness)
            ranges.append((1 + low / thickness, 1 + high / thickness))
        elif what == "friction":
            ranges.append(FRICTION_RANGE)
        else:
            continue
        drawn.append(effect)
    if not drawn:
        return Spread((), np.ones((draws, len(NUMBERS))))
    sample = qmc.LatinHypercube(len(drawn), seed=1).random(draws)
    low, high = np.array(ranges).T
    factors = low + (high - low) * sample
    logs = np.log(factors) @ np.array([effect.powers() for effect in drawn])
    return Spread(tuple(effect.name for effect in drawn), np.exp(logs))


def _coarse(case: Case, span: float) -> Case:
    """The case on one mesh of a size that does not follow the thickness."""
    size = max(case.mesh.size or 0.0, span / 12)
    update = {"size": size, "deflection_accuracy": 0.5, "stress_accuracy": 0.5}
    return case.model_copy(update={"mesh": case.mesh.model_copy(update=update)})


def _numbers(solution: Solution) -> tuple[float, ...]:
    stacks = [solution.stacks[name] for name in STACKS]
    return tuple(v for s in stacks for v in (s.deflection, s.worst.von_mises))


def _trials(case: Case, span: float) -> Iterator[_Trial]:
    for name in STACKS:
        section = getattr(case, name)
        yield _Trial(
            f"{name} thickness", f"-{percent(STEP)}", f"+{percent(STEP)}",
            _thickened(name, 1 - STEP), _thickened(name, 1 + STEP), (-STEP, STEP),
        )  # fmt: skip
        if section.interface.kind == "clamped" and section.interface.friction > 0:
            mu, part = section.interface.friction, FRICTION_STEP
            yield _Trial(
                f"{name} friction", f"{mu * (1 - part):.2g}", f"{mu * (1 + part):.2g}",
                _rubbed(name, 1 - part), _rubbed(name, 1 + part), (-part, part),
            )  # fmt: skip
        if section.interface.kind != "welded":
            gap = section.interface.gap
            yield _Trial(
                f"{name} gap", show(gap, GAP), show(gap + GAP_STEP, GAP), None, _gapped(name)
            )
    if case.rods.preload is not None:
        part = PRELOAD_STEP
        yield _Trial(
            "rod preload", f"-{percent(part)}", f"+{percent(part)}",
            _preloaded(1 - part), _preloaded(1 + part), (-part, part),
        )  # fmt: skip
    x, y = case.workpiece.offset
    moved = {"offset": (x + OFFSET_PART * span, y)}

    def offset(start: Case) -> Case:
        update = {"workpiece": start.workpiece.model_copy(update=moved)}
        return start.model_copy(update=update)

    yield _Trial(
        "load offset along x", "as it is", show(OFFSET_PART * span, LENGTH), None, offset,
        whole=True,
    )  # fmt: skip


def _changed(name: str, change: Callable[[StackSection], dict[str, object]]) -> Change:
    def apply(case: Case) -> Case:
        section = getattr(case, name)
        return case.model_copy(update={name: section.model_copy(update=change(section))})

    return apply


def _thickened(name: str, factor: float) -> Change:
    def change(section: StackSection) -> dict[str, object]:
        return {
            "plates": tuple(
                plate.model_copy(update={"thickness": factor * plate.thickness})
                for plate in section.plates
            )
        }

    return _changed(name, change)


def _rubbed(name: str, factor: float) -> Change:
    def change(section: StackSection) -> dict[str, object]:
        update = {"friction": factor * section.interface.friction}
        return {"interface": section.interface.model_copy(update=update)}

    return _changed(name, change)


def _gapped(name: str) -> Change:
    def change(section: StackSection) -> dict[str, object]:
        update = {"gap": section.interface.gap + GAP_STEP}
        return {"interface": section.interface.model_copy(update=update)}

    return _changed(name, change)


def _preloaded(factor: float) -> Change:
    def apply(case: Case) -> Case:
        preload = case.rods.preload
        assert preload is not None
        rods = case.rods.model_copy(update={"preload": factor * preload})
        return case.model_copy(update={"rods": rods})

    return apply
