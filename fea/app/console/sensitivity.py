"""What matters most, in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.sensitivity import Sensitivity, Spread


def print_sensitivity(found: Sensitivity) -> None:
    """Print what each change does to each number, from its lower to its upper end."""
    from platestack.fea.jobs.sensitivity import NUMBERS

    table = Table(box=None, pad_edge=False)
    table.add_column("changed")
    table.add_column("from, to")
    for number in NUMBERS:
        table.add_column(number.replace(" ", "\n"), justify="right", no_wrap=True)
    values = [
        quantity(v, "m" if "deflection" in name else "Pa", 3)
        for name, v in zip(NUMBERS, found.base, strict=True)
    ]
    table.add_row("base, coarse mesh", "", *values)
    for effect in found.effects:
        ends = zip(effect.at_low, effect.at_high, strict=True)
        cells = [
            f"{percent(low, 1, signed=True)}\n{percent(high, 1, signed=True)}" for low, high in ends
        ]
        table.add_row(escape(effect.name), escape(f"{effect.low}\n{effect.high}"), *cells)
    out.print(table)


def print_spread(spread: Spread, found: Sensitivity) -> None:
    """Print the distribution of each number over the tolerances."""
    from platestack.fea.jobs.sensitivity import NUMBERS

    low, middle, high = spread.quantiles()
    out.print(f"{len(spread.draws)} draws of {', '.join(spread.names) or 'nothing'}")
    for name, nominal, *parts in zip(NUMBERS, found.base, low, middle, high, strict=True):
        unit = "m" if "deflection" in name else "Pa"
        words = [quantity(part * nominal, unit, 4) for part in parts]
        out.print(f"{name}: {percent(0.9)} between {words[0]} and {words[2]}, median {words[1]}")
