"""Table ``[drawings]``: what the title block of every drawing says, and how views are placed."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator

from platestack.geometry.schema.quantities import Name, Section


def _revision(given: str) -> str:
    if not re.fullmatch("[A-Z0-9]{1,4}", given):
        raise ValueError("allowed: up to four capitals or digits, such as A or 02")
    return given


class Drawings(Section):
    """What title blocks say; names that are left out stay empty, to be written by hand."""

    owner: Name | None = None
    creator: Name | None = None
    approver: Name | None = None
    revision: Annotated[str, AfterValidator(_revision)] = "A"
    projection: Literal["first", "third"] | None = None
    """Angle; first, and third where units are US."""
    general_tolerances: Name | None = None
    """ISO 2768-mK where left out, as widely used, though partly replaced by ISO 22081."""
