"""The frame in the summary: the joint diagram of each rod that has seats."""

from __future__ import annotations

from platestack.fea.checks.frame import Joint, joint
from platestack.fea.results.summary.records import Figure, Record
from platestack.fea.solid.model import Solution


class JointRecord(Record):
    """One rod against its seats at capacity."""

    name: str
    """Rod and its number."""
    seat: str
    """What it is tightened against."""
    preload: Figure
    """As tightened."""
    load_share: Figure
    """Part of its working force that the thread feels."""
    largest_force: Figure
    """Under the nut at capacity."""
    clamping_force_left: Figure
    """Least clamping force left at capacity."""
    alternating_force: Figure
    """What pressing adds in the thread."""
    separation_load: Figure
    """Pressing force at which the first seat opens; null if one has opened below capacity."""


class FrameRecord(Record):
    """Rods and seats together."""

    rods: list[JointRecord]
    """Joint diagram of each rod."""


def frame(solution: Solution) -> FrameRecord | None:
    """Gather the joints; None for rods without seats or preload."""
    found = [one for rod in solution.press.rods if (one := joint(solution, rod))]
    return FrameRecord(rods=[_joint(one) for one in found]) if found else None


def _joint(one: Joint) -> JointRecord:
    opened = one.separation is None and one.clamp <= 0
    return JointRecord(
        name=one.rod.name,
        seat=one.rod.seat,
        preload=Figure(value=one.preload, unit="N"),
        load_share=Figure(value=one.share, unit="1", note="of the working force, in the thread"),
        largest_force=Figure(value=one.nut, unit="N", note="under the nut at capacity"),
        clamping_force_left=Figure(
            value=one.clamp, unit="N", note="least on its seats, at capacity"
        ),
        alternating_force=Figure(
            value=one.alternating, unit="N", note="what pressing adds in the thread"
        ),
        separation_load=Figure(
            value=one.separation,
            unit="N",
            note="a seat opens below capacity" if opened else "pressing force, in proportion",
        ),
    )
