"""What a person sees in the terminal: progress while it works, a table at the end."""

from __future__ import annotations

import math
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from platestack.geometry import tables
from platestack.geometry.errors import PlatestackError
from platestack.geometry.units import LENGTH

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.hand.record import Check
    from platestack.fea.jobs.options import Option
    from platestack.fea.results.summary import (
        CheckRecord,
        Figure,
        InterfaceRecord,
        StackRecord,
        Summary,
    )
    from platestack.fea.solid.stack import Report

WIDTH = 100
"""Columns where the output goes to a file or a pipe; a terminal says how wide it is."""

LEAST_SHOWN = 0.1
"""Use from which a check is printed; all are in the summary."""

_COMMANDS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters (ECMA-48), which terminals obey, and those that turn the way of reading."""


class _Plain(Console):
    """Shows texts of files, whose keys and names may hold anything, and lets none of them act.

    Nobody has to read to the end.
    """

    def render_str(self, text: str, **how: Any) -> Text:
        """Called for each text, of tables too."""
        return super().render_str(_COMMANDS.sub("\N{REPLACEMENT CHARACTER}", text), **how)

    def on_broken_pipe(self) -> None:
        """Go on in silence, so that results and exit code become what they would have been."""
        self.quiet = True
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self.file.fileno())
        os.close(nowhere)

    def print(self, *objects: Any, **how: Any) -> None:
        """Print as always. Raises `PlatestackError` where there is no room for it."""
        try:
            super().print(*objects, **how)
        except OSError as error:
            raise PlatestackError(
                f"what there is to say cannot be written: {error.strerror or error}"
            ) from None


out = _Plain(highlight=False, width=None if sys.stdout.isatty() else WIDTH)
errors = _Plain(stderr=True, highlight=False)

SHOWN: dict[str, tuple[float, str]] = {
    "Pa": (1e6, "MPa"),
    "m": (1e-3, "mm"),
    "N": (1e3, "kN"),
    "kg": (1.0, "kg"),
    "J": (1.0, "J"),
    "W": (1e3, "kW"),
    "m³": (1e-3, "L"),
    "m/s": (1e-3, "mm/s"),
    "1": (1.0, ""),
}
"""SI unit -> value of the unit shown, and its name."""


def quantity(value: float | None, unit: str, digits: int = 4) -> str:
    """Write an SI number in the unit that people use for it."""
    if value is None:
        return "not known"
    scale, name = SHOWN.get(unit, (1.0, unit))
    return f"{plain(value / scale, digits)} {name}".rstrip()


def plain(value: float, digits: int = 4) -> str:
    """Write a number to so many digits, never with an exponent where people read it."""
    if 10**digits - 0.5 <= abs(value) < 1e9:  # where the other form takes an exponent
        return f"{value:,.0f}"
    return f"{value:.{digits}g}"


def figure(number: Figure | None, digits: int = 4) -> str:
    """Write a number with its error, where it has one, both to the error's second digit."""
    if number is None:
        return "–"
    if number.error is None or number.value is None or number.error <= 0:
        return quantity(number.value, number.unit, digits)
    scale, name = SHOWN.get(number.unit, (1.0, number.unit))
    value, error = number.value / scale, number.error / scale
    places = min(max(0, 1 - math.floor(math.log10(error))), 6)
    return f"{value:,.{places}f} ± {error:,.{places}f} {name}".rstrip()


_ROD = re.compile(r"rod (\d+):")


@contextmanager
def progress(steps: int) -> Iterator[Report]:
    """Show how far a job of so many steps is; yields what to call at each step's beginning."""
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(bar_width=30),
        TextColumn("{task.completed}/{task.total}"),
        TimeElapsedColumn(),
    )
    silent = not errors.is_terminal  # a file or a pipe has no use for it
    with Progress(*columns, console=errors, transient=True, disable=silent) as shown:
        task = shown.add_task("starting", total=steps)
        begun = False

        def report(step: str) -> None:
            nonlocal begun
            shown.update(task, description=step, advance=1 if begun else 0)
            begun = True

        yield report


def note(words: str) -> None:
    """Tell something before the results are there: above the bar of progress, if there is one."""
    (errors if errors.is_terminal else out).print(words, markup=False)


def print_summary(summary: Summary) -> None:
    """Print the headline numbers, the checks (worst first) and the cautions."""
    out.print()
    pressing = (
        f"{quantity(summary.capacity.value, 'N')} at "
        f"{quantity(summary.working_pressure.value, 'Pa')}"
    )
    out.print(f"[bold]{escape(summary.press)}[/]  {pressing}")
    out.print(_headlines(summary))
    for name, stack in summary.stacks.items():
        if not stack.beam.band[0] <= stack.beam.ratio <= stack.beam.band[1]:
            out.print(f"[bold red]{name}:[/] {escape(stack.beam.verdict)}")
    shown = [check for check in summary.checks if check.utilisation >= LEAST_SHOWN]
    out.print(check_table(shown))
    if len(shown) < len(summary.checks):
        out.print(f"{len(summary.checks) - len(shown)} more below {LEAST_SHOWN:.0%}, "
                  "in summary.json")  # fmt: skip
    _close(summary)


