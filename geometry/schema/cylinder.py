"""Table ``[cylinder]``: what the cylinder is made of, and its sizes; all may be left out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from platestack.geometry.schema.fastening import GlandBolts
from platestack.geometry.schema.quantities import (
    Distance,
    Gap,
    Length,
    Mass,
    Name,
    Pressure,
    Section,
)


class ReturnSpring(Section):
    """Helical compression springs that draw the ram back, all alike; without them oil does it."""

    count: Annotated[int, Field(strict=True, ge=1, le=24)]
    wire: Length
    coil: Length
    """Mean diameter of the coils."""
    coils: Annotated[float, Field(strict=True, ge=2.0, le=1000.0)]
    """Coils that work, without the two at the ends."""
    free_length: Length
    fitted_length: Length
    """Ram in; pressing shortens it by the stroke."""
    tensile_strength: Pressure = 1.4e9
    """Of the wire: about that of 12 mm patented wire, EN 10270-1 SH (not verified)."""

    @model_validator(mode="after")
    def _can_be_wound(self) -> ReturnSpring:
        if not 4 <= self.coil / self.wire <= 20:
            raise ValueError("coil: allowed: 4 to 20 times wire")
        if not (self.coils + 2) * self.wire < self.fitted_length < self.free_length:
            raise ValueError(
                "fitted_length: allowed: more than (coils + 2) wire, less than free_length"
            )
        return self


class SealGroove(Section):
    """A groove for a seal, a guide ring or a wiper: its sizes are those that their maker states."""

    part: Literal["piston", "gland bore", "gland outside"]
    at: Distance
    """From the part's inner face to the groove: of the piston the face towards the bottom, of the
    gland the one towards the piston."""
    width: Length
    depth: Length
    """On the radius."""
    holds: Name
    """What goes in, as ordered."""


class CylinderWish(Section):
    """The cylinder whose bore is ``ram.diameter``; `geometry.cylinder` derives what is left out."""

    grade: Name | None = None
    """Of the wall: E355+N up to a wall of 100 mm, above it a normalised forging of C45."""
    bottom_grade: Name | None = None
    """S355J2, or as much tougher as its thickness asks for in the cold."""
    bottom_joint: Literal["full penetration", "partial penetration", "not welded"] | None = None
    """How the bottom is joined to the wall; its fatigue is checked where the case says."""
    ram_grade: Name = "C45+N forged"
    outer_diameter: Length | None = None
    bottom_thickness: Length | None = None
    piston_length: Length | None = None
    gland_length: Length | None = None
    ram_diameter: Length | None = None
    """In the gland; ``ram.diameter`` is the bore."""
    thread_pitch: Length | None = None
    thread_length: Length | None = None
    clearance: Gap | None = None
    """Radial, between piston and bore, as made."""
    seal_gap: Gap = 0.5e-3
    """Largest radial gap that seal and back-up ring bridge; the seal maker's figure counts."""
    eccentricity: Gap | None = None
    """Of the pressing force at the ram."""
    guide_pressure: Pressure = 40e6
    """Allowed on the guide rings."""
    efficiency: Annotated[float, Field(strict=True, ge=0.5, le=1.0)] | None = None
    """Force at the tool over pressure times area; without it capacity is the nominal force."""
    proof_factor: Annotated[float, Field(strict=True, ge=1.0, le=3.0)] = 1.5
    """Pressure of the cylinder's own proof test, on its maker's bench, over working pressure."""
    gland_bolts: GlandBolts | None = None
    """Instead of the thread with which the gland is screwed in."""
    return_spring: ReturnSpring | None = None
    grooves: tuple[SealGroove, ...] = ()
    tooling: Mass | None = None
    """Of what is fixed to the ram and moves with it."""
