"""Stacks read on coarse meshes, with what much finer meshes make of them.

No published value: the references are extrapolated from three meshes of this program, of 26,000 to
150,000 unknowns for the bench press and of 70,000 to 210,000 for the workshop press. Their doubt is
what the extrapolation leaves open, and a third to a fiftieth of the errors to be covered. Peaks at
the edge of a loaded patch are left out: there the stress jumps. The meshes had rods of bare shank;
what nuts and engaged threads add to the energy, F²/4 of their compliance for each rod, is exact.
"""

from __future__ import annotations

import pytest
from appraisal import Reading, Row

from platestack.fea.solid import stack
from platestack.fea.solid.stack import StackSolution
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import Sizes
from platestack.geometry.symmetry import symmetry_of

_BENCH = """
[press]
name = "Bench press"
capacity = "30 tf"
working_pressure = "25 MPa"
daylight = "250 mm"
stroke = "120 mm"

[crosshead]
length = "460 mm"
width = "180 mm"
grade = "S355J2"
plates = "2 x 50 mm"
interface = {{ kind = "{kind}" }}

[bed]
length = "460 mm"
width = "180 mm"
grade = "S355J2"
plates = "2 x 50 mm"
interface = {{ kind = "{kind}" }}

[rods]
count = 2
pitch = "350 mm"
diameter = "45 mm"

[ram]
diameter = "125 mm"

[workpiece]
diameter = "80 mm"
"""

_WORKSHOP = """
[press]
name = "Workshop press"
capacity = "250 tf"
working_pressure = "32 MPa"
daylight = "450 mm"
stroke = "250 mm"

[crosshead]
length = "1040 mm"
width = "640 mm"
corners = "chamfered"
corner_size = "60 mm"
grade = "S355J2"
plates = "4 x 80 mm"
interface = { kind = "welded" }

[bed]
length = "1040 mm"
width = "640 mm"
corners = "chamfered"
corner_size = "60 mm"
grade = "S355J2"
plates = "4 x 80 mm"
interface = { kind = "welded" }

[bed.platen]
length = "620 mm"
width = "560 mm"
thickness = "60 mm"
grade = "S355J2"

[rods]
count = 4
pitch = ["820 mm", "420 mm"]
diameter = "90 mm"
thread = "M90x6"
grade = "42CrMo4+QT"
washer_diameter = "160 mm"

[ram]
diameter = "320 mm"
shape = "annulus"
outer_diameter = "400 mm"
inner_diameter = "320 mm"

[workpiece]
shape = "disc"
diameter = "220 mm"
"""

TEXTS = {
    "bench": _BENCH.format(kind="welded"),
    "loose bench": _BENCH.format(kind="loose"),
    "workshop": _WORKSHOP,
}

KNOWN = {
    ("bench", "crosshead"): {
        "deflection": (90.96e-6, 0.006e-6),
        "strain energy": (39.705, 0.002),
        "plate 2": (66.38e6, 0.04e6),
    },
    ("bench", "bed"): {
        "deflection": (111.587e-6, 0.006e-6),
        "strain energy": (42.376, 0.002),
        "plate 1": (74.77e6, 0.04e6),
    },
    ("loose bench", "crosshead"): {
        "deflection": (312.57e-6, 0.02e-6),
        "strain energy": (69.994, 0.003),
        "plate 1": (137.05e6, 0.15e6),
        "plate 2": (130.97e6, 0.08e6),
    },
    ("loose bench", "bed"): {
        "deflection": (353.185e-6, 0.02e-6),
        "strain energy": (77.332, 0.003),
        "plate 1": (145.93e6, 0.1e6),
        "plate 2": (171.5e6, 0.2e6),
    },
    ("workshop", "crosshead"): {
        "deflection": (98.77e-6, 0.03e-6),
        "strain energy": (683.07, 0.06),
        "plate 2": (22.17e6, 0.03e6),
        "plate 3": (33.81e6, 0.05e6),
        "plate 4": (49.05e6, 0.15e6),
    },
    ("workshop", "bed"): {
        "deflection": (122.51e-6, 0.04e-6),
        "strain energy": (694.01, 0.10),
        "plate 1": (48.30e6, 0.20e6),
        "plate 2": (32.82e6, 0.04e6),
        "plate 3": (27.50e6, 0.10e6),
    },
}
"""Value and doubt (SI) of each reading."""

COARSE = {
    "bench": (Sizes(0.06, 8, 1, 3), Sizes(0.03, 16, 2, 8)),
    "loose bench": (Sizes(0.06, 8, 1, 3), Sizes(0.03, 16, 2, 8)),
    "workshop": (Sizes(0.15, 8, 1, 4), Sizes(0.08, 14, 2, 8)),
}


def solve(name: str, which: str, sizes: Sizes) -> StackSolution:
    """Solve a stack on one mesh, as a run would."""
    case = case_file.parse(TEXTS[name], f"{name}.toml")
    loose = case.mesh.model_copy(update={"deflection_accuracy": 0.5, "stress_accuracy": 0.5})
    press = layout.build(case)
    part = getattr(press, which)
    mesh = mesher.make(part, press.rods, symmetry_of(part, press.rods), sizes)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stack, "mesh_stack", lambda *given: mesh)
        case = case.model_copy(update={"mesh": loose})
        return stack.solve_stack(press, part, case, lambda step: None)


def rows(name: str, which: str, sizes: Sizes) -> list[Row]:
    """Read a stack on one mesh."""
    solved = solve(name, which, sizes)
    found = {
        "deflection": ("deflection", solved.deflection, solved.deflection_error),
        "strain energy": ("energy", solved.strain_energy, solved.strain_energy_error),
    }
    found |= {p.plate.name: ("stress", p.von_mises, p.error) for p in solved.peaks}
    title = f"{name} {which}, {solved.mesh.unknowns}"
    return [
        Row(title, Reading(found[key][0], key, (), exact, doubt), *found[key][1:])
        for key, (exact, doubt) in KNOWN[name, which].items()
    ]
