"""Every limit of a press at once, by beam theory and hand formulas, each with its band.

The band of a limit is where a full solution is expected: what beams leave open of forces, tilts and
peaks is taken at both its ends. A limit whose band holds 100 % is open: only a full solution
decides. What needs no solution has no band.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from platestack.fea.checks import KINDS
from platestack.fea.checks.brittle import thickness_check
from platestack.fea.checks.cracks import edge_flaw, growth_check
from platestack.fea.checks.cylinder import overload
from platestack.fea.checks.use import Use, edge_detail
from platestack.fea.hand.beam import BeamCheck, BeamResult, beam_check
from platestack.fea.hand.joint import felt, tilted
from platestack.fea.hand.record import Check, Input
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.statics import Statics, share
from platestack.geometry import layout
from platestack.geometry.parts import Plate, Press, Stack, TieRod
from platestack.geometry.schema import Case

Band = tuple[float, float, float]
"""Least, expected, greatest."""
Side = Literal[0, 1, 2]
"""Which of a band."""
SIDES: tuple[Side, ...] = (0, 1, 2)

BEAM = "Timoshenko beam on the rods (fea.hand.beam)"
PEAK: Mapping[tuple[str, bool], Band] = {
    ("welded", True): (0.7, 1.2, 2.5),
    ("loose", True): (0.8, 1.2, 2.5),
    ("welded", False): (0.8, 2.0, 5.5),
    ("loose", False): (0.8, 2.0, 5.5),
}
"""Peak of a full solution over nominal bending stress: by interface, and whether the stack is flat.

This and what follows was read off drawn presses on coarse meshes (`tests.figures.quick`)."""
SAG: Mapping[bool, tuple[float, float]] = {True: (0.94, 1.06), False: (0.85, 1.65)}
"""On the ends of the beam's own band; flat, and on edge."""
TILT: Mapping[bool, Band] = {True: (0.4, 0.8, 1.2), False: (0.4, 0.9, 1.8)}
"""Tilt of the nuts over that of a beam of the same sag; flat, and on edge."""
ROWS: Band = (0.8, 1.0, 1.25)
"""Force of a rod over that by the beam, where rods stand in more than two rows."""
UNEVEN = 0.45
"""How much less of its working force a rod feels where pressing closes gaps between plates."""

_ROD = re.compile(r"rods? \d+")
_PLATE = re.compile(r"^(crosshead|bed) [^:]+: (peak von Mises|fatigue|thickness|growth)")


@dataclass(frozen=True)
class QuickCheck:
    """A limit by beam theory and hand formulas, with the band of its utilisation."""

    check: Check
    """As expected."""
    low: float
    high: float

    @property
    def verdict(self) -> Literal["within", "exceeded", "open"]:
        """What is known of it without a full solution."""
        if self.low > 1:
            return "exceeded"
        return "within" if self.high <= 1 else "open"


@dataclass(frozen=True)
class _Leaning(Statics):
    """The press on its beams, with all that they leave open at one end of its band."""

    side: Side = 1

    def tilts(self, rod: TieRod) -> dict[str, tuple[float, float]]:
        found: dict[str, tuple[float, float]] = {}
        for stack in self.press.stacks if self.beams else ():
            x, y = super().tilts(rod)[stack.name]
            times = TILT[stack.layout == "flat"][self.side]
            if self.side == 2:
                times *= 1 + closing(stack) / max(i.expected for i in self.beams[stack.name])
            found[stack.name] = (times * x, times * y)
        return found

    def _bears(self, rod: TieRod) -> list[RodForces]:
        return [self._borne(rod, name) for name in self.beams]

    def _borne(self, rod: TieRod, stack: str) -> RodForces:
        ideals = self.beams[stack]
        rows = ROWS[self.side] if len(ideals[0].rows) > 2 else 1.0
        force = rows * max(share(ideal, rod) for ideal in ideals)
        if rod.seat == "none":
            return RodForces(rod.name, rod.preload + force, force, None)
        shares = felt(rod)
        expected, most = shares.expected, shares.most
        least = shares.least - UNEVEN * any(map(closing, self.press.stacks))
        nut = rod.preload + (least, expected, most)[self.side] * force
        left = rod.preload - (1 - (most, expected, least)[self.side]) * force
        # Once a seat has opened its rod bears all, and what an edge of the seat still does.
        nut, left = nut if left > 0 else force, max(left, 0.0)
        if self.side != 1:
            tilt = math.hypot(*Statics.tilts(self, rod)[stack]) * TILT[True][2]
            edge, pressed = tilted(rod, force, tilt)
            nut, left = (nut, max(left, pressed)) if self.side == 0 else (max(nut, edge), left)
        return RodForces(rod.name, nut, force, left)


def closing(stack: Stack) -> float:
    """How far gaps between uneven plates may close in all (m)."""
    gap, faces = stack.gap, len(stack.main_plates) - 1
    parts = stack.interface != "welded" and stack.layout == "flat"
    return faces * (gap.uniform + abs(gap.bow) + gap.waviness) if parts else 0.0


