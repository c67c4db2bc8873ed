"""Table ``[cutting]``: how plates are cut, and from which sheets."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from platestack.geometry.schema.quantities import Gap, Length, Section


class Cutting(Section):
    """How plates are cut, and from which sheets. All defaults are common practice, no source."""

    process: Literal["oxyfuel", "plasma"] = "oxyfuel"
    squareness: Annotated[int, Field(strict=True, ge=1, le=5)] = 3
    """Range of ISO 9013 asked of the cutter: 1 is the squarest, 5 the least square."""
    dressed: bool = False
    """Whether all visible flaws of the cut edges are ground away, which they stand longer for."""
    kerf: Length = 0.003
    drawn: Literal["edge", "torch path"] = "edge"
    """Contours as the edge is to be (the machine compensates), or half a kerf off, on the scrap."""
    allowance: Gap = 0.004
    """Left on each edge that is machined, and on the radius of bored holes."""
    face_allowance: Gap = 0.002
    """Left on each face of a plate that is machined: a rolled plate may be 1 mm too thin."""
    sheet: tuple[Length, Length] = (6.0, 2.0)
    margin: Gap = 0.015
    spacing: Gap = 0.02
    """Between neighbours on a sheet."""
