"""The result of a search for an optimum in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import percent, quantity

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.optimum import EvaluatedOption, Optimum

GOALS = {"cost": "cheapest", "mass": "lightest", "stiffness": "stiffest"}
"""What may be sought, and what the best press then is."""


def print_optimum(found: Optimum, currency: str) -> None:
    """Print the best option, which limit binds, and what a tenth more of it would buy."""

    def value(one: EvaluatedOption) -> str:
        if found.goal == "mass":
            return quantity(one.value, "kg")
        if found.goal == "cost":
            return f"{one.value:,.0f} {currency}".rstrip()
        return f"{percent(one.value)} of the allowed deflection"

    out.print(
        f"{found.options} options considered, {len(found.solved)} solved in full besides the case; "
        f"predictions were off by {percent(found.spread)} at most where a full solve followed"
    )
    out.print(f"now        {value(found.base)}, {_nearest(found.base)}")
    best = found.best
    if best is None:
        nearest = min(found.solved, key=lambda one: one.worst, default=found.base)
        words = f"{_nearest(nearest)} even with {escape(nearest.option.label)}"
        if found.base.holds:
            words = "the case as it is holds them all"
        out.print(f"no option of these thicknesses is within all limits; {words}")
        return
    out.print(f"{GOALS[found.goal]:10} {value(best)}, {escape(best.option.label)}", style="bold")
    out.print(f"           {_nearest(best)}; solved in full")
    for kind, other in found.gains.items():
        out.print(
            f"{percent(0.1)} more of {escape(kind)} would allow {escape(other.option.label)}: "
            f"{value(other)}, "
            f"{percent(abs(other.value / best.value - 1), 1)} less "
            f"({'solved in full' if other.solved else 'predicted'})"
        )
    if not found.gains:
        out.print(f"{percent(0.1)} more of no single limit would lead to another of these options")
    if not found.complete:
        out.print("the search was cut short: a better option may remain; take fewer thicknesses")
    out.print(
        "Only what is in the table of checks was checked. Have the press checked by a licensed "
        "engineer before anything is ordered."
    )


def _nearest(found: EvaluatedOption) -> str:
    return f"nearest to its limit: {escape(found.binding)}, {percent(found.worst)}"
