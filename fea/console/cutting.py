"""The cut list in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from fea import console

if TYPE_CHECKING:
    from fea.cutfiles import CutFiles


def print_cut_list(made: CutFiles) -> None:
    """Print the cut list and the use of the sheets."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for column in ("part", "plate", "thickness"):
        table.add_column(column, no_wrap=True)
    for column in ("mass", "cut", "pierces", "bored", "drilled", "machined", "cost"):
        table.add_column(column, no_wrap=True, justify="right")
    for row in made.rows:
        work = row.work
        table.add_row(
            work.number,
            escape(f"{work.stack} {work.plate.name}"),
            console.quantity(work.plate.thickness, "m"),
            console.quantity(work.plate.mass, "kg"),
            console.quantity(work.cut_length, "", 3) + " m",
            str(work.pierces),
            str(row.count("bored")),
            str(row.count("drilled")),
            f"{work.machined_area:.2f} m²",
            "" if row.cost is None else f"{console.plain(row.cost)} {escape(made.currency)}",
        )
    console.out.print(table)
    for sheet in made.sheets:
        console.out.print(
            f"sheet {console.quantity(sheet.thickness, 'm')} {escape(sheet.grade)}: "
            f"{len(sheet.placed)} blanks, {sheet.utilisation():.0%} of "
            f"{console.quantity(sheet.used_length, 'm')} used"
        )
    console.out.print(
        "[yellow]Caution:[/] contours are the plates of the case, no more: have hole places and "
        "allowances checked before cutting."
    )
