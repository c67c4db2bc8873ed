"""Presses drawn at random, their states judged and solved a second way.

``python -m tests.figures.states FILE --count 60 --seed 1`` draws them:
bows of both signs, waviness, plates as EN 10029 class N delivers them, every seat of the rods,
clamped and loose, flat and on edge, on coarse meshes. Each bed is tightened, pressed and released.
Its complementarity error, balance and work are judged, and its deflection is compared on the same
mesh, within the error that the product states, with a solver of its own
(`tests.figures.stiff_contact`). ``--cases`` takes the cases of ``cases/`` with each kind, seat and
flatness instead of drawn presses. Rows are kept in FILE as they are found, so that a second call
goes on.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import time
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import product
from pathlib import Path
from typing import Any

import tomlkit
from numpy.linalg import LinAlgError

from platestack.fea.solid import stack
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
COUNT, SEED = 60, 1


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


@dataclass(frozen=True)
class Judged:
    """How true the states of a bed are, and its deflection (m) solved a second way.

    Or `why` there are none: its case is refused, or not solved.
    """

    name: str
    why: str = ""
    deflection: float = 0.0
    error: float = 0.0
    contact_error: float = 0.0
    reference: float = 0.0
    complementarity: float = 0.0
    across: float = 0.0
    balance: float = 0.0
    work: float = 0.0
    iterations: int = 0
    seconds: float = 0.0

    @property
    def refused(self) -> bool:
        """Whether there is no such press."""
        return self.why.startswith("refused")

    @property
    def off(self) -> float:
        """How far the reference is from the deflection (m)."""
        return abs(self.reference - self.deflection)

    @property
    def right(self) -> bool:
        """Whether the states are true, and the reference within the error."""
        true = self.work > 0 and self.balance < 1e-6 and self.across < 1e-2
        true = true and self.complementarity < 1e-2 and self.deflection > 0
        return not self.why and true and self.off <= self.error

    @property
    def row(self) -> str:
        """The row of the table."""
        if self.why:
            return f"| {self.name} | {self.why} |"
        return (
            f"| {self.name} | {1e3 * self.deflection:.4f} ± {1e3 * self.error:.4f} mm | "
            f"{1e3 * self.reference:.4f} mm | {self.off / self.error:.2f} | "
            f"{self.off / self.contact_error:.1f} | {self.complementarity:.0e} | "
            f"{self.across:.0e} | {self.balance:.0e} | {self.work:.1f} J | {self.iterations} | "
            f"{self.seconds:.0f} s | {'' if self.right else 'WRONG'} |"
        )


def judged(name: str, press: Press, bed: Stack, mesh: StackMesh) -> Judged:
    """Tighten, press and release a bed."""
    started = time.perf_counter()
    reading = stack._Reading(press, bed, mesh, stack.Clock(lambda words: None, bed.name), 1)
    pressing: Pressing = reading._pressing
    states = [pressing.tightened, pressing.pressed, pressing.released()]
    found = [state.contact for state in states if state is not None and state.contact]
    return Judged(
        name,
        deflection=reading.deflection,
        error=reading._deflection_error.size,
        contact_error=pressing.contact_error,
        complementarity=max(one.complementarity for one in found),
        across=max(one.across_gaps for one in found),
        balance=pressing.balance,
        work=pressing.work,
        iterations=sum(one.iterations for one in found),
        seconds=time.perf_counter() - started,
        reference=stiff_contact.deflection(pressing),
    )


def tried(data: dict[str, Any], name: str) -> Judged:
    """A case judged, or why it has no solution."""
    try:
        case = case_file.parse(tomlkit.dumps(data), name)
        press = layout.build(case)
    except CaseError as error:
        return Judged(name, f"refused: {str(error).splitlines()[0][:150]}")
    bed = press.bed
    xs = [rod.at[0] for rod in press.rods]
    sizes = Sizes((max(xs) - min(xs)) / 4, round_divisions=8, ring_divisions=1, patch_divisions=4)
    symmetry = choose_symmetry(bed, press.rods, case.mesh.symmetry)
    try:
        return judged(name, press, bed, mesher.make(bed, press.rods, symmetry, sizes))
    except SolveError as error:
        return Judged(name, f"NOT SOLVED: {str(error)[:200]}")
    except (AssertionError, LinAlgError) as error:
        return Judged(name, f"NO REFERENCE: {str(error)[:200]}")


def presses(seed: int, count: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Drawn presses, refused ones among them."""
    rng = random.Random(seed)
    return (drawn(rng) for _ in range(count))


def main() -> int:
    """Print the table; 1 where any is not right."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("file", type=Path)
    options.add_argument("--count", type=int, default=COUNT)
    options.add_argument("--seed", type=int, default=SEED)
    options.add_argument("--cases", action="store_true")
    options.add_argument("--only", default="", help="words of the name")
    options.add_argument("--judge", action="store_true", help="solve no more")
    given = options.parse_args()
    lines = given.file.read_text(encoding="utf-8").splitlines() if given.file.exists() else []
    known = {key: Judged(**values) for key, values in map(json.loads, lines)}
    source = of_cases() if given.cases else presses(given.seed, 10 * given.count)
    made: list[Judged] = []
    print("| press | deflection | reference | off over error | off over error of contact | "
          "complementarity | across gaps | balance | work | iterations | time | |")  # fmt: skip
    print(f"| --- |{' ---: |' * 10} --- |")
    for number, (name, data) in enumerate(source):
        if len(made) == given.count and not given.cases:
            break
        key = name if given.cases else f"{given.seed} {number} {name}"
        if not all(word in name for word in given.only.split()):
            continue
        if key not in known:
            if given.judge:
                continue
            known[key] = tried(data, name)
            with given.file.open("a", encoding="utf-8") as out:
                out.write(json.dumps([key, asdict(known[key])]) + "\n")
        print(known[key].row, flush=True)
        if not known[key].refused:
            made.append(known[key])
    right = [one for one in made if one.right]
    print(f"{len(right)} of {len(made)} right")
    return int(len(right) < len(made))


if __name__ == "__main__":
    sys.exit(main())
