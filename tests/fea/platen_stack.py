"""A bed with a platen shorter than its plates: re-entrant edges under the platen."""

from __future__ import annotations

import functools

import pytest

from platestack.fea.solid import stack
from platestack.fea.solid.stack import StackSolution
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import SizeField, Sizes, StackMesh
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.symmetry import symmetry_of

LENGTH, WIDTH, THICKNESS = 0.24, 0.12, 0.03
"""Of the platen (m)."""

TEXT = """
[press]
name = "Bench press with a platen"
capacity = "30 tf"
working_pressure = "25 MPa"
daylight = "250 mm"
stroke = "120 mm"

[crosshead]
length = "460 mm"
width = "180 mm"
grade = "S355J2"
plates = "2 x 50 mm"
interface = { kind = "welded" }

[bed]
length = "460 mm"
width = "180 mm"
grade = "S355J2"
plates = "2 x 50 mm"
interface = { kind = "welded" }

[bed.platen]
length = "240 mm"
width = "120 mm"
thickness = "30 mm"
grade = "S355J2"

[rods]
count = 2
pitch = "350 mm"
diameter = "45 mm"

[ram]
diameter = "125 mm"

[workpiece]
diameter = "80 mm"
"""

COARSE = Sizes(0.05, 10, 1, 5)
FINE = Sizes(0.012, 40, 6, 20)


@functools.cache
def press() -> Press:
    return layout.build(case())


def case() -> Case:
    return case_file.parse(TEXT, "platen.toml")


@functools.cache
def mesh_of(sizes: Sizes) -> StackMesh:
    bed = press().bed
    return mesher.make(bed, press().rods, symmetry_of(bed, press().rods), sizes)


@functools.cache
def solve(sizes: Sizes, deflection_accuracy: float = 0.5) -> StackSolution:
    """Solve the bed, starting from the mesh of some sizes; the stress need not be accurate."""

    def mesh(press: Press, part: Stack, case: Case, wanted: SizeField | None = None) -> StackMesh:
        symmetry = symmetry_of(part, press.rods)
        return mesher.make(part, press.rods, symmetry, sizes, wanted)

    wish = {"deflection_accuracy": deflection_accuracy, "stress_accuracy": 0.5}
    wished = case().model_copy(update={"mesh": case().mesh.model_copy(update=wish)})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stack, "mesh_stack", mesh)
        return stack.solve_stack(press(), press().bed, wished, lambda step: None)
