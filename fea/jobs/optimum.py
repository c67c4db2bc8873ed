"""The cheapest, lightest or stiffest press within all limits, over plates that are sold.

Designs are a number of equal plates and a stock thickness for crosshead and bed each. A stack's
deflection and stress do not depend on the other stack (rods only lift it), so each stack is
predicted once (`jobs.options.prediction`), and stacks beyond a limit are cut off before they are
paired. Pairs are taken in the order of what is sought; the press-wide checks are made only for
those that come before the best known. The best is solved in full; what that teaches corrects the
predictions, and the search is repeated until the best is one that was solved.

The result is as sure as the predictions of the options that were not solved: each option that
would be better was solved, or is predicted beyond a limit by more than `Predictor.spread`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal, get_args

from platestack.fea.checks import all_checks
from platestack.fea.checks.cost import priced
from platestack.fea.jobs.options.prediction import Predictor
from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import Report
from platestack.geometry import layout, rules, stock
from platestack.geometry.errors import PlatestackError, UsageError
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show

Goal = Literal["cost", "mass", "stiffness"]
MOST_SOLVES = 12
RELAXED = 1.1
"""A relaxed limit over the limit."""
IDLE = 0.4
"""Utilisation below which a limit is not what keeps the next smaller plate out."""
LEAST_MARGIN, MOST_MARGIN = 0.02, 0.15
"""Doubt of predictions: at least, and the most that is searched for."""


@dataclass(frozen=True)
class PlateOption:
    """Number and thickness (m) of the plates of crosshead and bed."""

    crosshead: tuple[int, float]
    bed: tuple[int, float]

    @property
    def label(self) -> str:
        """In words."""
        stacks = (("crosshead", self.crosshead), ("bed", self.bed))
        return ", ".join(f"{name} {n} x {show(t, LENGTH)}" for name, (n, t) in stacks)

    def apply(self, case: Case) -> Case:
        """The case with these plates, each like the first of its stack."""
        changed = {}
        for name, (count, thickness) in (("crosshead", self.crosshead), ("bed", self.bed)):
            section = getattr(case, name)
            like = section.plates[0]
            if case.stock and section.layout == "flat":
                face = case.cutting.face_allowance
                plates = stock.stacked(like, count, thickness, face, case.stock)
            else:
                update = {"count": count, "thickness": thickness, "blank": None}
                plates = (like.model_copy(update=update),)
            changed[name] = section.model_copy(update={"plates": plates})
        return case.model_copy(update=changed)


@dataclass(frozen=True)
class EvaluatedOption:
    """An option with what it comes to; `uses` is the largest utilisation of each kind of check."""

    option: PlateOption
    value: float
    """What is sought: cost in the case's currency, kg, or the larger deflection over its limit."""
    uses: Mapping[str, float]
    solved: bool

    @property
    def binding(self) -> str:
        """The kind of check that is nearest to its limit, or furthest beyond."""
        return max(self.uses, key=lambda kind: self.uses[kind])

    @property
    def worst(self) -> float:
        """Its utilisation."""
        return self.uses[self.binding]

    @property
    def holds(self) -> bool:
        """Whether it is within all limits."""
        return _within(self, {}, 0.0)


@dataclass(frozen=True)
class Optimum:
    """The result of a search.

    `gains` has, for each limit that would change the optimum if relaxed by a tenth, the option that
    is then predicted to be best. `spread` is the largest miss of a prediction that was tried.
    """

    goal: Goal
    best: EvaluatedOption | None
    base: EvaluatedOption
    gains: Mapping[str, EvaluatedOption]
    solved: tuple[EvaluatedOption, ...]
    spread: float
    options: int
    complete: bool
    """Whether the search ended by itself, not by the number of full solves."""


def optimise(
    case: Case,
    goal: Goal,
    report: Report,
    counts: Sequence[int] | None = None,
    thicknesses: Sequence[float] | None = None,
    solve: Callable[[Case, Report], Solution] = analyse,
) -> Optimum:
    """Search over numbers of plates and thicknesses (m), by default about those of the case.

    Raises
    ------
    UsageError
        If the case has no price table and cost is sought, or the stacks are on edge.
    PlatestackError
        If the case itself cannot be solved.
    """
    if goal not in get_args(Goal):
        raise UsageError(f'--for: given "{goal}"; allowed: {", ".join(get_args(Goal))}')
    if goal == "cost" and case.prices is None:
        raise UsageError("--for cost: the case has no prices; give [prices], or --for mass")
    for name in ("crosshead", "bed"):
        if getattr(case, name).layout != "flat":
            raise UsageError(f"{name}: on edge; allowed: flat stacks")
    search = _Search(case, goal, report, solve, counts, thicknesses)
    return search.run()


