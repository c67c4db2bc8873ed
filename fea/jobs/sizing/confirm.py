"""A full solution confirms the proposal, or corrects what beam theory says and sizes again."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from platestack.fea.checks import all_checks
from platestack.fea.checks.frame import seats
from platestack.fea.checks.rods import rods
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand.record import Check, worst_first
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.by_hand import CorrectionFactors
from platestack.fea.jobs.sizing.proposal import Proposal, plate_words, propose
from platestack.fea.jobs.sizing.tough import tough_enough
from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import Report
from platestack.geometry.units import percent

ROUNDS = 4
MARGIN = 1.03
"""On what a solution says, so that the next plates hold too."""


def confirm(made: Proposal, report: Report = lambda step: None, rounds: int = ROUNDS) -> Proposal:
    """Solve the proposal in full; where it does not hold, correct beam theory by it and size again.

    Returns
    -------
    Proposal
        The last one solved, with the checks of its solution.

    Raises
    ------
    PlatestackError
        If a stack cannot be meshed or solved, or nothing stronger can be laid out.
    """
    words: list[str] = []
    while True:
        solution = analyse(made.plan.case, report)
        checks = _judged(solution, made)
        worst = checks[0]
        plates = f"crosshead {plate_words(made.plan.crosshead)}, bed {plate_words(made.plan.bed)}"
        words.append(
            f"{plates}: {worst.name} at {percent(worst.utilisation)} of {worst.limit_name}"
        )
        made = replace(made, checks=tuple(checks), confirmed=tuple(words))
        corrections = corrected(made, solution)
        if worst.utilisation <= 1 or len(words) == rounds:
            return made
        if corrections == made.corrections:
            tougher = tough_enough(made.plan, _peaks(solution))
            if tougher.grade == made.plan.grade:
                return made
            made = replace(made, plan=tougher)
            continue
        again = propose(made.plan.duty, corrections)
        if again.plan == made.plan:
            return made
        made = replace(again, other_rods=made.other_rods)


def _peaks(solution: Solution) -> dict[str, float]:
    """Largest stress of the plates of each stack (Pa)."""
    return {
        name: max(peak.von_mises for peak in solved.peaks if peak.plate in solved.stack.plates)
        for name, solved in solution.stacks.items()
    }


def _judged(solution: Solution, made: Proposal) -> list[Check]:
    money = by_hand.budget(solution.case, solution.press, made.plan.duty)
    own = by_hand.own_rod_checks(solution.press, made.plan.duty)
    return worst_first([*all_checks(solution), *own, *money])


def corrected(made: Proposal, solution: Solution) -> CorrectionFactors:
    """The factors with which beam theory would have given what the solution gives."""
    found, press, old = by_hand.beams(made.plan.press), solution.press, made.corrections
    stress, deflection, least = dict(old.stress), dict(old.deflection), dict(old.least)
    for stack in press.stacks:
        solved = solution.stacks[stack.name]
        bent, tired, limit = by_hand.stack_checks(
            stack, press, found[stack.name], old, solution.case.limits
        )
        most = by_hand.endured(solution.case.limits)
        uses: dict[str, float] = defaultdict(float)
        for peak in solved.peaks:
            role = peak.plate.role
            uses[role] = max(uses[role], peak.von_mises / min(peak.allowed, most))
        if uses["plate"] > 1:
            estimated = max(bent.utilisation, tired.utilisation)
            stress[stack.name] = MARGIN * uses["plate"] / estimated * old.of_stress(stack)
        for role in ("platen", "saddle"):
            # Bending falls with the square of the thickness, but where edges of plates press the
            # stress falls no faster than in proportion (800 tf, from 130 to 160 mm).
            if uses[role] > 1:
                now = next(p.thickness for p in stack.plates if p.role == role)
                least[f"{stack.name} {role}"] = MARGIN * uses[role] * now
        if solved.deflection > stack.deflection_limit:
            deflection[stack.name] = (
                MARGIN * solved.deflection / limit.value * old.of_deflection(stack)
            )
    statics = by_hand.as_beams(solution.case, press, found, old)
    use, thought = (_rods(one) for one in (solution, statics))
    factor = MARGIN * use / thought * old.rods if use > 1 else old.rods
    taken, by_beams = (seats(one)[0] for one in (solution, statics))
    relief = old.seats
    if taken.utilisation > 1:
        relief *= MARGIN * taken.value / by_beams.value
    return CorrectionFactors(stress, deflection, factor, relief, least)


def _rods(solution: Solution) -> float:
    """Worst use of the rods."""
    uses = (check.utilisation for kind in (rods, thread_fatigue) for check in kind(solution))
    return float(max(uses))