def _headlines(summary: Summary) -> Table:
    table = Table(box=None, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    table.add_column("at capacity", style="bold")
    for name in summary.stacks:
        table.add_column(name, max_width=40)
    rows = {
        "peak von Mises stress": lambda s: figure(s.peak_von_mises),
        "  where": lambda s: s.peak_von_mises.place,
        "  judged": lambda s: s.peak_von_mises.note,
        "mid-span deflection": lambda s: figure(s.mid_span_deflection),
        "  by beam theory": lambda s: figure(s.beam_deflection),
        "  ratio, expected": _ratio,
        "flatness, patch / face": lambda s: f"{_mm(s.flatness_patch)} / {_mm(s.flatness_face)} mm",
        "interfaces": lambda s: _interfaces([r for r in s.interfaces.values() if not r.pad]),
        "under nuts and cylinder": lambda s: _interfaces(
            [r for r in s.interfaces.values() if r.pad], "pressed evenly"
        ),
        "stiffness, 0 loose to 1 welded": lambda s: figure(s.composite_action, 3),
        "left after release": lambda s: figure(s.residual_deflection, 3),
        "mass": lambda s: figure(s.mass),
        "unknowns, meshes tried": lambda s: f"{s.mesh.dofs:,}, {len(s.mesh.passes)}",
        "accuracy asked for": lambda s: "reached" if s.mesh.accurate else "NOT reached",
    }
    if all(stack.composite_action is None for stack in summary.stacks.values()):
        del rows["stiffness, 0 loose to 1 welded"], rows["left after release"]
    if not any(stack.pads for stack in summary.stacks.values()):
        del rows["under nuts and cylinder"]
    for label, read in rows.items():
        table.add_row(label, *(escape(read(stack)) for stack in summary.stacks.values()))
    return table


def _interfaces(records: list[InterfaceRecord], none: str = "none") -> str:
    """Kind of some interfaces, with the parts that are pressed together where they may part."""
    closed = [r.closed.value for r in records if r.closed.value is not None]
    words = ", ".join(sorted({record.kind for record in records})) or none
    return f"{words}; {min(closed):.0%} to {max(closed):.0%} closed" if closed else words


def _mm(number: Figure) -> str:
    return f"{LENGTH.to_shown(number.value or 0.0):.3g}"


def _ratio(stack: StackRecord) -> str:
    low, high = stack.beam.band
    return f"{stack.beam.ratio:.2f}, {low:.2f} to {high:.2f}"


def check_table(
    checks: Sequence[CheckRecord | Check], title: str = "Demand over limit, worst first"
) -> Table:
    """Checks as a table with bars, in 100 columns; rods that bear alike share a row."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), title=title,
                  title_justify="left", title_style="bold")  # fmt: skip
    table.add_column("check", max_width=53)
    for column in ("demand", "limit", "use"):
        table.add_column(column, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    rows: dict[tuple[str, ...], list[CheckRecord | Check]] = {}
    for check in checks:
        figures = quantity(check.value, check.unit), quantity(check.limit, check.unit)
        rows.setdefault((_ROD.sub("rod:", check.name), *figures), []).append(check)
    for (_, demand, limit), alike in rows.items():
        check, use = alike[0], f"{alike[0].utilisation:.0%}"
        name = check.name
        if len(alike) > 1:
            numbers = ", ".join(sorted(found[1] for c in alike if (found := _ROD.match(c.name))))
            name = _ROD.sub(f"rods {numbers}:", name)
        style = "bold red" if check.utilisation > 1 else ""
        table.add_row(escape(name), demand, limit, use, bar(check.utilisation), style=style)
    return table


def bar(utilisation: float, width: int = 16) -> str:
    """A bar of `width` for 100 %, at most a quarter longer, with a mark at the limit."""
    filled = min(round(utilisation * width), width + width // 4)
    cells = ["━" if i < filled else " " for i in range(width + width // 4)]
    cells.insert(width, "│")
    return "".join(cells).rstrip()


def _close(summary: Summary) -> None:
    height, mass = quantity(summary.height.value, "m"), quantity(summary.mass.value, "kg")
    out.print(
        f"\nheight over the rods {height}; mass {mass} ({escape(summary.mass.note)}); "
        f"{len(summary.defaults)} values taken by default (summary.json lists them)"
    )
    if summary.cost.value is not None:
        out.print(f"cost {figure(summary.cost)} ({escape(summary.cost.note)})", markup=False)
    worst = summary.checks[0]
    if summary.exceeded:
        out.print(
            f"[bold red]{summary.exceeded} of {len(summary.checks)} limits exceeded[/]; "
            f"worst: {escape(worst.name)}, {worst.utilisation:.0%}"
        )
    else:
        out.print(
            f"all {len(summary.checks)} checks within their limits; nearest: "
            f"{escape(worst.name)}, {worst.utilisation:.0%} of {escape(worst.limit_name)}"
        )
    for caution in summary.cautions:
        out.print(f"[yellow]Caution:[/] {escape(caution)}")


def print_options(rows: list[Option]) -> None:
    """Print a comparison, one line for each option and stack."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for column in ("plates", "stack"):
        table.add_column(column, no_wrap=True)
    for column in ("peak\nstress", "use", "deflection", "use", "stack\nmass", "press\nheight"):
        table.add_column(column, no_wrap=True, justify="right")
    table.add_column("worst check")
    for row in rows:
        table.add_row(
            row.label,
            row.stack,
            quantity(row.peak_von_mises, "Pa"),
            f"{row.stress_utilisation:.0%}",
            quantity(row.mid_span_deflection, "m", 3),
            f"{row.deflection_utilisation:.0%}",
            quantity(row.stack_mass, "kg"),
            quantity(row.press_height, "m"),
            f"{row.worst_utilisation:.0%} {escape(row.worst_check)}",
            style="bold red" if row.worst_utilisation > 1 else "",
        )
    out.print(table)


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


def print_error(message: str) -> None:
    """Print a message for the user, each line on its own; where nobody hears, the code tells."""
    with suppress(PlatestackError):
        for line in message.splitlines():
            errors.print(line, style="red", soft_wrap=True, markup=False)
