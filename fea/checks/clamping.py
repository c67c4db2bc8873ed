"""Clamp bolts at work, as computed on the mesh: their force, and whether plates slide at them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from platestack.fea.checks.alike import most
from platestack.fea.checks.frame import RESIDUAL
from platestack.fea.checks.use import Use
from platestack.fea.hand import fatigue
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.clamping import BoltForce, most_preload
from platestack.fea.solid.interfaces import STICKING
from platestack.fea.solid.model import Solution
from platestack.fea.solid.stack import StackSolution
from platestack.geometry import tables
from platestack.geometry.parts import ClampBolt
from platestack.geometry.units import fixed, percent

HELD = 0.5
"""Part of the area about a bolt that must stick for the plates to be held there."""


@dataclass(frozen=True)
class Slip:
    """What plates do about a bolt, at the interface where they slide most there.

    `sliding` is the largest distance slid (m) since tightening; `sticks` the part of the area about
    the bolt, out to its bearing diameter, that is pressed together and does not slide.
    """

    sliding: float
    sticks: float


def slip(solved: StackSolution, bolt: ClampBolt) -> Slip | None:
    """Look at the interfaces about a bolt; None where plates cannot part, or none surrounds it."""
    along = "xyz".index(bolt.normal)
    in_plane = [axis for axis in range(3) if axis != along]
    found = []
    for result in solved.interfaces:
        map_ = result.map
        if map_ is None or result.pad or np.ptp(map_.points[:, along]) > 1e-6:
            continue
        off = np.linalg.norm(map_.points[:, in_plane] - bolt.at, axis=1)
        about = off <= bolt.bearing_outer
        if about.any():
            sticks = float((map_.state[about] == STICKING).mean())
            found.append(Slip(float(map_.sliding[about].max()), sticks))
    if not found:
        return None
    return Slip(max(one.sliding for one in found), min(one.sticks for one in found))


def bolts_at_work(solution: Solution) -> list[Check]:
    """Tension at capacity, clamping force lost, and sliding at the worst bolt of each stack."""
    use = Use.of(solution.case)
    return [check for solved in solution.stacks.values() for check in _checks(solved, use)]


def _checks(solved: StackSolution, use: Use) -> Iterator[Check]:
    if not solved.bolts:
        return
    name = solved.stack.name
    yield _tension(name, most(solved.bolts, _use))
    yield _tired(name, most(solved.bolts, _range), use)
    yield _lost(name, most(solved.bolts, lambda one: -one.working / one.rest))
    slips = [(found, one.bolt) for one in solved.bolts if (found := slip(solved, one.bolt))]
    if slips and solved.stack.interface == "clamped":
        yield _sliding(name, *most(slips, lambda pair: pair[0].sliding / clearance(pair[1])))


def clearance(bolt: ClampBolt) -> float:
    """How far plates may slide at a bolt before it bears on its hole (m): half of the play."""
    return max((bolt.hole - tables.thread(bolt.thread).d) / 2, 1e-6)


def _yield(bolt: ClampBolt) -> float:
    """Force (N) at which a bolt yields in its thread."""
    thread = tables.thread(bolt.thread)
    strength = tables.property_class(bolt.property_class, thread.d).yield_strength
    return thread.stress_area * strength


def _use(one: BoltForce) -> float:
    return (most_preload(one.bolt) + max(0.0, one.added)) / _yield(one.bolt)


def _tension(stack: str, one: BoltForce) -> Check:
    bolt = one.bolt
    thread = tables.thread(bolt.thread)
    return Check(
        f"{stack} {bolt.name}", "tension at capacity",
        most_preload(bolt) + max(0.0, one.added), _yield(bolt), "N",
        f"yield of class {bolt.property_class} on the stress area",
        "F_V + max(0, F_SA) ≤ A_s·R_e",
        "VDI 2230-1:2015, 5.5.2, not verified against the standard; F_SA as computed on the mesh",
        f"{bolt.thread}; without torsion, which settles; bending of the bolt is not included",
        (Input("F_V", most_preload(bolt), "N"), Input("F_SA", one.added, "N"),
         Input("A_s", thread.stress_area, "m²"),
         Input("R_e", _yield(bolt) / thread.stress_area, "Pa")),
    )  # fmt: skip


def _range(one: BoltForce) -> float:
    """Range of stress (Pa) of a bolt's thread, over the factor of its size."""
    thread = tables.thread(one.bolt.thread)
    return abs(one.working - one.rest) / thread.stress_area / fatigue.size_factor(thread.d)


