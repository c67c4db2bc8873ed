"""Presses drawn at random, their states judged and solved a second way.

``python -m tests.figures.states --count 60 --seed 1`` draws them:
bows of both signs, waviness, plates as EN 10029 class N delivers them, every seat of the rods,
clamped and loose, flat and on edge, on coarse meshes. Each bed is tightened, pressed and released.
Its complementarity error, balance and work are judged, and its deflection is compared on the same
mesh, within the error that the product states: clamped beds with the same law converged tightly,
loose ones with a solver of their own (`tests.figures.stiff_contact`). ``--cases`` takes the
cases of ``cases/`` with each kind, seat and flatness instead of drawn presses.
"""

from __future__ import annotations

import argparse
import math
import random
import time
import tomllib
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path
from typing import Any
from unittest import mock

import tomlkit

from platestack.fea.solid import contact, stack
from platestack.fea.solid.contact import law
from platestack.fea.solid.pressing import Pressing
from platestack.fea.support.errors import SolveError
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.errors import CaseError
from platestack.geometry.mesh import Sizes, StackMesh
from platestack.geometry.parts import Press, Stack
from platestack.geometry.symmetry import choose_symmetry
from tests.figures import stiff_contact

CASES = Path(__file__).parent.parent.parent / "cases"
SEATS = ("none", "inner nuts", "shoulder", "sleeve")
TIGHT = 100.0
"""How much less the reference leaves of forces and of complementarity."""


def drawn(rng: random.Random) -> tuple[str, dict[str, Any]]:
    """What is special of a drawn press, and its case."""
    seat, kind = rng.choice(SEATS), rng.choice(("clamped", "loose"))
    interface = {"kind": kind} | (
        {"friction": rng.choice((0.1, 0.2, 0.4))} if kind == "clamped" else {}
    )
    uneven = rng.choice(("flat", "bow", "bow", "hollow", "waves", "class N"))
    if uneven in ("bow", "hollow"):
        sign = "" if uneven == "bow" else "-"
        interface["bow"] = f"{sign}{rng.choice((0.1, 0.3, 1.0, 3.0))} mm"
    elif uneven == "waves":
        interface |= {"waviness": f"{rng.choice((0.05, 0.2))} mm", "wave_length": "200 mm"}
    elif uneven == "class N":
        interface["flatness"] = "EN 10029 class N"
    if rng.random() < 0.15:
        data = tomllib.loads((CASES / "on_edge" / "on_edge.toml").read_text(encoding="utf-8"))
        shape = "on edge"
    else:
        data, shape = _flat(rng), "flat"
    return f"{shape} {kind} {seat} {uneven}", with_interface(data, interface, seat)


def _flat(rng: random.Random) -> dict[str, Any]:
    """A press of flat stacks with two or four rods."""
    length, width = rng.randrange(420, 900, 20), rng.randrange(200, 420, 20)
    thick = [rng.randrange(30, 120, 10) for _ in range(rng.choice((2, 2, 3)))]
    count, rod = rng.choice((2, 4)), rng.choice((45, 56, 64))
    capacity = round(sum(t**2 for t in thick) * width / length / 250 * rng.uniform(0.3, 1.2))
    bore = 10 * math.ceil(math.sqrt(capacity * 9806.65 / 25 * 4 / math.pi) / 10)
    section = {"length": f"{length} mm", "width": f"{width} mm", "grade": "S355J2",
               "plates": [f"{t} mm" for t in thick]}  # fmt: skip
    pitch = f"{length - 140} mm"
    return {
        "press": {"name": "Drawn", "capacity": f"{capacity} tf", "working_pressure": "25 MPa",
                  "daylight": "400 mm", "stroke": "150 mm"},
        "crosshead": section,
        "bed": dict(section),
        "rods": {"count": count, "diameter": f"{rod} mm",
                 "pitch": pitch if count == 2 else [pitch, f"{width - 110} mm"]},
        "ram": {"diameter": f"{bore} mm"},
        "workpiece": {"diameter": f"{rng.randrange(60, min(width, 200), 10)} mm"},
    }  # fmt: skip


def with_interface(data: dict[str, Any], interface: dict[str, Any], seat: str) -> dict[str, Any]:
    """The case with this between all plates, and rods with this seat."""
    for name in ("crosshead", "bed"):
        data[name]["interface"] = dict(interface)
    rods = data["rods"]
    for key in ("seat", "seat_diameter", "sleeve_bore", "preload"):
        rods.pop(key, None)
    rods["seat"] = seat
    if seat == "sleeve":
        diameter = float(rods["diameter"].split()[0])
        rods |= {"sleeve_bore": f"{diameter + 5} mm", "seat_diameter": f"{1.5 * diameter:.0f} mm"}
    return data


