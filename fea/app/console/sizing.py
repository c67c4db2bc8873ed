"""A proposal in the terminal: its choices, its checks, what else would do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.summary import check_table, print_ideal
from platestack.fea.app.console.terminal import out
from platestack.geometry.units import fixed, plain, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.sizing import Alternative, Proposal

MOST = 12


def print_proposal(made: Proposal) -> None:
    """Print the proposal, why each size is what it is, and the worst checks."""
    from platestack.fea.checks.as_one import ideal
    from platestack.fea.jobs.sizing.proposal import CAUTIONS, reasons_missed, shortfall, summary

    out.print(f"[bold]{escape(made.plan.press.name)}[/]  {escape(summary(made))}")
    print_ideal(ideal(made.plan.press))
    total, currency = made.cost
    out.print(f"cost {plain(total)} {escape(currency)} by the prices of the case")
    for table, words in made.reasons.items():
        out.print(f"  [bold]{table}[/]  {escape(words)}")
    for number, words in enumerate(made.confirmed, 1):
        out.print(f"  solution {number}  {escape(words)}", markup=True)
    title = f"Utilisation, worst of {len(made.checks)}"
    out.print(check_table(made.checks[:MOST], title))
    for check, why in reasons_missed(made):
        out.print(
            f"[bold red]not met:[/] {escape(check.name)} is {quantity(check.value, check.unit)}, "
            f"{escape(check.limit_name)} {quantity(check.limit, check.unit)}: {shortfall(check)}."
            f"{escape(why)}"
        )
    if not made.confirmed:
        out.print("by beam theory and hand formulas only; to be solved in full by a run")
    for words in CAUTIONS:
        out.print(f"[yellow]Caution:[/] {escape(words)}")


def print_alternatives(base: Proposal, rows: Sequence[Alternative]) -> None:
    """Print what else would do, by hand, beside the proposal."""
    from platestack.fea.jobs.sizing.alternatives import Alternative
    from platestack.fea.jobs.sizing.proposal import plate_words, shortfall

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), title="Alternatives, by hand",
                  title_justify="left", title_style="bold")  # fmt: skip
    table.add_column("", max_width=16)
    for column in ("bore", "rods"):
        table.add_column(column, justify="right", no_wrap=True)
    for column in ("crosshead", "bed"):
        table.add_column(column, max_width=13)
    for column in ("mass", "height", "cost"):
        table.add_column(column, justify="right", no_wrap=True)
    table.add_column("limit not met", max_width=26)
    for row in (Alternative("proposal", base), *rows):
        made = row.made
        if made is None:
            table.add_row(escape(row.label), *[""] * 7, escape(row.reason), style="dim")
            continue
        plan = made.plan
        short = made.exceeded[0] if made.exceeded else None
        table.add_row(
            escape(row.label),
            quantity(plan.bore, "m"),
            f"{plan.duty.rods} x {quantity(plan.rod, 'm')}",
            plate_words(plan.crosshead),
            plate_words(plan.bed),
            quantity(made.mass, "kg"),
            fixed(made.height, "run", 2),
            plain(made.cost[0]),
            f"{escape(short.name)}, {shortfall(short)}" if short else "",
            style="bold red" if short else "",
        )
    out.print(table)
