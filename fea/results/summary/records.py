"""The records that `summary.json` is made of. Numbers are SI, with unit, error and note."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from platestack.fea.hand.record import Sense

LONGEST = 20_000
"""Letters of one text: with sixty names of plates in it, the longest has some 5,000."""


class Record(BaseModel):
    """A frozen part of the summary."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_max_length=LONGEST)


class Figure(Record):
    """A number with its SI unit, its error (same unit, none where unknown) and a note."""

    value: float | None
    unit: str
    error: float | None = None
    note: str = ""


class PlacedFigure(Figure):
    """A number that belongs to a place, in words and coordinates (m)."""

    place: str
    at: tuple[float, float, float]


class PeakFigure(PlacedFigure):
    """A peak stress: judged as `note` says; `raw` is the largest nodal value of the plate.

    `singular` marks a re-entrant edge, where the raw value grows as the mesh is refined.
    """

    raw: float
    singular: bool


class PassRecord(Record):
    """One mesh on the way to the accuracy asked for: unknowns, readings and their errors (SI)."""

    dofs: int
    deflection: float
    deflection_error: float
    peak: float
    peak_error: float
    raw_peak: float


class PlateRecord(Record):
    """One plate of a stack, or a washer or flange on it that is a body of the model."""

    name: str
    role: str
    grade: str
    thickness: float
    mass: float
    yield_strength: float
    peak_von_mises: PeakFigure | None
    utilisation: float | None


class BeamRecord(Record):
    """The beam-theory cross-check of a stack."""

    welded_deflection: float
    loose_deflection: float
    actual: str
    bending_stress: float
    ratio: float
    """Finite-element over beam-theory deflection."""
    band: tuple[float, float]
    """Where that ratio is expected for such proportions."""
    verdict: str


class InterfaceRecord(Record):
    """What happens between two neighbouring plates, or a plate and a washer or the cylinder's end.

    What does not apply is null.
    """

    kind: str
    closed: Figure
    """Part of the area that is pressed together."""
    largest_pressure: Figure
    largest_opening: Figure
    largest_sliding: Figure
    open: Figure | None = None
    """Part of the area where nothing presses."""
    sticking: Figure | None = None
    """Part of the area that is pressed together and does not slide."""
    sliding: Figure | None = None
    """Part of the area that is pressed together and slides."""
    pad: bool = False
    """Whether it is one of a washer or the cylinder's end."""


class PatchRecord(Record):
    """The area that is loaded (m)."""

    shape: Literal["disc", "annulus", "rectangle"]
    at: tuple[float, float]
    length: float
    """Outer diameter, or length along x."""
    width: float
    inner: float
    """Inner diameter of an annulus."""


class MeshRecord(Record):
    """The mesh and the solution on it."""

    elements: int
    dofs: int
    worst_quality: float
    mean_quality: float
    iterations: int
    residual: float
    balance: float
    """Rod forces against applied force, relative."""
    complementarity: float | None = None
    """Work of contact tractions on gaps, penetration and creep while stuck, over the work done:
    the largest of the states; null where all plates are welded."""
    passes: list[PassRecord]
    accurate: bool
    """Whether the accuracy that the case asks for was reached."""
    seconds: dict[str, float]


class ClampBoltRecord(Record):
    """A clamp bolt of a stack."""

    name: str
    at: tuple[float, float]
    """In the plane of the plates (m): x and y, or x and z on edge."""
    thread: str
    diameter: float
    rest_force: Figure
    working_force: Figure
    """At capacity; 0 if the bolt has come loose."""
    sliding: Figure | None = None
    """Largest distance that plates slid at it since tightening; null where they cannot."""
    sticking: Figure | None = None
    """Least part of the area about it that is pressed together and does not slide."""


class StackRecord(Record):
    """Crosshead or bed."""

    layout: str
    symmetry: list[Literal["x", "y"]]
    """Mirror planes of the model: x stands for the plane x = 0."""
    peak_von_mises: PeakFigure
    mid_span_deflection: PlacedFigure
    flatness_patch: Figure
    flatness_face: Figure
    strain_energy: Figure
    beam_deflection: Figure
    beam: BeamRecord
    nut_displacement: Figure
    dofs: Figure
    interfaces: dict[str, InterfaceRecord]
    plates: list[PlateRecord]
    mass: Figure
    mesh: MeshRecord
    composite_action: Figure | None = None
    """Where a clamped stack's stiffness lies between loose (0) and welded (1)."""
    residual_deflection: Figure | None = None
    loaded_patch: PatchRecord | None = None
    clamp_bolts: list[ClampBoltRecord] = []
    pads: list[PlateRecord] = []
    """Washers, and the cylinder's end, where they are bodies; not in the stack's mass."""


class RodRecord(Record):
    """One tie rod."""

    name: str
    at: tuple[float, float]
    ends: tuple[float, float]
    """Heights of the lower and the upper end (m)."""
    diameter: float
    thread: str
    nut_height: float
    projection: float = 0.0
    """Of the thread beyond each nut (m)."""
    nut_across_flats: float
    preload: Figure
    working_force: Figure
    stretch: Figure
    seat: str = "none"
    """What it is tightened against."""
    seat_diameter: float = 0.0
    seat_ends: tuple[float, float] | None = None
    """Heights of the faces on which its seats bear (m)."""
    largest_force: Figure | None = None
    """Under its nut at capacity."""
    seat_force: Figure | None = None
    """Least force left on its seat at capacity."""


class InputRecord(Record):
    """A number put into a formula."""

    name: str
    value: float
    unit: str


class CheckRecord(Record):
    """A demand against a limit."""

    name: str
    value: float
    limit: float
    unit: str
    utilisation: float
    limit_name: str
    formula: str
    source: str
    note: str
    method: str = ""
    """How what goes into the formula was found, or the value where there is no formula."""
    sense: Sense = "at most"
    """Whether the limit is a maximum, or a minimum: then utilisation is limit / value."""
    by_design: bool = False
    """Chosen so that the limit just holds; such a check stands last while it does."""
    inputs: list[InputRecord] = []
    cautions: list[str] = []


class FactRecord(Record):
    """A figure without a limit of its own."""

    topic: str
    name: str
    value: float
    unit: str
    formula: str
    source: str
    note: str
    method: str = ""
    inputs: list[InputRecord] = []
    cautions: list[str] = []
