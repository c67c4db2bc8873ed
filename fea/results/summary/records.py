"""The records that `summary.json` is made of. Numbers are SI, with unit, error and note."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    AliasChoices,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    WithJsonSchema,
)

from platestack.fea.hand.record import Sense

LONGEST = 20_000
"""Letters of one text: with sixty names of plates in it, the longest has some 5,000."""


class Record(BaseModel):
    """A frozen part of the summary. What a later version adds to it is ignored."""

    model_config = ConfigDict(
        frozen=True, extra="ignore", str_max_length=LONGEST, use_attribute_docstrings=True
    )


def _figure(unit: str) -> tuple[Any, ...]:
    """A number of one SI unit: plain here, ``{value, unit, error, note}`` in the file."""

    def value_of(given: Any) -> Any:
        if not isinstance(given, dict):
            return given
        if given.get("unit") != unit:
            raise ValueError(f"unit {given.get('unit')!r:.20}; allowed: {unit!r}")
        return given.get("value")

    def as_figure(value: float) -> dict[str, Any]:
        return {"value": value, "unit": unit, "error": None, "note": ""}

    schema = {
        "type": "object",
        "properties": {
            "value": {"type": "number", "description": "In this unit."},
            "unit": {"const": unit, "description": "SI unit; 1 for a ratio."},
            "error": {"type": "null", "description": "Not known."},
            "note": {"type": "string", "description": "Empty."},
        },
        "required": ["value", "unit"],
    }
    return (
        BeforeValidator(value_of),
        PlainSerializer(as_figure, when_used="json"),
        WithJsonSchema(schema),
    )


Metres = Annotated[float, *_figure("m")]
Pascals = Annotated[float, *_figure("Pa")]
Kilograms = Annotated[float, *_figure("kg")]
Ratio = Annotated[float, *_figure("1")]
Unknowns = Annotated[int, Field(validation_alias=AliasChoices("unknowns", "dofs"))]


class Figure(Record):
    """A number with its SI unit, its error (same unit, none where unknown) and a note."""

    value: float | None
    """Null where it is not known."""
    unit: str
    """SI unit; 1 for a ratio."""
    error: float | None = None
    """Half width of the interval that should hold the exact value; null where unknown."""
    note: str = ""
    """What it is of, and how it was determined."""


class PlacedFigure(Figure):
    """A number that belongs to a place, in words and coordinates (m)."""

    place: str
    """Where, in words."""
    at: tuple[float, float, float]
    """Where: x, y, z (m)."""


class PeakFigure(PlacedFigure):
    """A peak stress, determined as `note` says; `raw` is the largest nodal value of the plate.

    `singular` marks a re-entrant edge, where the raw value grows as the mesh is refined.
    """

    raw: Pascals
    """Largest nodal stress of the plate."""
    singular: bool
    """Whether it is at a re-entrant edge, where elasticity has no finite stress."""


class PassRecord(Record):
    """One mesh of the refinement: unknowns, readings and their errors (SI)."""

    unknowns: Unknowns
    """Displacement unknowns; ``dofs`` in earlier summaries."""
    deflection: Metres
    """Mid-span deflection."""
    deflection_error: Metres
    """Its estimated error."""
    peak: Pascals
    """Peak von Mises stress."""
    peak_error: Pascals
    """Its estimated error."""
    raw_peak: Pascals
    """Largest nodal stress, re-entrant edges included."""


class PlateRecord(Record):
    """One plate of a stack, or a washer or flange on it that is a body of the model."""

    name: str
    """Name within its stack."""
    role: str
    """Plate, platen, saddle, washer or flange."""
    grade: str
    """Steel grade."""
    thickness: Metres
    """As designed."""
    mass: Kilograms
    """Openings deducted."""
    yield_strength: Pascals
    """Of this grade at this thickness."""
    peak_von_mises: PeakFigure | None
    """Null where the plate has no nodes of its own."""
    utilisation: float | None
    """Peak stress over allowed stress."""


class BeamRecord(Record):
    """The beam-theory cross-check of a stack."""

    welded_deflection: Metres
    """With plates that act as one."""
    loose_deflection: Metres
    """With plates that slide freely."""
    actual: str
    """Kind of interface of the case."""
    bending_stress: Pascals
    """Largest, of the stack as it is."""
    ratio: Ratio
    """Finite-element over beam-theory deflection."""
    band: tuple[float, float]
    """Where that ratio is expected for such proportions, the error of the elements included."""
    verdict: str
    """What the ratio says, in words."""


class InterfaceRecord(Record):
    """What happens between two neighbouring plates, or a plate and a washer or the cylinder's end.

    What does not apply is null.
    """

    kind: str
    """Welded, loose or clamped."""
    closed: Figure
    """Part of the area that is pressed together."""
    largest_pressure: Figure
    """Between the faces."""
    largest_opening: Figure
    """Gap between faces that were in contact, or more than the initial one."""
    largest_sliding: Figure
    """Of one face on the other."""
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
    """Shape of the area."""
    at: tuple[float, float]
    """Its centre, x and y (m)."""
    length: Metres
    """Outer diameter, or length along x."""
    width: Metres
    """Along y; outer diameter of a round one."""
    inner: Metres
    """Inner diameter of an annulus."""


class MeshRecord(Record):
    """The mesh and the solution on it."""

    elements: int
    """Quadratic tetrahedra."""
    unknowns: Unknowns
    """Displacement unknowns; ``dofs`` in earlier summaries."""
    worst_quality: Ratio
    """Worst shape of an element; 1 is regular."""
    mean_quality: Ratio
    """Mean shape; 1 is regular."""
    iterations: int
    """Of the linear solver, in all."""
    residual: Ratio
    """True relative residual."""
    balance: Ratio
    """Rod forces against applied force, relative."""
    complementarity: float | None = None
    """Work of contact tractions on gaps, penetration and creep while stuck, over the work done:
    the largest of the states; null where all plates are welded."""
    passes: list[PassRecord]
    """Each mesh of the refinement."""
    accurate: bool
    """Whether the accuracy that the case asks for was reached."""
    seconds: dict[str, float]
    """Of each step."""


class ClampBoltRecord(Record):
    """A clamp bolt of a stack."""

    name: str
    """Name within its stack."""
    at: tuple[float, float]
    """In the plane of the plates (m): x and y, or x and z on edge."""
    thread: str
    """Designation."""
    diameter: Metres
    """Of the thread."""
    rest_force: Figure
    """Before pressing."""
    working_force: Figure
    """At capacity; 0 if the bolt has come loose."""
    sliding: Figure | None = None
    """Largest distance that plates slid at it since tightening; null where they cannot."""
    sticking: Figure | None = None
    """Least part of the area about it that is pressed together and does not slide."""


class StackRecord(Record):
    """Crosshead or bed."""

    layout: str
    """Flat or on edge."""
    symmetry: list[Literal["x", "y"]]
    """Mirror planes of the model: x stands for the plane x = 0."""
    peak_von_mises: PeakFigure
    """Of the most stressed plate."""
    mid_span_deflection: PlacedFigure
    """At the press axis on the loaded face, relative to the mean of the nut-bearing annuli."""
    flatness_patch: Figure
    """Highest minus lowest over the loaded patch."""
    flatness_face: Figure
    """Highest minus lowest over the loaded face."""
    strain_energy: Figure
    """Of the stack and its half of the rods."""
    beam_deflection: Figure
    """Mid-span deflection by beam theory."""
    beam: BeamRecord
    """Cross-check by beam theory."""
    nut_displacement: Figure
    """Mean of the nut-bearing annuli, upwards."""
    dofs: Figure
    """Degrees of freedom: displacement unknowns of its mesh."""
    interfaces: dict[str, InterfaceRecord]
    """By the names of the two bodies."""
    plates: list[PlateRecord]
    """From below, or from the left on edge."""
    mass: Figure
    """Of its plates."""
    mesh: MeshRecord
    """Mesh and solver."""
    composite_action: Figure | None = None
    """Where a clamped stack's stiffness lies between loose (0) and welded (1)."""
    residual_deflection: Figure | None = None
    """Mid-span, once the pressing force is gone; null where nothing can slide."""
    loaded_patch: PatchRecord | None = None
    """Area that is loaded."""
    clamp_bolts: list[ClampBoltRecord] = []
    """Bolts through the stack."""
    pads: list[PlateRecord] = []
    """Washers, and the cylinder's end, where they are bodies; not in the stack's mass."""


