"""Table ``[shop]``: the room, the lifting gear, the floor and the way there."""

from __future__ import annotations

from typing import Literal

from platestack.geometry.schema.quantities import Length, Mass, Pressure, Section, Temperature


class Feet(Section):
    """The rectangle whose corners the press stands on, and the size of one foot."""

    length: Length
    width: Length
    side: Length = 0.15
    """Of one of the four square foot plates."""


class Shop(Section):
    """The room, the lifting gear, the floor and the way there; what is given is checked."""

    lowest_temperature: Temperature = -10.0
    """Of the plates while the press is used: that of a shop without heating in frost."""
    hook_height: Length | None = None
    """Highest place of the hook above the floor."""
    hoist_height: Length | None = None
    """From the hook, all up, to the ceiling: hoist, hook block and beam."""
    sling_mass: Mass | None = None
    """Of slings, shackles and hook block on each lift."""
    lifted: Literal["plate by plate", "whole stacks"] = "plate by plate"
    feet_height: Length | None = None
    feet: Feet | None = None
    floor_pressure: Pressure | None = None
    """Allowed under a foot."""
    transport: Mass | None = None
    """Largest load of one trip."""
    door: tuple[Length, Length] | None = None
    """Width and height of the narrowest opening on the way."""
