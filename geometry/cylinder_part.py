"""The cylinder as a frozen record, and the material of any part: m, Pa, kg."""

from __future__ import annotations

import math
from dataclasses import dataclass

from platestack.geometry.schema.cylinder import SealGroove


@dataclass(frozen=True)
class Material:
    """Linear elastic material of a part of given thickness."""

    grade: str
    young: float
    poisson: float
    density: float
    yield_strength: float
    tensile_strength: float
    source: str


@dataclass(frozen=True)
class Cylinder:
    """A cylinder with a flat bottom, a piston on a solid ram, and a gland screwed into its wall.

    `face` is the height of the face on which its bottom bears, `direction` the sign along z in
    which the ram moves out: −1 below the crosshead, +1 on the bed.
    """

    bore: float
    outer_diameter: float
    bottom: float
    piston: float
    """Length of the piston (m)."""
    gland: float
    """Length of the gland (m)."""
    ram: float
    """Diameter of the ram in the gland (m)."""
    stroke: float
    protrusion: float
    """Of the ram from the gland, ram in (m)."""
    thread_pitch: float
    thread_length: float
    clearance: float
    """Radial, between piston and bore, as made (m)."""
    seal_gap: float
    """Largest radial gap that the seal bridges (m)."""
    proof_factor: float
    guide_pressure: float
    eccentricity: float
    """Of the pressing force at the ram (m)."""
    efficiency: float | None
    face: float
    direction: int
    material: Material
    bottom_material: Material
    ram_material: Material
    grooves: tuple[SealGroove, ...] = ()

    @property
    def wall(self) -> float:
        """Thickness of the wall (m)."""
        return (self.outer_diameter - self.bore) / 2

    @property
    def piston_area(self) -> float:
        """Area under pressure when pressing, in m²."""
        return math.pi / 4 * self.bore**2

    @property
    def ram_area(self) -> float:
        """Cross-section of the ram in m²."""
        return math.pi / 4 * self.ram**2

    @property
    def annulus_area(self) -> float:
        """Area under pressure when returning, in m²."""
        return self.piston_area - self.ram_area

    @property
    def thread_diameter(self) -> float:
        """Nominal diameter of the gland's thread: the bore and one depth of thread (m)."""
        return self.bore + 1.5 * self.thread_pitch

    @property
    def piston_diameter(self) -> float:
        """Of the piston as made (m)."""
        return self.bore - 2 * self.clearance

    def grooved(self, part: str) -> tuple[SealGroove, ...]:
        """Grooves of a part, the innermost first."""
        return tuple(sorted((g for g in self.grooves if g.part == part), key=lambda g: g.at))

    def groove_diameter(self, groove: SealGroove) -> float:
        """Diameter of a groove's ground (m)."""
        whole = {"piston": self.piston_diameter, "gland bore": self.ram}.get(groove.part, self.bore)
        return whole + 2 * groove.depth * (1 if groove.part == "gland bore" else -1)

    def _taken(self, *parts: str) -> float:
        """Volume that grooves take off (m³)."""
        return sum(
            math.pi * groove.width * groove.depth * (self.groove_diameter(groove) + depth)
            for part in parts for groove in self.grooved(part)
            for depth in (groove.depth * (-1 if part == "gland bore" else 1),)
        )  # fmt: skip

    @property
    def thread_ring(self) -> float:
        """Volume of the gland's thread beyond the bore (m³), full to its nominal diameter."""
        return math.pi / 4 * (self.thread_diameter**2 - self.bore**2) * self.thread_length

    @property
    def length(self) -> float:
        """From the bearing face to the ram's end, ram in (m)."""
        return self.bottom + self.piston + self.stroke + self.gland + self.protrusion

    @property
    def oil_volume(self) -> float:
        """Swept by the piston over the stroke (m³)."""
        return self.piston_area * self.stroke

    @property
    def body_mass(self) -> float:
        """Bottom, wall and gland (kg)."""
        return self._bottom()[0] + self._wall()[0] + self._gland()[0]

    @property
    def ram_mass(self) -> float:
        """Piston and ram, the part that moves (kg)."""
        return self._piston()[0] + self._ram()[0]

    @property
    def mass(self) -> float:
        """All of the cylinder, without oil and fittings (kg)."""
        return self.body_mass + self.ram_mass

    @property
    def centre(self) -> float:
        """Height of the centre of mass, ram in (m, as other heights of the press)."""
        pieces = (self._bottom(), self._wall(), self._gland(), self._piston(), self._ram())
        moment = sum(mass * place for mass, place in pieces)
        return self.face + self.direction * moment / self.mass

    def _bottom(self) -> tuple[float, float]:
        area = math.pi / 4 * self.outer_diameter**2
        return area * self.bottom * self.bottom_material.density, self.bottom / 2

    def _wall(self) -> tuple[float, float]:
        length = self.piston + self.stroke + self.gland
        area = math.pi / 4 * (self.outer_diameter**2 - self.bore**2)
        return area * length * self.material.density, self.bottom + length / 2

    def _gland(self) -> tuple[float, float]:
        """With its thread filled by the wall's or its own steel, which is the same."""
        place = self.bottom + self.piston + self.stroke + self.gland / 2
        volume = self.annulus_area * self.gland - self._taken("gland bore", "gland outside")
        return volume * self.material.density, place

    def _piston(self) -> tuple[float, float]:
        area = math.pi / 4 * self.piston_diameter**2
        mass = (area * self.piston - self._taken("piston")) * self.ram_material.density
        return mass, self.bottom + self.piston / 2

    def _ram(self) -> tuple[float, float]:
        length = self.stroke + self.gland + self.protrusion
        place = self.bottom + self.piston + length / 2
        return self.ram_area * length * self.ram_material.density, place
