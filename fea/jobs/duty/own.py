"""What the user of `size` owns already: a cylinder, rods."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from platestack.geometry.schema import Fixing, Flange, Section
from platestack.geometry.schema.quantities import Length, Name


class OwnCylinder(Section):
    """A cylinder that is there: the press is built around it."""

    bore: Length
    outer_diameter: Length
    closed_length: Length | None = None
    """From the face on which it bears to the end of its ram, ram in."""
    flange: Flange | None = None
    fixing: Fixing | None = None
    """The bolts that hold it."""


class OwnRods(Section):
    """Rods that are there, all alike."""

    count: Annotated[int, Field(strict=True, ge=2, le=100)]
    diameter: Length
    length: Length | None = None
    thread: Name | None = None
    grade: Name | None = None
