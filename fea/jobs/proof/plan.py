"""The steps of a proof test: pressures, hold times, what to expect at each, when to stop."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict, dataclass
from typing import Any

from platestack.fea.jobs.proof import path
from platestack.fea.jobs.proof.readings import Reading, pressure_shown, read, shown_as
from platestack.fea.results.run_directory import Run
from platestack.fea.results.summary import Summary
from platestack.fea.solid.stack import Report
from platestack.fea.support import result_files
from platestack.geometry import units
from platestack.geometry.errors import UsageError
from platestack.geometry.units import percent, show, shown_in

SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)
"""Of the capacity; the proof load, half of the capacity and zero follow."""

STOP = (
    "a reading leaves its band, or changes while the pressure is held",
    "the readings do not grow as the sheet says: a knee, a jump, a sound",
    "a plate slides, a gap at a nut or an interface opens to the eye, oil leaks",
    f"two rods that are mirror images of each other differ by more than {percent(0.1)} in stretch",
    "at zero pressure a reading has not come back into its band",
)
TAKEN = ": clamping force taken off its seat"
OTHER_KINDS = ("pressures", "overload")
"""Kinds of checks of settings, and of another load than capacity."""
OTHER_STATES = ("as tightened", "at relief pressure", "at proof pressure")
"""Ends of names of checks whose state the proof load does not change."""
CAUTIONS = (
    "A bursting hose or a breaking rod kills. Nobody within reach or in line with rods while there "
    "is pressure; read from behind a guard or by camera; go near only at zero pressure.",
    "Bleed all air before the first step: compressed air stores energy that oil does not.",
    "The proof load is for the licensed engineer in charge and the local code to set.",
    "The readings assume plates as the case says (welded, loose or clamped) and rods at "
    "their preload; cylinder, valves and hoses are not covered.",
)


@dataclass(frozen=True)
class ProofStep:
    """Pressure (Pa), ram force (N), how long to hold (s), and what is asked of it.

    The force is `share` of the capacity, and the pressure what gives it.
    """

    share: float
    pressure: float
    force: float
    hold: float
    words: str


@dataclass(frozen=True)
class ProofPlan:
    """The whole sheet."""

    press: str
    factor: float
    readings: tuple[Reading, ...]
    steps: tuple[ProofStep, ...]
    stop: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def shares(self) -> tuple[float, ...]:
        """Of the capacity, step by step."""
        return tuple(step.share for step in self.steps)


def make(run: Run, factor: float | None = None, report: Report | None = None) -> ProofPlan:
    """Plan a test up to `factor` times the capacity, `limits.proof_factor` unless given.

    Where readings leave proportion, their path is taken from beside the run; `report` allows to
    work it out where it is not there yet.

    Raises
    ------
    UsageError
        If `factor` is not 1 to 1.5, or the fields of the run cannot be read.
    """
    factor = run.case.limits.proof_factor if factor is None else factor
    if not 1.0 <= factor <= 1.5:
        raise UsageError(f"--factor: given {factor:g}; allowed: 1 to 1.5")
    press, readings = run.press, read(run)
    cautions = [*CAUTIONS, *_valve_and_pump(run, factor), *_over(run.summary, factor)]
    shares = [*SHARES, *([factor] if factor > 1 else []), 0.5, 0.0]
    steps = tuple(
        ProofStep(
            share, share * press.capacity_pressure, share * press.capacity,
            600.0 if share == factor else 300.0,
            "proof load" if share == factor else
            "unloading" if i > shares.index(factor) else "loading",
        )
        for i, share in enumerate(shares)
    )  # fmt: skip
    bent = [stack.name for stack in press.stacks if path.bends(press, stack)]
    if bent:
        paths = path.kept(run, tuple(shares))
        if paths is None and report is not None:
            paths = path.follow(run, tuple(shares), report)
        if paths is None:
            cautions.append(f"Readings of {' and '.join(bent)} are shown in proportion to "
                            "pressure, which plates that slip or part do not follow: "
                            "platestack proof works out their path.")  # fmt: skip
        readings = path.on_paths(readings, paths or {})
    return ProofPlan(press.name, factor, readings, steps, STOP, tuple(cautions))


def _valve_and_pump(run: Run, factor: float) -> list[str]:
    """What the proof pressure asks of relief valve and pump."""
    test, stages = factor * run.press.capacity_pressure, run.case.hydraulics.stages
    needed = show(test, units.PRESSURE)
    words = [
        f"Set the relief valve just above {needed} for the test and back to its "
        "setting afterwards; have a second person at the pump."
    ]
    if stages and stages[-1].pressure < test * (1 - 1e-9):
        words.append(
            f"The pump of the case gives {show(stages[-1].pressure, units.PRESSURE)}, the proof "
            f"load needs {needed}: use a hand pump with a gauge and a relief valve of its own, or "
            "a smaller limits.proof_factor."
        )
    return words


def _over(summary: Summary, factor: float) -> list[str]:
    """Limits that the proof load would pass, among those that grow with load; seats that open."""
    return [
        *(
            f"At the proof load, {c.name} reaches {percent(factor * c.utilisation)} of "
            f"{c.limit_name}."
            for c in summary.checks
            if c.unit in ("Pa", "N") and c.sense == "at most" and factor * c.utilisation > 1
            if c.kind not in OTHER_KINDS and not c.name.endswith(OTHER_STATES)
            if "fatigue" not in c.name
        ),
        *(
            f"At the proof load the seat of {rod} opens: pressing takes off "
            f"{percent(factor * c.value)} "
            "of its preload. From there on its rod bears all that is added, and its readings grow "
            "faster than shown: tighten it more before the test (rods.preload)."
            for c in summary.checks
            if c.name.endswith(TAKEN) and factor * c.value >= 1
            for rod in [c.name.removesuffix(TAKEN)]
        ),
    ]


def as_json(plan: ProofPlan) -> dict[str, Any]:
    """The sheet as data, SI, with the band of every reading at every step."""
    data = asdict(plan)
    for reading in data["readings"]:
        del reading["path"]
    bands = {r.name: r.bands(plan.shares).tolist() for r in plan.readings}
    for i, record in enumerate(data["steps"]):
        record["expected"] = {
            name: dict(zip(("least", "value", "largest"), band[i], strict=True))
            for name, band in bands.items()
        }
    return result_files.head("proof") | data


def as_csv(plan: ProofPlan) -> str:
    """The sheet as CSV: a line for each step and reading."""
    file = io.StringIO()
    file.write(result_files.csv_head("proof"))
    out = csv.writer(file, lineterminator="\n")
    (pascals, pressure), force = pressure_shown(), shown_in("N")
    out.writerow(["step", pressure, f"force_{force.name}", "hold_min", "reading", "unit", "least",
                  "expected", "largest"])  # fmt: skip
    bands = [r.bands(plan.shares) for r in plan.readings]
    for i, step in enumerate(plan.steps):
        for r, band in zip(plan.readings, bands, strict=True):
            scale, unit = shown_as(r.kind)
            out.writerow([i + 1, f"{step.pressure / pascals:g}", f"{step.force / force.scale:.1f}",
                          f"{step.hold / 60:g}", r.name, unit,
                          *(f"{v / scale:.4f}" for v in band[i])])  # fmt: skip
    return file.getvalue()


def blank(plan: ProofPlan) -> str:
    """The file to fill in at the press: a line for each step, a column for each instrument."""
    pascals, pressure = pressure_shown()
    head = ",".join([pressure, *(r.column for r in plan.readings)])
    return "\n".join(
        [head, *(f"{s.pressure / pascals:g}" + "," * len(plan.readings) for s in plan.steps), ""]
    )
