"""A proposal: the plan, its checks, and each choice explained in a line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from platestack.fea.checks.cost import priced
from platestack.fea.checks.unchecked import NOT_CHECKED
from platestack.fea.hand.record import Check, worst_first
from platestack.fea.jobs.duty.duty import COUNTS, Duty
from platestack.fea.jobs.sizing import by_hand, search
from platestack.fea.jobs.sizing.by_hand import CorrectionFactors
from platestack.fea.jobs.sizing.headroom import why_no_room
from platestack.fea.jobs.sizing.plan import PressPlan, StackPlates, length
from platestack.fea.jobs.sizing.tough import brittle, tough_enough
from platestack.fea.support.case_files import comment, key, toml
from platestack.geometry import stock
from platestack.geometry.errors import UsageError
from platestack.geometry.units import FORCE, LENGTH, PRESSURE, fixed, percent, show, using

SOLD = {"SI": "ISO 3320", "mm": "ISO 3320", "US": "honed tube in inches"}
"""Bores by system of units."""
SOONER: dict[str, Any] = {"bores_tried": 1, "rods_tried": 1, "stiffer": (1.4,)}
"""A search of one bore and the least rods only: mostly a little heavier."""
CAUTIONS = (
    "High oil pressure and stretched rods hold energy that kills. Guard the press, stand clear, "
    "follow the local rules, and let a licensed engineer judge the design.",
    f"Not sized or checked: {'; '.join(NOT_CHECKED)}.",
)


@dataclass(frozen=True)
class Proposal:
    """A complete first design, and what speaks for it."""

    plan: PressPlan
    checks: tuple[Check, ...]
    """Worst first."""
    corrections: CorrectionFactors
    seats: tuple[search.SearchResult, ...]
    """The best plan by hand with each seat of the rods, lightest first."""
    confirmed: tuple[str, ...] = ()
    """What the full solutions said, one line a round; empty where there was none."""
    other_rods: str = ""
    """What was found of other numbers of rods, where none were asked for."""

    @property
    def exceeded(self) -> tuple[Check, ...]:
        """Limits that are not met, worst first."""
        return tuple(check for check in self.checks if check.utilisation > 1)

    @property
    def mass(self) -> float:
        """Of the whole press (kg)."""
        return self.plan.press.mass

    @property
    def cost(self) -> tuple[float, str]:
        """Total and currency."""
        bill = priced(self.plan.press, self.plan.case)
        assert bill is not None, "every plan has prices"
        return bill.total, bill.currency

    @property
    def height(self) -> float:
        """Over the rods (m)."""
        return self.plan.press.height

    @property
    def text(self) -> str:
        """The case file."""
        with using(self.plan.duty.units):
            return _text(self)

    @property
    def reasons(self) -> dict[str, str]:
        """Table of the case -> why its values are what they are."""
        return _reasons(self)


def propose(
    duty: Duty, corrections: CorrectionFactors | None = None, *, thorough: bool = True
) -> Proposal:
    """Size a press by hand.

    Parameters
    ----------
    duty : Duty
    corrections : CorrectionFactors, optional
        What a solution said of an earlier proposal.
    thorough : bool
        Else one bore and the least rods only: sooner, and mostly a little heavier.

    Raises
    ------
    UsageError
        If nothing can be laid out.
    """
    with using(duty.units):
        return _proposed(duty, corrections or CorrectionFactors(), thorough)


def _proposed(duty: Duty, corrections: CorrectionFactors, thorough: bool) -> Proposal:
    found = search.lightest(duty, corrections, **({} if thorough else SOONER))
    made = _tough(found, corrections)
    free = made.exceeded and thorough and "rods" not in duty.model_fields_set
    return _other_rods(made) if free else made


def _other_rods(made: Proposal) -> Proposal:
    """The lightest with another number of rods that meets all limits; else the same."""
    duty, best = made.plan.duty, None
    for count in COUNTS:
        if count == duty.rods or (duty.own_rods is not None and count > duty.own_rods.count):
            continue
        try:
            changed = duty.model_copy(update={"rods": count})
            found = search.lightest(changed, made.corrections, **SOONER | {"stiffer": (1.0, 1.4)})
        except UsageError:
            continue
        if found[0].rank[0] <= 1 and (best is None or found[0].rank < best[0].rank):
            best = found
    if best is None:
        return replace(made, other_rods="Other numbers of rods miss a limit too")
    instead = made.exceeded[0]
    why = f"{duty.rods} rods would miss a limit: {instead.name}, {shortfall(instead)}"
    return replace(_tough(best, made.corrections), other_rods=why)


def _tough(found: Sequence[search.SearchResult], corrections: CorrectionFactors) -> Proposal:
    """The best of what was found, of a sub-grade that does not break brittle in the cold."""
    best = found[0]
    bent = by_hand.beams(best.plan.press)
    stress: dict[str, float] = {
        stack.name: corrections.of_stress(stack) * bent[stack.name].bending_stress
        for stack in best.plan.press.stacks
    }
    plan = tough_enough(best.plan, stress)
    # Warmth changes the cylinder's bottom too.
    others = best.checks if plan.warm is None else by_hand.checks(
        plan.case, plan.press, plan.duty, corrections)  # fmt: skip
    checks = worst_first([*others, *brittle(plan, stress)])
    return Proposal(plan, tuple(checks), corrections, tuple(found))


def shortfall(check: Check) -> str:
    """By how much a limit is missed, in per cent of it."""
    return (
        f"{percent(abs(check.utilisation - 1))} over"
        if check.sense == "at most"
        else (f"{percent(1 - check.value / check.limit)} short")
    )


def reasons_missed(made: Proposal) -> list[tuple[Check, str]]:
    """The limits that are not met, each with why, as a sentence, where that can be told."""
    found = ((check, why_no_room(made.plan, check)) for check in made.exceeded)
    return [(check, f" {why}." if why else "") for check, why in found]


def plate_words(plates: StackPlates) -> str:
    """Plates in words."""
    tall = f", {show(plates.height, LENGTH)} high" if plates.height else ""
    return f"{plates.count} x {show(plates.thickness, LENGTH)}{tall}"


def _reasons(made: Proposal) -> dict[str, str]:
    plan, duty = made.plan, made.plan.duty
    needed = math.sqrt(4 * duty.capacity / (math.pi * duty.allowed_pressure))
    governs = _worst(made, "rod ")
    bed = duty.length is None or (duty.width is None and duty.layout == "flat")
    plates = {
        name: f"{plate_words(getattr(plan, name))}, {duty.interface}: the lightest of stock plates "
        f"{_had(duty)} that hold; governed by {_worst(made, f'{name}: ')}."
        for name in ("crosshead", "bed")
    }
    if plan.grade is not None:
        cold = f" {plan.grade}: tough enough at the lowest temperature, for its thickness."
        plates = {name: reason + cold for name, reason in plates.items()}
    if duty.layout == "on edge":
        words = (
            " The platen is as long as its plates, so that it does not press on them with its ends."
        )
        plates = {name: reason + words for name, reason in plates.items()}
    if bed:
        plates["bed"] += (
            f" In plan as small as the cylinder of {show(plan.outer, LENGTH)}, the rods and their "
            "washers allow."
        )
    return {
        "press": f"The bore needs {show(plan.pressure, PRESSURE)} for the capacity, of "
        f"{show(duty.allowed_pressure, PRESSURE)} allowed"
        + (
            ""
            if duty.pump is None
            else f", so that the pump of {show(duty.pump, PRESSURE)} does the proof test too"
        )
        + ": set the relief valve by it, as more pressure overloads plates and rods.",
        **plates,
        "rods": f"{duty.rods} rods {show(plan.rod, LENGTH)}"
        f"{', which are there' if duty.own_rods else ''}: governed by {governs}. "
        f"{f'{made.other_rods}. ' if made.other_rods else ''}{_seat(made)}",
        "ram": f"The cylinder that is there, bore {show(plan.bore, LENGTH)}."
        if duty.cylinder is not None
        else f"Bore {show(plan.bore, LENGTH)}: {show(needed, LENGTH)} are needed; bores sold "
        f"({SOLD[duty.units]}), the one that makes the press lightest; wall by Lamé at relief "
        "and proof pressure.",
        "workpiece": "The smallest workpiece that takes the whole force: 0.7 bores, a hard but "
        "usual load."
        if duty.workpiece is None
        else "The smallest workpiece that takes the whole force, as asked for.",
        **(
            {}
            if plan.warm is None
            else {
                "shop": "Keep the shop as warm as that: in frost no listed sub-grade is tough "
                "enough for plates so thick."
            }
        ),
        "prices": "Prices as given."
        if duty.prices is not None
        else "Invented prices, to show shares only: put in what you are quoted.",
    }


def _had(duty: Duty) -> str:
    """Which plates could be taken."""
    if duty.stock:
        return f"of {', '.join(show(t, LENGTH) for t in stock.thicknesses(duty.stock))}"
    return f"up to {show(duty.thickest, LENGTH)}"


def _seat(made: Proposal) -> str:
    """Why this seat, and this preload."""
    plan = made.plan
    assert plan.preload is not None, "the search chooses one"
    if plan.duty.seat is not None:
        why = "as asked for"
    else:
        best = made.seats[0].rank[0]
        others = [
            f"{other.plan.seat} {fixed(other.plan.press.mass, 'kg', 0)}"
            + (f", but {other.checks[0].name} not met" if other.rank[0] > 1 >= best else "")
            for other in made.seats
        ]
        why = f"the whole press by hand: {'; '.join(others)}"
    left = next((c.note for c in made.checks if "taken off its seat" in c.name), "")
    return (
        f"Seat: {plan.seat} ({why}); crosshead and what hangs from it rest on it. Preload "
        f"{show(plan.preload, FORCE)} each, {percent(search.SPARE - 1)} over what keeps the seats "
        f"closed: {left}."
    )


def _worst(made: Proposal, start: str) -> str:
    """The check that governs a part, with its use."""
    own = (check for check in made.checks if check.name.startswith(start))
    worst = next(own, None)
    if worst is None:
        return "its layout"
    return f"{worst.quantity} ({percent(worst.utilisation)})"


def _text(made: Proposal) -> str:
    """The case file with its reasons."""
    plan, reasons = made.plan, made.reasons
    if made.confirmed:
        told = f"Solved in full: {made.confirmed[-1]}."
    else:
        told = "Sized by beam theory and hand formulas only: `platestack run` solves it in full."
    lines = [comment(told)]
    lines += [
        comment(f"NOT MET: {check.name}, {shortfall(check)} {check.limit_name}.{why}")
        for check, why in reasons_missed(made)
    ]
    lines += [comment(words) for words in CAUTIONS]
    for name, table in plan.tables.items():
        if isinstance(table, str):
            lines += ["", f"{name} = {toml(table)}"]
            continue
        several = isinstance(table, list)
        for one in table if several else (table,):
            lines.append("")
            if name in reasons:
                lines.append(comment(reasons[name]))
            lines.append(f"[[{name}]]" if several else f"[{name}]")
            lines += [f"{key(field)} = {toml(value)}" for field, value in one.items()]
    return "\n".join(lines) + "\n"


def summary(made: Proposal) -> str:
    """The proposal in one line."""
    plan, press = made.plan, made.plan.press
    return (
        f"crosshead {plate_words(plan.crosshead)}, bed {plate_words(plan.bed)}, "
        f"{plan.duty.rods} rods {length(plan.rod)} ({plan.seat}), bore {length(plan.bore)}; "
        f"{fixed(made.mass, 'kg', 0)}, {fixed(press.height, 'run', 2)} over the rods"
    )
