"""What was measured against what was expected: stiffness, offset, and what may be the reason."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platestack.fea.jobs.proof.plan import ProofPlan
from platestack.fea.jobs.proof.readings import Reading, pressure_shown, shown_as
from platestack.fea.results.summary import Summary
from platestack.geometry import case as case_file
from platestack.geometry.errors import CaseError, UsageError
from platestack.geometry.units import NAMES, fixed, percent

MOST = 1e6
"""Of a column's own unit (mm, µm/m, MPa): more than any instrument shows."""

AGREES = "Every fitted reading lies within its band of the computed one."


SOFTER = {
    "clamped": "less friction or clamping between plates than assumed, ",
    "loose": "",
    "welded": "plates without full composite action (missing welds or bolts), ",
}
ANY_SOFTER = (
    f"thinner plates than nominal ({percent(0.01)} of thickness is {percent(0.03)} of stiffness), "
    "a lower modulus of "
    "elasticity, plates that are not flat, or more force than the gauge says"
)
STIFFER = {
    "clamped": "more friction between plates than assumed, ",
    "loose": "friction between plates, which the case leaves out, ",
    "welded": "",
}
ANY_STIFFER = (
    f"thicker plates than nominal ({percent(0.01)} of thickness is {percent(0.03)} of stiffness), "
    "a higher modulus of "
    "elasticity, less force than the gauge says, or a bridge that follows the plate"
)
"""Reasons by interface, and those of any stack: bending stiffness is E t³."""


@dataclass(frozen=True)
class Series:
    """Pressures (Pa) and readings (SI) of one instrument, (n,) each."""

    reading: Reading
    pressure: np.ndarray
    value: np.ndarray

    @property
    def least_scatter(self) -> float:
        """Standard deviation that the instrument itself has at least (SI)."""
        return self.reading.fixed / 3


@dataclass(frozen=True)
class StraightFit:
    """Least squares: measured = expected / stiffness + offset.

    `stiffness` is measured over computed stiffness; uncertainties are standard ones, from the
    scatter about the line; `deviates` where it leaves the band by more than twice its own.
    """

    name: str
    stiffness: float
    stiffness_uncertainty: float
    offset: float
    offset_uncertainty: float
    band: float
    points: int
    deviates: bool


def read(path: Path, plan: ProofPlan) -> tuple[Series, ...]:
    """Read a filled-in file; an empty cell was not read.

    Raises
    ------
    UsageError
        With the line, for a column or a cell that cannot be used, or fewer than three pressures.
    """
    try:
        lines = list(csv.reader(case_file.text_of(path).splitlines()))
    except csv.Error as error:
        raise UsageError(f"{path}: cannot be read ({error})") from None
    known = {r.column_in(system): (r, shown_as(r.kind, system)[0])
             for system in NAMES for r in plan.readings}  # fmt: skip
    pascals = {name: scale for scale, name in map(pressure_shown, NAMES)}
    head = [cell.strip() for cell in lines[0]] if lines else []
    for name in head:
        if name not in pascals and name not in known:
            raise UsageError(f"{path}: line 1: given column {name!r}; allowed: "
                             f"{pressure_shown()[1]}, "
                             f"{', '.join(r.column for r in plan.readings)}")  # fmt: skip
    measured = [known[name][0].name for name in head if name in known]
    if len(head) != len(measured) + 1 or len(set(measured)) != len(measured) or not measured:
        raise UsageError(f"{path}: line 1: given {','.join(head)!r}; allowed: "
                         f"{pressure_shown()[1]} and "
                         "columns of readings, each once")  # fmt: skip
    rows = []
    for number, line in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in line):
            continue
        if len(line) != len(head):
            raise UsageError(
                f"{path}: line {number}: given {len(line)} cells; allowed: {len(head)}"
            )
        rows.append(_numbers(path, number, line, head))
    table = np.array(rows).reshape(-1, len(head))
    column = next(i for i, name in enumerate(head) if name in pascals)
    pressure = pascals[head[column]] * table[:, column]
    found = []
    for index, name in enumerate(head):
        if name in pascals:
            continue
        there = np.isfinite(table[:, index])
        if not there.any():
            continue
        if len(np.unique(np.round(pressure[there]))) < 3:  # to a pascal
            raise UsageError(f"{path}: column {name}: given readings at fewer than three "
                             "pressures; allowed: three or more")  # fmt: skip
        reading, scale = known[name]
        found.append(Series(reading, pressure[there], scale * table[there, index]))
    if not found:
        raise UsageError(f"{path}: no reading is filled in; allowed: at least one column")
    return tuple(found)