def of_cases() -> Iterator[tuple[str, dict[str, Any]]]:
    """All of `cases/`, clamped and loose, with each seat and flatness."""
    for file in sorted(CASES.glob("*/*.toml")):
        for kind, seat, flat in product(("clamped", "loose"), SEATS, (False, True)):
            data = tomllib.loads(file.read_text(encoding="utf-8"))
            interface = {"kind": kind} | ({"friction": 0.2} if kind == "clamped" else {})
            if not flat:
                interface["flatness"] = "EN 10029 class N"
            words = "flat" if flat else "class N"
            yield f"{file.stem} {kind} {seat} {words}", with_interface(data, interface, seat)


class Judged:
    """A bed with its states, how true they are, and its deflection solved a second way."""

    def __init__(self, press: Press, bed: Stack, mesh: StackMesh) -> None:
        started = time.perf_counter()
        clock = stack.Clock(lambda words: None, bed.name)
        reading = stack._Reading(press, bed, mesh, clock, 1)
        pressing: Pressing = reading._pressing
        states = [pressing.tightened, pressing.pressed, pressing.released()]
        self.seconds = time.perf_counter() - started
        found = [state.contact for state in states if state is not None and state.contact]
        self.deflection, self.error = reading.deflection, reading._deflection_error.size
        self.complementarity = max((one.complementarity for one in found), default=0.0)
        self.across = max((one.across_gaps for one in found), default=0.0)
        self.balance, self.work = pressing.balance, pressing.work
        self.steps = sum(one.iterations for one in found)
        if pressing.faces is None or pressing.faces.friction.any():
            self.reference = tight(press, bed, mesh)
        else:
            self.reference = stiff_contact.deflection(pressing)

    @property
    def right(self) -> bool:
        """Whether the state is true, and the reference within the error."""
        true = self.work > 0 and self.balance < 1e-6 and self.across < 1e-2
        true = true and self.complementarity < 1e-2 and self.deflection > 0
        return true and abs(self.reference - self.deflection) <= self.error


def tight(press: Press, bed: Stack, mesh: StackMesh) -> float:
    """Mid-span deflection (m) with the law converged tightly, under a harder penalty."""
    solve = contact.solve

    def tightly(*args: Any, **more: Any) -> contact.Contact:
        return solve(*args, **more, tol=1e-9, penetration=contact.NEGLIGIBLE / TIGHT)

    with mock.patch.object(contact, "solve", tightly), mock.patch.object(law, "HARDEST", TIGHT):
        return Pressing(press, bed, mesh, lambda step: None).deflection()[0]


def tried(data: dict[str, Any], name: str) -> Judged | str:
    """A case judged, or why it has no solution."""
    try:
        case = case_file.parse(tomlkit.dumps(data), name)
        press = layout.build(case)
    except CaseError as error:
        return f"refused: {str(error).splitlines()[0][:150]}"
    bed = press.bed
    xs = [rod.at[0] for rod in press.rods]
    sizes = Sizes((max(xs) - min(xs)) / 4, round_divisions=10, ring_divisions=1, patch_divisions=5)
    symmetry = choose_symmetry(bed, press.rods, case.mesh.symmetry)
    try:
        return Judged(press, bed, mesher.make(bed, press.rods, symmetry, sizes))
    except SolveError as error:
        return f"NOT SOLVED: {str(error)[:200]}"


def presses(seed: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Drawn presses, without end."""
    rng = random.Random(seed)
    while True:
        yield drawn(rng)


def trial(
    given: Iterator[tuple[str, dict[str, Any]]], count: int, tell: Callable[[str], None] = print
) -> tuple[int, int]:
    """Judge so many cases that are not refused: how many, and how many of them are right."""
    made = right = 0
    for name, data in given:
        if made == count:
            break
        found = tried(data, name)
        if isinstance(found, str):
            tell(f"| {name} | {found} |")
            made += found.startswith("NOT")
            continue
        made, right = made + 1, right + found.right
        off = abs(found.reference - found.deflection)
        tell(
            f"| {name} | {1e3 * found.deflection:.4f} ± {1e3 * found.error:.4f} mm | "
            f"{1e3 * found.reference:.4f} mm | {off / found.error:.2f} | "
            f"{found.complementarity:.0e} | {found.across:.0e} | {found.balance:.0e} | "
            f"{found.work:.1f} J | {found.steps} | {found.seconds:.0f} s | "
            f"{'' if found.right else 'WRONG'} |"
        )
    return made, right


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=60)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--cases", action="store_true")
    given = options.parse_args()
    print("| press | deflection | reference | off over error | complementarity | across gaps | "
          "balance | work | iterations | time | |")  # fmt: skip
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | --- |")
    source = of_cases() if given.cases else presses(given.seed)
    made, right = trial(source, 10_000 if given.cases else given.count,
                        lambda words: print(words, flush=True))  # fmt: skip
    print(f"{right} of {made} right")


if __name__ == "__main__":
    main()
