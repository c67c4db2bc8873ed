"""An option and what is said of it: a row of a comparison."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from platestack.fea.checks import Check, all_checks
from platestack.fea.checks.cost import priced
from platestack.fea.jobs.options.variation import Option
from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import Report, StackSolution
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import percent

NOTABLE = 0.02
"""Smallest change, as a part of the base, that is worth a word."""


@dataclass(frozen=True)
class StackFigures:
    """Headline numbers of one stack, SI; errors are half widths, None where not known."""

    peak_von_mises: float
    peak_error: float | None
    stress_utilisation: float
    mid_span_deflection: float
    deflection_error: float | None
    deflection_utilisation: float
    mass: float
    composite: float | None
    """Share of composite action: 0 loose, 1 welded, between them (None: not known) if clamped."""


@dataclass(frozen=True)
class Row:
    """An option with what is said of it, or why there is nothing to say.

    `state` is "solved in full" after a full solve, "predicted" by `options.prediction`, "by beam"
    where beam theory and hand checks speak (`options.by_hand`), or "failed" with a `reason`.
    Errors of predictions are unknown, and None unless there is a bound.
    """

    label: str
    state: str
    reason: str = ""
    crosshead: StackFigures | None = None
    bed: StackFigures | None = None
    mass: float = 0.0
    height: float = 0.0
    heaviest_lift: float = 0.0
    rod_force: float = 0.0
    worst_check: str = ""
    worst_utilisation: float = 0.0
    cost: float | None = None
    """By the price table of the case, in its currency."""

    @property
    def deflection_utilisation(self) -> float:
        """Of the stack that uses its limit more."""
        return max(s.deflection_utilisation for s in (self.crosshead, self.bed) if s is not None)

    @property
    def stress_utilisation(self) -> float:
        """Of the stack that uses its limit more."""
        return max(s.stress_utilisation for s in (self.crosshead, self.bed) if s is not None)

    def flat(self) -> dict[str, object]:
        """All figures on one level, such as ``bed_mass``, for a table or a file."""
        flat: dict[str, object] = {}
        for key, value in asdict(self).items():
            if key in ("crosshead", "bed"):
                inner = value or dict.fromkeys(StackFigures.__dataclass_fields__)
                flat |= {f"{key}_{name}": number for name, number in inner.items()}
            else:
                flat[key] = value
        return flat


def evaluate(case: Case, option: Option, report: Report = lambda step: None) -> Row:
    """Solve one option of a case in full; a failure is a row with its reason."""
    try:
        return row_of(option.label, solve(case, option, report), "solved in full")
    except PlatestackError as error:
        return failed(option, error)


def solve(case: Case, option: Option, report: Report = lambda step: None) -> Solution:
    """Solve one option in full; errors as of `analyse` and `Option.apply`."""
    return analyse(option.apply(case), lambda step: report(f"{option.label}, {step}"))


def failed(option: Option, error: PlatestackError) -> Row:
    """The row of an option of which nothing is known."""
    return Row(option.label, "failed", "; ".join(str(error).splitlines()))


def row_of(label: str, solution: Solution, state: str) -> Row:
    """The row of a solution, computed or predicted."""
    press, worst = solution.press, all_checks(solution)[0]
    verified = state == "solved in full"
    figures = {
        name: StackFigures(
            solved.peak.von_mises,
            solved.peak.error if verified else None,
            solved.worst.utilisation,
            solved.deflection,
            solved.deflection_error if verified or solved.deflection_error > 0 else None,
            solved.deflection / solved.stack.deflection_limit,
            solved.stack.mass,
            _composite(solved),
        )
        for name, solved in solution.stacks.items()
    }
    force = float(max(solution.rod_force(rod) for rod in press.rods))
    return row(label, state, solution.case, press, figures, force, worst)


def row(
    label: str,
    state: str,
    case: Case,
    press: Press,
    figures: Mapping[str, StackFigures],
    rod_force: float,
    worst: Check,
) -> Row:
    """The row of a press whose stacks and checks are known, with its price."""
    made = priced(press, case)
    return Row(
        label,
        state,
        "",
        figures["crosshead"],
        figures["bed"],
        press.mass,
        press.height,
        max(plate.mass for stack in press.stacks for plate in stack.plates),
        rod_force,
        worst.name,
        worst.utilisation,
        None if made is None else made.total,
    )


def _composite(solved: StackSolution) -> float:
    if solved.composite is not None:
        return solved.composite
    return 0.0 if solved.stack.interface == "loose" else 1.0


def gains(base: Row, row: Row) -> str:
    """What an option gains and gives up against the base, in words."""
    if base.state == "failed" or row.state == "failed":
        return row.reason
    notes = []
    for words, less_is in (
        ("mass", "lighter heavier"),
        ("cost", "cheaper dearer"),
        ("height", "lower higher"),
        ("crosshead_mid_span_deflection", "stiffer-crosshead softer-crosshead"),
        ("bed_mid_span_deflection", "stiffer-bed softer-bed"),
        ("worst_utilisation", "less-used more-used"),
    ):
        old, new = base.flat()[words], row.flat()[words]
        if not isinstance(old, float) or not isinstance(new, float) or not old:
            continue
        change = new / old - 1
        if abs(change) >= NOTABLE:
            word = less_is.split()[1 if change > 0 else 0].replace("-", " ")
            notes.append(f"{percent(abs(change))} {word}")
    return ", ".join(notes) or "much the same"
