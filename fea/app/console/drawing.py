"""The list of drawings in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.drafting.paper import scale_words

if TYPE_CHECKING:
    from platestack.fea.jobs.drawings import DrawingSet

CAUTION = (
    "Drawings show what the case says, no more; what is not in it stands in their notes and must "
    "be agreed before a part is made. Pressure parts are to be checked by a licensed engineer."
)


def print_sheets(made: DrawingSet) -> None:
    """Print what was drawn, on which paper, and words that lie over others."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for column in ("drawing", "title", "paper", "scale"):
        table.add_column(column, no_wrap=column != "title")
    for column in ("quantity", "mass of one"):
        table.add_column(column, no_wrap=True, justify="right")
    for sheet in made.sheets:
        head = sheet.head
        table.add_row(head.number, escape(head.title), sheet.paper.name, scale_words(sheet.scale),
                      head.quantity, head.mass)  # fmt: skip
    out.print(table)
    for fault in made.unreadable:
        out.print(f"cannot be read well: {fault}", markup=False)
    out.print(f"[yellow]Caution:[/] {CAUTION}")
