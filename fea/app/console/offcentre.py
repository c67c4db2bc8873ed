"""Capacity off centre in the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import dimension, percent, quantity

if TYPE_CHECKING:
    from platestack.fea.jobs.offcentre import OffCentreCapacity

CAUTIONS = (
    "Off centre, plates bend and are stressed more than a run at the press axis shows: put the "
    "offset into workpiece.offset and run the case before you press there.",
    "An off-centre workpiece can be thrown out: guard the press, and stand clear.",
    "Bending of the rods and yielding of the workpiece are not included; plates that may part are "
    "taken as they stand at capacity on the axis. The figures support the judgement of a licensed "
    "engineer and do not replace it.",
)
MEANING = {
    "rod tension": "yield of the thread over the rods' safety factor",
    "opening": "a seat bears nothing, or a nut where there are no seats",
    "tilt": "crosshead against bed",
    "ram guides": "cylinder.guide_pressure",
}


def _seen(value: float, least: float) -> float:
    """A value, or 0 where it is no more than solving leaves of nothing."""
    return value if abs(value) > least else 0.0


def print_off_centre(result: OffCentreCapacity) -> None:
    """Print the states looked at, the largest offsets, and the cautions."""
    out.print()
    out.print(
        f"[bold]{escape(result.press)}[/]  {quantity(result.capacity, 'N')} off the press axis"
    )
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("x, y", "largest nut force", "least nut force", "least on a seat", "tilt",
                 "moment on the ram", "side force"):  # fmt: skip
        table.add_column(name, justify="right")
    for place in result.places:
        x, y = place.offset
        table.add_row(
            f"{dimension(x)}, {quantity(y, 'm', 6)}",
            f"{quantity(max(place.forces), 'N')} ({percent(place.utilisation)})",
            quantity(min(place.forces), "N"),
            quantity(min(place.clamp), "N") if place.clamp else "no seats",
            quantity(_seen(math.hypot(*place.tilt), 1e-3 * result.tilt_limit), "m/m", 2),
            quantity(place.moment, "N m", 3),
            quantity(_seen(place.side, 1e-6 * result.capacity), "N", 2),
        )
    out.print(table)
    for words in result.exceeded:
        out.print(f"[bold red]exceeded[/] {escape(words)}")
    limits = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("limited by", "largest offset", "in direction", "limit"):
        limits.add_column(name)
    for name in result.limits:
        offset, angle = result.least(name)
        words = MEANING[name]
        if name == "tilt":
            words += f": {quantity(result.tilt_limit, 'm/m', 6)} (common practice, no source)"
        reached = math.isfinite(offset)
        limits.add_row(
            name,
            quantity(offset, "m", 3) if reached else "no limit within the rod pattern",
            f"{angle:.0f}° from x" if reached else "",
            words,
        )
    out.print(limits)
    for caution in CAUTIONS:
        out.print(f"[yellow]Caution:[/] {escape(caution)}")
