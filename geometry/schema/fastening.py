"""How the bolts of a stack are made and tightened."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from geometry.schema.quantities import Length, Section


class Fastening(Section):
    """Strength of a bolt, how it is tightened, and what its nut bears on."""

    property_class: Literal["4.6", "5.6", "5.8", "6.8", "8.8", "10.9", "12.9"] = "8.8"
    tightening: Literal["torque wrench", "hydraulic"] = "torque wrench"
    thread_friction: Annotated[float, Field(strict=True, ge=0.04, le=0.4)] = 0.12
    """In the thread and under the nut: lightly oiled."""
    washer_diameter: Length | None = None
    """Outer diameter of the washer under nut and head; without one the nut's face bears."""
