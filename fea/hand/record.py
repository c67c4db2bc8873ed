"""What every hand calculation ends in: a demand against a named limit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Sense = Literal["at most", "at least"]
"""Of a limit: a maximum or a minimum."""


@dataclass(frozen=True)
class Input:
    """A number put into a formula: its symbol, its value and SI unit."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True)
class Check:
    """One demand against one limit, in SI units.

    `formula` gives value and limit from the `inputs`, exactly as `fea.app.report.formula` reads it;
    `method` says in words how what goes in was found, or all where there is no formula.

    `sense` is that of the limit: a maximum (`at most`), or a minimum (`at least`) that the value
    must reach. `by_design` marks what was chosen so that the limit just holds, as a bore is for the
    pressing force: full use is no sign of danger there.
    """

    part: str
    """Part of the press that it is about, such as "bed plate 2"; press for the whole."""
    quantity: str
    value: float
    limit: float
    unit: str
    limit_name: str
    formula: str
    source: str
    note: str = ""
    inputs: tuple[Input, ...] = ()
    cautions: tuple[str, ...] = ()
    sense: Sense = "at most"
    method: str = ""
    by_design: bool = False
    kind: str = ""
    """Group of checks that it belongs to; set by `fea.checks.kinds`."""

    @property
    def name(self) -> str:
        """Part and quantity."""
        return _name(self.part, self.quantity)

    @property
    def utilisation(self) -> float:
        """Demand over a maximum, or a minimum over the demand; above 1 the limit is broken."""
        if self.sense == "at most":
            return self.value / self.limit
        return self.limit / self.value if self.value > 0 else math.inf


def worst_first(checks: Iterable[Check]) -> list[Check]:
    """Sort by utilisation; what holds by design comes after all else."""
    return sorted(
        checks,
        key=lambda check: (check.by_design and check.utilisation <= 1, -check.utilisation),
    )


@dataclass(frozen=True)
class Fact:
    """A figure that the reader needs and that has no limit of its own, in SI units.

    `topic` is what it belongs to: cylinder, hydraulics, rods, lifting, cost.
    """

    topic: str
    part: str
    """As that of a check."""
    quantity: str
    value: float
    unit: str
    formula: str
    source: str
    note: str = ""
    inputs: tuple[Input, ...] = ()
    cautions: tuple[str, ...] = ()
    method: str = ""
    kind: str = ""
    """Group of facts that it belongs to; set by `fea.checks.kinds`."""

    @property
    def name(self) -> str:
        """Part and quantity."""
        return _name(self.part, self.quantity)


def _name(part: str, quantity: str) -> str:
    return quantity if part == "press" else f"{part}: {quantity}"
