"""How often the band of beam theory is right: ``python -m tests.figures.sound_presses FILE``.

Of presses drawn at random one stack, crosshead and bed in turn, is solved on one coarse mesh and
kept in FILE, one line of JSON for each press, so that a second call goes on where the first ended
(``--presses`` says how many, ``--seconds`` for how long; ``--judge`` solves no more). Printed are
the stacks whose deflection lies outside of the band, and how many of those are found where one side
alone is wrong: the solids are right and the beam is given a wrong unit, thickness, support,
symmetry or load. It ends with 1 where more than 2 % of the sound stacks are outside or fewer than
95 % of the wrong ones.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.hand.beam import beam_check
from platestack.fea.hand.bending import NotABeam
from platestack.fea.solid import stack as solid
from platestack.fea.solid.model import check_sag
from platestack.fea.support.errors import SolveError
from platestack.geometry import layout, mesher
from platestack.geometry.errors import PlatestackError
from platestack.geometry.mesh import Sizes
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.symmetry import choose_symmetry
from tests.figures.drawn_presses import Draw

PRESSES, MOST_OUT, LEAST_FOUND = 200, 0.02, 0.95
Given = tuple[Stack, tuple[Any, ...], float]
"""What a beam is made of: stack, rods, force."""


@dataclass(frozen=True)
class Solved:
    """A stack's deflection by solids, and the error of it (m)."""

    deflection: float
    error: float


def solved(press: Press, stack: Stack, case: Case) -> Solved:
    """A stack on one coarse mesh."""
    symmetry = choose_symmetry(stack, press.rods, case.mesh.symmetry)
    xs = [rod.at[0] for rod in press.rods]
    sizes = Sizes((max(xs) - min(xs)) / 4, round_divisions=8, ring_divisions=1, patch_divisions=4)
    mesh = mesher.make(stack, press.rods, symmetry, sizes)
    clock = solid.Clock(lambda words: None, stack.name)
    reading = solid._Reading(press, stack, mesh, clock, 1)
    return Solved(reading.deflection, reading.as_pass().deflection_error)


def row(seed: int) -> dict[str, Any]:
    """What is kept of a drawn press."""
    case = Draw(seed).press()
    press = layout.build(case)
    kept: dict[str, Any] = {"seed": seed, "case": digest(case), "stacks": {}}
    began = time.perf_counter()
    try:
        check_sag(press)
        stack = press.stacks[seed % 2]
        found = solved(press, stack, case)
        kept["stacks"][stack.name] = [found.deflection, found.error]
    except (SolveError, PlatestackError) as error:
        kept["why"] = str(error)
    kept["time"] = time.perf_counter() - began
    return kept


def digest(case: Case) -> str:
    """Of what a case makes, so that what is kept of another draw is not taken for it."""
    press = layout.build(case)
    told: list[Any] = [press.capacity]
    for stack in press.stacks:
        gap, patch = stack.gap, stack.patch
        told += [stack.interface, gap.uniform, gap.bow, gap.waviness, patch.length, patch.width]
        told += [(*plate.outline.box, plate.thickness, plate.base) for plate in stack.plates]
    told += [(*rod.at, rod.diameter, rod.seat, rod.preload) for rod in press.rods]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def solve(file: Path, presses: int, seconds: float) -> None:
    """Solve what FILE does not have yet."""
    known = stored(file, presses)
    end = time.monotonic() + seconds
    for seed in range(presses):
        if seed not in known and time.monotonic() < end:
            made = row(seed)
            with file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(made) + "\n")


