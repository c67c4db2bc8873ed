"""Checks: demand against a named limit, each with its formula and source.

A module here holds one kind of check: functions that take a `Solution` and return records, listed
in `KINDS`. What they compute with stands in `fea.hand`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from fea.checks.clamping import bolt_facts, bolts_at_work
from fea.checks.connectors import connector_checks, connector_facts
from fea.checks.cost import cost_facts
from fea.checks.cylinder import cylinder, cylinder_facts
from fea.checks.delivery import delivery_facts
from fea.checks.fixing import fixing
from fea.checks.flange import fixing_facts, flange
from fea.checks.frame import agreement, joint_facts, pushed, seats
from fea.checks.gland import gland
from fea.checks.hydraulics import hydraulic_facts, hydraulics
from fea.checks.joining import clamp_bolts, joining_facts
from fea.checks.overload import overloaded
from fea.checks.plate_strength import edge_fatigue, patch_bearing, patch_facts, plate_shear
from fea.checks.plates import deflections, stresses
from fea.checks.returning import returning, returning_facts
from fea.checks.rods import rod_facts, rods
from fea.checks.room import room, room_facts
from fea.checks.threads import thread_fatigue, thread_shear, washer_bearing
from fea.hand.record import Check, Fact
from fea.model import Solution

__all__ = ["FACTS", "KINDS", "Check", "Fact", "all_checks", "all_facts"]

KINDS: tuple[Callable[[Solution], Iterable[Check]], ...] = (
    stresses,
    deflections,
    plate_shear,
    patch_bearing,
    edge_fatigue,
    overloaded,
    rods,
    seats,
    pushed,
    thread_shear,
    thread_fatigue,
    washer_bearing,
    clamp_bolts,
    bolts_at_work,
    connector_checks,
    fixing,
    flange,
    room,
    cylinder,
    gland,
    returning,
    hydraulics,
)
"""Every kind of check."""

FACTS: tuple[Callable[[Solution], Iterable[Fact]], ...] = (
    patch_facts,
    delivery_facts,
    rod_facts,
    joint_facts,
    agreement,
    joining_facts,
    bolt_facts,
    connector_facts,
    room_facts,
    cost_facts,
    fixing_facts,
    cylinder_facts,
    returning_facts,
    hydraulic_facts,
)
"""Every source of facts."""


def all_checks(solution: Solution) -> list[Check]:
    """Every check of a solution, worst first."""
    checks = [check for kind in KINDS for check in kind(solution)]
    return sorted(checks, key=lambda check: -check.utilisation)


def all_facts(solution: Solution) -> list[Fact]:
    """Every figure worth telling that has no limit of its own, in the order of `FACTS`."""
    return [fact for source in FACTS for fact in source(solution)]
