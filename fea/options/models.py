"""Reduced models of a case's welded stacks: made once, kept in a directory, found again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from fea.options.prediction import Estimate
from fea.reduced import Parameters, Problem, ReducedStack, store, train
from fea.reduced.affine import NotAffineError
from fea.stack import Report, mesh_stack
from geometry import layout
from geometry.parts import Plate, Press, Stack
from geometry.schema import Case

RANGE = (0.5, 2.0)
"""Thicknesses covered, over those of the base."""
TARGET = 0.02
"""Largest relative bound of the deflection over the range."""


@dataclass(frozen=True)
class _Known:
    reference: Stack
    press: Press
    model: ReducedStack


def none(press: Press, stack: Stack) -> None:
    """No reduced model tells anything."""


def estimates(case: Case, folder: Path, report: Report) -> Estimate:
    """Deflections of welded flat stacks by reduced models, read from `folder` or made into it.

    Other stacks, thicknesses outside the range and another number of plates are not told.
    """
    press = layout.build(case)
    known: dict[str, _Known] = {}
    for stack in press.stacks:
        if stack.interface != "welded":
            continue
        mesh = mesh_stack(press, stack, case)
        try:
            problem = Problem.of(press, stack, mesh)
        except NotAffineError:
            continue
        name, path = store.key(problem, *RANGE, TARGET), folder / f"{stack.name}.npz"
        model = store.load(path, name)
        if model is None:

            def tell(words: str, name: str = stack.name) -> None:
                report(f"reduced model of the {name}: {words}")

            model = train(problem, *RANGE, target=TARGET, report=tell)
            store.save(model, path, name)
        known[stack.name] = _Known(stack, press, model)

    def estimate(press: Press, stack: Stack) -> tuple[float, float] | None:
        found = known.get(stack.name)
        at = None if found is None else _stretch(found, press, stack)
        if found is None or at is None:
            return None
        answer = found.model.answer(at)
        return (answer.deflection, answer.bound) if answer.inside else None

    return estimate


def _stretch(known: _Known, press: Press, stack: Stack) -> Parameters | None:
    """Thicknesses over those of the model, if nothing else differs."""
    old = known.reference
    if len(stack.plates) != len(old.plates) or stack.interface != "welded":
        return None
    if [_plan(p) for p in stack.plates] != [_plan(p) for p in old.plates]:
        return None
    rods = zip(press.rods, known.press.rods, strict=False)
    if len(press.rods) != len(known.press.rods) or any(a.annulus != b.annulus for a, b in rods):
        return None
    if stack.patch != old.patch or not math.isclose(press.capacity, known.press.capacity):
        return None
    pairs = zip(stack.plates, old.plates, strict=True)
    # Rods only lift the stack: their stiffness stays in the middle of its range.
    return Parameters(tuple(a.thickness / b.thickness for a, b in pairs))


def _plan(plate: Plate) -> tuple[object, ...]:
    """All of a plate that a model depends on, but its thickness and height."""
    steel = plate.material
    return plate.role, plate.normal, plate.outline, plate.holes, steel.young, steel.poisson