class _Search:
    """A search under way."""

    def __init__(
        self,
        case: Case,
        goal: Goal,
        report: Report,
        solve: Callable[[Case, Report], Solution],
        counts: Sequence[int] | None,
        thicknesses: Sequence[float] | None,
    ):
        self._case, self._goal, self._report, self._solve = case, goal, report, solve
        self._predictor = Predictor()
        self._known: dict[PlateOption, EvaluatedOption | None] = {}
        self._choices = {
            name: _choices(case, name, counts, thicknesses) for name in ("crosshead", "bed")
        }
        self._presses: dict[PlateOption, Press | None] = {}
        self._predicted: dict[tuple[str, tuple[int, float]], dict[str, float]] = {}

    def run(self) -> Optimum:
        """Predict, solve the best, and again until the best is solved."""
        self._report("the case as it is")
        base_solution = self._solve(self._case, self._report)
        self._predictor.learn(base_solution)
        base = self._found(_of(self._case), base_solution, solved=True)
        option = _of(self._case)
        if option.apply(self._case) == self._case and all(
            getattr(option, name) in self._choices[name] for name in self._choices
        ):
            self._known[option] = base
        complete = False
        for _ in range(MOST_SOLVES):
            wanted = self.best({}, self._margin())
            if wanted is None or wanted.solved:
                complete = True
                break
            self._solve_in_full(wanted.option)
        best = self._best_solved()
        gains = {}
        if best is not None:
            for kind, use in best.uses.items():
                if use < IDLE:
                    continue
                other = self.best({kind: RELAXED}, 0.0)
                if other is not None and other.value < best.value * (1 - 1e-6):
                    gains[kind] = other
        solved = tuple(found for found in self._known.values() if found is not None)
        return Optimum(
            self._goal, best, base, gains, solved, self._predictor.spread,
            len(self._choices["crosshead"]) * len(self._choices["bed"]), complete,
        )  # fmt: skip

    def best(self, relaxed: Mapping[str, float], margin: float) -> EvaluatedOption | None:
        """The best option that is within its limits, or predicted to be, up to a margin."""
        fit = {name: self._fitting(name, relaxed, margin) for name in self._choices}
        best: EvaluatedOption | None = None
        pairs = [PlateOption(a, b) for a, b in product(fit["crosshead"], fit["bed"])]
        for value, option in sorted(self._valued(pairs), key=lambda pair: pair[0]):
            if best is not None and value >= best.value:
                break
            if option in self._known:
                found, slack = self._known[option], 0.0
            else:
                solution = self._predictor.predict(option.apply(self._case))
                found = None if solution is None else self._found(option, solution, solved=False)
                slack = margin
            if found is None or not _within(found, relaxed, slack):
                continue
            if best is None or found.value < best.value:
                best = found
        return best

    def _fitting(
        self, name: str, relaxed: Mapping[str, float], margin: float
    ) -> list[tuple[int, float]]:
        """Choices of one stack that are predicted within the limits on stress and deflection."""
        kept = []
        for choice in self._choices[name]:
            uses = self._uses(name, choice)
            if uses and all(use <= relaxed.get(k, 1.0) * (1 + margin) for k, use in uses.items()):
                kept.append(choice)
        return kept

    def _uses(self, name: str, choice: tuple[int, float]) -> dict[str, float]:
        """Predicted utilisation of one stack; empty if it cannot be built or predicted."""
        if (name, choice) not in self._predicted:
            press = self._press(PlateOption(choice, choice))
            made = None if press is None else self._predictor.stack(press, getattr(press, name))
            self._predicted[name, choice] = {} if made is None else {
                DEFLECTION: made.deflection / made.stack.deflection_limit,
                STRESS: made.worst.utilisation,
            }  # fmt: skip
        return self._predicted[name, choice]

    def _valued(self, options: Sequence[PlateOption]) -> list[tuple[float, PlateOption]]:
        """What each option costs, weighs, or (a bound from below: 0 if unknown) deflects."""
        valued = []
        for option in options:
            press = self._press(option)
            if press is None:
                continue
            if self._goal == "stiffness":
                stacks = (("crosshead", option.crosshead), ("bed", option.bed))
                value = max(self._uses(name, choice)[DEFLECTION] for name, choice in stacks)
                known = self._known.get(option)
                valued.append((value if known is None else known.value, option))
            else:
                valued.append((self._price(press, option), option))
        return valued

    def _price(self, press: Press, option: PlateOption) -> float:
        if self._goal == "mass":
            return press.mass
        bill = priced(press, option.apply(self._case))
        assert bill is not None
        return bill.total

    def _press(self, option: PlateOption) -> Press | None:
        """The press of an option; None if it cannot be built."""
        if option not in self._presses:
            case = option.apply(self._case)
            self._presses[option] = None if rules.check(case) else layout.build(case)
        return self._presses[option]

    def _solve_in_full(self, option: PlateOption) -> None:
        self._report(option.label)
        try:
            solution = self._solve(option.apply(self._case), self._report)
        except PlatestackError:
            self._known[option] = None
            return
        self._predictor.learn(solution)
        self._predicted.clear()
        self._known[option] = self._found(option, solution, solved=True)

    def _best_solved(self) -> EvaluatedOption | None:
        good = [f for f in self._known.values() if f is not None and f.holds]
        return min(good, key=lambda found: found.value, default=None)

    def _found(self, option: PlateOption, solution: Solution, *, solved: bool) -> EvaluatedOption:
        uses: dict[str, float] = {}
        for check in all_checks(solution):
            if check.by_design and check.utilisation <= 1:
                continue  # no choice of plates changes it
            kind = check.quantity
            uses[kind] = max(uses.get(kind, 0.0), check.utilisation)
        if self._goal == "stiffness":
            value = uses[DEFLECTION]
        elif self._goal == "mass":
            value = solution.press.mass
        else:
            bill = priced(solution.press, solution.case)
            value = 0.0 if bill is None else bill.total
        return EvaluatedOption(option, value, uses, solved)

    def _margin(self) -> float:
        return min(max(self._predictor.spread, LEAST_MARGIN), MOST_MARGIN)