def stored(file: Path, presses: int) -> dict[int, tuple[Case, dict[str, Any]]]:
    """Cases and what is kept of them, by seed; what is of another draw is left out."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.exists() else []
    kept = {one["seed"]: one for one in map(json.loads, lines)}
    cases = {seed: Draw(seed).press() for seed in sorted(kept) if seed < presses}
    return {seed: (case, kept[seed]) for seed, case in cases.items()
            if kept[seed]["case"] == digest(case)}  # fmt: skip


# --- one side wrong


def with_plates(given: Given, factor: float) -> Given:
    """All plates thicker or thinner, those on edge higher or lower."""
    stack, rods, force = given
    scaled = []
    for plate in stack.plates:
        if stack.layout == "flat":
            plate = replace(plate, base=factor * plate.base, thickness=factor * plate.thickness)
        elif plate.normal == "y":
            outline = replace(plate.outline, width=factor * plate.outline.width)
            plate = replace(plate, outline=outline)
        scaled.append(plate)
    faces = {"load_face": stack.load_face, "nut_face": stack.nut_face}
    if stack.layout == "flat":
        faces = {name: factor * z for name, z in faces.items()}
    return replace(stack, plates=tuple(scaled), **faces), rods, force


def with_rods(given: Given, along: float) -> Given:
    """Rods and saddles nearer to the axis along x."""
    stack, rods, force = given
    moved = tuple(replace(rod, at=(along * rod.at[0], rod.at[1])) for rod in rods)
    plates = []
    for plate in stack.plates:
        if plate.role == "saddle":
            x, y = plate.outline.centre
            plate = replace(plate, outline=replace(plate.outline, centre=(along * x, y)))
        plates.append(plate)
    return replace(stack, plates=tuple(plates)), moved, force


def with_force(given: Given, factor: float) -> Given:
    """Another force."""
    return given[0], given[1], factor * given[2]


FORCES = {
    "unit": (9.80665, 1 / 9.80665, 25.4, 1e-3),
    "symmetry": (2.0, 0.5, 4.0, 0.25),
    "load": (1.5, 1 / 1.5),
}
"""tf for kN and the reverse, inches for millimetres, N for kN; a plane of symmetry or two that were
forgotten or taken twice; half as much load again, or two thirds of it."""
THICKNESS = 0.75, 1.25
"""All plates a quarter thinner or thicker."""
PITCH = 0.75
"""Rods nearer together by a quarter along x."""


def put_wrong(kind: str, given: Given, rng: np.random.Generator) -> Given:
    """The same beam with one thing wrong."""
    if kind == "thickness":
        return with_plates(given, rng.choice(THICKNESS))
    if kind == "support":
        return with_rods(given, PITCH)
    return with_force(given, rng.choice(FORCES[kind]))


def checks(press: Press, seed: int) -> Iterator[tuple[str, str, Any]]:
    """Each stack of a press: its name, what is wrong ("" for nothing), and the beam's answer."""
    rng = np.random.default_rng(seed)
    for stack in press.stacks:
        given: Given = (stack, press.rods, press.capacity)
        yield stack.name, "", beam_check(*given)
        for kind in (*FORCES, "thickness", "support"):
            try:
                yield stack.name, kind, beam_check(*put_wrong(kind, given, rng))
            except NotABeam:
                yield stack.name, kind, None


def judge(file: Path, presses: int) -> bool:
    """Print who is out and who is found; whether it is as it should be."""
    out: list[str] = []
    sound: Counter[str] = Counter()
    found: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    width: list[float] = []
    unsolved = 0
    for seed, (case, one) in stored(file, presses).items():
        unsolved += "why" in one
        press = layout.build(case)
        for name, kind, check in checks(press, seed):
            if name not in one["stacks"]:
                continue
            deflection, error = one["stacks"][name]
            inside = check is not None and check.agrees(deflection, error)
            sort = f"{check.interface if check else ''}"
            if kind:
                wrong[kind] += 1
                found[kind] += not inside
                continue
            low, high = check.band
            width.append(high / low)
            sound[sort] += 1
            if not inside:
                out.append(sort)
                print(
                    f"press {seed}, {name}, {words(press, name)}: "
                    f"{1e3 * deflection:.4f} ± {1e3 * error:.4f} mm, "
                    f"expected {1e3 * low:.4f} to {1e3 * high:.4f} mm"
                )
    print(f"\n| interface | stacks | outside | share |\n{'| --- ' + 3 * '| ---: '}|")
    outside = Counter(out)
    for sort, count in sorted(sound.items()):
        print(f"| {sort} | {count} | {outside[sort]} | {outside[sort] / count:.1%} |")
    share = outside.total() / max(sound.total(), 1)
    print(f"| all | {sound.total()} | {outside.total()} | {share:.1%} |")
    print(f"\n{unsolved} presses have no solution on these meshes; "
          f"upper over lower end of the band: median {np.median(width):.2f}")  # fmt: skip
    print(f"\n| wrong | stacks | found | share |\n{'| --- ' + 3 * '| ---: '}|")
    for kind, count in wrong.items():
        print(f"| {kind} | {count} | {found[kind]} | {found[kind] / count:.1%} |")
    noticed = found.total() / max(wrong.total(), 1)
    print(f"| all | {wrong.total()} | {found.total()} | {noticed:.1%} |")
    return share <= MOST_OUT and noticed >= LEAST_FOUND


def words(press: Press, name: str) -> str:
    """A stack in a few words."""
    stack = next(one for one in press.stacks if one.name == name)
    gap = stack.gap
    uneven = ", ".join(
        f"{key} {1e3 * value:.2g} mm"
        for key, value in (("gap", gap.uniform), ("bow", gap.bow), ("waves", gap.waviness))
        if value
    )
    return (
        f"{stack.layout}, {len(stack.main_plates)} plates {stack.interface}, {len(press.rods)} "
        f"rods, seat {press.rods[0].seat}" + (f", {uneven}" if uneven else "")
    )


def main() -> int:
    """Solve, judge; 1 where it is not as it should be."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("file", type=Path)
    options.add_argument("--presses", type=int, default=PRESSES)
    options.add_argument("--seconds", type=float, default=1e9)
    options.add_argument("--judge", action="store_true")
    given = options.parse_args()
    if not given.judge:
        solve(given.file, given.presses, given.seconds)
    return int(not judge(given.file, given.presses))


if __name__ == "__main__":
    sys.exit(main())
