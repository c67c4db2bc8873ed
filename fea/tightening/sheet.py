"""The tightening sheet of a press: what to set on each rod, pass by pass, and how it was found."""

from __future__ import annotations

import csv
import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from fea import results
from fea.frame.press import assemble, end_compliance
from fea.frame.stations import condense, tightenable
from fea.stack import Report
from fea.tightening.embedment import loss, settling
from fea.tightening.passes import (
    Bench,
    Pass,
    equal_rounds,
    scatter,
    schedule,
    star_order,
)
from geometry import case as case_file
from geometry import layout, tables
from geometry.parts import Press

TORQUE_SCATTER = 0.30
"""Of the preload under one torque: ±25 to 30 % (VDI 2230-1, table A8, from memory)."""

FRICTION = 0.12
"""In thread and under the nut, lightly oiled (VDI 2230-1, table A5, class B; from memory)."""

MARK = "tightening.json"


@dataclass(frozen=True)
class Line:
    """One rod in one pass, SI."""

    number: int
    rod: str
    force: float
    stretch: float
    """Of the rod between its nuts: what an indicator reads (m)."""
    turn: float
    """Of the nut in this pass, from where it touches in the first (degrees)."""
    flats: float
    jack: float
    """Force (N) at which a hydraulic tensioner must stand when the nut is run down by hand."""
    torque: float
    """N·m, if nothing better than a torque wrench is at hand."""


@dataclass(frozen=True)
class Sheet:
    """A schedule, and what the usual way would have taken."""

    press: str
    lines: tuple[Line, ...]
    target: float
    """Force of every rod after the last pass, before settling (N)."""
    preload: float
    settling_loss: float
    limit: float
    """What no rod may pass on the way (N)."""
    highest: float
    scatter: float
    wanted: float
    rounds: int
    """Rounds to the same value that the usual way takes to come within `wanted`."""
    first_round: float
    """Scatter after its first round."""
    influence: tuple[tuple[float, ...], ...]
    rods: tuple[str, ...]


def prepare(press: Press, case: case_file.Case, report: Report) -> Bench:
    """Condense both stacks and join them into a bench for tightening.

    Raises
    ------
    UsageError
        If the rods have no seats.
    """
    tightenable(press)
    stations = {stack.name: condense(press, stack, case, report) for stack in press.stacks}
    whole = assemble(press, stations["crosshead"], stations["bed"])
    return Bench(whole.frame, len(press.rods), whole.weight)


def make(
    press: Press, bench: Bench, wanted: float, passes: int | None = None, jacks: int = 1
) -> Sheet:
    """Work out the schedule for a press on its bench.

    Raises
    ------
    Unreachable
        If a rod would have to bear more than yield over the rods' safety factor on the way.
    """
    count = bench.count
    groups = star_order([rod.at for rod in press.rods], jacks)
    preload = np.array([rod.preload for rod in press.rods])
    tight = bench.advance_for(bench.loose, range(count), preload)
    slope = bench.slope(np.full(len(bench.frame.springs), True))
    joint = 1 / np.diag(slope)[:count]
    lost = loss(settling(inner=2), joint)
    target = preload + lost
    rod = press.rods[0]
    limit = rod.stress_area * rod.material.yield_strength / press.rod_safety_factor
    done = schedule(bench, target, groups, limit, passes=passes)
    rounds = equal_rounds(bench, target, groups, wanted)
    return Sheet(
        press.name,
        _lines(press, done, joint),
        float(target.max()),
        rod.preload,
        float(lost.max()),
        limit,
        max(one.highest for one in done),
        scatter(done[-1].forces, target),
        wanted,
        len(rounds),
        scatter(rounds[0].forces, target),
        tuple(map(tuple, bench.influence(tight).tolist())),
        tuple(r.name for r in press.rods),
    )


def _lines(press: Press, done: tuple[Pass, ...], joint: np.ndarray) -> tuple[Line, ...]:
    lines = []
    for number, one in enumerate(done, 1):
        for step in one.steps:
            for index, force, turned in zip(step.rods, step.set_to, step.turned, strict=True):
                rod = press.rods[index]
                thread = tables.thread(rod.thread)
                # When the jack lets go, the nut and the thread in it take up the load and yield.
                end = end_compliance(rod)
                # VDI 2230-1: M = F (0.16 P + 0.58 d2 μ + D_K μ / 2), from memory.
                mean = (rod.hole + rod.nut_across_flats) / 2
                lever = 0.16 * thread.pitch + FRICTION * (0.58 * thread.d2 + mean / 2)
                turns = turned / thread.pitch
                lines.append(
                    Line(
                        number,
                        rod.name,
                        force,
                        force / rod.stiffness,
                        360 * turns,
                        6 * turns,
                        force * (1 + end / (joint[index] - end)),
                        force * lever,
                    )
                )
    return tuple(lines)


def write(sheet: Sheet, folder: Path) -> None:
    """Write ``tightening.json`` and ``tightening.csv`` (units in the header)."""
    text = json.dumps(asdict(sheet), indent=2)
    (folder / MARK).write_text(text + "\n", encoding="utf-8")
    head = ["pass", "rod", "force [N]", "stretch [m]", "nut angle [deg]", "nut flats [1]"]
    with (folder / "tightening.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow([*head, "jack force [N]", "torque [N m]"])
        writer.writerows(list(asdict(line).values()) for line in sheet.lines)


def tighten(
    path: Path, out: Path, report: Report, *, wanted: float, passes: int | None, jacks: int
) -> Sheet:
    """Work out the tightening sheet of a case file and put it into `out`.

    Raises
    ------
    PlatestackError
        If the case is bad, its rods cannot be tightened, or a step fails.
    """
    case = case_file.read(path)
    press = layout.build(case)
    tightenable(press)
    with results.directory(out) as folder:
        sheet = make(press, prepare(press, case, report), wanted, passes, jacks)
        report("sheet: write")
        write(sheet, folder)
    return sheet
