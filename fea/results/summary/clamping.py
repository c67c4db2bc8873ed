"""The clamp bolts of a stack in the summary."""

from __future__ import annotations

import numpy as np

from platestack.fea.checks.clamping import slip
from platestack.fea.results.summary.records import ClampBoltRecord, Figure
from platestack.fea.solid.clamping import BoltForce
from platestack.fea.solid.stack import StackSolution
from platestack.geometry import tables
from platestack.geometry.parts import ClampBolt


def clamp_bolts(solved: StackSolution) -> list[ClampBoltRecord]:
    """Every bolt of a stack, as itself or its mirror image bears."""
    return [_record(solved, bolt) for bolt in solved.stack.bolts]


def _record(solved: StackSolution, bolt: ClampBolt) -> ClampBoltRecord:
    one = _image(solved, bolt)
    found = slip(solved, one.bolt)
    return ClampBoltRecord(
        name=bolt.name,
        at=bolt.at,
        thread=bolt.thread,
        diameter=tables.thread(bolt.thread).d,
        rest_force=Figure(value=one.rest, unit="N", note="the least that tightening leaves"),
        working_force=Figure(value=one.working, unit="N", note="at capacity"),
        sliding=None
        if found is None
        else Figure(value=found.sliding, unit="m", note="largest, since tightening"),
        sticking=None
        if found is None
        else Figure(value=found.sticks, unit="1", note="of the area out to the bearing diameter"),
    )


def _image(solved: StackSolution, bolt: ClampBolt) -> BoltForce:
    """What a bolt bears, read off its image where only that is in the model."""
    planes = ["x", "y"] if bolt.normal == "z" else ["x", ""]
    at = [
        abs(c) if plane in solved.mesh.symmetry else c
        for c, plane in zip(bolt.at, planes, strict=True)
    ]
    for one in solved.bolts:
        if np.allclose(one.bolt.at, at, atol=1e-9):
            return one
    raise LookupError(f"{bolt.name} has no image in the model of the {solved.stack.name}")
