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
from platestack.fea.checks.as_one import ideal
from platestack.fea.checks.cost import priced
from platestack.fea.results.summary.cautions import cautions
from platestack.fea.results.summary.changes import ChangeRecord
from platestack.fea.results.summary.frame import FrameRecord, frame
from platestack.fea.results.summary.records import (
    CheckRecord,
    FactRecord,
    Figure,
    Record,
    RodRecord,
    StackRecord,
)
from platestack.fea.results.summary.rods import rod_record
from platestack.fea.results.summary.stacks import stack_record
from platestack.fea.results.summary_file import VERSION
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import masses
from platestack.geometry.parts import Press
from platestack.geometry.units import SystemName, system


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
    units: SystemName = "SI"
    """System of units in which notes and methods are worded; all values are SI."""
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
        crosshead=stack_record(solution.stacks["crosshead"]),
        bed=stack_record(solution.stacks["bed"]),
        rods=[rod_record(solution, rod) for rod in press.rods],
        mass=_mass(press),
        height=Figure(value=press.height, unit="m", note="over the rods"),
        cost=_cost(solution),
        checks=checks,
        facts=[FactRecord(**_plain(fact)) for fact in all_facts(solution)],
        frame=frame(solution),
        ideal=ideal(press),
        exceeded=sum(check.utilisation > 1 for check in checks),
        defaults=[*case_file.defaults(solution.case), *press.assumed],
        cautions=[*cautions(press), *solution.changes],
        units=system(),
        seconds=solution.seconds,
    )


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


def _check(check: Check) -> CheckRecord:
    return CheckRecord(**_plain(check), utilisation=check.utilisation)


def _plain(record: Check | Fact) -> dict[str, Any]:
    """Fields of a record, and what identifies it; tuples become lists."""
    fields = asdict(record)
    del fields["quantity"]
    slug = re.sub(r"\W+", "-", f"{record.kind} {record.name}".lower()).strip("-")
    return fields | {
        "inputs": list(fields["inputs"]),
        "cautions": list(fields["cautions"]),
        "id": slug,
        "name": record.name,
    }


def schema() -> dict[str, Any]:
    """JSON schema of `summary.json`."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:platestack:summary:{VERSION}",
    }
    return head | Summary.model_json_schema(mode="serialization")
