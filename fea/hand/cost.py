"""Cost from the price table of the case. The currency is a label; nothing is converted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
    """Price a press."""
    works = plan(press, case.cutting)
    items = list(_plates(works, prices, case.stock))
    missing = [n for n in ("cutting", "machining") if getattr(prices, n) is None]
    parts = masses.pieces(press)
    for name, group in (
        ("rod", "rods"),
        ("sleeve", "sleeves"),
        ("nut", "nuts"),
        ("washer", "washers"),
        ("cylinder", "cylinder"),
    ):
        found = [p for p in parts if p.group == group]
        rate: Rate | None = getattr(prices, name)
        if name == "sleeve" and rate is None and prices.rod and prices.rod.per == "kg":
            rate = prices.rod
        if rate is None:
            missing += [name] if found else []
        elif not found:
            continue
        elif rate.per == "kg":
            items.append(Item(group, sum(p.mass for p in found), "kg", rate.amount))
        else:
            items.append(Item(group, float(len(found)), "1", rate.amount))
    if prices.pump is None:
        missing.append("pump")
    else:
        items.append(Item("pump", 1.0, "1", prices.pump.amount))
    items += [Item(name, 1.0, "1", amount) for name, amount in prices.extra.items()]
    return Bill(prices.currency, tuple(items), tuple(missing))


def plate_cost(work: PlateWork, prices: Prices, stock: Sequence[StockPlate] = ()) -> float:
    """Steel, cutting and machining of one plate."""
    return sum(item.amount for item in _plates((work,), prices, stock))


def with_steel_at(factor: float, prices: Prices) -> Prices:
    """The same prices with plate dearer or cheaper by a factor, but for the user's own stock."""
    rate = replace(prices.plate, amount=prices.plate.amount * factor)
    return prices.model_copy(update={"plate": rate})


def _plates(
    works: tuple[PlateWork, ...], prices: Prices, stock: Sequence[StockPlate]
) -> Iterator[Item]:
    steel = sum(work.stock_mass for work in works)
    paid = sum(work.stock_mass * _rate(work, prices, stock) for work in works)
    yield Item("plate steel", steel, "kg", paid / steel)
    if prices.cutting is not None:
        run = sum(work.cut_length for work in works)
        yield Item("cutting", run, "m", prices.cutting.amount)
        yield Item("pierces", float(sum(work.pierces for work in works)), "1", prices.pierce)
    if prices.machining is not None:
        area = sum(work.machined_area for work in works)
        yield Item("machining", area, "m²", prices.machining.amount)


def _rate(work: PlateWork, prices: Prices, stock: Sequence[StockPlate]) -> float:
    """Price of a plate's steel for each kg: of its own stock; nothing where it lies there."""
    for plate in of_thickness(stock, work.plate.bought):
        if plate.price is not None:
            return plate.price.amount
        if plate.count is not None:
            return 0.0
    return prices.plate.amount
