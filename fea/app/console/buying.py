"""The bill of materials in the terminal."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, plain, quantity

if TYPE_CHECKING:
    from platestack.fea.jobs.buying import Materials, Money, Total

CAUTION = (
    "Prices of the case and guesses are no offers: ask with the form, and give what was answered "
    "by --prices. Guesses and usual lead times are common practice, no source."
)
MOST_DATES = 8


def print_list(made: Materials, assembly: datetime.date | None) -> None:
    """Print all lines, sums by supplier, and what to order first."""
    out.print()
    out.print(f"[bold]{escape(made.press)}[/]  {len(made.lines)} lines to buy and make")
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for name in ("part", "what", "as bought"):
        table.add_column(name, no_wrap=name == "part")
    for name in ("no.", "mass, all", "price"):
        table.add_column(name, justify="right", no_wrap=True)
    for line in made.lines:
        size = line.order.words() or line.finished.words()
        words = escape(f"{line.material} {size}".strip() or line.standard)
        mass = line.order_mass * line.quantity
        table.add_row(line.number, escape(line.name), words, f"{line.quantity:g}",
                      quantity(mass, "kg") if mass else "",
                      price(made.money(line)))  # fmt: skip
    out.print(table)
    if made.currency:
        _sums(made)
    first = [(d, line) for d, line in made.in_time()][:MOST_DATES]
    out.print("[bold]Order first[/]")
    for days, line in first:
        when = made.order_by(line, assembly).isoformat() if assembly else f"{days} days before"
        given = "quoted" if line.lead_given else "usual"
        out.print(f"{when}: {line.number} {escape(line.name)}, {line.lead} days ({given}); then "
                  f"{waits(line.step)}")  # fmt: skip
    if assembly and made.order_by(first[0][1], assembly) < datetime.date.today():
        out.print(f"[bold red]late[/] for an assembly on {assembly.isoformat()}: the first orders "
                  "would have had to be placed already")  # fmt: skip
    out.print(f"[yellow]Caution:[/] {CAUTION}")


def waits(step: str) -> str:
    """What waits for a line."""
    from platestack.fea.jobs.buying import STEPS

    return next(words for name, (_, words) in STEPS.items() if name == step)


def price(money: Money) -> str:
    """A price with where it comes from; a guess as a range."""
    if money.state == "not priced":
        return ""
    if money.state == "guessed":
        return f"{plain(money.low, 3)} to {plain(money.high, 3)} guessed"
    return f"{plain(money.likely)} {money.state}"


def sum_words(total: Total, currency: str) -> str:
    """A sum as a range."""
    return (
        f"{plain(total.low)} to {plain(total.high)}, likely {plain(total.likely)} {currency}; "
        f"quoted {percent(total.parts['quoted'] / (total.likely or 1))}, "
        f"listed {percent(total.parts['listed'] / (total.likely or 1))}, "
        f"guessed {percent(total.parts['guessed'] / (total.likely or 1))}"
    )


def _sums(made: Materials) -> None:
    out.print("[bold]By supplier[/]")
    for name in made.suppliers:
        out.print(f"{name}: {sum_words(made.total(name), made.currency)}", markup=False)
    out.print(f"all: {sum_words(made.total(), made.currency)}", markup=False)
    if made.steel_factor != 1.0:
        out.print(f"with steel at {made.steel_factor:g} times its price", markup=False)
