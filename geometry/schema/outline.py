"""Outlines that are neither rectangle nor circle: points, and what leads from one to the next."""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from platestack.geometry import contour, units
from platestack.geometry.schema.quantities import Gap, Name, Point, Section


class OutlinePoint(Section):
    """A corner of an outline.

    To it leads a straight line, or an arc by way of `through`; where `smooth` the outline runs
    through it as a curve, together with the smooth points beside it.
    """

    to: Point
    radius: Gap = 0.0
    """Of the rounding between two straight lines."""
    through: Point | None = None
    smooth: bool = False
    control: tuple[Point, Point] | None = None
    """Of a cubic Bézier curve that leads here."""

    @model_validator(mode="after")
    def _one_way(self) -> OutlinePoint:
        ways = {"smooth": self.smooth, "through": self.through, "control": self.control}
        given = [key for key, value in ways.items() if value]
        if len(given) > 1 or (given and self.radius):
            raise ValueError(
                f"{given[-1]} does not go with {[*given, 'radius'][0 if len(given) > 1 else 1]}"
            )
        return self


def _corner(given: Any) -> Any:
    """Read ``["300 mm", "-80 mm"]``, or with a radius as third, as a table."""
    if not isinstance(given, list | tuple):
        return given
    if len(given) not in (2, 3):
        raise ValueError('allowed: ["x", "y"], ["x", "y", "radius"], or a table with the key to')
    return {"to": given[:2]} | ({"radius": given[2]} if len(given) == 3 else {})


class Drawn(Section):
    """A closed contour by its points, or taken from a drawing that lies beside the case."""

    points: Annotated[
        tuple[Annotated[OutlinePoint, BeforeValidator(_corner), units.OFFSET], ...],
        Field(max_length=2000),
    ] = ()
    mirrored: Literal["no", "x", "y", "both"] = "no"
    """In the plane x = 0, in y = 0, or in both: the points are those of a half or a quarter."""
    file: Name | None = None
    """DXF, read when the case is read from its file; points then stand in its place."""
    layer: Name | None = None
    """Of the contour in the drawing, where it has several."""
    unit: Literal["mm", "cm", "m", "in"] | None = None
    """Of the drawing, where it says none."""
    axis: Point | None = None
    """Place in the drawing that lies on the press axis, or halfway up a plate on edge; by default
    the drawing's origin."""

    @model_validator(mode="after")
    def _is_closed(self) -> Drawn:
        if self.file is not None:
            raise ValueError("a drawing is read only where the case is a file beside it")
        first = self.points[0] if self.points else None
        if self.mirrored != "no" and first and (first.through or first.control):
            raise ValueError("only a straight line leads to the first point of what is mirrored")
        _ = self.contour
        return self

    @cached_property
    def contour(self) -> contour.Contour:
        """What it is."""
        corners = [
            contour.Corner(p.to, p.radius, p.through, p.smooth, p.control) for p in self.points
        ]
        if self.mirrored != "no" and corners:
            corners = contour.mirrored(corners, self.mirrored)
        return contour.closed(corners)


class ContourOpening(Drawn):
    """A hole of any contour through a plate."""

    shape: Literal["contour"]
