"""Table ``[prices]``: what steel, work and bought parts cost; the currency is a label."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from platestack.geometry.schema.quantities import Name, Section
from platestack.geometry.units import FOOT, LB, system

_RATE = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s+per\s+(kg|t|US ton|lb|m|m2|m\^2|m²|ft|ft2|ft\^2|ft²|sq ft|piece)\s*"
)
_PER = {
    "kg": ("kg", 1.0), "t": ("kg", 1e-3), "lb": ("kg", 1 / LB), "US ton": ("kg", 1 / (2e3 * LB)),
    "m": ("m", 1.0), "ft": ("m", 1 / FOOT), "piece": ("piece", 1.0),
}  # fmt: skip
_PER |= dict.fromkeys(("m2", "m^2", "m²"), ("m²", 1.0))
_PER |= dict.fromkeys(("ft2", "ft^2", "ft²", "sq ft"), ("m²", 1 / FOOT**2))
_US = {"kg": ("lb", LB), "m": ("ft", FOOT), "m²": ("ft2", FOOT**2)}


@dataclass(frozen=True)
class Rate:
    """An amount of money for each kg, m, m² or piece."""

    amount: float
    per: str

    def __str__(self) -> str:
        per, size = _US.get(self.per, (self.per, 1.0)) if system() == "US" else (self.per, 1.0)
        return f"{self.amount * size:g} per {per}"


def _rate(*allowed: str) -> BeforeValidator:
    """Reader of texts such as ``"1.4 per kg"``."""

    def read(given: Any) -> Rate:
        example = " or ".join(f'"12 per {per}"' for per in allowed)
        if isinstance(given, Rate):
            return given
        match = _RATE.fullmatch(given) if isinstance(given, str) else None
        if match is None or _PER[match[2]][0] not in allowed:
            raise ValueError(f"allowed: an amount and what it is for, such as {example}")
        per, factor = _PER[match[2]]
        return Rate(float(match[1]) * factor, per)

    return BeforeValidator(read)


PerMass = Annotated[Rate, _rate("kg")]
PerLength = Annotated[Rate, _rate("m")]
PerArea = Annotated[Rate, _rate("m²")]
PerPiece = Annotated[Rate, _rate("piece")]
PerPart = Annotated[Rate, _rate("piece", "kg")]
Amount = Annotated[float, Field(strict=True, ge=0.0, le=1e9)]


class Prices(Section):
    """What steel, work and bought parts cost. What is left out is not priced, and said so."""

    currency: Name
    plate: PerMass
    """Of the rectangle that encloses the plate as cut, as steel is sold."""
    cutting: PerLength | None = None
    pierce: Amount = 0.0
    machining: PerArea | None = None
    """Of milled faces, bored and drilled walls, slots."""
    rod: PerPart | None = None
    sleeve: PerPart | None = None
    """Without it as a rod, where rods are priced by mass."""
    nut: PerPart | None = None
    washer: PerPart | None = None
    cylinder: PerPart | None = None
    pump: PerPiece | None = None
    extra: dict[Name, Amount] = {}
    """Anything further by name: hoses, paint, transport."""
    what_if: tuple[Annotated[float, Field(strict=True, gt=0.0, le=10.0)], ...] = (0.8, 1.2)
    """Factors on the price of plate for which the total is told too."""
