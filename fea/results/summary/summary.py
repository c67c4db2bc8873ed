"""The summary of a run as a published record: what `summary.json` holds.

Its JSON schema stands in ``summary.schema.json`` beside this module. Numbers are SI, each with its
unit, its error where one is known, and a note.
"""

from __future__ import annotations

import re
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any, Literal

import platestack
from platestack.fea.checks import Check, Fact, all_checks, all_facts
from platestack.fea.checks.as_one import ideal, is_ideal
from platestack.fea.checks.cost import priced
from platestack.fea.results.summary.changes import ChangeRecord
from platestack.fea.results.summary.clamping import clamp_bolts
from platestack.fea.results.summary.frame import FrameRecord, JointRecord, frame
from platestack.fea.results.summary.records import (
    BeamRecord,
    CheckRecord,
    ClampBoltRecord,
    FactRecord,
    Figure,
    InterfaceRecord,
    MeshRecord,
    PassRecord,
    PatchRecord,
    PeakFigure,
    PlacedFigure,
    PlateRecord,
    Record,
    RodRecord,
    StackRecord,
)
from platestack.fea.solid.interfaces import InterfaceResult
from platestack.fea.solid.model import Solution
from platestack.fea.solid.stack import StackSolution
from platestack.fea.solid.stress.peaks import Peak
from platestack.geometry import case as case_file
from platestack.geometry import masses
from platestack.geometry.parts import Plate, Press, Stack, TieRod

__all__ = [
    "COMMON_CAUTIONS",
    "INTERFACE_CAUTIONS",
    "VERSION",
    "BeamRecord",
    "CheckRecord",
    "ClampBoltRecord",
    "FactRecord",
    "Figure",
    "FrameRecord",
    "InterfaceRecord",
    "JointRecord",
    "MeshRecord",
    "PassRecord",
    "PatchRecord",
    "PeakFigure",
    "PlacedFigure",
    "PlateRecord",
    "Record",
    "RodRecord",
    "StackRecord",
    "Summary",
    "schema",
    "summarise",
]

VERSION: Literal[2] = 2
"""Of the layout of `summary.json`; rises when a reader must change."""

COMMON_CAUTIONS = (
    "High oil pressure and stretched rods hold energy that kills when released. Stand clear, "
    "guard the press, and follow the local rules for presses and pressure equipment.",
    "These figures support the judgement of a licensed engineer and do not replace it.",
    "Not checked here: ports, welds and seals of the cylinder; fittings; fatigue but for "
    "threads and cut edges; welds but for the strength of seams between plates; flatness and "
    "residual stress of plates as delivered; foundation; guarding and controls.",
)
INTERFACE_CAUTIONS = {
    "welded": "The plates of the {name} are taken as welded into one, the stiffest they can be. "
    'Loose plates bend up to n² times more: run the case with interface.kind = "loose" too.',
    "loose": "The plates of the {name} press on each other without friction, the softest they can "
    "be.{gaps}",
    "clamped": "The plates of the {name} are held by friction. It is what preload, surfaces and "
    "vibration leave of it: compare with the loose stack before relying on it.",
}
EVEN_CAUTIONS = {
    "washer": "Nuts are taken to press evenly under their washers. Washers as bodies "
    "(rods.washer_interface) change the deflection of the demo press by 0.2 %, but nearly double "
    "the stress at the rims of its rod holes.",
    "flange": "The cylinder is taken to press evenly on its area. As a body (ram.interface) its "
    "bottom changes the deflection of the demo press by 0.6 %, and by 12 % if it were rigid; a "
    "flange of 480 mm on its wall of 400 mm makes it 3.5 % larger.",
}
PAD_CAUTION = (
    "Nut and cylinder press evenly on the far faces of washers and flange or bottom. The wall as a "
    "stiffener, and what of the bottom spans the bore of a ring, are left out."
)


