"""Table ``[drawings]``: what the title block of every drawing says, and how views are placed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import StringConstraints

from platestack.geometry.schema.quantities import Name, Section


class Drawings(Section):
    """What title blocks say; names that are left out stay empty, to be written by hand."""

    owner: Name | None = None
    creator: Name | None = None
    approver: Name | None = None
    revision: Annotated[str, StringConstraints(pattern=r"^[A-Z0-9]{1,4}$")] = "A"
    projection: Literal["first", "third"] | None = None
    """Angle; first, and third where units are US."""
    general_tolerances: Name | None = None
    """ISO 2768-mK where left out, as widely used, though partly replaced by ISO 22081."""
