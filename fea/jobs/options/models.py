"""Reduced models of a case's welded stacks: made once, kept in a directory, found again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from platestack.fea.solid.reduced import (
    AffineProblem,
    NotAffineError,
    ReducedModel,
    ReducedResult,
    store,
)
from platestack.fea.solid.reduced.affine import factors
from platestack.fea.solid.stack import Report, mesh_stack
from platestack.geometry import layout
from platestack.geometry.parts import Plate, Press, Stack
from platestack.geometry.schema import Case

RANGE = (0.5, 2.0)
"""Thicknesses covered, over those of the base."""
TARGET = 8e-3
"""Relative bound of the deflection to reach over the range."""


@dataclass(frozen=True)
class Models:
    """The reduced models of a press, by stack; those that have none are told in `without`."""

    press: Press
    models: dict[str, ReducedModel]
    without: dict[str, str]

    def __call__(self, press: Press, stack: Stack) -> ReducedResult | None:
        """What is told of a stack of a changed press; None unless only thicknesses changed."""
        model = self.models.get(stack.name)
        if model is None or not _alike(press, stack, self.press, getattr(self.press, stack.name)):
            return None
        thicknesses = [plate.thickness for plate in stack.plates]
        old = getattr(self.press, stack.name)
        springs = factors(press.rods[0], _depth(stack), self.press.rods[0], _depth(old))
        told = model.answer(model.parameters(thicknesses, springs))
        return told if told.inside else None


def none(press: Press, stack: Stack) -> None:
    """No reduced model tells anything."""


def kept(case: Case, folder: Path) -> Models:
    """The models that were made for this case before, read from `folder`; nothing is computed."""
    press = layout.build(case)
    models: dict[str, ReducedModel] = {}
    without: dict[str, str] = {}
    for stack in press.stacks:
        model = store.load(*_place(case, press, stack, folder))
        if model is None:
            without[stack.name] = "no reduced model was made"
        else:
            models[stack.name] = model
    return Models(press, models, without)


def made(case: Case, folder: Path, report: Report) -> Models:
    """The models of welded flat stacks, read from `folder` or made into it.

    Raises
    ------
    MeshError, SolveError
        If a stack cannot be meshed or solved.
    """
    found = kept(case, folder)
    for stack in found.press.stacks:
        if stack.name in found.models:
            continue
        if stack.interface != "welded" and len(stack.plates) > 1:
            found.without[stack.name] = (
                f"plates that part or rub ({stack.interface}) have no reduced model: they are "
                "predicted from solved options"
            )
            continue
        mesh = mesh_stack(found.press, stack, case)

        def tell(words: str, name: str = stack.name) -> None:
            report(f"reduced model of the {name}: {words}")

        try:
            problem = AffineProblem.of(found.press, stack, mesh)
        except NotAffineError as error:
            found.without[stack.name] = str(error)
            continue
        model = ReducedModel.of(problem, *RANGE, target=TARGET, report=tell)
        store.save(model, *_place(case, found.press, stack, folder))
        found.models[stack.name] = model
        found.without.pop(stack.name)
    return found


def _place(case: Case, press: Press, stack: Stack, folder: Path) -> tuple[Path, str]:
    """File of a stack's model and its key, which tells all that a model depends on."""
    name = store.key(stack, press.rods, press.capacity, case.mesh, RANGE, TARGET)
    return folder / f"{stack.name}.npz", name


def _alike(press: Press, stack: Stack, old_press: Press, old: Stack) -> bool:
    """Whether stacks differ in nothing that their models depend on but thicknesses."""
    if [_plan(p) for p in stack.plates] != [_plan(p) for p in old.plates]:
        return False
    rods = zip(press.rods, old_press.rods, strict=False)
    same = len(press.rods) == len(old_press.rods) and all(
        (a.annulus, a.seat, a.preload) == (b.annulus, b.seat, b.preload) for a, b in rods
    )
    capacity = math.isclose(press.capacity, old_press.capacity)
    alike = (stack.patch, stack.off, stack.interface) == (old.patch, old.off, old.interface)
    return same and capacity and alike and not stack.pads


def _depth(stack: Stack) -> float:
    """Between nuts and seats (m)."""
    return sum(plate.thickness for plate in stack.main_plates)


def _plan(plate: Plate) -> tuple[object, ...]:
    """All of a plate that a model depends on, but its thickness and height."""
    steel = plate.material
    return plate.role, plate.normal, plate.outline, plate.holes, steel.young, steel.poisson