class Summary(Record):
    """A run of platestack: what `summary.json` holds. Numbers are SI.

    Every number that is compared or shown is `{value, unit, error, note}`; coordinates are in m,
    and counts are plain. Readers ignore what they do not know; what they need stays while
    `schema_version` does.
    """

    schema_version: Literal[2]
    """Of the layout of this file; rises when a reader must change."""
    program_version: str
    """Of platestack."""
    date: str
    """When it was made: ISO 8601, universal time."""
    case: str
    """Name of the case file, without its directory."""
    case_digest: str = ""
    """SHA-256 of what the case file says, whatever its comments and layout."""
    press: str
    """Name of the press."""
    capacity: Figure
    """Rated pressing force."""
    working_pressure: Figure
    """Oil pressure at capacity."""
    crosshead: StackRecord
    """Upper stack."""
    bed: StackRecord
    """Lower stack."""
    rods: list[RodRecord]
    """Tie rods."""
    mass: Figure
    """Of the whole press."""
    height: Figure
    """Of the whole press, over the rods."""
    cost: Figure
    """By the prices of the case."""
    checks: list[CheckRecord]
    """Demands against limits, worst first."""
    facts: list[FactRecord] = []
    """Figures without a limit of their own."""
    frame: FrameRecord | None = None
    """Joint diagrams of rods with seats."""
    changes: list[ChangeRecord] = []
    """The cheapest value, for each exceeded check that one can mend."""
    ideal: list[str] = []
    """For the head of the result: which stacks are the ideal, and why."""
    exceeded: int
    """How many limits are exceeded."""
    defaults: list[tuple[str, str]]
    """What the case left out, with the value taken."""
    cautions: list[str]
    """What the figures do not cover."""
    seconds: float
    """Time that the solution took."""

    @property
    def stacks(self) -> dict[str, StackRecord]:
        """Crosshead and bed by name."""
        return {"crosshead": self.crosshead, "bed": self.bed}


def summarise(solution: Solution, name: str) -> Summary:
    """Gather the headline numbers of a solution; `name` is that of the case file."""
    press = solution.press
    checks = [_check(check) for check in all_checks(solution)]
    return Summary(
        schema_version=VERSION,
        program_version=platestack.__version__,
        date=datetime.now(UTC).isoformat(timespec="seconds"),
        case=name,
        press=press.name,
        capacity=Figure(value=press.capacity, unit="N"),
        working_pressure=Figure(value=press.working_pressure, unit="Pa"),
        crosshead=_stack(solution.stacks["crosshead"]),
        bed=_stack(solution.stacks["bed"]),
        rods=[_rod(solution, rod) for rod in press.rods],
        mass=_mass(press),
        height=Figure(value=press.height, unit="m", note="over the rods"),
        cost=_cost(solution),
        checks=checks,
        facts=[FactRecord(**_plain(fact)) for fact in all_facts(solution)],
        frame=frame(solution),
        ideal=ideal(press),
        exceeded=sum(check.utilisation > 1 for check in checks),
        defaults=[*case_file.defaults(solution.case), *press.assumed],
        cautions=[*COMMON_CAUTIONS, *_interface_cautions(press), *solution.changes],
        seconds=solution.seconds,
    )


