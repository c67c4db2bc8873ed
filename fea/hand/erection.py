"""How a press is put together: step by step, what carries what, what the hook must reach. SI.

Temporary supports carry the crosshead where no seat of the rods does. Every step has its checks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from platestack.fea.hand import lifting
from platestack.fea.hand.footing import FootingStrips, Jacking, jacking, lean, level_places, tilt
from platestack.fea.hand.lifting import G, Lift
from platestack.fea.hand.record import Check, Input
from platestack.geometry import masses
from platestack.geometry.masses import Piece
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import fixed, quantity

BY_HAND = 25.0
"""Largest mass carried by hand (kg): reference mass of ISO 11228-1, not verified."""
TRESTLES = (0.08, 0.06, 0.04)
"""Widths of a trestle along x (m), the first that finds room; common practice."""
LEAST_TILT = 10.0
"""Tilt (degrees) that a free-standing thing should bear; not verified of the tilt test of IEC
60335-1, as a yardstick."""


@dataclass(frozen=True)
class LiftSupport:
    """Something that carries a part until the press does: packing, trestle.

    It fills `width` along x about `at`, and `low` to `high`; `force` (N) is its share of the load.
    """

    name: str
    at: tuple[float, float]
    width: float
    low: float
    high: float
    force: float


@dataclass(frozen=True)
class LiftStep:
    """One step: what is lifted or put on, in its final place, and what stands afterwards."""

    number: int
    kind: Literal["lift", "support", "fix", "jack"]
    title: str
    words: tuple[str, ...]
    lifts: tuple[Lift, ...] = ()
    added: tuple[Piece, ...] = ()
    supports: tuple[LiftSupport, ...] = ()
    """Temporary supports that stand after this step."""
    standing: tuple[Piece, ...] = ()
    checks: tuple[Check, ...] = ()

    @property
    def mass(self) -> float:
        """Of the heaviest load of this step, or of all that is put on by hand (kg)."""
        if self.lifts:
            return max(lift.load.mass for lift in self.lifts)
        return sum(piece.mass for piece in self.added)

    @cached_property
    def whole(self) -> Piece | None:
        """Everything that stands after this step, as one."""
        return masses.together("standing", self.standing) if self.standing else None


@dataclass(frozen=True)
class Erection:
    """The whole plan of assembly."""

    press: Press
    floor: float
    """Height z of the floor (m)."""
    base: tuple[float, float]
    """Half length and half width of what the press stands on (m)."""
    given_base: bool
    hook_limit: float | None
    """Highest place of the hook (m), given or left by the ceiling."""
    steps: tuple[LiftStep, ...]
    jacking: tuple[Jacking, ...]
    cautions: tuple[str, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Of all steps."""
        return tuple(check for step in self.steps for check in step.checks)

    @property
    def exceeded(self) -> bool:
        """Whether a limit is broken at some step."""
        return any(check.utilisation > 1 for check in self.checks)


def plan(press: Press, case: Case) -> Erection:
    """Plan the assembly of a press.

    Returns
    -------
    Erection
        Steps in order, with the checks of each.
    """
    builder = _Builder(press, case)
    builder.bed()
    builder.cylinder()
    builder.rods()
    builder.trestles()
    builder.crosshead()
    builder.closing()
    hook, ceiling = case.shop.hook_height, case.limits.ceiling
    if hook is not None and ceiling is not None and hook > ceiling:
        builder.cautions.append(
            f"shop.hook_height ({hook:g} m) is above limits.ceiling ({ceiling:g} m): only the "
            "first is checked for lifts, as if the press were put together elsewhere."
        )
    return Erection(
        press,
        -builder.feet,
        builder.base,
        case.shop.feet is not None,
        lifting.highest_hook(case),
        tuple(builder.steps),
        builder.jacks,
        tuple(builder.cautions),
    )


