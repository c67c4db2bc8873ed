"""The stacks in the summary: deflection, plates, interfaces and mesh of each."""

from __future__ import annotations

from dataclasses import asdict

from platestack.fea.results.summary.clamping import clamp_bolts
from platestack.fea.results.summary.records import (
    BeamRecord,
    Figure,
    InterfaceRecord,
    MeshRecord,
    PassRecord,
    PatchRecord,
    PeakFigure,
    PlacedFigure,
    PlateRecord,
    StackRecord,
)
from platestack.fea.solid.interfaces import InterfaceResult
from platestack.fea.solid.stack import StackSolution
from platestack.fea.solid.stress.peaks import Peak
from platestack.geometry.parts import Plate


def stack_record(solved: StackSolution) -> StackRecord:
    """Gather what was found in one stack."""
    stack, mesh, beam = solved.stack, solved.mesh, solved.beam
    peak = solved.peak
    known = beam.actual.expected
    low, high = beam.limits(solved.deflection_error)
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
            ratio=solved.deflection / known,
            band=(low / known, high / known),
            verdict=beam.verdict(solved.deflection, solved.deflection_error),
        ),
        nut_displacement=Figure(
            value=solved.nut_mean, unit="m", note="mean of the nut-bearing annuli, upwards"
        ),
        dofs=Figure(value=mesh.unknowns, unit="1", note="displacement unknowns"),
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


def _mesh(solved: StackSolution) -> MeshRecord:
    mesh = solved.mesh
    return MeshRecord(
        elements=len(mesh.tets),
        unknowns=mesh.unknowns,
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
