"""A comparison of candidates in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from fea.console import out, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from fea.options.evaluation import Row


def print_rows(rows: Sequence[Row]) -> None:
    """Print candidates, the base first, then what each gains and gives up against it."""
    from fea.options.evaluation import gains

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("", justify="right")
    table.add_column("option", max_width=24)
    for column in ("crosshead\ndeflection", "bed\ndeflection", "stress\nuse", "mass", "height"):
        table.add_column(column, no_wrap=True, justify="right")
    table.add_column("worst check", max_width=30)
    for number, row in enumerate(rows):
        if row.crosshead is None or row.bed is None:
            table.add_row(str(number), escape(row.label), "", "", "", "", "", escape(row.reason))
            continue
        use = max(row.crosshead.stress_utilisation, row.bed.stress_utilisation)
        table.add_row(
            str(number),
            escape(row.label),
            quantity(row.crosshead.mid_span_deflection, "m", 3),
            quantity(row.bed.mid_span_deflection, "m", 3),
            f"{use:.0%}",
            quantity(row.mass, "kg"),
            quantity(row.height, "m"),
            f"{row.worst_utilisation:.0%} {escape(row.worst_check)}",
            style="bold red" if row.worst_utilisation > 1 else "",
        )
    out.print(table)
    for number, row in enumerate(rows[1:], 1):
        out.print(f"{number}  {escape(row.label)}: {escape(gains(rows[0], row))}")