@dataclass
class _Builder:
    """Collects the steps; `standing` and `supports` hold what is already erected."""

    press: Press
    case: Case
    steps: list[LiftStep] = field(default_factory=list)
    standing: list[Piece] = field(default_factory=list)
    supports: list[LiftSupport] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.parts = masses.pieces(self.press)
        self.feet = masses.feet_height(self.press, self.case.shop.feet_height)
        given = self.case.shop.feet
        lowest = min(p.low[2] for p in self.group("bed"))
        touching = [p for p in self.group("bed") if p.low[2] < lowest + 1e-9]
        far = [max(p.high[axis] for p in touching) for axis in (0, 1)]
        self.base = (given.length / 2, given.width / 2) if given else (far[0], far[1])
        self.all = lifting.lifts(self.press, self.case)
        self.jacks: tuple[Jacking, ...] = ()

    def group(self, *names: str) -> list[Piece]:
        return [p for p in self.parts if p.group in names]

    def lifts_of(self, *starts: str) -> list[Lift]:
        return [lift for lift in self.all if lift.load.name.startswith(starts)]

    def small(self, start: str) -> list[Piece]:
        """Nuts and washers by the beginning of their names."""
        return [p for p in self.parts if p.name.startswith(start)]

    def add(
        self, kind: Literal["lift", "support", "fix", "jack"], title: str, words: Sequence[str],
        lifts: Sequence[Lift] = (), more: Sequence[Piece] = (), checks: Sequence[Check] = (),
    ) -> None:  # fmt: skip
        added = [*(piece for lift in lifts for piece in lift.pieces), *more]
        self.standing += added
        found = [*self._lifting(lifts), *checks]
        if added:
            found += self._standing()
        self.steps.append(
            LiftStep(len(self.steps) + 1, kind, title, tuple(words), tuple(lifts), tuple(added),
                 tuple(self.supports), tuple(self.standing), tuple(found))
        )  # fmt: skip

    def _lifting(self, lifts: Sequence[Lift]) -> Iterator[Check]:
        """Hoist and hook for the worst of these lifts."""
        if not lifts:
            return
        load = max((lift.load for lift in lifts), key=lambda p: p.mass)
        if (hoist := self.case.limits.hoist) is not None:
            slings = lifting.sling_mass(load.mass, self.case.shop.sling_mass)
            inputs = (Input("m_load", load.mass, "kg"), Input("m_slings", slings, "kg"))
            yield Check("press", "load and slings", load.mass + slings, hoist, "kg", "limits.hoist",
                        "m_load + m_slings", "geometry", load.name, inputs)  # fmt: skip
        yield from lifting.room_above(lifts, self.case, -self.feet)

    def _standing(self) -> Iterator[Check]:
        """Tilt at which what stands would tip over the edge of its base."""
        whole = masses.together("standing", self.standing)
        angle = tilt(whole, self.base, -self.feet)
        yield Check("press", "tilt at which it tips", angle, LEAST_TILT, "°",
                    f"minimum tilt {LEAST_TILT:g}°",
                    "", "statics; 10° not verified of IEC 60335-1, as a yardstick",
                    "" if self.case.shop.feet else "feet not given: taken at the bed's edges",
                    sense="at least",
                    method="atan of half the base over the height of the centre")  # fmt: skip

    def bed(self) -> None:
        """Plates of the bed from below up."""
        rod = self.press.rods[0]
        ends = rod.reach
        room = Check("press", "room under the bed", self.feet, ends, "m", "lower rod ends",
                     "h_feet ≥ h_washer + h_nut + u", "geometry", "",
                     (Input("h_feet", self.feet, "m"),
                      Input("h_washer", rod.washer_thickness, "m"),
                      Input("h_nut", rod.nut_height, "m"),
                      Input("u", rod.reach - rod.washer_thickness - rod.nut_height, "m")),
                     sense="at least")  # fmt: skip
        lifts = self.lifts_of("bed")
        for index, lift in enumerate(lifts):
            first = index == 0
            words = [f"onto level feet, {_mm(self.feet)} above the floor; anchor them"] if first \
                else ["clean both faces; line up the rod holes with two short bars"]  # fmt: skip
            self.add("lift", lift.load.name, words, [lift], checks=[room] if first else ())

    def cylinder(self) -> None:
        """The cylinder onto the bed, on packing if it is to hang from the crosshead."""
        made = self.press.cylinder
        lifts = self.lifts_of("cylinder")
        assert made is not None
        if made.direction == 1:
            self.add("lift", "cylinder", ["bolt to the bed; ram in, ports closed"], lifts)
            return
        load, face = lifts[0].load, self.press.bed.load_face
        self.supports.append(
            LiftSupport("packing under the cylinder", (0.0, 0.0), made.ram, face, load.low[2],
                    load.mass * G)
        )  # fmt: skip
        angle = math.degrees(lifting.tipping_angle(made.ram / 2, load.centre[2] - face))
        words = [f"on packing {_mm(load.low[2] - face)} high, as wide as the ram at least",
                 "ram in, ports closed",
                 f"without stays it tips at {angle:.0f}°: stay it to the bed before the hook lets "
                 "go",
                 ]  # fmt: skip
        self.add("lift", "cylinder", words, lifts)

    def rods(self) -> None:
        """Rods from above through the bed, each with its lower nut."""
        rod, lifts = self.press.rods[0], self.lifts_of("rod ")
        under = self.feet - rod.reach
        words = [f"from above, once its end clears the bed, fit the lower washer and nut "
                 f"({fixed(self.small('lower nut')[0].mass, 'kg', 1)})"]  # fmt: skip
        if rod.seat == "sleeve":
            words.append("sleeve slid over the rod as it lies, slung with it, onto a clean face; "
                         f"sleeves equal in length within {quantity(0.05e-3, 'm', 1)} "
                         "(common practice)")  # fmt: skip
        if rod.seat == "inner nuts":
            words.append("inner nuts run on before the lift; the lower one rests on the bed and "
                         "carries the rod")  # fmt: skip
        elif rod.seat == "shoulder":
            words.append("the rod rests with its lower shoulder on the bed")
        else:
            words.append(f"then down onto packing {_mm(max(under, 0.0))} high under its end: "
                         "a nut under the bed carries no rod")  # fmt: skip
            self.supports += [
                LiftSupport("packing under a rod", r.at, r.diameter, -self.feet,
                        -self.feet + max(under, 0.0), r.mass * G)
                for r in self.press.rods
            ]  # fmt: skip
        words.append(
            f"in its hole it may lean by {_mm(lean(self.press, rod))} at the top: wedge it"
        )
        title = f"{len(lifts)} rods{lifts[0].load.name.removeprefix(rod.name)}"
        more = [*self.small("lower nut"), *self.small("lower washer")]
        self.add("lift", title, words, lifts, more)

    def hung_weight(self) -> float:
        """Crosshead and what hangs from it (N)."""
        made = self.press.cylinder
        assert made is not None
        names = ("crosshead", "cylinder") if made.direction == -1 else ("crosshead",)
        return G * sum(p.mass for p in self.group(*names))

    def trestles(self) -> None:
        """What carries the crosshead: seats, or trestles where there are none."""
        rod, weight = self.press.rods[0], self.hung_weight()
        share = weight / min(len(self.press.rods), 3)
        kilo = f"{fixed(share, 'N', 1)} each"
        if rod.seat == "inner nuts":
            words = [f"all upper inner nuts to one level, {_mm(rod.between)} above the lower ones",
                     f"they carry the crosshead: {kilo}, three counted"]  # fmt: skip
            self.add("fix", "level the inner nuts", words)
            return
        if rod.seat != "none":
            return
        width, place = next(
            ((w, at) for w in TRESTLES if (at := level_places(self.press, w)) is not None),
            (TRESTLES[-1], None),
        )
        if place is None:
            words = [f"no level strip {_mm(width)} wide between rods and cylinder: carry the "
                     f"crosshead from the floor, {fixed(weight, 'N', 1)} in all"]  # fmt: skip
            self.add("support", "support from the floor", words)
        else:
            self.supports += _pair(place, width, weight)
            words = [f"across the bed at x = ±{_mm(place.x)}, {_mm(width)} wide, "
                     f"{_mm(place.high - place.low)} high, braced: "
                     f"{fixed(weight / 2, 'N', 1)} each, all the crosshead"]  # fmt: skip
            self.add("support", "two trestles", words)
        self.cautions.append(
            f"Nothing in this case carries the crosshead ({fixed(weight, 'N', 1)} with what hangs "
            "from it) at rest: its nuts only hold it down. Sleeves, shoulders or inner nuts "
            "(rods.seat), or stops of your own, must; until then the supports stay."
        )

    def crosshead(self) -> None:
        """Plates of the crosshead over the rods."""
        carried = {"none": "the supports", "inner nuts": "the upper inner nuts",
                   "shoulder": "the upper shoulders", "sleeve": "the sleeves"}  # fmt: skip
        for index, lift in enumerate(self.lifts_of("crosshead")):
            words = ["over all rods at once, level; nobody under it"]
            if index == 0:
                words.append(f"it rests on {carried[self.press.rods[0].seat]}")
            self.add("lift", lift.load.name, words, [lift])

    def closing(self) -> None:
        """Cylinder to the crosshead, upper nuts, jacks, tightening."""
        made, rod = self.press.cylinder, self.press.rods[0]
        nuts = [*self.small("upper nut"), *self.small("upper washer")]
        one = max(p.mass for p in nuts)
        how = "by hand" if one <= BY_HAND else f"over {quantity(BY_HAND, 'kg', 2)}: sling it"
        words = [f"{fixed(one, 'kg', 1)}, {how}; run down to touch"]
        self.add("fix", "upper washers and nuts", words, more=nuts)
        if made is not None and made.direction == -1:
            self.supports = [s for s in self.supports if "cylinder" not in s.name]
            self.add("fix", "cylinder to the crosshead",
                     ["raise it to its face with jacks, fasten it, then take the packing away",
                      "how it is fastened is not in this case"])  # fmt: skip
        if rod.seat in ("none", "sleeve"):
            self.supports = [s for s in self.supports if "rod" not in s.name]
            self.add("fix", "lower nuts", ["run up to touch; take the packing under the rods away "
                                           "once nuts or preload carry them"])  # fmt: skip
        whole = masses.together("press", self.standing)
        bed = masses.together("bed with rods", self.group("bed", "rods", "sleeves"))
        self.jacks = tuple(jacking(self.press, part, self.base, self.feet) for part in (bed, whole))
        last = self.jacks[-1]
        words = [
            f"where a lower nut must come off with its rod in place: raise by {_mm(last.rise)}, "
            "one end at a time, packing following"
            if last.rise > 0
            else "the feet leave room to take a lower nut off; where they must come away:",
            f"jacks at x = ±{_mm(last.at[0])}, y = ±{_mm(last.at[1])}: "
            f"{fixed(last.force / 2, 'N', 1)} each, two at an end",
        ]
        self.add("jack", "jacking", words, checks=last.checks())
        self.add("fix", "tightening", [
            "rods in star order by measured stretch: platestack tighten gives forces and turns"
            if rod.seat != "none"
            else "nuts to touch, then locked: without seats there is nothing to tighten against"
        ])  # fmt: skip


def _pair(place: FootingStrips, width: float, weight: float) -> list[LiftSupport]:
    return [
        LiftSupport("trestle", (side * place.x, 0.0), width, place.low, place.high, weight / 2)
        for side in (-1, 1)
    ]


def _mm(metres: float) -> str:
    return fixed(metres, "m", 0)