class RodRecord(Record):
    """One tie rod."""

    name: str
    """Rod and its number."""
    at: tuple[float, float]
    """Its axis, x and y (m)."""
    ends: tuple[float, float]
    """Heights of the lower and the upper end (m)."""
    diameter: Metres
    """Of the shank."""
    thread: str
    """Designation."""
    nut_height: Metres
    """Of its nuts."""
    projection: Metres = 0.0
    """Of the thread beyond each nut."""
    nut_across_flats: Metres
    """Of its nuts."""
    preload: Figure
    """Force with no pressing force."""
    working_force: Figure
    """What pressing at capacity adds."""
    stretch: Figure
    """Between the nut-bearing faces, what pressing adds."""
    seat: str = "none"
    """What it is tightened against."""
    seat_diameter: Metres = 0.0
    """Outer diameter of the annulus that it bears on; 0 without."""
    seat_ends: tuple[float, float] | None = None
    """Heights of the faces on which its seats bear (m)."""
    largest_force: Figure | None = None
    """Under its nut at capacity."""
    clamping_force_left: Figure | None = None
    """Least clamping force left at capacity."""


class InputRecord(Figure):
    """A number put into a formula."""

    value: float
    """In its unit."""
    name: str
    """Symbol or name."""


class CheckRecord(Figure):
    """A demand against a limit."""

    value: float
    """In its unit."""
    id: str
    """Kind and name in small letters; unique among checks."""
    kind: str
    """Group of checks that it belongs to."""
    part: str
    """Part of the press that it is about; press for the whole."""
    name: str
    """Part and quantity."""
    limit: float
    """In the unit of the value."""
    utilisation: float
    """Demand over a maximum, a minimum over the demand; above 1 the limit is exceeded."""
    limit_name: str
    """What the limit is called."""
    formula: str
    """How it was computed."""
    source: str
    """Where the formula and the limit come from."""
    method: str = ""
    """How what goes into the formula was found, or the value where there is no formula."""
    sense: Sense = "at most"
    """Whether the limit is a maximum, or a minimum: then utilisation is limit / value."""
    by_design: bool = False
    """Chosen so that the limit just holds; such a check stands last while it does."""
    inputs: list[InputRecord] = []
    """Numbers put into the formula."""
    cautions: list[str] = []
    """What it leaves out."""


class FactRecord(Figure):
    """A figure without a limit of its own."""

    topic: str
    """What it belongs to."""
    value: float
    """In its unit."""
    id: str
    """Kind and name in small letters; unique among facts."""
    kind: str
    """Group of facts that it belongs to."""
    part: str
    """Part of the press that it is about; press for the whole."""
    name: str
    """Part and quantity."""
    formula: str
    """How it was computed."""
    source: str
    """Where the formula comes from."""
    method: str = ""
    """How what goes into the formula was found, or the value where there is no formula."""
    inputs: list[InputRecord] = []
    """Numbers put into the formula."""
    cautions: list[str] = []
    """What it leaves out."""
