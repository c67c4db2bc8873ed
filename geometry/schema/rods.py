"""Table ``[rods]``: the tie rods with their nuts and washers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from platestack.geometry.schema.fastening import Bearing
from platestack.geometry.schema.quantities import Force, Length, Name, Point, Section


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
    projection: Length | None = None
    """Of the thread beyond each nut, stacks as high as drawn."""
    thread_length: Length | None = None
    """From each end."""
    washer_diameter: Length | None = None
    washer_thickness: Length | None = None
    washer_grade: Name | None = None
    """Of plate steel; by default washers are of the rods' steel."""
    washer_interface: Bearing = Bearing()
    seat: Literal["none", "inner nuts", "shoulder", "sleeve"] = "none"
    """What a rod is tightened against, on the loaded faces of crosshead and bed."""
    seat_diameter: Length | None = None
    sleeve_bore: Length | None = None
    preload: Force | None = None

    @field_validator("count", mode="before")
    @classmethod
    def _count(cls, given: Any) -> Any:
        if isinstance(given, bool) or given not in (2, 4, 6, 8):
            raise ValueError("allowed: 2, 4, 6 or 8 rods")
        return given

    @model_validator(mode="after")
    def _seated(self) -> Rods:
        if self.seat == "none" and (self.preload is not None or self.seat_diameter is not None):
            raise ValueError(
                "preload and seat_diameter need a seat to tighten against; allowed: "
                'seat = "inner nuts", "shoulder" or "sleeve"'
            )
        if self.sleeve_bore is not None and self.sleeve_bore <= self.diameter:
            raise ValueError("sleeve_bore: allowed: more than diameter")
        if self.seat != "sleeve" and self.sleeve_bore is not None:
            raise ValueError('sleeve_bore goes with seat "sleeve" only')
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
