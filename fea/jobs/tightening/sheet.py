"""The tightening sheet of a press: what to set on each rod, pass by pass, and how it was found."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from platestack.fea.hand import bolts
from platestack.fea.jobs.tightening.embedment import loss, settling
from platestack.fea.jobs.tightening.measured import read_stretches
from platestack.fea.jobs.tightening.passes import (
    Bench,
    TighteningPass,
    equal_rounds,
    least_limit,
    scatter,
    schedule,
    star_order,
)
from platestack.fea.pictures import TighteningChart, tightening_picture
from platestack.fea.results import run_directory, summary_file
from platestack.fea.solid.frame.press import PressFrame, of_case
from platestack.fea.solid.stack import Report
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.errors import PlatestackError, UsageError
from platestack.geometry.parts import Press
from platestack.geometry.units import in_columns, percent

TORQUE_SCATTER = 0.30
"""Of the preload under one torque: ±25 to 30 % (VDI 2230-1, table A8, not verified)."""

FRICTION = 0.12
"""In thread and under the nut, lightly oiled (VDI 2230-1, table A5, class B; not verified)."""

PARTING = 2
"""Passes at least where plates may part: they yield more before the first than the frame has it."""

FEW = 3
"""Passes that a schedule should get along with."""

MARK = "tightening.json"
WANTED = 0.05
"""Departure from the preload allowed, if nothing else is asked."""


@dataclass(frozen=True)
class SheetLine:
    """One nut in one pass, SI."""

    number: int
    rod: str
    """The rod, and the stack at which it is turned where each of its nuts counts by itself."""
    force: float
    stretch: float
    """Of the rod between its nuts, or from nut to seat: what an indicator reads (m)."""
    turn: float
    """Of the nut in this pass, from where it touches in the first (degrees)."""
    flats: float
    jack: float
    """Force (N) at which a hydraulic tensioner must stand when the nut is run down by hand."""
    torque: float
    """N·m, if nothing better than a torque wrench is at hand."""


@dataclass(frozen=True)
class Moment:
    """Forces (N) of all ends, in the order of `Sheet.rods`, once some were set in a pass."""

    number: int
    set: tuple[str, ...]
    forces: tuple[float, ...]


@dataclass(frozen=True)
class TighteningSheet:
    """A schedule, and what the usual way would have taken."""

    press: str
    lines: tuple[SheetLine, ...]
    moments: tuple[Moment, ...]
    target: float
    """Force of every rod after the last pass, before settling (N)."""
    preload: float
    settling_loss: float
    limit: float
    """What no rod may pass on the way (N): the least of all rods."""
    highest: float
    """Largest part of its limit that a rod bears on the way."""
    scatter: float
    wanted: float
    rounds: int
    """Rounds to the same value that the usual way takes to come within `wanted`."""
    first_round: float
    """Scatter after its first round."""
    influence: tuple[tuple[float, ...], ...]
    rods: tuple[str, ...]
    measured: tuple[float, ...] | None = None
    """Forces (N) that measured stretches tell of, before the first pass of this sheet."""
    in_few: float | None = None
    """Part of their limit that rods would bear if `FEW` passes were to do; none if they do."""

    @property
    def price(self) -> str:
        """What the limit on the way costs, in a sentence; empty if nothing."""
        if self.in_few is None:
            return ""
        return (
            f"The limit on the way costs {self.lines[-1].number} passes; {FEW} would take a rod to "
            f"{percent(self.in_few)} of it."
        )

    @property
    def by_torque(self) -> float:
        """Chance that a round set by torque alone ends with all rods within `wanted`."""
        return by_torque(self.wanted, len(self.rods))


def tightenable(press: Press) -> None:
    """Refuse a press whose rods have nothing to be tightened against.

    Raises
    ------
    UsageError
        If the rods have no seats.
    """
    if press.rods[0].seat == "none":
        raise UsageError(
            'rods.seat: given "none"; the rods have nothing to be tightened against between the '
            'stacks and cannot hold a preload; allowed here: "sleeve", "shoulder", "inner nuts"'
        )
    if any(rod.preload <= 0 for rod in press.rods):
        raise UsageError('rods.preload: given "0 N"; allowed here: more than 0')


def prepare(press: Press, case: case_file.Case, report: Report) -> PressFrame:
    """Condense both stacks, in the state of preload, and join them.

    Raises
    ------
    UsageError
        If the rods have no seats.
    """
    tightenable(press)
    return of_case(press, case, report, "preload")


def order(frame: PressFrame, jacks: int) -> tuple[tuple[int, ...], ...]:
    """Ends tightened at one go: crosswise, at the crosshead first where both stacks have ends."""
    count = len(frame.press.rods)
    star = star_order([rod.at for rod in frame.press.rods], jacks)
    return tuple(
        tuple(first + rod for rod in group)
        for first in range(0, len(frame.ends), count)
        for group in star
    )


def make(
    frame: PressFrame,
    wanted: float,
    passes: int | None = None,
    jacks: int = 1,
    measured: np.ndarray | None = None,
) -> TighteningSheet:
    """Work out the schedule for a press.

    Parameters
    ----------
    measured : forces (ends,) in N that the rods have already, 0 for a loose nut; all loose if None.

    Raises
    ------
    Unreachable
        If a rod would have to bear more on the way than it may.
    """
    press, ends = frame.press, frame.ends
    bench = Bench(frame.frame, len(ends), frame.weight)
    groups = order(frame, jacks)
    preload = np.array([end.rod.preload for end in ends])
    tight = bench.advance_for(bench.loose, range(bench.count), preload)
    slope = bench.slope(np.full(len(bench.frame.springs), True))
    joint = 1 / np.diag(slope)[: bench.count]
    lost = loss(np.array([settling(end, press) for end in ends]), joint)
    target = preload + lost
    limits = may_bear(frame)
    start = None
    if measured is not None:
        held = np.flatnonzero(measured > 0).tolist()
        start = bench.advance_for(bench.loose, held, measured[held]) if held else None
    parting = any(stack.interface != "welded" for stack in press.stacks)
    fewest = PARTING if parting and start is None else 1
    done = schedule(bench, target, groups, limits, passes=passes, fewest=fewest, start=start)
    rounds = equal_rounds(bench, target, groups, wanted)
    in_few = None
    if passes is None and len(done) > FEW:
        in_few = least_limit(bench, target, groups, limits, FEW, start)
    names = tuple(end.name for end in ends)
    return TighteningSheet(
        press.name,
        _lines(frame, done, joint),
        tuple(
            Moment(number, tuple(names[i] for i in step.rods), tuple(step.forces.tolist()))
            for number, one in enumerate(done, 1)
            for step in one.steps
        ),
        float(target.max()),
        press.rods[0].preload,
        float(lost.max()),
        float(limits.min()),
        max(one.use(limits) for one in done),
        scatter(done[-1].forces, target),
        wanted,
        len(rounds),
        scatter(rounds[0].forces, target),
        tuple(map(tuple, bench.influence(tight).tolist())),
        names,
        None if measured is None else tuple(measured.tolist()),
        in_few,
    )


def may_bear(frame: PressFrame) -> np.ndarray:
    """Force (ends,) in N that no rod may pass on the way, for its thread and its sleeve.

    A rod that is tightened alone squeezes its own sleeve with all of its force, and hardly another.
    """
    press, limits = frame.press, []
    for rod in (end.rod for end in frame.ends):
        most = rod.stress_area / press.rod_safety_factor
        if rod.seat == "sleeve":
            most = min(most, rod.sleeve_area / press.yield_safety_factor)
        limits.append(most * rod.material.yield_strength)
    return np.array(limits)


def by_torque(wanted: float, rods: int) -> float:
    """Chance that so many rods, each set once by torque, all end within a part of their target.

    Preloads by torque are taken as normal, nineteen of twenty within `TORQUE_SCATTER`; more rounds
    draw anew and do not narrow it. What rods take from each other comes on top.
    """
    return math.erf(wanted / (TORQUE_SCATTER / 2) / math.sqrt(2)) ** rods


def _lines(
    frame: PressFrame, done: tuple[TighteningPass, ...], joint: np.ndarray
) -> tuple[SheetLine, ...]:
    lines = []
    for number, one in enumerate(done, 1):
        for step in one.steps:
            for index, force, turned in zip(step.rods, step.set_to, step.turned, strict=True):
                end = frame.ends[index]
                rod = end.rod
                thread = tables.rod_thread(rod.thread)
                # When the jack lets go, the nut and the thread in it take up the load and yield.
                yields = rod.end_compliance
                torque = bolts.torque(thread, force, FRICTION, rod.nut_across_flats, rod.hole)
                turns = turned / thread.pitch
                lines.append(
                    SheetLine(
                        number,
                        end.name,
                        force,
                        force / end.stiffness,
                        360 * turns,
                        6 * turns,
                        force * (1 + yields / (joint[index] - yields)),
                        torque,
                    )
                )
    return tuple(lines)


def write(sheet: TighteningSheet, press: Press, folder: Path) -> None:
    """Write ``tightening.json``, ``tightening.csv`` (units in the header) and a picture."""
    text = json.dumps(result_files.head("tightening") | asdict(sheet), indent=2)
    (folder / MARK).write_text(text + "\n", encoding="utf-8")
    head = {"pass": "", "rod": "", "force": "N", "stretch": "m", "nut angle": "deg",
            "nut flats": "1", "jack force": "N", "torque": "N m"}  # fmt: skip
    rows = [dict(zip(head, asdict(line).values(), strict=True)) for line in sheet.lines]
    with (folder / "tightening.csv").open("w", newline="", encoding="utf-8") as file:
        file.write(result_files.csv_head("tightening"))
        writer = csv.writer(file)
        writer.writerows(in_columns({k: unit for k, unit in head.items() if unit}, rows))
    draw(sheet, press, folder / "tightening.png")


def draw(sheet: TighteningSheet, press: Press, path: Path) -> Path:
    """Draw the order on the plan, and the force of every rod step by step, as PNG."""
    largest = max(press.crosshead.main_plates, key=lambda plate: np.prod(np.ptp(plate.bounds, 0)))
    (x0, y0, _), (x1, y1, _) = largest.bounds
    chart = TighteningChart(
        sheet.press,
        sheet.rods,
        tuple(rod.at for rod in press.rods),
        press.rods[0].nut_across_flats,
        (x0, y0, x1, y1),
        tuple((moment.number, moment.set, moment.forces) for moment in sheet.moments),
        sheet.measured,
        sheet.target,
        sheet.limit,
    )
    return tightening_picture(chart, path)


def of_run(run: run_directory.Run, report: Report) -> TighteningSheet | None:
    """The sheet of a finished run: as kept in its directory, else worked out and kept there.

    None for rods that cannot be tightened.

    Raises
    ------
    PlatestackError
        If a step fails, or the sheet cannot be kept.
    """
    try:
        tightenable(run.press)
    except UsageError:
        return None
    if (found := kept(run)) is not None:
        return found
    sheet = make(prepare(run.press, run.case, report), WANTED)
    try:
        write(sheet, run.press, run.folder)
    except OSError as error:
        raise PlatestackError(f"{run.folder}: cannot be written: {error.strerror}") from None
    return sheet


def kept(run: run_directory.Run) -> TighteningSheet | None:
    """The sheet in a run's directory; None where there is none of this version."""
    try:
        return read(run.folder / MARK)
    except UsageError:
        return None


