"""The sheet of a proof test in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import quantity

if TYPE_CHECKING:
    from platestack.fea.jobs.proof import ProofComparison, ProofPlan

_SCALES = {"dial": (1e-3, "mm"), "gauge": (1e-6, "µm/m"), "stretch": (1e-3, "mm")}


def print_plan(plan: ProofPlan) -> None:
    """Print instruments, steps, what to expect, when to stop."""
    out.print(f"[bold]{escape(plan.press)}[/]  proof test to {plan.factor:g} × capacity")
    steps = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("step", "pressure", "ram force", "hold", ""):
        steps.add_column(name, justify="right" if name else "left", no_wrap=True)
    for number, step in enumerate(plan.steps, 1):
        steps.add_row(str(number), quantity(step.pressure, "Pa"), quantity(step.force, "N"),
                      f"{step.hold / 60:g} min", step.words)  # fmt: skip
    out.print(steps)
    shown = [1, 3, 5, len(plan.steps) - 1] if plan.factor > 1 else [1, 3, 4, len(plan.steps) - 1]
    readings = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    readings.add_column("expected", overflow="fold")
    for i in shown:
        after = " after" if plan.steps[i].share == 0 else ""
        readings.add_column(f"{plan.steps[i].share:.0%}{after}", justify="right", no_wrap=True)
    readings.add_column("unit")
    readings.add_column("place x, y, z in mm", no_wrap=True)
    for r in plan.readings:
        scale, unit = _SCALES[r.kind]
        cells = [banded(band, unit) for band in (r.bands(plan.shares)[shown] / scale).tolist()]
        readings.add_row(escape(r.name), *cells, unit, ", ".join(f"{1e3 * c:.0f}" for c in r.at))
    out.print(readings)
    for words in plan.stop:
        out.print(f"[bold]Stop when[/] {escape(words)}")
    for words in plan.cautions:
        out.print(f"[yellow]Caution:[/] {escape(words)}")


def banded(band: Sequence[float], unit: str) -> str:
    """A reading with half of its band (least, expected, largest), in the unit shown."""
    low, value, high = band
    digits = 3 if unit == "mm" else 0
    value = round(value, digits) + 0.0  # no −0
    return f"{value:.{digits}f} ± {(high - low) / 2:.{digits}f}"


def print_comparison(outcome: ProofComparison) -> None:
    """Print stiffness and offset of each instrument, and what they mean."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("instrument", "stiffness, measured / computed", "offset", "points", ""):
        table.add_column(name)
    for f in outcome.fits:
        strain = "gauge" in f.name
        scale, unit = _SCALES["gauge" if strain else "dial"]
        table.add_row(
            escape(f.name), f"{f.stiffness:.3f} ± {f.stiffness_uncertainty:.3f}",
            f"{f.offset / scale:.3f} ± {f.offset_uncertainty / scale:.3f} {unit}", str(f.points),
            "outside its band" if f.deviates else "", style="bold red" if f.deviates else "",
        )  # fmt: skip
    out.print(table)
    for hold in outcome.friction:
        out.print(f"friction in the {hold.part}, found over assumed: {hold.factor:.2f} ± "
                  f"{hold.uncertainty:.2f}")  # fmt: skip
    for words in outcome.reasons:
        out.print(escape(words))
