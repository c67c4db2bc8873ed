"""The case file as a validated, frozen model, SI inside.

Every dimensional value is written with its unit. Unknown keys are mistakes. What is left out takes
the default given here, or one that `geometry.layout` derives from the other values (``None`` here).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    field_validator,
    model_validator,
)

from geometry import units


def _reader(kind: units.Kind) -> Callable[[Any], float]:
    def read(given: Any) -> float:
        return units.parse(given, kind)

    return read


Length = Annotated[float, BeforeValidator(_reader(units.LENGTH)), units.LENGTH]
Offset = Annotated[float, BeforeValidator(_reader(units.OFFSET)), units.OFFSET]
Gap = Annotated[float, BeforeValidator(_reader(units.GAP)), units.GAP]
Force = Annotated[float, BeforeValidator(_reader(units.FORCE)), units.FORCE]
Pressure = Annotated[float, BeforeValidator(_reader(units.PRESSURE)), units.PRESSURE]
Modulus = Annotated[float, BeforeValidator(_reader(units.STIFFNESS)), units.STIFFNESS]
Mass = Annotated[float, BeforeValidator(_reader(units.MASS)), units.MASS]
Density = Annotated[float, BeforeValidator(_reader(units.DENSITY)), units.DENSITY]
Slope = Annotated[float, BeforeValidator(_reader(units.SLOPE)), units.SLOPE]
Point = tuple[Offset, Offset]
Name = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
Corners = Literal["straight", "chamfered", "rounded"]


class Section(BaseModel):
    """A table of the case file: frozen, no unknown keys, numbers finite and never texts."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class PressDuty(Section):
    """What the press is for."""

    name: Name
    capacity: Force
    working_pressure: Pressure
    daylight: Length
    stroke: Length


class Limits(Section):
    """What must not be exceeded."""

    ceiling: Length | None = None
    hoist: Mass | None = None
    deflection: Slope = 1e-3
    """Mid-span deflection of each stack over the span between the rods."""
    yield_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 1.5
    rod_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 2.0


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


Opening = Annotated[RoundOpening | RectangleOpening | GrooveOpening, Field(discriminator="shape")]


class PlateOutline(Section):
    """Outline of a plate; what is left out is taken from its stack."""

    length: Length | None = None
    width: Length | None = None
    corners: Corners | None = None
    corner_size: Length | None = None


class PlateEntry(PlateOutline):
    """One plate of a stack, or several alike."""

    thickness: Length
    count: Annotated[int, Field(strict=True, ge=1, le=60)] = 1
    grade: Name | None = None
    openings: tuple[Opening, ...] = ()


class Platen(PlateOutline):
    """A further plate on the loaded face: the bolster of the bed, the pressing plate above."""

    thickness: Length
    grade: Name | None = None
    openings: tuple[Opening, ...] = ()


class ClampBolt(Section):
    """A bolt through the stack that squeezes its plates."""

    at: Point
    thread: Name
    hole: Length | None = None
    preload: Force | None = None


class Interface(Section):
    """What acts between neighbouring plates of a stack.

    Welded: they move as one, the ideal. Loose: they press on each other without friction, and part.
    """

    kind: Literal["welded", "loose"] = "welded"
    friction: Annotated[float, Field(strict=True, ge=0.0, le=1.5)] = 0.2
    gap: Gap = 0.0


class Spacers(Section):
    """Blocks that hold the plates of an on-edge stack apart."""

    at: tuple[Offset, ...] | None = None
    length: Length = 0.06
    grade: Name | None = None


class Saddle(Section):
    """The plate across an on-edge stack on which the nuts of a rod pair bear."""

    thickness: Length
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
    grade: Name = "S355J2"
    plates: Annotated[tuple[PlateEntry, ...], BeforeValidator(_plates), Field(min_length=1)]
    openings: tuple[Opening, ...] = ()
    clamp_bolts: tuple[ClampBolt, ...] = ()
    interface: Interface = Interface()
    platen: Platen | None = None
    gaps: tuple[Gap, ...] | None = None
    spacers: Spacers = Spacers()
    saddle: Saddle | None = None

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
        if self.corners != "straight" and self.corner_size is None:
            raise ValueError(f'corners "{self.corners}" need corner_size, such as "60 mm"')
        return self


