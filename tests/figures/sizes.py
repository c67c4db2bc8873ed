"""Duties sized by hand and solved in full: ``python -m tests.figures.sizes [part of a name ...]``.

For each duty: the plates proposed, how many limits were checked, the worst by hand and by the full
solution (but for the piston's force, which the bore is chosen for), how many solutions it took.
"""

from __future__ import annotations

import sys
import time

from platestack.fea.hand.record import Check
from platestack.fea.jobs import sizing
from platestack.fea.jobs.sizing.proposal import pile_words, shortfall
from tests.fea.duties import DUTIES, duty_of


def figures(name: str) -> str:
    """One row of the table."""
    start = time.perf_counter()
    try:
        by_hand = sizing.propose(duty_of(*DUTIES[name]))
        sized = time.perf_counter()
        made = sizing.confirm(by_hand)
    except Exception as error:
        return f"{name:<24} failed: {type(error).__name__}: {error}"
    plan, first, worst = made.plan, governing(by_hand), governing(made)
    told = "".join(f"; NOT MET: {check.name}, {shortfall(check)}" for check in made.exceeded)
    return (
        f"{name:<24} {pile_words(plan.crosshead)} / {pile_words(plan.bed)}, "
        f"{plan.duty.rods} x {1e3 * plan.rod:.0f}, bore {1e3 * plan.bore:.0f}; "
        f"{made.mass:,.0f} kg; {len(made.checks)} limits; "
        f"hand {first.utilisation:.3f} ({first.name}); "
        f"solved {worst.utilisation:.3f} ({worst.name}){told}; "
        f"{len(made.confirmed)} solutions; {sized - start:.0f} + "
        f"{time.perf_counter() - sized:.0f} s"
    )


def governing(made: sizing.Proposal) -> Check:
    """The worst check that sizes anything."""
    return next(check for check in made.checks if not check.name.startswith("cylinder: force"))


def main() -> None:
    """Print the row of every duty whose name has one of the words given."""
    words = sys.argv[1:]
    for name in DUTIES:
        if not words or any(word in name for word in words):
            print(figures(name), flush=True)


if __name__ == "__main__":
    main()
