"""The self-test in the terminal: a line for each trial as it ends, what helps where one failed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:
    from platestack.fea.app.trials import PublishedComparison, Trial

ADVICE = "results of this installation are not to be trusted: install it and numpy, scipy anew"


def print_trials(trials: Iterable[Trial]) -> int:
    """Print each trial as it ends; the number that failed."""
    failed = 0
    out.print("[bold]Parts of this installation[/]")
    for trial in trials:
        failed += not trial.passed
        _line(trial.passed, trial.name, f"{trial.found} ({trial.seconds:.1f} s)", trial.advice)
    return failed


def print_comparisons(comparisons: Iterable[PublishedComparison]) -> int:
    """Print each comparison with a published value as it ends; the number beyond their limits."""
    failed = 0
    out.print("\n[bold]Accuracy: computed against published values[/]")
    for one in comparisons:
        failed += not one.passed
        words = (
            f"{quantity(one.value, one.unit)} against {quantity(one.published, one.unit)}: "
            f"{percent(one.deviation, 2, signed=True)}, allowed "
            f"±{percent(one.limit, 1)}\n{one.source}"
        )
        _line(one.passed, one.name, words, "" if one.passed else ADVICE)
    return failed


def _line(passed: bool, name: str, words: str, advice: str) -> None:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=6)
    table.add_column(width=24)
    table.add_column()
    mark = "[green]ok[/]" if passed else "[bold red]FAILED[/]"
    help_ = f"\n[yellow]{escape(advice)}[/]" if advice else ""
    table.add_row(mark, escape(name), escape(words) + help_)
    out.print(table)