def _pitches(given: Any) -> Any:
    """Turn the single pitch of two rods into a list of one."""
    return [given] if isinstance(given, str) else given


class Rods(Section):
    """The tie rods with their nuts and washers."""

    count: Literal[2, 4, 6, 8] = 4
    pitch: (
        Annotated[tuple[Length, ...], BeforeValidator(_pitches), Field(min_length=1, max_length=2)]
        | None
    ) = None
    positions: tuple[Point, ...] | None = None
    diameter: Length
    thread: Name | None = None
    grade: Name = "42CrMo4+QT"
    hole: Length | None = None
    nut_height: Length | None = None
    nut_across_flats: Length | None = None
    washer_diameter: Length | None = None
    washer_thickness: Length | None = None
    preload: Force | None = None

    @field_validator("count", mode="before")
    @classmethod
    def _count(cls, given: Any) -> Any:
        if isinstance(given, bool) or given not in (2, 4, 6, 8):
            raise ValueError("allowed: 2, 4, 6 or 8 rods")
        return given

    @model_validator(mode="after")
    def _places(self) -> Rods:
        if (self.pitch is None) == (self.positions is None):
            raise ValueError("allowed: one of pitch (along x, along y) or positions")
        wanted = 1 if self.count == 2 else 2
        if self.pitch is not None and len(self.pitch) != wanted:
            raise ValueError(
                f"pitch has {len(self.pitch)} lengths; allowed: one for two rods, else two "
                "(along x, along y)"
            )
        if self.positions is not None and len(self.positions) != self.count:
            raise ValueError(
                f"{len(self.positions)} positions; allowed: {self.count}, as count says"
            )
        return self


class Flange(Section):
    """The flange with which the cylinder bears on its stack."""

    outer_diameter: Length
    thickness: Length


class Ram(Section):
    """The cylinder: its ram, and the area with which it bears on the stack that holds it."""

    mounted: Literal["crosshead", "bed"] = "crosshead"
    diameter: Length | None = None
    shape: Literal["disc", "annulus"] = "annulus"
    outer_diameter: Length | None = None
    inner_diameter: Length | None = None
    closed_length: Length | None = None
    flange: Flange | None = None


class Workpiece(Section):
    """The area through which the workpiece loads the stack opposite the cylinder."""

    shape: Literal["disc", "rectangle"] = "disc"
    diameter: Length | None = None
    length: Length | None = None
    width: Length | None = None
    offset: Point = (0.0, 0.0)

    @model_validator(mode="after")
    def _sized(self) -> Workpiece:
        if self.shape == "disc" and (self.length is not None or self.width is not None):
            raise ValueError('length and width go with shape "rectangle"; a disc has a diameter')
        if self.shape == "rectangle" and (
            self.length is None or self.width is None or self.diameter is not None
        ):
            raise ValueError('shape "rectangle" needs length and width, and no diameter')
        return self


class MeshWish(Section):
    """How fine the mesh is to be, and how much of each stack is modelled."""

    size: Length | None = None
    symmetry: Literal["auto", "quarter", "half x", "half y", "whole"] = "auto"
    deflection_accuracy: Annotated[float, Field(strict=True, ge=1e-3, le=0.5)] = 0.02
    stress_accuracy: Annotated[float, Field(strict=True, ge=5e-3, le=0.5)] = 0.05
    most_unknowns: Annotated[int, Field(strict=True, ge=1000, le=5_000_000)] = 300_000
    """Of each stack; refinement stops there."""


class GivenMaterial(Section):
    """A material given in the case instead of taken from the tables."""

    yield_strength: Pressure
    tensile_strength: Pressure
    young: Modulus = 210e9
    poisson: Annotated[float, Field(strict=True, ge=0.0, lt=0.49)] = 0.3
    density: Density = 7850.0
    source: Name = "given in the case"


class Case(Section):
    """A whole case file."""

    press: PressDuty
    limits: Limits = Limits()
    crosshead: StackSection
    bed: StackSection
    rods: Rods
    ram: Ram = Ram()
    workpiece: Workpiece = Workpiece()
    mesh: MeshWish = MeshWish()
    materials: dict[Name, GivenMaterial] = {}
