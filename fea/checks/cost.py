"""What the press costs by the price table of the case."""

from __future__ import annotations

from platestack.fea.hand.cost import Bill, bill, with_steel_at
from platestack.fea.hand.record import Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import percent


def cost_facts(solution: Solution) -> list[Fact]:
    """Each item with its share, and the total at other prices of steel."""
    return cost_facts_of(solution.press, solution.case)


def priced(press: Press, case: Case) -> Bill | None:
    """The bill, if the case has prices."""
    return None if case.prices is None else bill(press, case, case.prices)


def cost_facts_of(press: Press, case: Case) -> list[Fact]:
    """The same without a solution."""
    made = priced(press, case)
    if made is None or case.prices is None:
        return []
    facts = [
        Fact("cost", "press", item.name, item.amount, made.currency, "q·r", "prices of the case",
             f"{percent(made.share(item))} of the total",
             (Input("q", item.quantity, item.unit), Input("r", item.rate, "")),
             method="quantity times rate")
        for item in made.items
    ]  # fmt: skip
    for factor in case.prices.what_if:
        other = bill(press, case, with_steel_at(factor, case.prices))
        facts.append(
            Fact("cost", "press", f"total with plate steel at {factor:g} times its price",
                 other.total,
                 made.currency, "", "prices of the case",
                 percent(other.total / made.total - 1, 1, signed=True) if made.total else "",
                 method="sum of quantity times rate")
        )  # fmt: skip
    return facts
