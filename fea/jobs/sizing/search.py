"""The lightest press of stock plates, standard bores and listed threads that holds by hand.

Every combination of a few bores and rods is tried, each with the lightest plates that hold. What
serves a larger capacity serves a smaller one too, so more capacity never gives a lighter press.
"""

from __future__ import annotations

import bisect
import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from platestack.fea.checks.cylinder import cylinder
from platestack.fea.checks.frame import RESIDUAL, seat_strength, seats
from platestack.fea.checks.gland import gland
from platestack.fea.checks.rods import rods
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand import fatigue, joint
from platestack.fea.hand.bending import NotABeam
from platestack.fea.hand.record import Check
from platestack.fea.jobs.duty.duty import Duty
from platestack.fea.jobs.duty.usual import down, up, usual
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.by_hand import CorrectionFactors
from platestack.fea.jobs.sizing.frame import TooNarrow
from platestack.fea.jobs.sizing.plan import (
    SEATS,
    PressPlan,
    StackPlates,
    anywhere,
    bores,
    rod_sizes,
    start,
)
from platestack.fea.jobs.sizing.tried import Tried
from platestack.fea.solid.statics import Statics
from platestack.geometry import masses, rules, tables
from platestack.geometry.errors import UsageError
from platestack.geometry.stock import available, thicknesses
from platestack.geometry.units import FORCE, LENGTH, PRESSURE, show

FEWEST, MOST = 2, 12
BORES_SEEN, BORES_TRIED, RODS_TRIED = 10, 2, 2
UPRIGHT = (4, 6, 8, 12)
LEAST_FELT = 0.15
"""Share of the working force that the thread of a preloaded rod feels, at the least."""
STIFFER = (1.0, 1.4, 2.0)
"""How many times less than the limit the stacks may bend, to spare the rods."""
MOST_RODS = 8
"""Sizes of rod tried, from the least by even shares on."""
LOWEST = 0.1
"""Least height of an upright plate (m)."""
SPARE = 1.15
"""Preload over the least that keeps the seats closed, for what settling and scatter of tightening
take and a load a little off the axis adds (common practice, no source)."""
SEAT_ROUNDS = 4
SLENDER = 8.0
"""Height of an upright plate over its thickness, at most; against tipping over (practice)."""


@dataclass(frozen=True)
class SearchResult:
    """A plan and its checks by hand, worst first."""

    plan: PressPlan
    checks: tuple[Check, ...]

    @property
    def rank(self) -> tuple[float, float]:
        """Less is better: what is exceeded, then the mass (kg)."""
        return max(self.checks[0].utilisation, 1.0), self.plan.press.mass


def lightest(
    duty: Duty,
    corrections: CorrectionFactors,
    *,
    bores_tried: int = BORES_TRIED,
    rods_tried: int = RODS_TRIED,
    stiffer: tuple[float, ...] = STIFFER,
) -> list[SearchResult]:
    """The lightest plan that holds with each seat, else the one that comes nearest; best first.

    Raises
    ------
    UsageError
        If nothing can be laid out for the duty at all.
    """
    best: dict[str, SearchResult] = {}
    reason = ""
    tried = Tried()

    def judged(plan: PressPlan) -> str | SearchResult:
        faults = rules.check(plan.case)
        if faults:
            return "; ".join(fault.line("the proposal") for fault in faults)
        checks = by_hand.checks(plan.case, plan.press, duty, corrections)
        return SearchResult(plan, tuple(checks))

    for bare in _cylinders(duty, corrections, bores_tried):
        try:
            for plan in _filled(bare, corrections, rods_tried, stiffer, tried):
                found = tried.once(judged, plan)
                if isinstance(found, str):
                    reason = found
                elif plan.seat not in best or found.rank < best[plan.seat].rank:
                    best[plan.seat] = found
        except UsageError as error:
            reason = str(error)
        except (NotABeam, tables.TableError) as error:
            reason = f"no press can be laid out: {error}"
    if not best:
        raise UsageError(reason or "no press can be laid out")
    return sorted(best.values(), key=lambda found: found.rank)


