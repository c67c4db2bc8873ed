"""What the press is for, what must not be exceeded, and what loads it."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from platestack.geometry import tables
from platestack.geometry.schema.fastening import Bearing, Fixing
from platestack.geometry.schema.quantities import (
    Density,
    Force,
    Length,
    Mass,
    Modulus,
    Name,
    Point,
    Pressure,
    Section,
    Slope,
)


class PressDuty(Section):
    """What the press is for."""

    name: Name
    capacity: Force
    working_pressure: Pressure
    daylight: Length
    """Clear height between ram, all in, and the face opposite it."""
    stroke: Length
    """Of the ram; at most the daylight."""


class Limits(Section):
    """What must not be exceeded."""

    ceiling: Length | None = None
    hoist: Mass | None = None
    deflection: Slope = 1e-3
    """Mid-span deflection of each stack over the span between the rods."""
    yield_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 1.5
    rod_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 2.0
    overload: Annotated[float, Field(strict=True, ge=1.0, le=3.0)] = 1.25
    """Force over capacity that a relief valve set wrong, or stuck, may let through."""
    proof_factor: Annotated[float, Field(strict=True, ge=1.0, le=1.5)] = 1.25
    """Force of the proof test of the whole press over capacity (common practice, no source)."""
    cycles: Annotated[int, Field(strict=True, ge=1, le=1_000_000_000)] = 20_000
    """Pressings at capacity in the life of the press: four a working day for twenty years."""
    years: Annotated[float, Field(strict=True, gt=0.0, le=1000.0)] = 20.0
    """In which these pressings, or those of the spectrum, are done."""
    assessment: Literal["safe life", "damage tolerant"] = "safe life"
    """Damage tolerant: cracks are looked for at the intervals told, and do not bring it down."""
    consequence: Literal["low", "high"] = "high"
    fatigue_factor: Annotated[float, Field(strict=True, ge=1.0, le=3.0)] = 1.35
    """Partial factor of fatigue strength: by assessment and consequence, EN 1993-1-9 Table 3.1."""
    flaw: Length = 0.5e-3
    """Depth of the cracks assumed at cut edges and roots of threads from the start."""

    @model_validator(mode="before")
    @classmethod
    def _factor(cls, data: Any) -> Any:
        """Take the factor of the table, where it is not given itself."""
        named = {"assessment", "consequence"}
        if not isinstance(data, dict) or not named & data.keys():
            return data
        if "fatigue_factor" in data:
            raise ValueError("fatigue_factor does not go with assessment or consequence")
        fields = cls.model_fields
        wanted = {name: data.get(name, fields[name].default) for name in named}
        with suppress(KeyError, TypeError):  # what is not allowed is refused elsewhere
            return {**data, "fatigue_factor": tables.partial_factor(**wanted)}
        return data


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
    fixing: Fixing | None = None
    interface: Bearing = Bearing()
    """Between the stack and the cylinder's end: its flange, or its bottom where it has none."""


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
    toughness_as: Name | None = None
    """Listed plate grade whose impact energy its certificate reaches; without it the least."""
    source: Name = "given in the case"

    @field_validator("toughness_as")
    @classmethod
    def _listed(cls, grade: str | None) -> str | None:
        if grade is not None:
            tables.structural_grade(grade)
        return grade
