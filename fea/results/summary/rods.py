"""The tie rods in the summary: sizes, seats and forces of each."""

from __future__ import annotations

from platestack.fea.results.summary.records import Figure, RodRecord
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import Press, TieRod


def rod_record(solution: Solution, rod: TieRod) -> RodRecord:
    """Gather what one rod and its nuts bear."""
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
            note="what pressing at capacity adds; mean of both stacks",
        ),
        seat=rod.seat,
        seat_diameter=rod.seat_outer,
        seat_ends=_seat_ends(solution.press, rod),
        largest_force=Figure(
            value=solution.nut_force(rod), unit="N", note="under the nut at capacity"
        ),
        clamping_force_left=None
        if solution.clamping_force_left(rod) is None
        else Figure(value=solution.clamping_force_left(rod), unit="N", note="least, at capacity"),
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