def _stack(solved: StackSolution) -> StackRecord:
    stack, mesh, beam = solved.stack, solved.mesh, solved.beam
    peak = solved.peak
    ratio = (
        solved.deflection / beam.actual.mid_span_deflection
    )  # band and verdict are of the bare beam
    known = beam.actual.mid_span_deflection / beam.actual.expected
    return StackRecord(
        layout=stack.layout,
        symmetry=sorted(mesh.symmetry),
        peak_von_mises=_peak(peak),
        mid_span_deflection=PlacedFigure(
            value=solved.deflection,
            unit="m",
            error=solved.deflection_error,
            place=f"loaded face, {solved.deflection_place}",
            at=(0.0, 0.0, stack.load_face),
            note="relative to the mean of the nut-bearing annuli, positive along the load",
        ),
        flatness_patch=Figure(
            value=solved.flatness_patch, unit="m", note="highest minus lowest over the loaded patch"
        ),
        flatness_face=Figure(
            value=solved.flatness_face,
            unit="m",
            note="highest minus lowest over the whole loaded face",
        ),
        strain_energy=Figure(
            value=solved.strain_energy,
            unit="J",
            error=solved.strain_energy_error,
            note="stack and its half of the rods",
        ),
        beam_deflection=Figure(
            value=beam.actual.expected,
            unit="m",
            error=None if stack.interface == "clamped" else beam.actual.uncertainty,
            note=f"Timoshenko beam and what it leaves out, {stack.interface} stack",
        ),
        beam=BeamRecord(
            welded_deflection=beam.welded.expected,
            loose_deflection=beam.loose.expected,
            actual=stack.interface,
            bending_stress=beam.actual.bending_stress,
            ratio=ratio * known,
            band=(beam.band[0] * known, beam.band[1] * known),
            verdict=beam.verdict(ratio),
        ),
        nut_displacement=Figure(
            value=solved.nut_mean, unit="m", note="mean of the nut-bearing annuli, upwards"
        ),
        dofs=Figure(value=mesh.dofs, unit="1", note="displacement unknowns"),
        interfaces={result.name: _interface(result) for result in solved.interfaces},
        plates=_plates(solved, stack.plates),
        mass=Figure(value=stack.mass, unit="kg"),
        loaded_patch=PatchRecord(
            shape=stack.patch.shape,
            at=stack.patch.centre,
            length=stack.patch.length,
            width=stack.patch.width,
            inner=stack.patch.inner,
        ),
        mesh=_mesh(solved),
        composite_action=None
        if solved.composite is None
        else Figure(value=solved.composite, unit="1", note="0 as loose, 1 as welded"),
        residual_deflection=None
        if solved.residual_deflection is None
        else Figure(
            value=solved.residual_deflection, unit="m", note="mid-span, after the force is gone"
        ),
        clamp_bolts=clamp_bolts(solved),
        pads=_plates(solved, tuple(pad.body for pad in stack.pads)),
    )


def _plates(solved: StackSolution, bodies: tuple[Plate, ...]) -> list[PlateRecord]:
    peaks = {peak.plate.name: peak for peak in solved.peaks}
    return [
        PlateRecord(
            name=plate.name,
            role=plate.role,
            grade=plate.material.grade,
            thickness=plate.thickness,
            mass=plate.mass,
            yield_strength=plate.material.yield_strength,
            peak_von_mises=_peak(peaks[plate.name]) if plate.name in peaks else None,
            utilisation=peaks[plate.name].utilisation if plate.name in peaks else None,
        )
        for plate in bodies
    ]


def _mass(press: Press) -> Figure:
    estimated = any(piece.estimated for piece in masses.pieces(press))
    words = "stacks, rods, nuts, washers and cylinder"
    return Figure(
        value=press.mass,
        unit="kg",
        note=f"{words}; the cylinder is estimated" if estimated else words,
    )


def _cost(solution: Solution) -> Figure:
    bill = priced(solution.press, solution.case)
    if bill is None:
        return Figure(value=None, unit="", note="no price table in the case")
    left = f"; not priced: {', '.join(bill.missing)}" if bill.missing else ""
    return Figure(value=bill.total, unit=bill.currency, note=f"by the case's prices{left}")


def _mesh(solved: StackSolution) -> MeshRecord:
    mesh = solved.mesh
    return MeshRecord(
        elements=len(mesh.tets),
        dofs=mesh.dofs,
        worst_quality=mesh.quality.worst,
        mean_quality=mesh.quality.mean,
        iterations=solved.iterations,
        residual=solved.residual,
        balance=solved.balance,
        complementarity=solved.complementarity,
        passes=[PassRecord(**asdict(step)) for step in solved.passes],
        accurate=solved.accurate,
        seconds=solved.seconds,
    )


def _gap_words(stack: Stack) -> str:
    """How the initial gaps of a stack are taken."""
    gap = stack.gap
    kinds = {"uniform": gap.uniform, "bowed": gap.bow, "wavy": gap.waviness}
    shapes = [name for name, size in kinds.items() if size]
    return f" Initial gaps are taken as {' and '.join(shapes)}." if shapes else ""


