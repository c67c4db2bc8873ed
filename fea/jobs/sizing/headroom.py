"""Why a press does not fit under its ceiling or hook, and what would have to give way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from platestack.fea.hand import lifting
from platestack.fea.hand.record import Check
from platestack.fea.jobs.sizing.plan import PressPlan
from platestack.geometry import masses
from platestack.geometry.units import LENGTH, show

STEP = 0.01
"""Of the daylights that are tried (m)."""
LEAST_HOIST = 0.25
"""From hook to ceiling of low hoists of about 1 t (m), common practice, no source."""
LIMITS = ("limits.ceiling", "shop.hook_height")


def why_no_room(plan: PressPlan, check: Check) -> str:
    """What the height of the highest lift is made of, and what makes it fit; "" for other checks.

    Plates, rods and cylinder stay as the plan has them: they are the lowest that hold.
    """
    if check.limit_name not in LIMITS or "lift" not in check.name:
        return ""
    press, case = plan.press, plan.case
    floor = -masses.feet_height(press, case.shop.feet_height)
    highest = max(lifting.lifts(press, case), key=lambda lift: lift.hook_height(floor))
    parts = [
        (show(highest.over - floor, LENGTH, 4), "to pass"),
        (show(lifting.CLEAR, LENGTH, 4), "clearance"),
        (show(highest.load.height, LENGTH, 4), highest.load.name),
        (show(highest.rise, LENGTH, 4), "slings"),
    ]
    if case.shop.hook_height is None:
        hoist = case.shop.hoist_height or lifting.HOIST_HEIGHT
        parts.append((show(hoist, LENGTH, 4), "hoist and hook"))
    made = " + ".join(f"{length} {words}" for length, words in parts)
    return f"{made}; it fits with {', or '.join(_remedies(plan, check))}"


def _remedies(plan: PressPlan, check: Check) -> Iterator[str]:
    over = check.value - check.limit
    daylight = _daylight(plan, check)
    if daylight is not None:
        yield f"a daylight of {show(daylight, LENGTH, 4)}"
    under = check.limit_name == LIMITS[0]
    hoist = (plan.case.shop.hoist_height or lifting.HOIST_HEIGHT) - over
    if under and hoist >= LEAST_HOIST:
        words = f"a hoist that takes up {show(hoist, LENGTH, 4)} from hook to ceiling"
        yield f"{words} (shop.hoist_height)"
    yield f"{'a ceiling' if under else 'the hook'} at {show(check.value, LENGTH, 4)}"


def _daylight(plan: PressPlan, check: Check) -> float | None:
    """Largest daylight (m), in whole 10 mm, with which these sizes fit; None where none does."""
    duty = plan.duty
    least = max(STEP, duty.stroke or 0.0)
    for taken in range(1, int((duty.daylight - least) / STEP) + 1):
        daylight = round(duty.daylight - taken * STEP, 4)
        lower = replace(plan, duty=duty.model_copy(update={"daylight": daylight}))
        press, case = lower.press, lower.case
        floor = -masses.feet_height(press, case.shop.feet_height)
        above = lifting.room_above(lifting.lifts(press, case), case, floor)
        if all(one.utilisation <= 1 for one in above):
            return daylight
    return None
