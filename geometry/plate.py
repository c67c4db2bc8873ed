"""Plates in place, and the bodies through which nuts and cylinder press on a stack of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from platestack.geometry.cylinder_part import Material
from platestack.geometry.shapes import Groove, Hole, Outline, Patch

Axis = Literal["y", "z"]


@dataclass(frozen=True)
class Plate:
    """A plate in place.

    The outline lies in the plane across `normal`: in (x, y) for a flat plate, in (x, z) for one on
    edge. The plate fills `base` to ``base + thickness`` along its normal. Grooves are cut into the
    face named by `grooved` ("+": the far one along the normal).
    """

    name: str
    role: Literal["plate", "platen", "spacer", "saddle", "washer", "flange"]
    outline: Outline
    thickness: float
    base: float
    material: Material
    normal: Axis = "z"
    holes: tuple[Hole, ...] = ()
    grooved: Literal["+", "-"] = "+"
    blank: float | None = None
    """Thickness as bought (m), where faces are machined."""

    @property
    def bought(self) -> float:
        """Thickness as bought (m)."""
        return self.thickness if self.blank is None else self.blank

    @property
    def top(self) -> float:
        """Far face along the normal (m)."""
        return self.base + self.thickness

    @property
    def volume(self) -> float:
        """Volume in m³; holes neither overlap nor leave the plate (checked when a case is read)."""
        grooves = sum(
            hole.section * (self.outline.length if hole.along == "x" else self.outline.width)
            for hole in self.holes
            if isinstance(hole, Groove)
        )
        return self.volume_of_outline - grooves

    @property
    def volume_of_outline(self) -> float:
        """Volume in m³ with the holes through the plate, but before grooves are milled."""
        through = sum(hole.area for hole in self.holes if not isinstance(hole, Groove))
        return (self.outline.area - through) * self.thickness

    @property
    def mass(self) -> float:
        """Mass in kg."""
        return self.volume * self.material.density

    @property
    def shape(self) -> tuple[Outline, tuple[Hole, ...]]:
        """Outline and openings as seen from the plate's own middle."""
        x, y = self.outline.centre
        holes: list[Hole] = []
        for hole in self.holes:
            if isinstance(hole, Groove):
                holes.append(replace(hole, at=round(hole.at - (y if hole.along == "x" else x), 9)))
            else:
                holes.append(hole.moved(-x, -y))
        return self.outline.moved(-x, -y), tuple(holes)

    @property
    def bounds(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Least and greatest corner of the surrounding box (m)."""
        u0, v0, u1, v1 = self.outline.box
        if self.normal == "z":
            return (u0, v0, self.base), (u1, v1, self.top)
        return (u0, self.base, v0), (u1, self.top, v1)

    def mirrored(self, axis: int) -> Plate:
        """Return the plate reflected in the plane x = 0 (axis 0) or y = 0 (axis 1), unnamed."""
        if axis == 1 and self.normal == "y":
            outline, base, holes = self.outline, -self.top, self.holes
        else:
            outline = self.outline.mirrored(axis)
            base, holes = self.base, tuple(hole.mirrored(axis) for hole in self.holes)
        return Plate(
            "",
            self.role,
            outline,
            self.thickness,
            base,
            self.material,
            self.normal,
            holes,
            self.grooved,
            self.blank,
        )


@dataclass(frozen=True)
class Pad:
    """A body between a stack and what presses on it: a washer, or the end of the cylinder.

    Its near face is one of the stack's loaded areas, on its far face acts the force.
    """

    body: Plate
    area: str
    """Name of the area of the stack that it covers."""
    outwards: Literal[1, -1]
    """Sign along z from the stack to its far face."""
    force: Patch
    """Where on its far face the force acts."""
    presser: str
    """What presses there, in words."""
    kind: Literal["welded", "loose", "clamped"]
    friction: float
    """Coefficient between it and the stack where it is clamped."""

    @property
    def name(self) -> str:
        """Name of the body."""
        return self.body.name

    @property
    def outside(self) -> str:
        """Name of the area on which the force acts."""
        return f"outside {self.area}"

    @property
    def far(self) -> float:
        """Height of the face on which the force acts (m)."""
        return self.body.top if self.outwards == 1 else self.body.base
