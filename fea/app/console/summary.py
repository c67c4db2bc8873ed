"""A run in the terminal: headline numbers, checks (worst first), cautions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import bare, capacity, figure, percent, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.hand.record import Check
    from platestack.fea.results.summary import (
        CheckRecord,
        InterfaceRecord,
        StackRecord,
        Summary,
    )


UTILISATION = "Utilisation, worst first: demand / limit, or limit / demand where the limit is ≥"

LEAST_SHOWN = 0.1
"""Use from which a check is printed; all are in the summary."""


_ROD = re.compile(r"rod (\d+):")


def bound(check: CheckRecord | Check) -> str:
    """The value of a limit, with ≥ where it is a minimum."""
    sign = "≥ " if check.sense == "at least" else ""
    return f"{sign}{quantity(check.limit, check.unit, beside=check.value)}"


def by_rods(checks: Sequence[CheckRecord | Check]) -> list[tuple[str, CheckRecord | Check]]:
    """Checks with their names; rods that bear alike share one: "rods 1, 3: tension"."""
    rows: dict[tuple[str, ...], list[CheckRecord | Check]] = {}
    for check in checks:
        figures = quantity(check.value, check.unit, beside=check.limit), bound(check)
        rows.setdefault((_ROD.sub("rod:", check.name), *figures), []).append(check)
    named = []
    for alike in rows.values():
        name = alike[0].name
        if len(alike) > 1:
            numbers = ", ".join(sorted(found[1] for c in alike if (found := _ROD.match(c.name))))
            name = _ROD.sub(f"rods {numbers}:", name)
        named.append((name, alike[0]))
    return named


def use_of(check: CheckRecord | Check) -> str:
    """Utilisation and what limits it: "87 % of yield", "91 % (≥ minimum burst factor 2)"."""
    if check.sense == "at least":
        return f"{percent(check.utilisation)} (≥ {check.limit_name})"
    return f"{percent(check.utilisation)} of {check.limit_name}"


def print_summary(summary: Summary) -> None:
    """Print the headline numbers, the checks (worst first) and the cautions."""
    out.print()
    pressing = (
        f"{capacity(summary.capacity.value or 0.0)} at "
        f"{quantity(summary.working_pressure.value, 'Pa')}"
    )
    out.print(f"[bold]{escape(summary.press)}[/]  {pressing}")
    print_ideal(summary.ideal)
    out.print(_headlines(summary))
    for name, stack in summary.stacks.items():
        if not stack.beam.band[0] <= stack.beam.ratio <= stack.beam.band[1]:
            out.print(f"[bold red]{name}:[/] {escape(stack.beam.verdict)}")
    _changes(summary)
    shown = [check for check in summary.checks if check.utilisation >= LEAST_SHOWN]
    out.print(check_table(shown))
    if len(shown) < len(summary.checks):
        out.print(f"{len(summary.checks) - len(shown)} more below {percent(LEAST_SHOWN)}, "
                  "in summary.json")  # fmt: skip
    _close(summary)


def _changes(summary: Summary) -> None:
    """Print for each exceeded check what to change, before all the figures."""
    if not summary.exceeded:
        return
    known = {change.check: change for change in summary.changes}
    out.print("[bold]What to change[/]  one value each, by quick figures; run the case again")
    named = [check for check in summary.checks if check.name in known]
    for check in named:
        words = f"{check.name}, {percent(check.utilisation)}: {known[check.name].sentence()}"
        out.print(words, markup=False)
    if not named:
        out.print("no single value brings an exceeded check below its limit")


def print_ideal(sentences: Sequence[str]) -> None:
    """Print at the head of a result which stacks are the ideal, and why."""
    for words in sentences:
        out.print(words, style="bold yellow", markup=False)


def _headlines(summary: Summary) -> Table:
    table = Table(box=None, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    table.add_column("at capacity", style="bold")
    for name in summary.stacks:
        table.add_column(name, max_width=40)
    rows = {
        "peak von Mises stress": lambda s: figure(s.peak_von_mises),
        "  where": lambda s: s.peak_von_mises.place,
        "  how determined": lambda s: s.peak_von_mises.note,
        "mid-span deflection": lambda s: figure(s.mid_span_deflection),
        "  by beam theory": lambda s: figure(s.beam_deflection),
        "  ratio, expected": _ratio,
        "flatness, patch / face": lambda s: _flatness(s),
        "interfaces": lambda s: _interfaces([r for r in s.interfaces.values() if not r.pad]),
        "under nuts and cylinder": lambda s: _interfaces(
            [r for r in s.interfaces.values() if r.pad], "pressed evenly"
        ),
        "composite action, 0 loose to 1 welded": lambda s: figure(s.composite_action, 3),
        "residual deflection": lambda s: figure(s.residual_deflection, 3),
        "mass": lambda s: figure(s.mass),
        "unknowns, meshes": lambda s: f"{s.mesh.unknowns:,}, {len(s.mesh.passes)}",
        "accuracy asked for": lambda s: "reached" if s.mesh.accurate else "NOT reached",
    }
    if all(stack.composite_action is None for stack in summary.stacks.values()):
        del rows["composite action, 0 loose to 1 welded"], rows["residual deflection"]
    if not any(stack.pads for stack in summary.stacks.values()):
        del rows["under nuts and cylinder"]
    for label, read in rows.items():
        table.add_row(label, *(escape(read(stack)) for stack in summary.stacks.values()))
    return table


def _interfaces(records: list[InterfaceRecord], none: str = "none") -> str:
    """Kind of some interfaces, with the parts that are pressed together where they may part."""
    closed = [r.closed.value for r in records if r.closed.value is not None]
    words = ", ".join(sorted({record.kind for record in records})) or none
    return f"{words}; {percent(min(closed))} to {percent(max(closed))} closed" if closed else words


def _flatness(stack: StackRecord) -> str:
    patch, face = (number.value or 0.0 for number in (stack.flatness_patch, stack.flatness_face))
    return f"{bare(patch, 'm', 3)} / {quantity(face, 'm', 3)}"


def _ratio(stack: StackRecord) -> str:
    low, high = stack.beam.band
    return f"{stack.beam.ratio:.2f}, {low:.2f} to {high:.2f}"


def check_table(checks: Sequence[CheckRecord | Check], title: str = UTILISATION) -> Table:
    """Checks as a table with bars, in 100 columns; rods that bear alike share a row."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), title=title,
                  title_justify="left", title_style="bold")  # fmt: skip
    table.add_column("check", max_width=53)
    for column in ("demand", "limit", "use"):
        table.add_column(column, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for name, check in by_rods(checks):
        style = "bold red" if check.utilisation > 1 else ""
        demand = quantity(check.value, check.unit, beside=check.limit)
        table.add_row(escape(name), demand, bound(check),
                      percent(check.utilisation), bar(check.utilisation), style=style)  # fmt: skip
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
            f"worst: {escape(worst.name)}, {escape(use_of(worst))}"
        )
    else:
        out.print(
            f"all {len(summary.checks)} checks within their limits; nearest: "
            f"{escape(worst.name)}, {escape(use_of(worst))}"
        )
    for caution in summary.cautions:
        out.print(f"[yellow]Caution:[/] {escape(caution)}")