def quick(
    case: Case, press: Press, beams: Mapping[str, BeamCheck] | None = None
) -> list[QuickCheck]:
    """Every limit of a press: exceeded ones first, then open ones, then the closest.

    Raises
    ------
    NotABeam
        If a stack is none.
    """
    beams = beams or {s.name: beam_check(s, press.rods, press.capacity) for s in press.stacks}
    ideals = {name: _ideals(found) for name, found in beams.items()}
    least, expected, greatest = (
        worst(c for kind in KINDS for c in kind(_Leaning(case, press, {}, 0.0, ideals, side=side)))
        for side in SIDES
    )
    found = []
    for about, check in expected.items():
        ends = [end[about].utilisation for end in (least, expected, greatest) if about in end]
        found.append(QuickCheck(check, min(ends), max(ends)))
    for stack in press.stacks:
        found += _plates(stack, case, press, beams[stack.name])
    order = {"exceeded": 0, "open": 1, "within": 2}
    return sorted(found, key=lambda one: (order[one.verdict], -one.high))


def worst(checks: Iterable[Check]) -> dict[str, Check]:
    """The worst check of each kind, by what it is about."""
    found: dict[str, Check] = {}
    for check in checks:
        about = key(check.name)
        if about not in found or check.utilisation > found[about].utilisation:
            found[about] = check
    return found


def key(name: str) -> str:
    """What a check is about, whichever rod or plate is the worst of it."""
    return _PLATE.sub(r"\1: \2", _ROD.sub("rod", name))


def verdict(found: list[QuickCheck]) -> Literal["within", "exceeded", "open"]:
    """What is known of all limits together."""
    return found[0].verdict if found else "open"


def _ideals(found: BeamCheck) -> tuple[BeamResult, ...]:
    """Welded, loose, or both for a clamped stack, whose truth lies between."""
    if found.interface == "clamped":
        return found.welded, found.loose
    return (found.actual,)


def _broken(stack: Stack, case: Case, press: Press, stress: Band) -> Iterator[QuickCheck]:
    """Brittle fracture and growth of cracks, of the worst plate, all under one stress."""
    statics = _Leaning(case, press, {}, 0.0)

    def thick(plate: Plate, of: float) -> Check:
        part = f"{stack.name} {plate.name}"
        return thickness_check(part, case, plate.material, plate.bought, of, BEAM)

    def cracked(plate: Plate, of: float) -> Check:
        return growth_check(edge_flaw(statics, stack.name, plate, of), case)

    for kind in (thick, cracked):
        low, expected, high = (
            max((kind(plate, of) for plate in stack.main_plates), key=lambda c: c.utilisation)
            for of in stress
        )
        yield QuickCheck(expected, low.utilisation, high.utilisation)


def _plates(stack: Stack, case: Case, press: Press, found: BeamCheck) -> Iterator[QuickCheck]:
    """Peak stress, at overload too, fatigue of cut edges, and deflection of a stack."""
    flat, span = stack.layout == "flat", layout.span(tuple(rod.at for rod in press.rods))
    soft = found.actual if stack.interface == "welded" else found.loose
    softest = "welded" if stack.interface == "welded" else "loose"
    stiffest = "loose" if stack.interface == "loose" else "welded"
    # A plate that a force at mid-span bends until a gap is closed: 12 w / L² of curvature.
    thickest = max(stack.main_plates, key=lambda p: p.thickness)
    bent = 6 * thickest.material.young * thickest.thickness * closing(stack) / span**2
    low = PEAK[stiffest, flat][0] * found.actual.bending_stress
    peak = PEAK[stiffest, flat][1] * found.actual.bending_stress
    high = PEAK[softest, flat][2] * (soft.bending_stress + bent)
    steel = min((p.material for p in stack.main_plates), key=lambda m: m.yield_strength)
    factor = press.yield_safety_factor
    over = overload(_Leaning(case, press, {}, 0.0))
    use, category = Use.of(case), edge_detail(case).category
    endured = use.allowed(category)
    inputs = (Input("M/W", found.actual.bending_stress, "Pa"),)
    for name, value, limit, words in (
        ("peak von Mises stress", peak, steel.yield_strength / factor,
         f"yield of {steel.grade} at this thickness / {factor:g}"),
        ("peak von Mises stress at overload", over * peak, steel.yield_strength,
         f"yield of {steel.grade} at this thickness"),
        ("fatigue of cut edges", peak, min(endured, 1.5 * steel.yield_strength),
         f"category {category / 1e6:g}, {use.words}"),
    ):  # fmt: skip
        made = Check(stack.name, name, value, limit, "Pa", words, "K M / W", BEAM,
                     f"K = {value / found.actual.bending_stress:.3g}", inputs)  # fmt: skip
        yield QuickCheck(made, made.utilisation * low / peak, made.utilisation * high / peak)
    yield from _broken(stack, case, press, (low, peak, high))
    sag = Check(stack.name, "mid-span deflection", found.actual.expected, stack.deflection_limit,
                "m", "limits.deflection × span between rods", "w ≤ slope × span", BEAM)  # fmt: skip
    low, high = (times * end for times, end in zip(SAG[flat], found.band, strict=True))
    yield QuickCheck(sag, low / sag.limit, high / sag.limit)
