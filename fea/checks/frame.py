"""Joint of each tie rod: what preload keeps closed, and what alternates in spite of it."""

from __future__ import annotations

from dataclasses import dataclass

from platestack.fea.checks.alike import most
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import TieRod
from platestack.geometry.units import percent

RESIDUAL = 0.1
"""Part of the preload that must be left on every seat at capacity (common practice, no source)."""

NEGLIGIBLE = 0.01
"""Part of an even share of the capacity that a rod may seem to push by errors of the mesh."""


@dataclass(frozen=True)
class Joint:
    """One rod against its seats, forces in N: the joint diagram at capacity.

    `alternating` is what pressing adds to the force in the thread, `share` that over the rod's part
    of the pressing force (φ of VDI 2230-1), `clamp` the least force left on a seat.
    """

    rod: TieRod
    preload: float
    working: float
    nut: float
    alternating: float
    clamp: float
    separation: float | None
    """Pressing force at which the first seat would open; None if one has opened before capacity."""

    @property
    def share(self) -> float:
        """Part of the rod's working force that its thread feels."""
        return self.alternating / self.working


def joint(solution: Solution, rod: TieRod) -> Joint | None:
    """Joint diagram of a rod; None without seats.

    The seat unloads in proportion to the pressing force until it opens.
    """
    clamp = solution.clamping_force_left(rod)
    if clamp is None or rod.preload <= 0:
        return None
    taken = rod.preload - clamp
    return Joint(
        rod,
        rod.preload,
        solution.rod_force(rod),
        solution.nut_force(rod),
        solution.alternating_force(rod),
        clamp,
        solution.press.capacity * rod.preload / taken if clamp > 0 and taken > 0 else None,
    )


def seats(solution: Solution) -> list[Check]:
    """Clamping force that pressing takes off the seats of the rod that loses most."""
    joints = [found for rod in solution.press.rods if (found := joint(solution, rod))]
    if not joints:
        return []
    worst = most(joints, lambda one: -one.clamp / one.preload)
    told = (
        "the seat has opened: the rod bears all, and all that pressing adds alternates"
        if worst.clamp <= 0
        else f"{percent(worst.clamp / worst.preload)} of the preload is left at capacity"
    )
    return [
        Check(
            worst.rod.name, "clamping force taken off its seat",
            1 - worst.clamp / worst.preload, 1 - RESIDUAL, "1",
            f"{percent(RESIDUAL)} of the preload must be left",
            "1 − F_clamp / F_preload ≤ 0.9",
            "joint diagram, VDI 2230-1; the limit is common practice, no source", told,
            (Input("F_clamp", worst.clamp, "N"), Input("F_preload", worst.preload, "N")),
            ("Settling takes preload off in the first pressings: measure and tighten again.",),
        )
    ]  # fmt: skip


def seat_strength(solution: Solution) -> list[Check]:
    """Sleeve and plates under the preload, which pressing only takes off."""
    press = solution.press
    rod = most(press.rods, lambda one: one.preload)
    annulus, factor = rod.seat_annulus, press.yield_safety_factor
    if annulus is None or rod.preload <= 0:
        return []
    force = Input("F_preload", rod.preload, "N")
    checks = []
    if rod.seat == "sleeve":
        steel = rod.material
        checks.append(
            Check(rod.name, "compression of its sleeve as tightened",
                  rod.preload / rod.sleeve_area, steel.yield_strength / factor, "Pa",
                  f"yield of {steel.grade} / {factor:g}", "F_preload / A_sleeve ≤ R_e / S",
                  steel.source, "of the rod's steel",
                  (force, Input("A_sleeve", rod.sleeve_area, "m²"),
                   Input("R_e", steel.yield_strength, "Pa"), Input("S", factor, "1")))
        )  # fmt: skip
    for stack in press.stacks:
        face = stack.seat_face(annulus)
        plate = next(
            (p for p in stack.plates
             if face is not None and p.normal == "z" and face in (p.base, p.top)),
            None,
        )  # fmt: skip
        if plate is None:
            continue
        steel = plate.material
        checks.append(
            Check(f"{stack.name} {plate.name}", "pressure under the seat as tightened",
                  rod.preload / annulus.area, steel.yield_strength / factor, "Pa",
                  f"yield of {steel.grade} at this thickness / {factor:g}",
                  "F_preload / A_annulus ≤ R_eH / S", steel.source,
                  f"{rod.name}; mean over the annulus, its edges see more",
                  (force, Input("A_annulus", annulus.area, "m²"),
                   Input("R_eH", steel.yield_strength, "Pa"), Input("S", factor, "1")))
        )  # fmt: skip
    return checks


