"""What to change where a limit is exceeded, as a run keeps it."""

from __future__ import annotations

from platestack.fea.results.summary.records import Figure, Record
from platestack.geometry.units import percent, shown_in


class ChangeRecord(Record):
    """One value of the case that, changed alone, brings an exceeded check below its limit."""

    check: str
    """Name of the check."""
    words: str
    """The key of the value, what it becomes, what it is."""
    utilisation: float
    """Of the check then, by quick figures."""
    mass: Figure
    """More of the whole press."""
    cost: Figure
    """More, by the prices of the case."""

    def sentence(self) -> str:
        """What to change, and what it leads to."""
        mass, cost = self.mass.value or 0.0, self.cost.value
        price = "" if cost is None else f", {cost:+,.0f} {self.cost.unit}"
        unit = shown_in("kg", abs(mass))
        more = f"{mass / unit.scale:+,.0f} {unit.name}"
        return f"{self.words} ({percent(self.utilisation)} expected; {more}{price})"
