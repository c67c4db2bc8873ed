"""When a rod is lost at capacity: what the others bear, how the press tilts, what is set free."""

from __future__ import annotations

import math
from collections.abc import Iterator

from platestack.fea.checks.alike import most
from platestack.fea.hand import lost
from platestack.fea.hand.record import Fact, Input
from platestack.fea.hand.section import FloatArray
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import TieRod
from platestack.geometry.units import fixed

_NOT_MODELLED = (
    "Stacks are taken as rigid and the force as unchanged. Not modelled: the blow as the rod "
    "breaks (up to twice the rise), bending of the other rods, guides of the ram, a press that "
    "topples.",
    "Never press with a rod slack, missing or cracked.",
)
_Left = tuple[list[TieRod], FloatArray, FloatArray]
"""Rods that are left, their parts of the force, and how the stack moves."""
_SOURCE = "statics; rods as springs, stacks rigid"


def lost_rod(solution: Solution) -> Iterator[Fact]:
    """The worst rod to lose: forces in the others, tilt, the force that they bear, energy."""
    press = solution.press
    load = _load(solution)
    found = [(gone, _without(press.rods, gone, load)) for gone in press.rods]
    falls = [gone for gone, left in found if left is None]
    cases = [(gone, left) for gone, left in found if left is not None]
    if falls:
        yield Fact(
            "rods",
            f"{falls[0].name} lost",
            "part of the pressing force that the others hold",
            0.0,
            "1",
            "",
            _SOURCE,
            "the stacks turn over: nothing holds them but bending of the rod that is left"
            if len(press.rods) == 2
            else "the stacks turn over",
            cautions=_NOT_MODELLED,
            method="no forces of the other rods, all pulling, balance the pressing force",
        )
    else:
        yield from _held(solution, cases)
    yield _energy(solution)


def _load(solution: Solution) -> tuple[float, float]:
    """Where the pressing force acts (m): on the workpiece."""
    stack = next(s for s in solution.press.stacks if s.patch_name == "workpiece")
    return stack.patch.centre


def _without(rods: tuple[TieRod, ...], gone: TieRod, load: tuple[float, float]) -> _Left | None:
    """What a press bears without a rod; None if it falls."""
    left = [rod for rod in rods if rod is not gone]
    found = lost.shares([rod.at for rod in left], [rod.stiffness for rod in left], load)
    return None if found is None else (left, *found)


def _held(solution: Solution, cases: list[tuple[TieRod, _Left]]) -> Iterator[Fact]:
    capacity, rods = solution.press.capacity, solution.press.rods
    gone, (left, parts, plane) = most(cases, lambda case: float(case[1][1].max()))
    worst, share = most(zip(left, parts.tolist(), strict=True), lambda pair: pair[1])
    before = max(solution.rod_force(rod) for rod in rods)
    slack = [rod.name for rod, part in zip(left, parts, strict=True) if part < 1e-9]
    opened = f"; {', '.join(slack)} goes slack" if slack else ""
    balance = "; it balances on a line of rods, with nothing to hold it there" if (
        len(left) - len(slack) < 3) else ""  # fmt: skip
    bears = worst.stress_area * worst.material.yield_strength
    yield Fact(
        "rods", f"{gone.name} lost", f"force of {worst.name} over its yield, at capacity",
        share * capacity / bears, "1", "f·F / (A_s·R_e)",
        _SOURCE,
        f"{fixed(share * capacity, 'N', 0)} in place of {fixed(before, 'N', 0)}{opened}{balance}",
        (Input("f", share, "1"), Input("F", capacity, "N"), Input("A_s", worst.stress_area, "m²"),
         Input("R_e", worst.material.yield_strength, "Pa")),
        _NOT_MODELLED, method="f by the stretch of the rods that are left; a rod does not push",
    )  # fmt: skip
    reach = max(math.dist(one.at, other.at) for one in rods for other in rods)
    slope = math.hypot(plane[1], plane[2]) * capacity
    yield Fact(
        "rods", f"{gone.name} lost",
        "tilt of one stack against the other across the rods, at capacity",
        slope * reach, "m", "α·l",
        _SOURCE, "by the stretch of the rods alone; what the stacks bend adds to it",
        (Input("α", slope, "1"), Input("l", reach, "m")),
        _NOT_MODELLED[1:],
    )  # fmt: skip


def _energy(solution: Solution) -> Fact:
    rod = most(solution.press.rods, solution.nut_force)
    force = max(solution.nut_force(rod), rod.preload)
    return Fact(
        "rods", f"{rod.name} lost", "strain energy that it sets free as it breaks",
        force**2 / (2 * rod.stiffness), "J", "F_nut²/(2·k)",
        "spring", "its ends fly along its axis; what the oil sets free stands with the hydraulics",
        (Input("F_nut", force, "N"), Input("k", rod.stiffness, "N/m")),
        ("Never stand in line with a rod while the press is under pressure or being tightened.",),
    )  # fmt: skip
