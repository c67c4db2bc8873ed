"""A line of the bill of materials: m, kg, money in the currency of the case."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from platestack.geometry.units import dimension, shown_in

Form = Literal["plate", "bar", "tube", "piece"]
Step = Literal["plates", "rods", "cylinder", "assembly", "finish"]
State = Literal["quoted", "listed", "guessed", "not priced"]

SPREAD: dict[str, tuple[float, float]] = {
    "quoted": (1.0, 1.0), "listed": (0.9, 1.15), "guessed": (0.6, 1.6), "not priced": (1.0, 1.0),
}  # fmt: skip
"""Least and most over the likely price, by where it comes from (common practice, no source)."""


@dataclass(frozen=True)
class Size:
    """A shape with its sizes (m): plate t × l × w, bar ⌀ × l, tube ⌀ outer / ⌀ inner × l."""

    form: Form = "piece"
    sizes: tuple[float, ...] = ()

    def words(self) -> str:
        """Sizes as they are ordered, in the unit of lengths; empty for a bought piece."""
        if self.form == "piece" or not self.sizes:
            return ""
        marks = {"plate": "", "bar": "⌀ ", "tube": "⌀ "}[self.form]
        first, *rest = map(dimension, self.sizes)
        if self.form == "tube":
            first, rest = f"{first} / ⌀ {rest[0]}", rest[1:]
        return f"{marks}{' × '.join((first, *rest))} {shown_in('m').name}"


@dataclass(frozen=True)
class Operation:
    """A step of making a part and its price."""

    name: str
    amount: float


@dataclass(frozen=True)
class Money:
    """A price as a range, and where it comes from."""

    likely: float
    state: State

    @property
    def low(self) -> float:
        """Least."""
        return self.likely * SPREAD[self.state][0]

    @property
    def high(self) -> float:
        """Most."""
        return self.likely * SPREAD[self.state][1]


@dataclass(frozen=True)
class OrderLine:
    """One thing to buy or make, or a service: as many alike as the press has."""

    number: str
    name: str
    supplier: str
    """Kind of supplier."""
    step: Step
    """What waits for it."""
    lead: int
    """Days from order to delivery; usual ones (common practice, no source) unless quoted."""
    quantity: float = 1
    way: Literal["made", "bought"] = "bought"
    standard: str = ""
    material: str = ""
    finished: Size = field(default_factory=Size)
    order: Size = field(default_factory=Size)
    """As bought: with what the saw and machining take."""
    mass: float = 0.0
    """Of one, finished."""
    order_mass: float = 0.0
    """Of one, as bought."""
    drawing: str = ""
    """Number of the drawing that `platestack draw` makes of it."""
    pieces: tuple[str, ...] = ()
    """Names of the pieces of `geometry.masses` that it is, or is a part of."""
    operations: tuple[Operation, ...] = ()
    """By the prices of the case, for all of the line."""
    guess: float = 0.0
    """Where nothing is priced: worth as so many kg of plate steel (common practice, no source)."""
    note: str = ""
    lead_given: bool = False
    quote: float | None = None
    """Price of one, as quoted."""
    cut_file: str = ""
    """Name of the contour that `platestack cut` writes."""

    @property
    def steel(self) -> float:
        """Steel as bought, of the whole line (kg)."""
        return self.order_mass * self.quantity if self.material else 0.0

    def money(self, plate: float | None) -> Money:
        """Price of the line; `plate` is that of a kg of plate steel, by which guesses are made."""
        if self.quote is not None:
            return Money(self.quote * self.quantity, "quoted")
        if self.operations:
            return Money(sum(step.amount for step in self.operations), "listed")
        if plate is None or not self.guess:
            return Money(0.0, "not priced")
        return Money(self.guess * plate, "guessed")