def _tired(stack: str, one: BoltForce, use: Use) -> Check:
    thread = tables.thread(one.bolt.thread)
    size = fatigue.size_factor(thread.d)
    return Check(
        f"{stack} {one.bolt.name}", "fatigue of its thread",
        _range(one) * size, use.allowed(size * fatigue.THREAD_CATEGORY), "Pa",
        f"category 50, {use.words}",
        f"abs(F − F_rest) / A_s ≤ k_s·{use.strength}", tables.detail("thread").source,
        "force as computed on the mesh; bending of the bolt is not included",
        (Input("F", one.working, "N"), Input("F_rest", one.rest, "N"),
         Input("A_s", thread.stress_area, "m²"), Input("k_s", size, "1"),
         Input("Δσ_C", fatigue.THREAD_CATEGORY, "Pa"), Input("N", use.equivalent(), "1"),
         Input("γ_Mf", use.factor, "1")),
    )  # fmt: skip


def _lost(stack: str, one: BoltForce) -> Check:
    left = one.working / one.rest
    return Check(
        f"{stack} {one.bolt.name}", "clamping force that pressing takes off",
        1 - left, 1 - RESIDUAL, "1", f"{percent(RESIDUAL)} of the force at rest must be left",
        "1 − F / F_rest ≤ 0.9",
        "joint diagram, VDI 2230-1; the limit is common practice, no source",
        "the bolt has come loose" if one.working <= 0 else f"{percent(left)} is left at capacity",
        (Input("F", one.working, "N"), Input("F_rest", one.rest, "N")),
    )  # fmt: skip


def _sliding(stack: str, found: Slip, bolt: ClampBolt) -> Check:
    held = found.sticks >= HELD
    return Check(
        f"{stack} {bolt.name}",
        f"plates {'hold' if held else 'slip'} at it, distance",
        found.sliding,
        clearance(bolt),
        "m",
        "half of the play in its hole; beyond, it is sheared",
        "s ≤ (d_h − d) / 2",
        "geometry; sliding as computed on the mesh",
        ("the plates hold: " if held else "the plates SLIP: ")
        + f"{percent(found.sticks)} of the area about it sticks",
        (
            Input("s", found.sliding, "m"),
            Input("d_h", bolt.hole, "m"),
            Input("d", bolt.hole - 2 * clearance(bolt), "m"),
        ),
        ()
        if held
        else (
            f"{stack}: the plates slip at {bolt.name} at every stroke, and faces that slide wear "
            "and loosen bolts. See how many bolts full composite action takes.",
        ),
    )


def bolt_facts(solution: Solution) -> list[Fact]:
    """Force of the clamp bolts at capacity, and what part of the area about them sticks."""
    facts = []
    for name, solved in solution.stacks.items():
        if not solved.bolts:
            continue
        one = most(solved.bolts, lambda bolt: bolt.working)
        facts.append(
            Fact(
                "joining", f"{name} {one.bolt.name}", "force at capacity, the largest",
                one.working, "N", "F_rest + F_SA",
                "as computed on the mesh",
                f"{'+' * (one.added > 0)}{fixed(one.added, 'N', 2)} by pressing; "
                "at rest the least that tightening leaves",
                (Input("F_rest", one.rest, "N"), Input("F_SA", one.working - one.rest, "N")),
            )
        )  # fmt: skip
        slips = [found for bolt in solved.bolts if (found := slip(solved, bolt.bolt))]
        if slips and solved.stack.interface == "clamped":
            facts.append(
                Fact(
                    "joining", name, "part of the area about a clamp bolt that sticks, the least",
                    min(found.sticks for found in slips), "1", "",
                    "as computed on the mesh",
                    method="out to the bearing diameter; pressed together, and t < μ p",
                )
            )  # fmt: skip
    return facts
