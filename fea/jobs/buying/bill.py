"""The bill of materials of a press: all lines, totals by supplier, when to order what."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from platestack.fea.hand.cost import Item, part_items
from platestack.fea.jobs.buying import besides, parts
from platestack.fea.jobs.buying.line import Money, OrderLine, Step
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case

STEPS: dict[Step, tuple[int, str]] = {
    "plates": (14, "machining of the plates, then assembly"),
    "rods": (10, "checking lengths and trying the nuts on, then assembly"),
    "cylinder": (28, "machining, fitting and bench proof of the cylinder, then assembly"),
    "assembly": (0, "assembly"),
    "finish": (-7, "first filling and painting, after assembly"),
}
"""What waits for a line, and for how many days before assembly it must be there (common practice,
no source)."""
STATES = ("quoted", "listed", "guessed")


@dataclass(frozen=True)
class Quote:
    """What a supplier answered for one line: price of one, days to delivery."""

    price: float | None = None
    lead: int | None = None


@dataclass(frozen=True)
class Total:
    """Sum of some lines, by where their prices come from: least, likely, most."""

    low: float
    likely: float
    high: float
    parts: Mapping[str, float]

    @property
    def firm(self) -> float:
        """Part of the likely sum that is quoted."""
        return self.parts.get("quoted", 0.0) / self.likely if self.likely else 0.0


@dataclass(frozen=True)
class Materials:
    """Everything to buy and make for a press."""

    press: str
    currency: str
    """Empty without prices."""
    lines: tuple[OrderLine, ...]
    plate: float | None
    """Price of a kg of plate steel by the case, by which guesses are made."""
    steel_factor: float = 1.0
    """Price of steel on another day over that of the case."""

    def money(self, line: OrderLine) -> Money:
        """Price of a line; where it is not quoted, with steel at its other price."""
        made = line.money(self.plate)
        if made.state in ("quoted", "not priced") or self.plate is None:
            return made
        more = (self.steel_factor - 1) * line.steel * self.plate
        return replace(made, likely=made.likely + more)

    def total(self, supplier: str | None = None) -> Total:
        """Sum of all lines, or of those of one kind of supplier."""
        found = [self.money(x) for x in self.lines if supplier in (None, x.supplier)]
        split = {state: sum(m.likely for m in found if m.state == state) for state in STATES}
        return Total(sum(m.low for m in found), sum(m.likely for m in found),
                     sum(m.high for m in found), split)  # fmt: skip

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Kinds of suppliers, in the order of their first line."""
        return tuple(dict.fromkeys(line.supplier for line in self.lines))

    def by_operation(self) -> dict[str, float]:
        """What the price table has, summed by operation."""
        found: dict[str, float] = defaultdict(float)
        for line in self.lines:
            for step in line.operations:
                found[step.name] += step.amount
        return dict(found)

    def in_time(self) -> list[tuple[int, OrderLine]]:
        """Days before assembly at which each line must be ordered, the first to order first."""
        timed = [(line.lead + STEPS[line.step][0], line) for line in self.lines if line.lead]
        return sorted(timed, key=lambda entry: (-entry[0], entry[1].number))

    def order_by(self, line: OrderLine, assembly: datetime.date) -> datetime.date:
        """Last day on which a line can be ordered for a day of assembly."""
        return assembly - datetime.timedelta(days=line.lead + STEPS[line.step][0])


def make(
    press: Press, case: Case, quotes: Mapping[str, Quote] | None = None, steel_factor: float = 1.0
) -> Materials:
    """List everything; `quotes` by part number replace prices and lead times of the case."""
    prices = case.prices
    costs: dict[str, list[Item]] = defaultdict(list)
    for name, item in part_items(press, case, prices) if prices else ():
        costs[name].append(item)
    own = [
        *parts.plates(press, case, costs),
        *parts.rods(press, costs),
        *parts.cylinder(press, case, costs),
        *parts.bolts(press, case),
        *besides.hydraulics(press, case),
        *besides.standing(case),
    ]
    lines = [*own, *besides.forgotten(own, press, case)]
    told = [_quoted(line, (quotes or {}).get(line.number)) for line in lines]
    return Materials(press.name, prices.currency if prices else "", tuple(told),
                     prices.plate.amount if prices else None, steel_factor)  # fmt: skip


def _quoted(line: OrderLine, quote: Quote | None) -> OrderLine:
    if quote is None:
        return line
    lead = {} if quote.lead is None else {"lead": quote.lead, "lead_given": True}
    return replace(line, quote=quote.price, **lead)  # type: ignore[arg-type]