def _interface_cautions(press: Press) -> list[str]:
    between = [
        INTERFACE_CAUTIONS[stack.interface].format(name=stack.name, gaps=_gap_words(stack))
        for stack in press.stacks
        if len(stack.plates) > 1 and not is_ideal(stack)
    ]
    bodies = {pad.body.role for stack in press.stacks for pad in stack.pads}
    even = [words for role, words in EVEN_CAUTIONS.items() if role not in bodies]
    return [*between, *even, *([PAD_CAUTION] if bodies else [])]


def _interface(result: InterfaceResult) -> InterfaceRecord:
    return InterfaceRecord(
        kind=result.kind,
        closed=Figure(value=result.closed, unit="1", note="part of the area pressed together"),
        largest_pressure=Figure(value=result.largest_pressure, unit="Pa"),
        largest_opening=Figure(value=result.largest_opening, unit="m"),
        largest_sliding=Figure(value=result.largest_sliding, unit="m"),
        open=Figure(value=result.open, unit="1", note="part of the area"),
        sticking=Figure(value=result.sticking, unit="1", note="part of the area"),
        sliding=Figure(value=result.sliding, unit="1", note="part of the area"),
        pad=result.pad,
    )


def _peak(peak: Peak) -> PeakFigure:
    return PeakFigure(
        value=peak.von_mises,
        unit="Pa",
        error=peak.error,
        note=peak.way,
        place=peak.place,
        at=peak.at,
        raw=peak.raw,
        singular=peak.singular,
    )


def _rod(solution: Solution, rod: TieRod) -> RodRecord:
    force = solution.rod_force(rod)
    low = solution.press.bed.nut_face - rod.reach
    return RodRecord(
        name=rod.name,
        at=rod.at,
        ends=(low, low + rod.length),
        diameter=rod.diameter,
        thread=rod.thread,
        nut_height=rod.nut_height,
        projection=rod.projection,
        nut_across_flats=rod.nut_across_flats,
        preload=Figure(
            value=rod.preload,
            unit="N",
            note="as tightened, no pressing force" if rod.preload else "nothing to tighten against",
        ),
        working_force=Figure(
            value=force,
            unit="N",
            note="what pressing at capacity adds; mean of both stacks, checks take the larger",
        ),
        seat=rod.seat,
        seat_diameter=rod.seat_outer,
        seat_ends=_seat_ends(solution.press, rod),
        largest_force=Figure(
            value=solution.nut_force(rod), unit="N", note="under the nut at capacity"
        ),
        seat_force=None
        if solution.seat_force(rod) is None
        else Figure(value=solution.seat_force(rod), unit="N", note="least, at capacity"),
        stretch=Figure(
            value=rod.stretch(solution.alternating_force(rod), force),
            unit="m",
            note="between the nut-bearing faces, what pressing adds",
        ),
    )


def _seat_ends(press: Press, rod: TieRod) -> tuple[float, float] | None:
    if rod.seat_annulus is None:
        return None
    low = press.bed.seat_face(rod.seat_annulus) or press.bed.load_face
    return low, low + rod.between


def _check(check: Check) -> CheckRecord:
    return CheckRecord(**_plain(check), utilisation=check.utilisation)


def _plain(record: Check | Fact) -> dict[str, Any]:
    """Fields of a record, and what identifies it; tuples become lists."""
    fields = asdict(record)
    part, colon, _ = record.name.partition(": ")
    slug = re.sub(r"\W+", "-", f"{record.kind} {record.name}".lower()).strip("-")
    return fields | {
        "inputs": list(fields["inputs"]),
        "cautions": list(fields["cautions"]),
        "id": slug,
        "part": part if colon else "press",
    }


def schema() -> dict[str, Any]:
    """JSON schema of `summary.json`."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:platestack:summary:{VERSION}",
    }
    return head | Summary.model_json_schema(mode="serialization")