DEFLECTION, STRESS = "mid-span deflection", "peak von Mises stress"
"""Kinds of checks, as `fea.checks.plates` calls them."""
PREDICTED = (
    DEFLECTION,
    STRESS,
    "peak von Mises stress at overload",
    "fatigue of cut edges",
    "fatigue of the thread",
    "tension and bending in the thread",
    "thickness against brittle fracture",
    "growth of a crack at a cut edge",
    "growth of a crack at the root of its thread",
)
"""Kinds of checks that rest on what is predicted of the stacks."""


def _within(found: EvaluatedOption, relaxed: Mapping[str, float], margin: float) -> bool:
    """Within the limits; those on what was predicted up to a margin."""
    return all(
        use <= relaxed.get(kind, 1.0) * (1 + (margin if kind in PREDICTED else 0.0))
        for kind, use in found.uses.items()
    )


def _of(case: Case) -> PlateOption:
    """The option nearest to what the case has; equal plates are assumed."""
    stacks = [
        (
            sum(p.count for p in section.plates),
            section.plates[0].blank or section.plates[0].thickness,
        )
        for section in (case.crosshead, case.bed)
    ]
    return PlateOption(stacks[0], stacks[1])


def _choices(
    case: Case, name: str, counts: Sequence[int] | None, thicknesses: Sequence[float] | None
) -> tuple[tuple[int, float], ...]:
    """Numbers of plates up to one more than now; stock thicknesses from 0.5 to 1.6 times."""
    section = getattr(case, name)
    now = sum(plate.count for plate in section.plates)
    mean = sum(plate.count * plate.thickness for plate in section.plates) / now
    numbers = counts or range(max(1, now - 1), now + 2)
    had = stock.thicknesses(case.stock)
    sizes = thicknesses or [t for t in had if case.stock or 0.5 * mean <= t <= 1.6 * mean]
    return tuple(product(numbers, sizes))