def _cylinders(duty: Duty, corrections: CorrectionFactors, wanted: int) -> list[PressPlan]:
    """Plans with the first bores whose cylinder holds; where none does, the best one."""
    rod = least_rod(duty, corrections.rods * duty.capacity / duty.rods)
    held: list[PressPlan] = []
    nearest: tuple[float, PressPlan] | None = None
    for bore in bores(duty)[:BORES_SEEN]:
        try:
            plan = start(duty, bore, rod, corrections.least)
            roomy = replace(plan, duty=anywhere(duty))
            statics = Statics(roomy.case, roomy.press, {}, 0.0)
            over = max(check.utilisation for check in (*cylinder(statics), *gland(statics)))
        except tables.TableError:
            continue
        if nearest is None or over < nearest[0]:
            nearest = over, plan
        if over <= 1:
            held.append(plan)
        if len(held) == wanted:
            break
    if nearest is None:
        raise UsageError(
            f"--pressure: no cylinder of the tables gives {show(duty.capacity, FORCE)} at "
            f"{show(duty.allowed_pressure, PRESSURE)}; allowed: another pressure, or less capacity"
        )
    return held or [nearest[1]]


def _filled(
    bare: PressPlan,
    corrections: CorrectionFactors,
    wanted: int,
    stiffer: tuple[float, ...],
    tried: Tried,
) -> Iterator[PressPlan]:
    """Plans with plates that bend less and less, for the least rods that hold and a size above.

    Stiff plates tilt less under the nuts and so bend the rods less: they allow thinner rods. Plates
    follow from the rods, and how rods share the force from the plates: each size has its own.
    """
    sizes = rod_sizes(bare.duty)
    first = sizes.index(bare.rod)

    def hold(plan: PressPlan) -> bool:
        return _rods_hold(plan, corrections)

    for times in stiffer:
        stiff = corrections.stiffer(times)
        left = dict.fromkeys(_seats(bare.duty), wanted)
        for rod in sizes[first : first + MOST_RODS]:
            try:
                plates = with_plates(replace(bare, rod=rod), stiff, tried)
                plans = [_tightened(plates, seat, corrections) for seat in left if left[seat]]
                held = [plan for plan in plans if tried.once(hold, plan)]
            except (UsageError, tables.TableError):
                if rod == bare.rod:
                    raise
                break  # no room for thicker ones, or none is sold
            for plan in held:
                yield plan
                left[plan.seat] -= 1
            if not any(left.values()):
                break
        yield from (plan for plan in plans if left[plan.seat] == wanted)  # what comes nearest


def _seats(duty: Duty) -> tuple[str, ...]:
    return SEATS if duty.seat is None else (duty.seat,)


def _tightened(plan: PressPlan, seat: str, corrections: CorrectionFactors) -> PressPlan:
    """The plan with a seat that the plates bear, and the least preload that keeps it closed.

    Preload in whole 10 kN, or 1 kN below 100 kN, likewise kips. Up to the washer's diameter a seat
    is as wide as plates and sleeve need; a wider sleeve is stiffer, and wants more preload again.
    """
    plan = replace(plan, seat=seat, preload=None, seat_diameter=None)
    for _ in range(SEAT_ROUNDS):
        statics = by_hand.as_beams(plan.case, plan.press, by_hand.beams(plan.press), corrections)
        needed = max(
            joint.least_preload(rod, corrections.seats * statics.rod_force(rod), RESIDUAL)
            for rod in plan.press.rods
        )
        small, step = usual().preload
        step = step if needed > 10 * step else small
        plan = replace(plan, preload=math.ceil(SPARE * needed / step - 1e-9) * step)
        rod, annulus = plan.press.rods[0], plan.press.rods[0].seat_annulus
        assert annulus is not None, "every proposal has seats"
        over = max(check.utilisation for check in seat_strength(replace(statics, press=plan.press)))
        if over <= 1 or annulus.length >= rod.bearing_outer - 1e-9:
            break
        wide = math.sqrt(over * (annulus.length**2 - annulus.inner**2) + annulus.inner**2)
        plan = replace(plan, seat_diameter=min(up(wide, 0), rod.bearing_outer))
    return plan


def _rods_hold(plan: PressPlan, corrections: CorrectionFactors) -> bool:
    press = plan.press
    statics = by_hand.as_beams(plan.case, press, by_hand.beams(press), corrections)
    checks = (c for kind in (rods, thread_fatigue, seats) for c in kind(statics))
    return all(c.utilisation <= 1 for c in checks)


def least_rod(duty: Duty, force: float) -> float:
    """Smallest rod (m) that bears a force (N): tension, and fatigue of its thread by a preload.

    Raises
    ------
    UsageError
        If none of the tables does.
    """
    steel = tables.rod_grade(usual().rod_grade)
    felt = LEAST_FELT * force
    for d in rod_sizes(duty):
        try:
            allowed = steel.yield_strength(d) / duty.rod_safety_factor
            tables.nut(d)
        except tables.TableError:
            continue
        category = fatigue.THREAD_CATEGORY * fatigue.size_factor(d)
        endured = fatigue.allowed_range(category, duty.cycles, 1.35)
        area = tables.largest_thread(d).stress_area
        if force / area <= allowed and felt / area <= endured:
            return d
    if duty.own_rods is not None:
        return duty.own_rods.diameter  # told as not met
    raise UsageError(
        f"--capacity: {show(force, FORCE)} on each of {duty.rods} rods is more than any thread of "
        "the tables bears; allowed: less capacity, fewer cycles, or more rods"
    )


