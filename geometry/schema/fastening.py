"""Bolts that are tightened, what else joins the plates of a stack, and what presses on it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from platestack.geometry.schema.quantities import Force, Length, Name, Section

PropertyClass = Literal["4.6", "5.6", "5.8", "6.8", "8.8", "10.9", "12.9"]


class Fastening(Section):
    """A kind of bolt: its size and strength, how it is tightened, what its nut bears on."""

    thread: Name
    hole: Length | None = None
    preload: Force | None = None
    property_class: PropertyClass = "8.8"
    tightening: Literal["torque wrench", "hydraulic"] = "torque wrench"
    thread_friction: Annotated[float, Field(strict=True, ge=0.04, le=0.4)] = 0.12
    """In the thread and under the nut: lightly oiled."""
    washer_diameter: Length | None = None
    """Outer diameter of the washer under nut and head; without one the nut's face bears."""


class Fixing(Fastening):
    """The bolts that hold the cylinder to its stack against the return stroke and its weight."""

    count: Annotated[int, Field(strict=True, ge=2, le=64)]
    grip: Length | None = None
    """Thickness clamped between head and nut; by default that of flange or cylinder bottom."""
    pull: Force | None = None
    """Of the return stroke; by default working pressure on the ram side, as if a tool stuck."""
    circle: Length | None = None
    """Diameter of the circle of bolts in a flange; by default midway from wall to rim."""


class GlandBolts(Fastening):
    """The ring of bolts that holds the gland, screwed into the cylinder's wall."""

    count: Annotated[int, Field(strict=True, ge=4, le=96)]
    circle: Length | None = None
    """Diameter of their circle; by default in the middle of the wall."""
    engaged: Length | None = None
    """Length of thread in the wall; one and a half diameters."""


class Bearing(Section):
    """What is between a stack and what presses on it: the nuts' washers, or the cylinder.

    Even: nothing, the force presses evenly on its area. Otherwise washer or flange is a body of the
    model: welded to the stack; loose, it presses without friction and lifts off where it is not
    pressed; clamped, it presses with friction.
    """

    kind: Literal["even", "welded", "loose", "clamped"] = "even"
    friction: Annotated[float, Field(strict=True, ge=0.0, le=1.5)] = 0.2


class Connectors(Section):
    """What carries shear from plate to plate: dowels through the stack, or seams at its edges."""

    kind: Literal["dowels", "seams"]
    diameter: Length | None = None
    count: Annotated[int, Field(strict=True, ge=2, le=1000)] | None = None
    """Dowels, all through the whole stack and evenly spread between the outer rods."""
    property_class: PropertyClass = "8.8"
    throat: Length | None = None
    """Of the weld seams at each interface, along both long edges."""

    @model_validator(mode="after")
    def _whole(self) -> Connectors:
        dowels = (self.diameter, self.count)
        if self.kind == "dowels" and (None in dowels or self.throat is not None):
            raise ValueError('kind "dowels" needs diameter and count, and no throat')
        if self.kind == "seams" and (self.throat is None or dowels != (None, None)):
            raise ValueError('kind "seams" needs throat, and neither diameter nor count')
        return self
