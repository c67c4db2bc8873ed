"""Table ``[spectrum]``: pressings of several forces, as blocks or as a record of the force."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from platestack.geometry.schema.quantities import Force, Load, Section


class Block(Section):
    """Pressings of one force, each from nothing and back."""

    force: Force
    cycles: Annotated[int, Field(strict=True, ge=1, le=1_000_000_000)]


class Spectrum(Section):
    """All forces in the life of the press, in place of `limits.cycles` pressings at capacity."""

    blocks: tuple[Block, ...] = ()
    recorded: tuple[Load, ...] = ()
    """Force as it was recorded, one reading after the other; its cycles are counted by rainflow."""
    repeats: Annotated[int, Field(strict=True, ge=1, le=1_000_000_000)] = 1
    """How often the record passes in the life of the press."""

    @model_validator(mode="after")
    def _one_kind(self) -> Spectrum:
        if bool(self.blocks) == bool(self.recorded):
            raise ValueError("allowed: one of blocks or recorded")
        if self.recorded and max(self.recorded) == min(self.recorded):
            raise ValueError("recorded: allowed: at least two different forces")
        return self

    @property
    def largest(self) -> float:
        """Largest force in it (N)."""
        return max((*self.recorded, *(block.force for block in self.blocks)))
