"""Table ``[cylinder]``: what the cylinder is made of, and its sizes; all may be left out."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from geometry.schema.quantities import Gap, Length, Name, Pressure, Section


class CylinderWish(Section):
    """The cylinder whose bore is ``ram.diameter``; `geometry.cylinder` derives what is left out."""

    grade: Name | None = None
    """Of the wall: E355+N up to a wall of 100 mm, above it a normalised forging of C45."""
    bottom_grade: Name = "S355J2"
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
    """Pressure of the proof test over working pressure."""
