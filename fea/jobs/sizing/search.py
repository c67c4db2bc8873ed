"""The lightest press of stock plates, standard bores and listed threads that holds by hand.

Every combination of a few bores and rods is tried, each with the lightest plates that hold. What
serves a larger capacity serves a smaller one too, so more capacity never gives a lighter press.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from platestack.fea.checks.cylinder import cylinder
from platestack.fea.checks.gland import gland
from platestack.fea.checks.rods import rods
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand import fatigue
from platestack.fea.hand.beam import NotABeam
from platestack.fea.hand.record import Check
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.by_hand import Reserve
from platestack.fea.jobs.sizing.duty import Duty
from platestack.fea.jobs.sizing.frame import TooNarrow
from platestack.fea.jobs.sizing.plan import ROD_GRADE, Pile, Plan, anywhere, bores, rod_sizes, start
from platestack.fea.jobs.sizing.tried import Tried
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import masses, rules, tables
from platestack.geometry.errors import UsageError
from platestack.geometry.units import FORCE, PRESSURE, show

FEWEST, MOST = 2, 12
BORES_SEEN, BORES_TRIED, RODS_TRIED = 10, 2, 2
UPRIGHT = (4, 6, 8, 12)
STIFFER = (1.0, 1.4, 2.0)
"""How many times less than the limit the stacks may bend, to spare the rods."""
MOST_RODS = 8
"""Sizes of rod tried, from the least by even shares on."""
LOWEST = 10
"""Least height of an upright plate (cm)."""
SLENDER = 8.0
"""Height of an upright plate over its thickness, at most; against tipping over (practice)."""


def lightest(
    duty: Duty,
    reserve: Reserve,
    *,
    bores_tried: int = BORES_TRIED,
    rods_tried: int = RODS_TRIED,
    stiffer: tuple[float, ...] = STIFFER,
) -> tuple[Plan, list[Check]]:
    """The lightest plan that holds, else the one that comes nearest, with its checks worst first.

    Raises
    ------
    UsageError
        If nothing can be laid out for the duty at all.
    """
    best: tuple[float, float, Plan, list[Check]] | None = None
    reason = ""
    tried = Tried()

    def judged(plan: Plan) -> str | tuple[float, float, Plan, list[Check]]:
        faults = rules.check(plan.case)
        if faults:
            return "; ".join(fault.line("the proposal") for fault in faults)
        found = by_hand.checks(plan.case, plan.press, duty, reserve)
        return max(found[0].utilisation, 1.0), plan.press.mass, plan, found

    for bare in _cylinders(duty, reserve, bores_tried):
        try:
            for plan in _filled(bare, reserve, rods_tried, stiffer, tried):
                found = tried.once(judged, plan)
                if isinstance(found, str):
                    reason = found
                elif best is None or found[:2] < best[:2]:
                    best = found
        except UsageError as error:
            reason = str(error)
        except (NotABeam, tables.TableError) as error:
            reason = f"no press can be laid out: {error}"
    if best is None:
        raise UsageError(reason or "no press can be laid out")
    return best[2], best[3]


def _cylinders(duty: Duty, reserve: Reserve, wanted: int) -> list[Plan]:
    """Plans with the first bores whose cylinder holds; where none does, the best one."""
    rod = least_rod(duty, reserve.rods * duty.capacity / duty.rods)
    held: list[Plan] = []
    nearest: tuple[float, Plan] | None = None
    for bore in bores(duty)[:BORES_SEEN]:
        try:
            plan = start(duty, bore, rod, reserve.least)
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
    bare: Plan, reserve: Reserve, wanted: int, stiffer: tuple[float, ...], tried: Tried
) -> Iterator[Plan]:
    """Plans with plates that bend less and less, for the least rods that hold and a size above.

    Stiff plates tilt less under the nuts and so bend the rods less: they allow thinner rods. Plates
    follow from the rods, and how rods share the force from the plates: each size has its own.
    """
    sizes = rod_sizes()
    first = sizes.index(bare.rod)

    def hold(plan: Plan) -> bool:
        return _rods_hold(plan, reserve)

    for times in stiffer:
        stiff = reserve.stiffer(times)
        left = wanted
        for rod in sizes[first : first + MOST_RODS]:
            try:
                plan = with_plates(replace(bare, rod=rod), stiff, tried)
                held = tried.once(hold, plan)
            except (UsageError, tables.TableError):
                if rod == bare.rod:
                    raise
                break  # no room for thicker ones, or none is sold
            if held:
                yield plan
                left -= 1
            if not left:
                break
        if left == wanted:  # none holds: what comes nearest
            yield plan


def _rods_hold(plan: Plan, reserve: Reserve) -> bool:
    found = single(by_hand.beams(plan.press))
    statics = Statics(plan.case, plan.press, {}, 0.0, found, reserve.rods)
    return all(c.utilisation <= 1 for c in (*rods(statics), *thread_fatigue(statics)))


def least_rod(duty: Duty, force: float) -> float:
    """Smallest rod (m) that bears a force (N): tension and fatigue of its thread.

    Raises
    ------
    UsageError
        If none of the tables does.
    """
    steel = tables.rod_grade(ROD_GRADE)
    for d in rod_sizes():
        try:
            allowed = steel.yield_strength(d) / duty.rod_safety_factor
            tables.nut(d)
        except tables.TableError:
            continue
        category = fatigue.THREAD_CATEGORY * fatigue.size_factor(d)
        endured = fatigue.allowed_range(category, duty.cycles, 1.35)
        if force / tables.largest_thread(d).stress_area <= min(allowed, endured):
            return d
    raise UsageError(
        f"--capacity: {show(force, FORCE)} on each of {duty.rods} rods is more than any thread of "
        "the tables bears; allowed: less capacity, fewer cycles, or more rods"
    )


def with_plates(plan: Plan, reserve: Reserve, tried: Tried) -> Plan:
    """The plan with the lightest plates that hold; the strongest there are where none do."""
    return (_flat if plan.duty.layout == "flat" else _upright)(plan, reserve, tried)


def _stocks(plan: Plan) -> list[float]:
    """Thicknesses worth trying: not over the thickest, and light enough for the hoist."""
    duty = plan.duty
    stock = [t for t in tables.stock_thicknesses() if 0.02 <= t <= duty.thickest + 1e-9]
    if not stock:
        raise UsageError("--thickest: allowed: at least 20 mm, the thinnest stock plate tried")
    if duty.hoist is None or duty.layout == "on edge":
        return stock
    made, slings = plan.frame, min(duty.hoist / 1.02, duty.hoist - 2)
    light = [t for t in stock if t * made.length * made.width * masses.STEEL <= slings]
    return light or stock[:1]


def _flat(plan: Plan, reserve: Reserve, tried: Tried) -> Plan:
    stock = _stocks(plan)

    def choose(name: str) -> Pile:
        def holds(count: int, thickness: float) -> bool:
            return tried.holds(plan, name, Pile(count, thickness), reserve)

        best, depth = Pile(MOST, stock[-1]), math.inf
        for count in range(FEWEST, MOST + 1):
            fit = [t for t in stock if count * t < depth - 1e-9]
            if not fit or not holds(count, fit[-1]):
                continue
            thickness = fit[_first(len(fit), lambda i, n=count, f=fit: holds(n, f[i]))]  # type: ignore[misc]
            best, depth = Pile(count, thickness), count * thickness
        return best

    return plan.with_piles(choose("crosshead"), choose("bed"))


def _upright(plan: Plan, reserve: Reserve, tried: Tried) -> Plan:
    """Upright plates: both stacks of the same plates, each as high as it needs."""
    best: Plan | None = None
    tallest: Plan | None = None
    reason = UsageError("no plates on edge were tried")
    for count in UPRIGHT:
        for thickness in _stocks(plan):
            full = Pile(count, thickness, math.floor(SLENDER * thickness * 100) / 100)
            laid = plan.with_piles(full, full)
            try:
                tallest = laid if laid.frame else None
            except UsageError as error:
                reason = _nearer(reason, error)
                continue
            stacks = ("crosshead", "bed")
            if not all(tried.holds(laid, name, full, reserve) for name in stacks):
                continue
            made = laid.with_piles(*(_lowest(laid, name, reserve, tried) for name in stacks))
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


def _lowest(laid: Plan, name: str, reserve: Reserve, tried: Tried) -> Pile:
    """The plates of a plan, which hold, only as high as they need to be."""
    full: Pile = getattr(laid, name)
    assert full.height is not None
    heights = [h / 100 for h in range(LOWEST, round(full.height * 100) + 1)]

    def holds(index: int) -> bool:
        return tried.holds(laid, name, replace(full, height=heights[index]), reserve)

    return replace(full, height=heights[_first(len(heights), holds)])


def _first(count: int, holds: Callable[[int], bool]) -> int:
    """Least index that holds, where all above one that holds do too."""
    return bisect.bisect_left(range(count), True, key=holds)
