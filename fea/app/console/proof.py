"""The sheet of a proof test in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, place, quantity, shown_in

if TYPE_CHECKING:
    from platestack.fea.jobs.proof import ProofComparison, ProofPlan
    from platestack.fea.jobs.proof.readings import Kind


def instrument(kind: Kind) -> tuple[float, str]:
    """SI value of the unit of a kind of instrument, and its name."""
    from platestack.fea.jobs.proof import shown_as

    scale, name = shown_as(kind)
    return scale, name.replace("u", "µ")


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
        readings.add_column(f"{percent(plan.steps[i].share)}{after}", justify="right", no_wrap=True)
    readings.add_column("unit")
    readings.add_column(f"place x, y, z in {shown_in('m').name}", no_wrap=True)
    for r in plan.readings:
        scale, unit = instrument(r.kind)
        cells = [banded(band, unit) for band in (r.bands(plan.shares)[shown] / scale).tolist()]
        readings.add_row(escape(r.name), *cells, unit, place(*r.at))
    out.print(readings)
    for words in plan.stop:
        out.print(f"[bold]Stop when[/] {escape(words)}")
    for words in plan.cautions:
        out.print(f"[yellow]Caution:[/] {escape(words)}")


def banded(band: Sequence[float], unit: str) -> str:
    """A reading with half of its band (least, expected, largest), in the unit shown."""
    low, value, high = band
    digits = {"mm": 3, "in": 4}.get(unit, 0)
    value = round(value, digits) + 0.0  # no −0
    return f"{value:.{digits}f} ± {(high - low) / 2:.{digits}f}"


def print_comparison(comparison: ProofComparison) -> None:
    """Print stiffness and offset of each instrument, and what they mean."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("instrument", "stiffness, measured / computed", "offset", "points", ""):
        table.add_column(name)
    for f in comparison.fits:
        strain = "gauge" in f.name
        scale, unit = instrument("gauge" if strain else "dial")
        table.add_row(
            escape(f.name), f"{f.stiffness:.3f} ± {f.stiffness_uncertainty:.3f}",
            f"{f.offset / scale:.3f} ± {f.offset_uncertainty / scale:.3f} {unit}", str(f.points),
            "outside its band" if f.deviates else "", style="bold red" if f.deviates else "",
        )  # fmt: skip
    out.print(table)
    for hold in comparison.friction:
        out.print(f"friction in the {hold.part}, found over assumed: {hold.factor:.2f} ± "
                  f"{hold.uncertainty:.2f}")  # fmt: skip
    for words in comparison.reasons:
        out.print(escape(words))
