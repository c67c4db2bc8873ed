"""What every hand calculation ends in: a demand against a named limit."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Input:
    """A number put into a formula: its symbol or name, its value and SI unit."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True)
class Check:
    """One demand against one limit, in SI units.

    `at_least` marks a limit from below (a nut's height, a margin): the value must not fall short.
    """

    name: str
    value: float
    limit: float
    unit: str
    limit_name: str
    formula: str
    source: str
    note: str = ""
    inputs: tuple[Input, ...] = ()
    cautions: tuple[str, ...] = ()
    at_least: bool = False

    @property
    def utilisation(self) -> float:
        """Demand over limit, or limit over what there is; above 1 the limit is broken."""
        if not self.at_least:
            return self.value / self.limit
        return self.limit / self.value if self.value > 0 else math.inf


@dataclass(frozen=True)
class Fact:
    """A figure that the reader needs and that has no limit of its own, in SI units.

    `topic` is what it belongs to: cylinder, hydraulics, rods, lifting, cost.
    """

    topic: str
    name: str
    value: float
    unit: str
    formula: str
    source: str
    note: str = ""
    inputs: tuple[Input, ...] = ()
    cautions: tuple[str, ...] = ()
