"""Checks: demand against a named limit, each with its formula and source.

A module here holds one kind of check: functions that take a `Solution` and return records, listed
in `KINDS`. What they compute with stands in `fea.hand`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from platestack.fea.checks.as_one import as_one
from platestack.fea.checks.brittle import brittle_fracture
from platestack.fea.checks.clamping import bolt_facts, bolts_at_work
from platestack.fea.checks.connectors import (
    connector_checks,
    connector_facts,
    connector_fatigue,
)
from platestack.fea.checks.cost import cost_facts
from platestack.fea.checks.cracks import crack_facts, crack_growth
from platestack.fea.checks.cylinder import cylinder, cylinder_facts
from platestack.fea.checks.delivery import delivery_facts
from platestack.fea.checks.fixing import fixing
from platestack.fea.checks.flange import fixing_facts, flange
from platestack.fea.checks.frame import (
    agreement,
    joint_facts,
    rods_in_compression,
    seat_strength,
    seats,
)
from platestack.fea.checks.gland import gland
from platestack.fea.checks.hydraulics import hydraulic_facts, hydraulics
from platestack.fea.checks.joining import clamp_bolts, joining_facts
from platestack.fea.checks.lost import lost_rod
from platestack.fea.checks.overload import overloaded
from platestack.fea.checks.plate_strength import (
    edge_facts,
    edge_fatigue,
    patch_bearing,
    patch_facts,
    plate_shear,
)
from platestack.fea.checks.plates import deflections, stresses
from platestack.fea.checks.pressures import pressure_facts, pressures
from platestack.fea.checks.reserve import reserve_facts
from platestack.fea.checks.returning import returning, returning_facts
from platestack.fea.checks.rods import rod_facts, rods
from platestack.fea.checks.room import room, room_facts
from platestack.fea.checks.seams import bottom_seam, bottom_seam_facts
from platestack.fea.checks.stability import sleeves, tearing_facts, upright_plates
from platestack.fea.checks.threads import (
    thread_ends,
    thread_facts,
    thread_fatigue,
    thread_shear,
    washer_bearing,
)
from platestack.fea.hand.record import Check, Fact, worst_first
from platestack.fea.solid.model import Solution

KINDS: tuple[Callable[[Solution], Iterable[Check]], ...] = (
    stresses,
    deflections,
    plate_shear,
    patch_bearing,
    edge_fatigue,
    brittle_fracture,
    overloaded,
    rods,
    seats,
    seat_strength,
    rods_in_compression,
    sleeves,
    upright_plates,
    thread_shear,
    thread_ends,
    thread_fatigue,
    crack_growth,
    washer_bearing,
    clamp_bolts,
    bolts_at_work,
    connector_checks,
    connector_fatigue,
    as_one,
    fixing,
    flange,
    room,
    cylinder,
    bottom_seam,
    gland,
    returning,
    pressures,
    hydraulics,
)
"""Every kind of check."""

FACTS: tuple[Callable[[Solution], Iterable[Fact]], ...] = (
    patch_facts,
    delivery_facts,
    edge_facts,
    thread_facts,
    crack_facts,
    rod_facts,
    lost_rod,
    reserve_facts,
    joint_facts,
    agreement,
    joining_facts,
    bolt_facts,
    tearing_facts,
    connector_facts,
    room_facts,
    cost_facts,
    fixing_facts,
    pressure_facts,
    cylinder_facts,
    bottom_seam_facts,
    returning_facts,
    hydraulic_facts,
)
"""Every source of facts."""


def all_checks(solution: Solution) -> list[Check]:
    """Every check of a solution, worst first."""
    checks = [replace(c, kind=_name(kind)) for kind in KINDS for c in kind(solution)]
    return worst_first(checks)


def all_facts(solution: Solution) -> list[Fact]:
    """Every figure worth telling that has no limit of its own, in the order of `FACTS`."""
    return [replace(f, kind=_name(source)) for source in FACTS for f in source(solution)]


def _name(kind: Callable[..., object]) -> str:
    """Name of a kind: that of its module."""
    return kind.__module__.rpartition(".")[2].replace("_", " ")