def with_plates(plan: PressPlan, corrections: CorrectionFactors, tried: Tried) -> PressPlan:
    """The plan with the lightest plates that hold; the strongest there are where none do."""
    return (_flat if plan.duty.layout == "flat" else _upright)(plan, corrections, tried)


def _stocks(plan: PressPlan) -> list[float]:
    """Thicknesses worth trying: not over the thickest, and light enough for the hoist."""
    duty = plan.duty
    had = thicknesses(duty.stock)
    stock = [t for t in had if 0.02 <= t <= duty.thickest + 1e-9]
    if not stock:
        least = next((t for t in had if t >= 0.02), 0.02)
        raise UsageError(
            f"--thickest: allowed: at least {show(least, LENGTH)}, the thinnest stock plate tried"
        )
    if duty.hoist is None or duty.layout == "on edge":
        return stock
    made, slings = plan.frame, min(duty.hoist / 1.02, duty.hoist - 2)
    light = [t for t in stock if t * made.length * made.width * masses.STEEL <= slings]
    return light or stock[:1]


def _flat(plan: PressPlan, corrections: CorrectionFactors, tried: Tried) -> PressPlan:
    stock, own = _stocks(plan), plan.duty.stock
    taken: Counter[float] = Counter()

    def choose(name: str) -> StackPlates:
        def holds(count: int, thickness: float) -> bool:
            return tried.holds(plan, name, StackPlates(count, thickness), corrections)

        best, depth = StackPlates(MOST, stock[-1]), math.inf
        for count in range(FEWEST, MOST + 1):
            fit = [t for t in stock if count * t < depth - 1e-9
                   and (not own or taken[t] + count <= available(own, t))]  # fmt: skip
            if not fit or not holds(count, fit[-1]):
                continue
            thickness = fit[_first(len(fit), lambda i, n=count, f=fit: holds(n, f[i]))]  # type: ignore[misc]
            best, depth = StackPlates(count, thickness), count * thickness
        taken[best.thickness] += best.count
        return best

    return plan.with_stacks(choose("crosshead"), choose("bed"))


def _upright(plan: PressPlan, corrections: CorrectionFactors, tried: Tried) -> PressPlan:
    """Upright plates: both stacks of the same plates, each as high as it needs."""
    best: PressPlan | None = None
    tallest: PressPlan | None = None
    reason = UsageError("no plates on edge were tried")
    for count in UPRIGHT:
        for thickness in _stocks(plan):
            if plan.duty.stock and 2 * count > available(plan.duty.stock, thickness):
                continue
            full = StackPlates(count, thickness, down(SLENDER * thickness, 2))
            laid = plan.with_stacks(full, full)
            try:
                tallest = laid if laid.frame else None
            except UsageError as error:
                reason = _nearer(reason, error)
                continue
            stacks = ("crosshead", "bed")
            if not all(tried.holds(laid, name, full, corrections) for name in stacks):
                continue
            made = laid.with_stacks(*(_lowest(laid, name, corrections, tried) for name in stacks))
            if best is None or made.press.mass < best.press.mass:
                best = made
            break  # thicker ones of the same number are heavier
    if tallest is None:
        raise reason
    return best or tallest


def _nearer(one: UsageError, other: UsageError) -> UsageError:
    """Of two reasons why plates on edge find no room the one that the least change takes away."""
    if not isinstance(one, TooNarrow):
        return other
    return other if isinstance(other, TooNarrow) and other.least < one.least else one


def _lowest(
    laid: PressPlan, name: str, corrections: CorrectionFactors, tried: Tried
) -> StackPlates:
    """The plates of a plan, which hold, only as high as they need to be."""
    full: StackPlates = getattr(laid, name)
    assert full.height is not None
    step = usual().lengths[2]
    heights = [h * step for h in range(round(LOWEST / step), round(full.height / step) + 1)]

    def holds(index: int) -> bool:
        return tried.holds(laid, name, replace(full, height=heights[index]), corrections)

    return replace(full, height=heights[_first(len(heights), holds)])


def _first(count: int, holds: Callable[[int], bool]) -> int:
    """Least index that holds, where all above one that holds do too."""
    return bisect.bisect_left(range(count), True, key=holds)
