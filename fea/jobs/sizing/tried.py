"""What a search has tried, kept: no plates are bent twice, no press is checked twice.

Correction factors scale what beam theory gives and change none of it. So the beams bent for one set
serve all others too: what no plates can meet is known after the first of them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeVar

from platestack.fea.hand.beam import nominal
from platestack.fea.hand.bending import NotABeam
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.by_hand import CorrectionFactors
from platestack.fea.jobs.sizing.plan import PressPlan, StackPlates
from platestack.geometry import tables

Found = TypeVar("Found")


@dataclass(frozen=True)
class Bent:
    """Plates of one stack bent as a beam by capacity, and the stress allowed; uncorrected."""

    stress: float
    """Largest nominal (Pa)."""
    alone: float
    """Deflection by bending alone (m)."""
    sag: float | None
    """Upper end of the deflection's band (m); None where less was enough to refuse the plates."""
    allowed: float
    """Stress, of yield and of cut edges (Pa)."""
    limit: float
    """Deflection (m)."""

    def soon(self, stress: float, deflection: float) -> bool:
        """Whether bending alone is within the limits, with factors on stress and deflection."""
        return stress * self.stress <= self.allowed and deflection * self.alone <= self.limit


class Tried:
    """What was tried in one search, of one duty."""

    def __init__(self) -> None:
        self._bent: dict[Hashable, Bent | None] = {}
        self._found: dict[Hashable, Any] = {}

    def once(self, find: Callable[[PressPlan], Found], plan: PressPlan) -> Found:
        """What a function finds for a plan, found the first time it is asked for."""
        key = (find.__name__, *plan.choices, *plan.tightened)
        if key not in self._found:
            self._found[key] = find(plan)
        found: Found = self._found[key]
        return found

    def holds(
        self, plan: PressPlan, name: str, plates: StackPlates, corrections: CorrectionFactors
    ) -> bool:
        """Whether the plan's crosshead or bed holds by beam theory, made of these plates.

        Raises
        ------
        UsageError
            If the plan has no layout.
        """
        key = (name, plates, *plan.choices)
        factors = corrections.factors(name, plan.duty.interface)
        known = self._bent.get(key)
        unsure = known is not None and known.sag is None and known.soon(*factors)
        if key not in self._bent or unsure:
            known = self._bent[key] = _bend(plan, name, plates, factors)
        if known is None or known.sag is None or not known.soon(*factors):
            return False
        return factors[1] * known.sag <= known.limit


def _bend(
    plan: PressPlan, name: str, plates: StackPlates, factors: tuple[float, float]
) -> Bent | None:
    """Bend plates; by all that a beam leaves out only where they would hold without it."""
    try:
        press, stack = plan.stack_of(name, plates)
        welded = stack.interface == "welded"
        stress, alone = nominal(
            stack, press.rods, press.capacity, welded=welded, steps=by_hand.STEPS
        )
        allowed = by_hand.allowed_stress(stack, press, plan.case.limits)
        found = Bent(stress, alone, None, allowed, stack.deflection_limit)
        if not found.soon(*factors):
            return found
        return Bent(stress, alone, by_hand.bent(stack, press).upper, allowed, found.limit)
    except (NotABeam, tables.OutOfTable):
        return None
