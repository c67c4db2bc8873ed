"""What else would do: the same duty with one wish changed, sized by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from platestack.fea.jobs.duty.duty import COUNTS
from platestack.fea.jobs.sizing.plan import SEATS
from platestack.fea.jobs.sizing.proposal import Proposal, propose
from platestack.geometry.errors import UsageError
from platestack.geometry.stock import thicknesses
from platestack.geometry.units import LENGTH, PRESSURE, show

MORE_PRESSURE = 1.4


@dataclass(frozen=True)
class Alternative:
    """The proposal that a changed wish leads to, or why there is none."""

    label: str
    made: Proposal | None
    reason: str = ""


def alternatives(base: Proposal) -> Iterator[Alternative]:
    """Higher pressure, other rods, thinner and thicker plates, other layout and interface."""
    for label, change in _wishes(base):
        duty = base.plan.duty.model_copy(update=change)
        try:
            made = propose(duty, base.corrections, thorough=False)
        except UsageError as error:
            yield Alternative(label, None, str(error))
        else:
            yield Alternative(label, made)


def _wishes(base: Proposal) -> Iterator[tuple[str, dict[str, Any]]]:
    plan, duty = base.plan, base.plan.duty
    higher = MORE_PRESSURE * duty.allowed_pressure
    yield f"up to {show(higher, PRESSURE, 3)}", {"pressure": higher, "pump": None}
    place = COUNTS.index(duty.rods)
    if place:
        yield f"{COUNTS[place - 1]} rods", {"rods": COUNTS[place - 1]}
    if place + 1 < len(COUNTS):
        yield f"{COUNTS[place + 1]} rods", {"rods": COUNTS[place + 1]}
    thick = max(plan.crosshead.thickness, plan.bed.thickness)
    thinner = [t for t in thicknesses(duty.stock) if 0.02 <= t <= 0.75 * thick]
    if thinner:
        yield f"plates up to {show(thinner[-1], LENGTH)}", {"thickest": thinner[-1]}
    thicker = [t for t in thicknesses(duty.stock) if t >= 1.3 * thick]
    if thicker and thicker[0] > duty.thickest and duty.layout == "flat":
        yield f"plates up to {show(thicker[0], LENGTH)}", {"thickest": thicker[0]}
    # Prices of standing plates differ, and so does the width that was asked for.
    turned = "on edge" if duty.layout == "flat" else "flat"
    yield turned, {"layout": turned, "width": None}
    for seat in SEATS:
        if seat != plan.seat:
            yield f"seat: {seat}", {"seat": seat}
    other = "welded" if duty.interface == "loose" else "loose"
    yield f"{other} plates", {"interface": other}
