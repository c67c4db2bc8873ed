"""The tables of standards, as the terminal shows them."""

from __future__ import annotations

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry import tables


def print_tables() -> None:
    """Print every table of standards with its source."""
    for table in tables.overview():
        shown = Table(
            title=table.title,
            title_justify="left",
            title_style="bold",
            box=None,
            pad_edge=False,
            padding=(0, 2, 0, 0),
        )
        for column in table.columns:
            shown.add_column(column, overflow="fold")
        for row in table.rows:
            shown.add_row(*map(escape, row))
        out.print(shown)
        out.print(f"[dim]{escape(table.source)}; {table.certainty.value}[/]")
        if table.note:
            out.print(f"[dim]{escape(table.note)}[/]")
        out.print()