def read(file: Path) -> TighteningSheet:
    """Read a sheet that `write` left.

    Raises
    ------
    UsageError
        If it is none.
    """
    try:
        data = summary_file.load_json(file)
        data["lines"] = tuple(SheetLine(**line) for line in data["lines"])
        data["moments"] = tuple(
            Moment(m["number"], tuple(m["set"]), tuple(m["forces"])) for m in data["moments"]
        )
        data["influence"] = tuple(map(tuple, data["influence"]))
        for name in ("rods", "measured"):
            data[name] = None if data[name] is None else tuple(data[name])
        return TighteningSheet(**data)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise UsageError(f"{file}: not a tightening sheet ({error})") from None


def tighten(
    path: Path,
    out: Path,
    report: Report,
    *,
    wanted: float,
    passes: int | None,
    jacks: int,
    measured: Path | None = None,
) -> TighteningSheet:
    """Work out the tightening sheet of a case file and put it into `out`.

    Raises
    ------
    PlatestackError
        If the case or the measured stretches are bad, the rods cannot be tightened, or a step
        fails.
    """
    case = case_file.read(path)
    press = layout.build(case)
    tightenable(press)
    lengths = None if measured is None else read_stretches(measured, press)
    with run_directory.directory(out, MARK) as folder:
        frame = prepare(press, case, report)
        forces = None
        if lengths is not None:
            forces = np.array([lengths[end.name] * end.stiffness for end in frame.ends])
        sheet = make(frame, wanted, passes, jacks, forces)
        report("sheet: write")
        write(sheet, press, folder)
    return sheet
