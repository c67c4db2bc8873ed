"""Table ``[rods]``: the tie rods with their nuts and washers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from geometry.schema.quantities import Force, Length, Name, Point, Section


def _pitches(given: Any) -> Any:
    """Turn the single pitch of two rods into a list of one."""
    return [given] if isinstance(given, str) else given


class Rods(Section):
    """The tie rods with their nuts and washers."""

    count: Literal[2, 4, 6, 8] = 4
    pitch: (
        Annotated[tuple[Length, ...], BeforeValidator(_pitches), Field(min_length=1, max_length=2)]
        | None
    ) = None
    positions: tuple[Point, ...] | None = None
    diameter: Length
    thread: Name | None = None
    grade: Name = "42CrMo4+QT"
    hole: Length | None = None
    nut_height: Length | None = None
    nut_across_flats: Length | None = None
    washer_diameter: Length | None = None
    washer_thickness: Length | None = None
    preload: Force | None = None
    seat: Literal["none", "sleeve"] = "none"
    """What the rods are tightened against: nothing, or a tube round each between the stacks."""
    sleeve_outer: Length | None = None
    sleeve_inner: Length | None = None

    @field_validator("count", mode="before")
    @classmethod
    def _count(cls, given: Any) -> Any:
        if isinstance(given, bool) or given not in (2, 4, 6, 8):
            raise ValueError("allowed: 2, 4, 6 or 8 rods")
        return given

    @model_validator(mode="after")
    def _sleeve(self) -> Rods:
        given = (self.sleeve_outer, self.sleeve_inner)
        if self.seat == "none":
            if given != (None, None):
                raise ValueError('sleeve_outer and sleeve_inner go with seat = "sleeve"')
        elif self.sleeve_outer is None or self.sleeve_inner is None:
            raise ValueError('seat = "sleeve" needs sleeve_outer and sleeve_inner')
        elif not self.diameter < self.sleeve_inner < self.sleeve_outer:
            raise ValueError("allowed: diameter < sleeve_inner < sleeve_outer")
        return self

    @model_validator(mode="after")
    def _places(self) -> Rods:
        if (self.pitch is None) == (self.positions is None):
            raise ValueError("allowed: one of pitch (along x, along y) or positions")
        wanted = 1 if self.count == 2 else 2
        if self.pitch is not None and len(self.pitch) != wanted:
            raise ValueError(
                f"pitch has {len(self.pitch)} lengths; allowed: one for two rods, else two "
                "(along x, along y)"
            )
        if self.positions is not None and len(self.positions) != self.count:
            raise ValueError(
                f"{len(self.positions)} positions; allowed: {self.count}, as count says"
            )
        return self
