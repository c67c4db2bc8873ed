"""A comparison: all options predicted, the best of them solved in full."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from platestack.fea.jobs.options.evaluation import Row, failed, row_of, solve
from platestack.fea.jobs.options.prediction import Estimate, Predictor, kind
from platestack.fea.jobs.options.variation import Option
from platestack.fea.solid.model import Solution
from platestack.fea.solid.stack import Report
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Case

NEARLY = 1.1
"""Predicted utilisation up to which an option may still turn out to be within its limits."""


@dataclass(frozen=True)
class OptionComparison:
    """Rows, the base first, and how far predictions missed where a full solve followed.

    `spread` is the largest such miss, as a part; None if nothing was predicted.
    """

    rows: tuple[Row, ...]
    spread: float | None


def compared(
    case: Case,
    chosen: Sequence[Option],
    report: Report,
    file: str = "case",
    verify: int = 6,
    estimate: Estimate = lambda press, stack: None,
    wanted: Sequence[int] = (),
    keep: Callable[[int, Solution], None] = lambda number, solution: None,
) -> OptionComparison:
    """Predict every option, solve the base and up to `verify` others in full.

    Candidates that nothing solved tells about (another interface, say) are solved first, one of
    each kind, and count; those `wanted`, by row, do not. `keep` is given each full solution with
    the number of its row.

    Raises
    ------
    CaseError
        If an option cannot be built; none is solved then.
    """
    for option in chosen:
        option.apply(case, file)
    study = _Study(case, (Option(), *chosen), report, Predictor(estimate), keep)
    study.verify(0)
    for number in wanted:
        if number > 0:
            study.verify(number)
    budget = verify
    for number in study.one_per_kind():
        if budget > 0 and not study.predictable(number):
            study.verify(number)
            budget -= 1
    while budget > 0 and (best := study.next()) is not None:
        study.verify(best)
        budget -= 1
    return study.comparison()


def front(rows: Sequence[Row]) -> list[int]:
    """Rows within their limits that no other beats in cost (or mass), deflection and stress."""
    sound = [i for i, row in enumerate(rows) if row.state != "failed"]
    within = [i for i in sound if rows[i].worst_utilisation <= 1.0]
    return [i for i in within if not any(beats(rows[j], rows[i]) for j in within if j != i)]


def beats(one: Row, other: Row) -> bool:
    """Whether a row is nowhere worse than another, and somewhere better."""
    a, b = _merits(one), _merits(other)
    return all(x <= y for x, y in zip(a, b, strict=True)) and a != b


def _merits(row: Row) -> tuple[float, float, float]:
    price = row.mass if row.cost is None else row.cost
    return price, row.deflection_utilisation, row.stress_utilisation


class _Study:
    """Rows under way."""

    def __init__(
        self,
        case: Case,
        options: tuple[Option, ...],
        report: Report,
        predictor: Predictor,
        keep: Callable[[int, Solution], None],
    ):
        self._case, self._options, self._report = case, options, report
        self._predictor, self._keep = predictor, keep
        self._rows: dict[int, Row] = {}

    def one_per_kind(self) -> list[int]:
        """One option of each kind of stacks, the middle one by mass."""
        groups: dict[object, list[tuple[float, int]]] = {}
        for number, option in enumerate(self._options):
            press = layout.build(option.apply(self._case))
            name = tuple(kind(press, stack) for stack in press.stacks)
            groups.setdefault(name, []).append((press.mass, number))
        return [sorted(group)[len(group) // 2][1] for group in groups.values()]

    def predictable(self, number: int) -> bool:
        """Whether solved options tell about an option."""
        return self._predictor.knows(layout.build(self._options[number].apply(self._case)))

    def verify(self, number: int) -> None:
        """Solve an option in full."""
        option = self._options[number]
        try:
            solution = solve(self._case, option, self._report)
            self._rows[number] = row_of(option.label, solution, "solved in full")
        except PlatestackError as error:
            self._rows[number] = failed(option, error)
            return
        self._predictor.learn(solution)
        self._keep(number, solution)

    def next(self) -> int | None:
        """The option most worth a full solve: of the front, the furthest from what is solved."""
        rows = self.rows()
        open_ = [i for i, row in enumerate(rows) if row.state == "predicted"]
        hopeful = [
            replace(row, worst_utilisation=row.worst_utilisation / NEARLY)
            if row.state == "predicted"
            else row
            for row in rows
        ]
        best = [i for i in front(hopeful) if i in open_]
        if not best:  # none within limits: the least used
            return min(open_, key=lambda i: rows[i].worst_utilisation, default=None)
        solved = [_merits(r) for r in rows if r.state == "solved in full"]
        if not solved:
            return best[0]
        scale = [
            max(column) or 1.0 for column in zip(*(_merits(rows[i]) for i in best), strict=True)
        ]

        def far(i: int) -> float:
            return min(
                sum(abs(a - b) / s for a, b, s in zip(_merits(rows[i]), other, scale, strict=True))
                for other in solved
            )

        return max(best, key=far)

    def rows(self) -> list[Row]:
        """All rows as far as is known."""
        rows = []
        for number, option in enumerate(self._options):
            known = self._rows.get(number)
            if known is None:
                solution = self._predictor.predict(option.apply(self._case))
                known = (
                    Row(option.label, "failed", "not solved, and no solved option is similar")
                    if solution is None
                    else row_of(option.label, solution, "predicted")
                )
            rows.append(known)
        return rows

    def comparison(self) -> OptionComparison:
        """The result."""
        rows = tuple(self.rows())
        predicted = any(row.state == "predicted" for row in rows)
        return OptionComparison(rows, self._predictor.spread if predicted else None)
