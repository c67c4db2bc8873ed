"""Cost from the price table of the case. The currency is a label; nothing is converted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from platestack.geometry import masses
from platestack.geometry.cutting.work import PlateWork, plan
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case, Prices, Rate, StockPlate
from platestack.geometry.stock import of_thickness


@dataclass(frozen=True)
class Item:
    """One line of the bill: so much of something at a rate."""

    name: str
    quantity: float
    unit: str
    rate: float

    @property
    def amount(self) -> float:
        """In the currency of the case."""
        return self.quantity * self.rate


@dataclass(frozen=True)
class Bill:
    """Everything priced, and what the price table leaves out."""

    currency: str
    items: tuple[Item, ...]
    missing: tuple[str, ...]

    @property
    def total(self) -> float:
        """In the currency of the case."""
        return sum(item.amount for item in self.items)

    def share(self, item: Item) -> float:
        """Part of the total that an item makes up."""
        return item.amount / self.total if self.total else 0.0


def bill(press: Press, case: Case, prices: Prices) -> Bill:
    """Price a press: its parts by operation, then what belongs to no part of it."""
    items = _summed(item for _, item in part_items(press, case, prices))
    missing = [n for n in ("cutting", "machining") if getattr(prices, n) is None]
    groups = {piece.group for piece in masses.pieces(press)}
    missing += [
        name for name, group in PRICED.items() if group in groups and rate(prices, name) is None
    ]
    if prices.pump is None:
        missing.append("pump")
    else:
        items.append(Item("pump", 1.0, "1", prices.pump.amount))
    items += [Item(name, 1.0, "1", amount) for name, amount in prices.extra.items()]
    return Bill(prices.currency, tuple(items), tuple(missing))


PRICED = {
    "rod": "rods", "sleeve": "sleeves", "nut": "nuts", "washer": "washers", "cylinder": "cylinder",
}  # fmt: skip
"""Key of the price table -> group of pieces."""


def rate(prices: Prices, name: str) -> Rate | None:
    """Price of a kind of part; sleeves without one cost what rods do by mass."""
    found: Rate | None = getattr(prices, name)
    if name == "sleeve" and found is None and prices.rod and prices.rod.per == "kg":
        return prices.rod
    return found


def part_items(press: Press, case: Case, prices: Prices) -> Iterator[tuple[str, Item]]:
    """Name of each piece of `geometry.masses`, with its cost by operation; one truth for all."""
    for work in plan(press, case.cutting):
        name = f"{work.stack} {work.plate.name}"
        yield from ((name, item) for item in _plate(work, prices, case.stock))
    parts = masses.pieces(press)
    for name, group in PRICED.items():
        price = rate(prices, name)
        for piece in parts if price is not None else ():
            if piece.group != group or price is None:
                continue
            if price.per == "kg":
                yield piece.name, Item(group, piece.mass, "kg", price.amount)
            else:
                yield piece.name, Item(group, 1.0, "1", price.amount)


def _summed(items: Iterable[Item]) -> list[Item]:
    """Items of the same name as one, at the rate that gives the same amount."""
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.name, []).append(item)
    made = []
    for name, group in groups.items():
        quantity, amount = sum(i.quantity for i in group), sum(i.amount for i in group)
        made.append(Item(name, quantity, group[0].unit, amount / quantity if quantity else 0.0))
    return made


def plate_cost(work: PlateWork, prices: Prices, stock: Sequence[StockPlate] = ()) -> float:
    """Steel, cutting and machining of one plate."""
    return sum(item.amount for item in _plate(work, prices, stock))


def with_steel_at(factor: float, prices: Prices) -> Prices:
    """The same prices with plate dearer or cheaper by a factor, but for the user's own stock."""
    rate = replace(prices.plate, amount=prices.plate.amount * factor)
    return prices.model_copy(update={"plate": rate})


def _plate(work: PlateWork, prices: Prices, stock: Sequence[StockPlate]) -> Iterator[Item]:
    yield Item("plate steel", work.stock_mass, "kg", _rate(work, prices, stock))
    if prices.cutting is not None:
        yield Item("cutting", work.cut_length, "m", prices.cutting.amount)
        yield Item("pierces", float(work.pierces), "1", prices.pierce)
    if prices.machining is not None:
        yield Item("machining", work.machined_area, "m²", prices.machining.amount)


def _rate(work: PlateWork, prices: Prices, stock: Sequence[StockPlate]) -> float:
    """Price of a plate's steel for each kg: of its own stock; nothing where it lies there."""
    for plate in of_thickness(stock, work.plate.bought):
        if plate.price is not None:
            return plate.price.amount
        if plate.count is not None:
            return 0.0
    return prices.plate.amount
