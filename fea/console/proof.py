"""The sheet of a proof test in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from fea.console import out, quantity

if TYPE_CHECKING:
    from fea.proof import Comparison, Plan

_SCALES = {"dial": (1e-3, "mm"), "gauge": (1e-6, "µm/m"), "stretch": (1e-3, "mm")}


def print_plan(plan: Plan) -> None:
    """Print instruments, steps, what to expect, when to stop."""
    out.print(f"[bold]{escape(plan.press)}[/]  proof test to {plan.factor:g} × working pressure")
    steps = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("step", "pressure", "ram force", "hold", ""):
        steps.add_column(name, justify="right" if name else "left", no_wrap=True)
    for number, step in enumerate(plan.steps, 1):
        steps.add_row(str(number), quantity(step.pressure, "Pa"), quantity(step.force, "N"),
                      f"{step.hold / 60:g} min", step.words)  # fmt: skip
    out.print(steps)
    shares = [step.share for step in plan.steps if step.words != "coming back"]
    readings = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    readings.add_column("expected", overflow="fold")
    for share in shares[1::2]:
        readings.add_column(f"{share:.0%}", justify="right", no_wrap=True)
    readings.add_column("unit")
    readings.add_column("place x, y, z in mm", no_wrap=True)
    for r in plan.readings:
        scale, unit = _SCALES[r.kind]
        cells = []
        for share in shares[1::2]:
            low, value, high = (v / scale for v in r.band(share))
            digits = 3 if unit == "mm" else 0
            cells.append(f"{value:.{digits}f} ± {(high - low) / 2:.{digits}f}")
        readings.add_row(escape(r.name), *cells, unit, ", ".join(f"{1e3 * c:.0f}" for c in r.at))
    out.print(readings)
    for words in plan.stop:
        out.print(f"[bold]Stop when[/] {escape(words)}")
    for words in plan.cautions:
        out.print(f"[yellow]Caution:[/] {escape(words)}")


def print_comparison(outcome: Comparison) -> None:
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
    for words in outcome.reasons:
        out.print(escape(words))
