"""The tightening sheet in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:
    from platestack.fea.jobs.tightening.sheet import TighteningSheet

CAUTIONS = (
    "A stretched rod is a loaded spring: nobody stands in line with it, nor over a jack.",
    "Plates that may part are taken as they stand at full preload; while rods are loose they "
    "give more. There, read the stretches after the last pass and go on with --measured.",
    f"A torque wrench leaves the preload uncertain by ±25 to {percent(0.3)} (VDI 2230-1, not "
    "verified): "
    "measure the stretch.",
    "The forces are computed; the schedule supports the judgement of a licensed engineer and "
    "does not replace it. Stripping of threads, pressure under nuts and local yielding are not "
    "checked here.",
)


MAY_BEAR = (
    "the allowable force (yield over the rods' safety factor in the thread, over the plates' in a "
    "sleeve)"
)


def print_sheet(sheet: TighteningSheet) -> None:
    """Print the schedule, what it is compared with, and the cautions."""
    out.print()
    out.print(f"[bold]{escape(sheet.press)}[/]  tightening the rods")
    out.print(
        f"preload {quantity(sheet.preload, 'N')} and {quantity(sheet.settling_loss, 'N')} for "
        f"settling: every rod at {quantity(sheet.target, 'N')} after the last pass"
    )
    if sheet.measured is not None:
        read = zip(sheet.rods, sheet.measured, strict=True)
        told = ", ".join(f"{escape(rod)} {quantity(force, 'N')}" for rod, force in read)
        out.print(f"measured before these passes: {told}")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("pass", justify="right")
    table.add_column("rod", no_wrap=True)
    for name in ("force", "stretch", "nut turn", "flats", "jack force", "torque only"):
        table.add_column(name, justify="right", no_wrap=True)
    for line in sheet.lines:
        table.add_row(
            str(line.number),
            escape(line.rod),
            quantity(line.force, "N"),
            quantity(line.stretch, "m", 3),
            f"{line.turn:.0f}°",
            f"{line.flats:.2f}",
            quantity(line.jack, "N"),
            f"{quantity(line.torque, 'N m', 3)} ± {percent(0.3)}",
        )
    out.print(table)
    out.print(
        f"largest force of a rod on the way {percent(sheet.highest)} of {MAY_BEAR}; "
        f"scatter at the end {percent(sheet.scatter, 1)}, as computed"
    )
    if sheet.price:
        out.print(sheet.price)
    if sheet.rounds == 1:
        out.print(
            f"Setting every rod once to the same value is enough here: "
            f"{percent(sheet.first_round, 1)} "
            "scatter after one round, as the rods hardly affect each other."
        )
    else:
        out.print(
            f"The usual way, every rod to the same value, takes {sheet.rounds} rounds to come "
            f"within {percent(sheet.wanted)}; its first leaves {percent(sheet.first_round, 1)}."
        )
    out.print(
        f"By torque alone all rods end within {percent(sheet.wanted)} in "
        f"{percent(sheet.by_torque, 2)} of "
        "rounds, however many: friction scatters too much. Measure stretch or jack force."
    )
    for caution in CAUTIONS:
        out.print(f"[yellow]Caution:[/] {escape(caution)}")
