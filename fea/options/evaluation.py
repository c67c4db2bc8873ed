"""One candidate solved in full: a row of a comparison."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from fea.checks import all_checks
from fea.model import analyse
from fea.options.candidates import Candidate
from fea.stack import Report
from geometry.errors import PlatestackError
from geometry.schema import Case

NOTABLE = 0.02
"""Smallest change, as a part of the base, that is worth a word."""


@dataclass(frozen=True)
class StackFigures:
    """Headline numbers of one stack, SI; errors are half widths."""

    peak_von_mises: float
    peak_error: float
    stress_utilisation: float
    mid_span_deflection: float
    deflection_error: float
    deflection_utilisation: float
    mass: float


@dataclass(frozen=True)
class Row:
    """A candidate with what a full solve says of it, or why there is nothing to say.

    `state` is "verified" after a full solve, "failed" with a `reason` otherwise.
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


def evaluate(case: Case, candidate: Candidate, report: Report = lambda step: None) -> Row:
    """Solve one candidate of a case in full; a failure is a row with its reason."""
    label = candidate.label
    try:
        solution = analyse(candidate.apply(case), lambda step: report(f"{label}, {step}"))
        worst = all_checks(solution)[0]
    except PlatestackError as error:
        return Row(label, "failed", "; ".join(str(error).splitlines()))
    press = solution.press
    figures = {
        name: StackFigures(
            solved.peak.von_mises,
            solved.peak.error,
            solved.worst.utilisation,
            solved.deflection,
            solved.deflection_error,
            solved.deflection / solved.stack.deflection_limit,
            solved.stack.mass,
        )
        for name, solved in solution.stacks.items()
    }
    return Row(
        label,
        "verified",
        "",
        figures["crosshead"],
        figures["bed"],
        press.mass,
        press.height,
        max(plate.mass for stack in press.stacks for plate in stack.plates),
        max(solution.rod_force(rod) for rod in press.rods),
        worst.name,
        worst.utilisation,
    )


def gains(base: Row, row: Row) -> str:
    """What a candidate gains and gives up against the base, in words."""
    if base.state == "failed" or row.state == "failed":
        return row.reason
    notes = []
    for words, less_is in (
        ("mass", "lighter heavier"),
        ("height", "lower higher"),
        ("crosshead_mid_span_deflection", "stiffer-crosshead softer-crosshead"),
        ("bed_mid_span_deflection", "stiffer-bed softer-bed"),
        ("worst_utilisation", "less-used more-used"),
    ):
        old, new = base.flat()[words], row.flat()[words]
        assert isinstance(old, float)
        assert isinstance(new, float)
        change = new / old - 1
        if abs(change) >= NOTABLE:
            word = less_is.split()[change > 0].replace("-", " ")
            notes.append(f"{abs(change):.0%} {word}")
    return ", ".join(notes) or "much the same"
