"""Tables ``[crosshead]`` and ``[bed]``: plates, openings, what holds the plates together."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from platestack.geometry.schema.fastening import Connectors, Fastening
from platestack.geometry.schema.outline import ContourOpening, Drawn
from platestack.geometry.schema.quantities import (
    Bow,
    Corners,
    Distance,
    Gap,
    Length,
    Name,
    Offset,
    Point,
    Section,
)


class RoundOpening(Section):
    """A round hole through a plate, across its thickness."""

    shape: Literal["round"]
    at: Point = (0.0, 0.0)
    diameter: Length


class RectangleOpening(Section):
    """A rectangular hole through a plate, with rounded corners."""

    shape: Literal["rectangle"]
    at: Point = (0.0, 0.0)
    length: Length
    width: Length
    corner_radius: Gap = 0.0


class GrooveOpening(Section):
    """A rectangular groove along x or y in the loaded face; with a head it is a T-slot."""

    shape: Literal["groove"]
    along: Literal["x", "y"] = "x"
    at: Offset = 0.0
    width: Length
    depth: Length
    head_width: Length | None = None
    head_depth: Length | None = None

    @model_validator(mode="after")
    def _head_is_whole(self) -> GrooveOpening:
        if (self.head_width is None) != (self.head_depth is None):
            raise ValueError("allowed: head_width and head_depth together, or neither")
        if self.head_width is not None and self.head_depth is not None:
            if self.head_width <= self.width:
                raise ValueError("allowed: head_width larger than width")
            if self.head_depth >= self.depth:
                raise ValueError("allowed: head_depth smaller than depth (depth is the whole)")
        return self


Opening = Annotated[
    RoundOpening | RectangleOpening | GrooveOpening | ContourOpening, Field(discriminator="shape")
]


class PlateOutline(Section):
    """Outline of a plate; what is left out is taken from its stack."""

    length: Length | None = None
    width: Length | None = None
    corners: Corners | None = None
    corner_size: Length | None = None
    outline: Drawn | None = None
    """In place of length, width and corners."""

    @model_validator(mode="after")
    def _one_outline(self) -> PlateOutline:
        if self.outline is not None and (self.length or self.width or self.corners):
            raise ValueError("outline does not go with length, width or corners")
        return self


class PlateEntry(PlateOutline):
    """One plate of a stack, or several alike."""

    thickness: Length
    """Finished."""
    blank: Length | None = None
    """Thickness as bought, where faces are machined; by default the next stock thickness."""
    count: Annotated[int, Field(strict=True, ge=1, le=60)] = 1
    grade: Name | None = None
    openings: tuple[Opening, ...] = ()


class Platen(PlateOutline):
    """A further plate on the loaded face: the bolster of the bed, the pressing plate above."""

    thickness: Length
    blank: Length | None = None
    grade: Name | None = None
    openings: tuple[Opening, ...] = ()


class ClampBoltEntry(Fastening):
    """A bolt through the stack that squeezes its plates."""

    at: Point


class Interface(Section):
    """What acts between neighbouring plates of a stack.

    Loose, unless the case says otherwise: they press on each other without friction, and part.
    Clamped: they press on each other with friction; its coefficient is by default that of plates as
    rolled, class D of EN 1090-2. Welded: they move as one, the ideal; what makes them so (clamp
    bolts, connectors) is checked, and a result without it says so at its head.
    """

    kind: Literal["welded", "loose", "clamped"] = "loose"
    friction: Annotated[float, Field(strict=True, ge=0.0, le=1.5)] = 0.2
    gap: Gap = 0.0
    """The same all over."""
    bow: Bow | None = None
    """Over the length of the stack. Positive: neighbours touch at their ends and stand apart in the
    middle; negative: the other way round."""
    flatness: Literal["EN 10029 class N"] | None = None
    """Bow of plates as delivered, by the standard, in place of `bow`."""
    waviness: Gap = 0.0
    """Height of waves along x, from crest to trough."""
    wave_length: Length = 0.5

    @model_validator(mode="after")
    def _one_bow(self) -> Interface:
        if self.bow is not None and self.flatness is not None:
            raise ValueError("bow does not go with flatness, which stands for one")
        return self


class Spacers(Section):
    """Blocks that hold the plates of an on-edge stack apart."""

    at: tuple[Offset, ...] | None = None
    length: Length = 0.06
    grade: Name | None = None


class Saddle(Section):
    """The plate across an on-edge stack on which the nuts of a rod pair bear."""

    thickness: Length
    blank: Length | None = None
    length: Length | None = None
    grade: Name | None = None


def _plates(given: Any) -> Any:
    """Turn ``"5 x 60 mm"`` or a list of thicknesses into plate entries."""
    entries = [given] if isinstance(given, str) else given
    if not isinstance(entries, list):
        raise ValueError('allowed: "5 x 60 mm", a list of such texts, or a list of tables')
    return tuple(_entry(entry) for entry in entries)


def _entry(given: Any) -> Any:
    if not isinstance(given, str):
        return given
    count, cross, thickness = given.replace("×", "x").partition("x")
    if not cross:
        return {"thickness": given}
    if not count.strip().isascii() or not count.strip().isdigit() or len(count) > 6:
        raise ValueError('allowed: "5 x 60 mm": a whole number of plates, x, their thickness')
    return {"count": int(count), "thickness": thickness.strip()}


class StackSection(Section):
    """Crosshead or bed."""

    layout: Literal["flat", "on edge"] = "flat"
    length: Length
    width: Length | None = None
    height: Length | None = None
    corners: Corners = "straight"
    corner_size: Length | None = None
    outline: Drawn | None = None
    """Of all plates that do not have their own; length and width (or height) may be left out."""
    grade: Name = "S355J2"
    plates: Annotated[tuple[PlateEntry, ...], BeforeValidator(_plates), Field(min_length=1)]
    openings: tuple[Opening, ...] = ()
    clamp_bolts: tuple[ClampBoltEntry, ...] = ()
    interface: Interface = Interface()
    connectors: Connectors | None = None
    platen: Platen | None = None
    gaps: tuple[Distance, ...] | None = None
    spacers: Spacers = Spacers()
    saddle: Saddle | None = None

    @model_validator(mode="before")
    @classmethod
    def _sized_by_outline(cls, data: Any) -> Any:
        """Length and width of the outline's box, where they are left out."""
        if not isinstance(data, dict) or data.get("outline") is None:
            return data
        across = "height" if data.get("layout") == "on edge" else "width"
        lacking = {"length", across} - data.keys()
        try:
            x0, y0, x1, y1 = Drawn.model_validate(data["outline"]).contour.box
        except ValidationError:  # told where the outline itself is read
            x0, y0, x1, y1 = 0.0, 0.0, 1.0, 1.0
        size = {"length": x1 - x0, across: y1 - y0}
        return data | {key: f"{size[key]!r} m" for key in lacking}

    @model_validator(mode="after")
    def _fits_layout(self) -> StackSection:
        flat = self.layout == "flat"
        needed, foreign = ("width", "height") if flat else ("height", "width")
        if getattr(self, needed) is None:
            raise ValueError(
                f'{needed} is missing; allowed: a length, as layout is "{self.layout}"'
            )
        if getattr(self, foreign) is not None:
            raise ValueError(f'{foreign} does not go with layout "{self.layout}"; give {needed}')
        if flat and (self.gaps is not None or self.saddle is not None):
            raise ValueError('gaps and saddle go with layout "on edge" only')
        if not flat and (self.platen is None or self.saddle is None):
            raise ValueError('layout "on edge" needs [platen] and [saddle] tables of the stack')
        if self.outline is not None and self.corners != "straight":
            raise ValueError("outline does not go with corners")
        drawn = [self.outline, *(plate.outline for plate in self.plates)]
        if any(drawn) and self.connectors is not None and self.connectors.kind == "seams":
            raise ValueError("seams go along straight edges; allowed with an outline: dowels")
        if self.corners != "straight" and self.corner_size is None:
            raise ValueError(f'corners "{self.corners}" need corner_size, such as "60 mm"')
        return self