def rods_in_compression(solution: Solution) -> list[Check]:
    """Rods that the computation leaves pushing, which no rod with nuts can."""
    press = solution.press
    share = press.capacity / len(press.rods)
    return [
        Check(
            rod.name, "compression at capacity",
            -force, NEGLIGIBLE * share, "N",
            f"{percent(NEGLIGIBLE)} of an even share: what errors of the mesh may leave",
            "−F_nut ≤ 0.01·F / n", "a nut only pulls",
            "its nut would lift off: the other rods bear more than is shown here",
            (Input("F_nut", force, "N"), Input("F", press.capacity, "N"),
             Input("n", len(press.rods), "1")),
            ("Move the load towards the press axis, or preload the rods against seats.",),
        )
        for rod in press.rods
        if (force := solution.least_nut_force(rod)) < 0
    ]  # fmt: skip


def agreement(solution: Solution) -> list[Fact]:
    """How far crosshead and bed are apart about the part of the force that a rod bears."""
    if len(solution.stacks) < 2:
        return []
    press = solution.press
    even = press.capacity / len(press.rods)

    def apart(rod: TieRod) -> float:
        shares = solution.rod_shares(rod).values()
        return (max(shares) - min(shares)) / even

    worst = most(press.rods, apart)
    return [
        Fact(
            "rods",
            worst.name,
            "difference between crosshead and bed in its working force",
            apart(worst),
            "1",
            "abs(F_crosshead − F_bed) / (F/n)",
            "each stack solved on its half of every rod",
            "of an even share; checks take the mean, which balances. Statics leaves only the twist "
            "of four or more rods open; the frame of both stacks (offcentre) lies between",
            (
                *(Input(f"F_{name}", f, "N") for name, f in solution.rod_shares(worst).items()),
                Input("F", press.capacity, "N"),
                Input("n", len(press.rods), "1"),
            ),
        )
    ]


def joint_facts(solution: Solution) -> list[Fact]:
    """Load share of the rod that feels most, and the force at which the first seat opens."""
    joints = [found for rod in solution.press.rods if (found := joint(solution, rod))]
    if not joints:
        return []
    felt = most(joints, lambda one: one.share)
    facts = [
        Fact(
            "rods", felt.rod.name, "part of its working force that the thread feels",
            felt.share, "1", "(F_nut − F_preload) / F_work",
            "joint diagram, VDI 2230-1",
            f"tightened against {felt.rod.seat}, as computed on the mesh",
            (Input("F_nut", felt.nut, "N"), Input("F_preload", felt.preload, "N"),
             Input("F_work", felt.working, "N")),
        )
    ]  # fmt: skip
    opens = [one for one in joints if one.separation is not None]
    if len(opens) == len(joints):
        first = most(opens, lambda one: -(one.separation or 0.0))
        facts.append(
            Fact(
                "rods", first.rod.name, "pressing force at which its seat opens",
                first.separation or 0.0, "N", "F·F_preload / (F_preload − F_clamp)",
                "joint diagram, VDI 2230-1", "in proportion from capacity; settling brings it down",
                (Input("F", solution.press.capacity, "N"), Input("F_preload", first.preload, "N"),
                 Input("F_clamp", first.clamp, "N")),
            )
        )  # fmt: skip
    return facts
