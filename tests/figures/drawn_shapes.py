"""Valid geometry drawn at random: ``python -m tests.figures.drawn_shapes [COUNT] [START]``.

Stacks are drawn from round numbers, so that edges, rims and symmetry planes often meet: openings
of all shapes, every kind of corner, plates of any thickness, platens, washers and cylinders as
bodies, flat and on edge. What the rules refuse is counted; all else must be meshed, with the volume
of its plates by closed forms and with sound elements. It ends with 1 if one was not.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from typing import Any

import numpy as np
import tomlkit
from skfem import Basis, ElementTetP1, MeshTet2

from platestack.fea.solid.stack import default_sizes
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.errors import CaseError, PlatestackError
from platestack.geometry.parts import Press, Stack
from platestack.geometry.symmetry import symmetry_of

Tree = dict[str, Any]


def mm(value: float) -> str:
    """A length as a case file gives it."""
    return f"{value:g} mm"


class Draw:
    """Draws of one press."""

    def __init__(self, seed: int):
        self.rng = np.random.default_rng(seed)

    def one(self, *choices: Any) -> Any:
        """One of some, all alike likely."""
        return choices[self.rng.integers(len(choices))]

    def opening(self, grooves: bool) -> Tree:
        """An opening of any shape, on a grid of 10 mm."""
        at = [mm(10 * self.rng.integers(-22, 23)), mm(10 * self.rng.integers(-8, 9))]
        shape = self.one("round", "rectangle", "groove") if grooves else "round"
        if shape == "round":
            return {"shape": shape, "at": at, "diameter": mm(self.one(2, 6, 10, 20, 40, 60))}
        if shape == "rectangle":
            a, b = self.one(5, 10, 20, 40, 80), self.one(5, 10, 20, 40, 80)
            radius = self.one(0, 1, 5, min(a, b) / 4, min(a, b) / 2)
            return {"shape": shape, "at": at, "length": mm(a), "width": mm(b),
                    "corner_radius": mm(radius)}  # fmt: skip
        head = self.one({}, {"head_width": "40 mm", "head_depth": "2 mm"})
        along = self.one("x", "y")
        return {
            "shape": shape, "along": along, "at": at[along == "x"],
            "width": mm(self.one(5, 10, 20)), "depth": mm(self.one(3, 10, 25, 30)), **head,
        }  # fmt: skip

    def section(self, grooves: bool) -> Tree:
        """A crosshead or a bed."""
        thick = [mm(self.one(5, 12, 20, 30, 50, 50, 80, 120)) for _ in range(self.one(1, 2, 3))]
        made: Tree = {
            "length": mm(self.one(460, 500, 600, 800)), "width": mm(self.one(180, 200, 300, 600)),
            "plates": thick, "grade": "soft",
            "corners": self.one("straight", "chamfered", "rounded"),
            "openings": [self.opening(grooves) for _ in range(self.one(0, 1, 1, 2, 3))],
        }  # fmt: skip
        if made["corners"] != "straight":
            made["corner_size"] = mm(self.one(1, 5, 20, 45, 90, 100, 150, 300))
        if self.one(True, False, False):
            made["platen"] = {"thickness": mm(self.one(10, 40)), "length": "300 mm",
                              "width": mm(self.one(120, 180, 300)), "grade": "soft"}  # fmt: skip
        return made

    def press(self) -> Tree:
        """A whole case."""
        outer = self.one(150, 170, 180)
        made: Tree = {
            "press": {"name": "drawn", "capacity": "30 tf", "working_pressure": "25 MPa",
                      "daylight": "250 mm", "stroke": "120 mm"},
            "crosshead": self.section(grooves=True), "bed": self.section(grooves=True),
            "rods": {"count": 2, "pitch": mm(self.one(300, 350, 380)),
                     "diameter": mm(self.one(36, 45, 48))},
            "ram": {"diameter": "125 mm", "outer_diameter": mm(outer)},
            "workpiece": self.one({"diameter": mm(self.one(20, 80, 140))},
                                  {"shape": "rectangle", "length": mm(self.one(20, 100)),
                                   "width": mm(self.one(60, 100))}),
            "materials": {"soft": {"yield_strength": "200 MPa", "tensile_strength": "400 MPa"}},
        }  # fmt: skip
        if self.one(True, False):
            made["rods"] |= {"count": 4, "pitch": [made["rods"]["pitch"], "120 mm"]}
        if self.one(True, False, False):
            made["rods"]["washer_interface"] = {"kind": self.one("welded", "loose")}
        if self.one(True, False, False):
            made["ram"]["interface"] = {"kind": self.one("welded", "loose")}
        if self.one(True, False, False):
            made["workpiece"]["offset"] = [mm(self.one(0, 10, 20)), mm(self.one(0, 5))]
        return made


def fault(press: Press, stack: Stack) -> str:
    """What is wrong with the mesh of a stack; empty if nothing is."""
    sizes = default_sizes(stack, press.rods)
    try:
        mesh = mesher.make(stack, press.rods, symmetry_of(stack, press.rods), sizes)
    except PlatestackError as error:
        return str(error)
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP1(), intorder=4)
    volume = float(basis.dx.sum()) * mesh.share
    parts = sum(body.volume for body in stack.bodies)
    # Six parabolas round a circle miss a thousandth of its area, of the plate's far less.
    if abs(volume / parts - 1) > 2e-4:
        return f"volume {1e6 * volume:.6g} cm³ against {1e6 * parts:.6g} cm³"
    if mesh.quality.worst < 1e-3:
        return f"worst shape {mesh.quality.worst:.1e}"
    return ""


def accepted(draw: Draw, tally: Counter[str]) -> tuple[Tree, Press]:
    """Draw until a press is within the rules; counts what was not."""
    while True:
        data = draw.press()
        try:
            return data, layout.build(case_file.parse(tomlkit.dumps(data), "drawn.toml"))
        except CaseError:
            tally["refused"] += 1


def trial(count: int, start: int = 0) -> Counter[str]:
    """Mesh so many presses; prints each fault. How many were refused, meshed, and not."""
    tally = Counter[str]()
    for seed in range(start, start + count):
        data, press = accepted(Draw(seed), tally)
        for stack in press.stacks:
            words = fault(press, stack)
            tally["fault" if words else "meshed"] += 1
            if words:
                print(f"{seed} {stack.name}: {words}\n{data}\n", flush=True)
    return tally


def main() -> int:
    """Print what was drawn, refused and meshed; 1 if something could not be meshed."""
    given = [int(word) for word in sys.argv[1:]]
    began = time.perf_counter()
    tally = trial(*(given or [200]))
    print(
        f"{tally['meshed']} stacks were meshed, {tally['fault']} were not, "
        f"{tally['refused']} presses were refused, in {time.perf_counter() - began:.0f} s"
    )
    return 1 if tally["fault"] else 0


if __name__ == "__main__":
    sys.exit(main())
