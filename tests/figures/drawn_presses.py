"""Sound presses drawn at random, as case files: what other programs here solve and compare.

Rods, span and plates follow from the capacity as a designer would choose them: nominal stress in
the plates of 50 to 150 MPa by beam theory, rods of 110 to 200 MPa, sag below a 400th of the span.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import tomlkit

from platestack.fea.hand import beam
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Case

Tree = dict[str, Any]

CAPACITIES = (30, 60, 100, 150, 250, 400, 630, 1000)
DIAMETERS = (30, 36, 42, 48, 56, 64, 72, 80, 90, 100, 110, 125, 140, 160, 180, 200)
SEATS = ("none", "none", "none", "sleeve", "inner nuts", "shoulder")
STIFFEST, SOFTEST = 50e6, 150e6
MOST_SAG = 1 / 400


def mm(value: float) -> str:
    """A length as a case file gives it, to half a millimetre."""
    return f"{round(2e3 * value) / 2:g} mm"


class Draw:
    """Draws of one press."""

    def __init__(self, seed: int):
        self.rng = np.random.default_rng(seed)
        self.text = ""
        """The case file of the press drawn last."""

    def one(self, *choices: Any) -> Any:
        """One of some, all alike likely."""
        return choices[self.rng.integers(len(choices))]

    def between(self, low: float, high: float) -> float:
        """Any value between two."""
        return float(self.rng.uniform(low, high))

    def press(self) -> Case:
        """The next sound press; what the rules refuse is drawn again."""
        while True:
            try:
                return self._sized(self._tree())
            except (PlatestackError, _Unsound, StopIteration):  # no rod is thick enough
                continue

    def _tree(self) -> Tree:
        """A case whose plates still want their thickness."""
        tf = self.one(*CAPACITIES)
        force = 9806.65 * tf
        count = self.one(2, 4, 4, 4, 6)
        area = force / count / self.between(110e6, 200e6)
        diameter = next(d for d in DIAMETERS if d >= 1e3 * np.sqrt(4 * area / np.pi)) / 1e3
        span = 0.35 * (tf / 30) ** 0.42 * self.between(0.85, 1.4)
        across = 0.0 if count == 2 else span * self.between(0.35, 0.8)
        pressure = self.one(25, 32, 40)
        bore = np.sqrt(4 * force / np.pi / (1e6 * pressure)) * 1.02
        edge = 2.6 * diameter
        section: Tree = {
            "length": mm(span + edge),
            "width": mm(max(across + edge, bore * 1.15)),
            "grade": "S355J2",
            "interface": self._interface(),
        }
        rods: Tree = {"count": count, "diameter": mm(diameter), "seat": self.one(*SEATS)}
        rods["pitch"] = mm(span) if count == 2 else [mm(span), mm(across)]
        if rods["seat"] == "sleeve":
            rods |= {"seat_diameter": mm(1.5 * diameter), "sleeve_bore": mm(1.08 * diameter)}
        if self.one(*[False] * 6, True):
            section, count, across = self._on_edge(span, diameter)
            rods |= {"count": count, "pitch": [mm(span), mm(across)]}
        patch: Tree = {"shape": "disc", "diameter": mm(span * self.between(0.2, 0.5))}
        if self.one(True, False, False):
            long, wide = span * self.between(0.2, 0.6), span * self.between(0.2, 0.4)
            patch = {"shape": "rectangle", "length": mm(long), "width": mm(wide)}
        return {
            "press": {
                "name": "drawn", "capacity": f"{tf} tf", "working_pressure": f"{pressure} MPa",
                "daylight": mm(span * self.between(0.3, 0.8)), "stroke": mm(0.3 * span),
            },
            "limits": {"ceiling": "9 m", "hoist": "30 t"},
            "crosshead": section, "bed": dict(section), "rods": rods,
            "ram": {"diameter": mm(bore)}, "workpiece": patch,
        }  # fmt: skip

    def _on_edge(self, span: float, diameter: float) -> tuple[Tree, int, float]:
        """Four upright plates with rods in the outer gaps; how many rods, their pitch across."""
        thick, gap, middle = span / self.between(14, 24), 1.3 * diameter, 0.07 * span
        flat = {"thickness": mm(span / 13)}
        section = {
            "layout": "on edge", "length": mm(span + 3 * diameter), "grade": "S355J2",
            "plates": f"4 x {mm(thick)}", "gaps": [mm(gap), mm(middle), mm(gap)],
            "platen": {**flat, "length": mm(0.6 * span)}, "saddle": flat,
        }  # fmt: skip
        return section, 4, middle + 2 * thick + gap

    def _interface(self) -> Tree:
        """How the plates are joined, and how uneven they are."""
        kind = self.one(*["welded"] * 6, *["loose"] * 4, "clamped")
        if kind == "welded":
            return {"kind": kind}
        uneven = self.one(
            {}, {}, {}, {"bow": mm(1e-3 * self.between(0.5, 2.0) * self.one(-1, 1))},
            {"flatness": "EN 10029 class N"}, {"gap": "0.5 mm"},
        )  # fmt: skip
        return {"kind": kind, **uneven}

    def _sized(self, tree: Tree) -> Case:
        """Give the plates the thickness at which beam theory says the stress that is drawn."""
        count, wanted = self.one(1, 1, 2, 2, 3, 3, 4, 5), self.between(STIFFEST, SOFTEST)
        case, low, high = None, 15, 300
        while high - low > 5:
            middle = 5 * round((low + high) / 10)
            for name in ("crosshead", "bed"):
                if tree[name].get("layout") == "on edge":
                    tree[name]["height"] = f"{4 * middle} mm"
                else:
                    tree[name]["plates"] = f"{count} x {middle} mm"
            self.text = tomlkit.dumps(tree)
            case = case_file.parse(self.text, "drawn.toml")
            press = layout.build(case)
            welded = press.bed.interface != "loose"
            stress, sag = beam.nominal(press.bed, press.rods, press.capacity, welded=welded)
            low, high = (middle, high) if stress > wanted else (low, middle)
        if case is None or high == 300 or low == 15:
            raise _Unsound
        span = layout.span(tuple(rod.at for rod in press.rods))
        if sag > MOST_SAG * span:
            raise _Unsound
        return case


class _Unsound(Exception):
    """No plates in the range are right for what was drawn."""