def begun(path: Path) -> bool:
    """Whether a file to fill in holds anything but pressures; also where it cannot be read."""
    try:
        lines = case_file.text_of(path).splitlines()[1:] if path.exists() else []
    except CaseError:
        return True
    return any(not re.fullmatch(r"[\d.]*,*", line.strip()) for line in lines)


def _numbers(path: Path, number: int, line: list[str], head: list[str]) -> list[float]:
    row = []
    for cell, name in zip(line, head, strict=True):
        try:
            value = float(cell) if cell.strip() else math.nan
        except ValueError:
            value = math.inf
        if abs(value) > MOST or (name.startswith("pressure_") and not value >= 0) \
                or "_" in cell or cell.strip().lower() == "nan":  # fmt: skip
            more = ", not negative" if name.startswith("pressure_") else " or nothing"
            raise UsageError(
                f"{path}: line {number}: {name}: given {cell!r}; allowed: a number up to "
                f"{MOST:,.0f}{more}"
            )
        row.append(value)
    return row


def fit(series: Series, full: float) -> StraightFit:
    """Fit one instrument by ordinary least squares; `full` is the pressure (Pa) at capacity."""
    expected = series.reading.expected(series.pressure / full)
    lever = expected - expected.mean()
    spread = float(lever @ lever)
    slope = float(lever @ series.value) / spread
    offset = float(series.value.mean() - slope * expected.mean())
    rest = series.value - slope * expected - offset
    n = len(expected)
    # Scatter about the line, never taken below what the instrument resolves.
    scatter = max(float(rest @ rest) / max(n - 2, 1), series.least_scatter**2)
    slope_error = math.sqrt(scatter / spread)
    offset_error = math.sqrt(scatter * (1 / n + float(expected.mean()) ** 2 / spread))
    stiffness = 1 / slope if slope else math.inf
    return StraightFit(
        series.reading.name, stiffness, slope_error * stiffness**2 if slope else math.inf,
        offset, offset_error, series.reading.relative, n,
        abs(slope - 1) > series.reading.relative + 2 * slope_error,
    )  # fmt: skip


def reasons(fits: tuple[StraightFit, ...], plan: ProofPlan, summary: Summary) -> list[str]:
    """Say in words what deviates and what the likely reasons are."""
    by_name = {f.name: f for f in fits}
    placed = [(r, by_name[r.name]) for r in plan.readings if r.name in by_name]
    rods = [f for r, f in placed if r.part == "rods"]
    said: list[str] = []
    soft_rods = [f for f in rods if f.deviates]
    stretches = [1 / f.stiffness for r, f in placed if r.part == "rods" and r.kind == "stretch"]
    mean = float(np.mean(stretches)) if stretches else 1.0
    uneven = len(stretches) > 1 and max(stretches) - min(stretches) > 0.1 * abs(mean)
    if uneven:
        said.append(
            f"Uneven rods: their stretches differ by "
            f"{percent((max(stretches) - min(stretches)) / mean)}"
            " of the mean. Likely: uneven preload, a nut that does not seat, an off-centre load."
        )
    elif soft_rods and len(soft_rods) == len(rods):
        said.append(
            "All rods deviate alike. Likely: the force is not what the gauge says (gauge, ram "
            "friction, bore), or rods of another diameter or length."
        )
    for name, stack in summary.stacks.items():
        dials = [f for r, f in placed if r.part == name and r.kind == "dial"]
        soft = [f for f in dials if f.deviates and f.stiffness < 1]
        stiff = [f for f in dials if f.deviates and f.stiffness > 1]
        if soft:
            factor = float(np.mean([f.stiffness for f in soft]))
            full = stack.beam.loose_deflection / stack.beam.welded_deflection
            said.append(
                f"Looser stack: the {name} has {factor:.2f} of the computed stiffness (taken as "
                f"{stack.beam.actual}; by beam theory loose plates bend {full:.1f} times as much "
                f"as welded ones). Likely: {SOFTER[stack.beam.actual]}{ANY_SOFTER}."
            )
        elif stiff:
            said.append(
                f"Stiffer: the {name} has {np.mean([f.stiffness for f in stiff]):.2f} times the "
                f"computed stiffness. Likely: {STIFFER[stack.beam.actual]}{ANY_STIFFER}."
            )
        seated = [
            f for r, f in placed
            if r.part == name and r.kind == "dial"
            and f.offset > 2 * f.offset_uncertainty + r.fixed
        ]  # fmt: skip
        if seated:
            said.append(
                f"Offset: the {name} moves {fixed(max(f.offset for f in seated), 'm', 3)} beyond "
                "proportion. Likely: low preload, or gaps that close first. Check nuts and shims."
            )
    others = [f.name for f in fits if f.deviates]
    if others and not said:
        said.append(f"Outside the band: {', '.join(others)}. Check these instruments first.")
    return said
