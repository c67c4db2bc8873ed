"""A comparison of options in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.options.comparing import OptionComparison
    from platestack.fea.jobs.options.evaluation import Row, StackFigures


def print_comparison(found: OptionComparison) -> None:
    """Print options, how far to trust what is predicted, and which no other beats."""
    from platestack.fea.jobs.options.comparing import front

    print_rows(found.rows)
    best = [i for i in front(found.rows) if found.rows[i].state == "solved in full"]
    if best:
        out.print(
            f"within the limits that were checked, best trade-offs: {', '.join(map(str, best))}"
        )
    predicted = sum(row.state == "predicted" for row in found.rows)
    if predicted and found.spread is not None:
        missed = (
            f"the largest error where a full solve followed was {percent(found.spread)}"
            if found.spread
            else "no prediction was followed by a full solve"
        )
        out.print(
            f"~  predicted, {predicted} of {len(found.rows)}: carried over from solved options by "
            f"beam theory; {missed}. Solve in full (--verify, or run) before anything is ordered."
        )


def print_rows(rows: Sequence[Row]) -> None:
    """Print options, the base first, then what each gains and gives up against it."""
    from platestack.fea.jobs.options.evaluation import gains

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("", justify="right")
    table.add_column("option", min_width=14, max_width=22)
    costed = any(row.cost is not None for row in rows)
    columns = ["crosshead\ndeflection", "bed\ndeflection", "stress\nuse", "composite\naction",
               "mass", "heaviest\nlift", "height"]  # fmt: skip
    for column in [*columns, "cost"] if costed else columns:
        table.add_column(column, no_wrap=True, justify="right")
    table.add_column("worst check", max_width=26)
    for number, row in enumerate(rows):
        if row.crosshead is None or row.bed is None:
            empty = [""] * (len(columns) + costed)
            table.add_row(str(number), escape(row.label), *empty, escape(row.reason))
            continue
        about = "~" if row.state == "predicted" else ""
        shares = [row.crosshead.composite, row.bed.composite]
        known = [share for share in shares if share is not None]
        composite = min(known) if len(known) == len(shares) else None
        cost = [] if not costed else ["" if row.cost is None else f"{row.cost:,.0f}"]
        table.add_row(
            str(number),
            escape(row.label),
            about + _deflection(row.crosshead),
            about + _deflection(row.bed),
            about + _stress(row),
            _composite(composite, about),
            quantity(row.mass, "kg"),
            quantity(row.heaviest_lift, "kg"),
            quantity(row.height, "m"),
            *cost,
            f"{about}{percent(row.worst_utilisation)} {escape(row.worst_check)}",
            style="bold red" if row.worst_utilisation > 1 else "",
        )
    out.print(table)
    for number, row in enumerate(rows[1:], 1):
        about = "predicted: " if row.state == "predicted" else ""
        out.print(f"{number}  {escape(row.label)}: {about}{escape(gains(rows[0], row))}")


def _composite(share: float | None, about: str) -> str:
    """Share of composite action; 0 and 1 hold by definition, whatever was predicted."""
    if share is None:
        return "–"
    return f"{about if 0 < share < 1 else ''}{percent(share)}"


def _deflection(figures: StackFigures) -> str:
    """Deflection with its error in per cent, where that is known."""
    value, error = figures.mid_span_deflection, figures.deflection_error
    return quantity(value, "m", 3) + ("" if error is None else _error(error / value))


def _stress(row: Row) -> str:
    """Use of the limit by the stack that uses it more, with its error where that is known."""
    stacks = [stack for stack in (row.crosshead, row.bed) if stack is not None]
    worst = max(stacks, key=lambda stack: stack.stress_utilisation)
    use, error = worst.stress_utilisation, worst.peak_error
    return percent(use) + ("" if error is None else _error(use * error / worst.peak_von_mises))


def _error(part: float) -> str:
    return f" ±{percent(part, 1)}" if part < 0.01 else f" ±{percent(part)}"
