"""Tables ``[[stock]]``: the plates that can be had, or that lie in the shop already."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from platestack.geometry.schema.prices import PerMass
from platestack.geometry.schema.quantities import Length, Section
from platestack.geometry.schema.stack import Opening


class StockPlate(Section):
    """Plates of one thickness; where there are some, all plates of a press are made of them."""

    thickness: Length
    price: PerMass | None = None
    """In place of ``prices.plate``; plates that are counted cost nothing without it."""
    count: Annotated[int, Field(strict=True, ge=1, le=1000)] | None = None
    """How many there are; any number where it is left out."""
    length: Length | None = None
    width: Length | None = None
    openings: tuple[Opening, ...] = ()
    """Holes that they have already, from their middle."""

    @model_validator(mode="after")
    def _whole_size(self) -> StockPlate:
        if (self.length is None) != (self.width is None):
            raise ValueError("length and width go together")
        return self
