"""A sweep in the terminal: how far it is and how long it will take; what came of it."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table

from platestack.fea.app.console.terminal import errors, out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.options.evaluation import Row
    from platestack.fea.jobs.sweep import Sweep, Tell

EVERY = 60.0
"""Seconds between two lines where the output is no terminal."""
SHOWN = 10
"""Options in the table."""


class Pace:
    """How long the rest takes, if it goes on as since the start."""

    def __init__(self) -> None:
        self._start, self._first = time.monotonic(), 0

    def begin(self, known: int) -> None:
        """Start to count, so many options being known already."""
        self._start, self._first = time.monotonic(), known

    def left(self, done: int, total: int) -> str:
        """Remaining time in words."""
        made = done - self._first
        if not made:
            return "remaining time not known yet"
        return f"{duration((time.monotonic() - self._start) * (total - done) / made)} left"


def duration(seconds: float) -> str:
    """Write a time as people say it: "40 s", "12 min", "3 h 05 min"."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


@contextmanager
def progress() -> Iterator[Tell]:
    """Show how far a sweep is: a bar in a terminal, a line a minute elsewhere."""
    columns = (
        BarColumn(bar_width=30),
        TextColumn("{task.completed}/{task.total} options"),
        TextColumn("{task.description}"),
    )
    silent = not errors.is_terminal
    with Progress(*columns, console=errors, transient=True, disable=silent) as shown:
        task = shown.add_task("starting", total=None)
        pace, failed, told = Pace(), 0, time.monotonic()

        def tell(done: int, total: int, row: Row | None) -> None:
            nonlocal failed, told
            if row is None:
                pace.begin(done)
            else:
                failed += row.state == "failed"
            words = pace.left(done, total) + (f", {failed} failed" if failed else "")
            shown.update(task, description=words, completed=done, total=total)
            if silent and time.monotonic() - told > EVERY:
                told = time.monotonic()
                errors.print(f"{done}/{total} options, {words}")

        yield tell


def print_sweep(found: Sweep) -> None:
    """Print what came of a sweep: how many rows of which kind, the lightest within all limits."""
    rows = found.rows
    good = [row for row in rows if row.state != "failed"]
    within = sorted((r for r in good if r.worst_utilisation <= 1), key=lambda row: row.mass)
    out.print(
        f"{len(rows):,} options: {len(within):,} within all limits checked, "
        f"{len(good) - len(within):,} beyond one, {found.failed:,} failed; "
        f"{found.computed:,} computed now, {len(rows) - found.computed:,} known before"
    )
    reasons = [row.reason for row in rows if row.state == "failed"]
    for reason in sorted(set(reasons), key=lambda r: -reasons.count(r))[:3]:
        out.print(f"failed, {reasons.count(reason):,} times: {escape(reason)}")
    if within:
        out.print("The lightest within all limits checked:")
        out.print(_table(within[:SHOWN]))
    if any(row.state == "by beam" for row in good):
        out.print(
            "By beam theory and hand checks only: without stress concentration at holes and edges, "
            "bending of the rods, fatigue. Solve in full what you mean to build."
        )


def _table(rows: Sequence[Row]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("option", max_width=34)
    for column in ("state", "crosshead\ndeflection", "bed\ndeflection", "mass", "height"):
        table.add_column(column, no_wrap=True, justify="right")
    table.add_column("worst check", max_width=30)
    for row in rows:
        assert row.crosshead is not None
        assert row.bed is not None
        table.add_row(
            escape(row.label),
            row.state,
            quantity(row.crosshead.mid_span_deflection, "m", 3),
            quantity(row.bed.mid_span_deflection, "m", 3),
            quantity(row.mass, "kg"),
            quantity(row.height, "m"),
            f"{percent(row.worst_utilisation)} {escape(row.worst_check)}",
        )
    return table
