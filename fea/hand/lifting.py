"""Lifting and standing: hook height, slings, tipping, feet and jacks. SI; angles in rad."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from platestack.fea.hand.record import Check, Input
from platestack.geometry import masses
from platestack.geometry.masses import Piece
from platestack.geometry.parts import Press, Stack, TieRod
from platestack.geometry.schema import Case
from platestack.geometry.units import fixed

G = 9.80665
"""Standard gravity (m/s², ISO 80000-3)."""
SLING = math.radians(45.0)
"""Angle of a sling leg from the vertical; more is common only with derated gear."""
HOIST_HEIGHT = 0.5
"""From the hook, all up, to the ceiling (m) where `shop.hoist_height` is not given: a chain hoist
of 1 to 3 t under its beam, common practice, no source."""
UPRIGHT_RISE = 0.3
"""Of the slings over a rod that hangs upright, or under a lifting beam (m)."""
HEAVY = ("Never stand under a hanging load; lifting gear and points are to be rated and tested.",)
CLEAR = 0.05
"""Least clearance between a hanging load and what it passes over (m), common practice."""


@dataclass(frozen=True)
class Lift:
    """One load on the hook: the pieces as one, and the height z its underside must pass (m)."""

    load: Piece
    over: float
    upright: bool = False
    parts: tuple[Piece, ...] = ()
    """The pieces one by one, where there are several to be told apart."""

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """What hangs on the hook, piece by piece."""
        return self.parts or (self.load,)

    @property
    def rise(self) -> float:
        """Height of the slings above the load (m): legs at 45°, or 0.3 m over an upright rod."""
        if self.upright:
            return UPRIGHT_RISE
        return 0.5 * (self.load.high[0] - self.load.low[0]) / math.tan(SLING)

    def hook_height(self, floor: float) -> float:
        """Height of the hook above a floor at height z = `floor` (m)."""
        return self.over - floor + CLEAR + self.load.height + self.rise


HOOK = "h_pass + h_clear + h_load + h_slings"
HOOK_METHOD = "height to pass, clearance over it, the load and its slings"


def hook_inputs(lift: Lift, floor: float) -> tuple[Input, ...]:
    """What goes into `HOOK` above a floor at height z = `floor` (m)."""
    return (
        Input("h_pass", lift.over - floor, "m"), Input("h_clear", CLEAR, "m"),
        Input("h_load", lift.load.height, "m"), Input("h_slings", lift.rise, "m"),
    )  # fmt: skip


def highest_hook(case: Case) -> float | None:
    """Highest place of the hook above the floor (m): given, or below the ceiling; None without."""
    hook, ceiling = case.shop.hook_height, case.limits.ceiling
    if hook is not None or ceiling is None:
        return hook
    return max(ceiling - (case.shop.hoist_height or HOIST_HEIGHT), 0.0)


def room_above(found: Sequence[Lift], case: Case, floor: float) -> list[Check]:
    """Hook, or hoist under the ceiling, for the lift that needs it highest; none without a limit.

    A height of the hook that is given counts alone: that crane may reach above `limits.ceiling`.
    """
    hook, ceiling = case.shop.hook_height, case.limits.ceiling
    lift = max(found, key=lambda one: one.hook_height(floor))
    height, inputs = lift.hook_height(floor), hook_inputs(lift, floor)
    saved = lift.rise - UPRIGHT_RISE
    note = lift.load.name
    if saved > 0.02:
        note += f"; a lifting beam saves up to {fixed(saved, 'm', 0)}"
    source = "geometry; slings at 45°, common practice"
    if hook is not None:
        return [Check("press", "hook height for the highest lift",
                      height, hook, "m", "shop.hook_height",
                      HOOK, source, note, inputs, HEAVY, method=HOOK_METHOD)]  # fmt: skip
    if ceiling is None:
        return []
    hoist = case.shop.hoist_height or HOIST_HEIGHT
    if case.shop.hoist_height is None:
        note += "; height of the hoist assumed (shop.hoist_height)"
    return [Check("press", "ceiling over the highest lift, with hook and hoist",
                  height + hoist, ceiling,
                  "m", "limits.ceiling", f"{HOOK} + h_hoist", source, note,
                  (*inputs, Input("h_hoist", hoist, "m")), HEAVY,
                  method=f"{HOOK_METHOD}; from hook to ceiling")]  # fmt: skip


def sling_mass(load: float, given: float | None) -> float:
    """Mass of slings and shackles (kg): as given, or 2 % of the load, at least 2 kg.

    The rule is common practice, no source.
    """
    return max(2.0, 0.02 * load) if given is None else given


def tipping_angle(half_base: float, height: float) -> float:
    """Tilt at which the centre of mass stands over the edge of the base: atan(b/h)."""
    return math.atan2(half_base, height)


def jack_force(mass: float, lever: float, base: float) -> float:
    """Force that lifts one side (N): m·g·a/b, moments about the far edge.

    `lever` is the distance of the centre of mass from that edge, `base` that of the jacks.
    """
    return mass * G * lever / base


def lifts(press: Press, case: Case) -> tuple[Lift, ...]:
    """All lifts in the order of assembly: bed, cylinder, rods, crosshead.

    The cylinder goes onto the bed while nothing stands beside it. The rods stand in the bed before
    the crosshead is lowered over them, so everything of it must pass their upper ends. Inner nuts
    and sleeves are on their rod when it is lifted: over standing rods a sleeve would need a higher
    hook than anything else.
    """
    parts = masses.pieces(press)
    whole = case.shop.lifted == "whole stacks"

    def loads(stack: Stack) -> list[Piece]:
        own = [p for p in parts if p.group == stack.name]
        if whole:
            return [masses.together(stack.name, own)]
        # Upright plates hang together: spacers and clamp bolts join them before they are lifted.
        upright = [p for p, q in zip(own, stack.plates, strict=True) if q.normal == "y"]
        flat = [p for p in own if p not in upright]
        joined = [masses.together(f"{stack.name} upright plates", upright)] if upright else []
        return sorted([*flat, *joined], key=lambda p: p.low[2])

    def dressed(rod: TieRod) -> Lift:
        worn = [p for p in parts if p.name.startswith(f"inner nut of {rod.name},")]
        worn += [p for p in parts if p.name == f"sleeve of {rod.name}"]
        own = (next(p for p in parts if p.name == rod.name), *worn)
        name = rod.name + {"sleeve": " with sleeve", "inner nuts": " with inner nuts"}.get(
            rod.seat, ""
        )
        return Lift(masses.together(name, own), press.bed.load_face, True, own)

    rods = [dressed(rod) for rod in press.rods]
    top, face = max(lift.load.high[2] for lift in rods), press.bed.load_face
    return (
        *(Lift(p, p.low[2]) for p in loads(press.bed)),
        *(Lift(p, max(p.low[2], face)) for p in parts if p.group == "cylinder"),
        *rods,
        *(Lift(p, top) for p in loads(press.crosshead)),
    )


def trips(parts: list[Piece], most: float) -> list[list[Piece]]:
    """Share pieces among trips of at most `most` kg each: the heaviest first, where they fit.

    A piece that is too heavy alone gets a trip of its own.
    """
    made: list[list[Piece]] = []
    for piece in sorted(parts, key=lambda p: -p.mass):
        for trip in made:
            if sum(p.mass for p in trip) + piece.mass <= most:
                trip.append(piece)
                break
        else:
            made.append([piece])
    return made
