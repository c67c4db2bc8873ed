"""Options side by side: the same press with other plates."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from platestack.fea import pictures
from platestack.fea.checks import all_checks
from platestack.fea.jobs.options.candidates import lengths
from platestack.fea.jobs.options.evaluation import Row, gains
from platestack.fea.results import grids, run_directory
from platestack.fea.results.summary import summarise
from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import Report
from platestack.fea.support import result_files
from platestack.geometry import cells, rules
from platestack.geometry.errors import CaseError, UsageError
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, UnitError, in_columns, show

Which = Literal["both", "crosshead", "bed"]
MOST = 40
"""Options in one comparison; larger studies are a sweep."""


@dataclass(frozen=True)
class Option:
    """One candidate and its headline numbers, SI."""

    label: str
    thickness: float
    stack: str
    peak_von_mises: float
    stress_limit: float
    stress_utilisation: float
    mid_span_deflection: float
    deflection_limit: float
    deflection_utilisation: float
    stack_mass: float
    press_mass: float
    press_height: float
    worst_check: str
    worst_utilisation: float


def thicknesses(text: str) -> tuple[float, ...]:
    """Read ``"60 mm, 70 mm, 80 mm"`` as lengths in m; ranges and stock as in `candidates`.

    Raises
    ------
    UsageError
        If an entry is no length, or there are none, too many, or two alike.
    """
    entries = [entry.strip() for entry in text.split(",") if entry.strip()]
    try:
        values = tuple(value for entry in entries for value in lengths(entry))
    except (UnitError, ValueError) as error:
        raise UsageError(f'--thickness: given "{text}"; {error}') from None
    if not 1 <= len(values) <= MOST or len(set(values)) < len(values):
        raise UsageError(
            f'--thickness: given "{text}"; allowed: 1 to {MOST} different lengths, '
            'such as "60 mm, 70 mm, 80 mm"'
        )
    return values


def with_thickness(case: Case, thickness: float, which: Which = "both", file: str = "case") -> Case:
    """Return the case with every plate (platens excepted) of the chosen stacks this thick (m).

    Raises
    ------
    CaseError
        If such a press cannot be built.
    """
    changed = {}
    for name in ("crosshead", "bed"):
        if which in ("both", name):
            section = getattr(case, name)
            plates = tuple(
                plate.model_copy(update={"thickness": thickness}) for plate in section.plates
            )
            changed[name] = section.model_copy(update={"plates": plates})
    variant = case.model_copy(update=changed)
    problems = rules.check(variant)
    if problems:
        raise CaseError(f"{file} with plates {show(thickness, LENGTH)}", problems)
    return variant


def compare(
    case: Case, values: Iterable[float], which: Which, report: Report, file: str = "case"
) -> list[Option]:
    """Solve the case for each plate thickness (m); one row for each stack and thickness.

    Raises
    ------
    CaseError
        If one of the options cannot be built; none is solved then.
    """
    variants = [(value, with_thickness(case, value, which, file)) for value in values]
    rows = []
    for value, variant in variants:
        label = show(value, LENGTH)

        def tell(step: str, label: str = label) -> None:
            report(f"{label}, {step}")

        solution = analyse(variant, tell)
        worst = all_checks(solution)[0]
        for name, solved in solution.stacks.items():
            if which in ("both", name):
                limit = solved.stack.deflection_limit
                rows.append(
                    Option(
                        label,
                        value,
                        name,
                        solved.peak.von_mises,
                        solved.peak.allowed,
                        solved.worst.utilisation,
                        solved.deflection,
                        limit,
                        solved.deflection / limit,
                        solved.stack.mass,
                        solution.press.mass,
                        solution.press.height,
                        worst.name,
                        worst.utilisation,
                    )
                )
    return rows


def write(rows: list[Option], out: Path, title: str) -> None:
    """Write a comparison: ``comparison.csv`` (units in the header), ``.json`` and ``.png``."""
    with run_directory.directory(out, "comparison.json") as folder:
        pictures.preflight()
        data = [asdict(row) for row in rows]
        whole = result_files.head("comparison-thickness") | {"options": data}
        (folder / "comparison.json").write_text(
            json.dumps(whole, indent=2) + "\n", encoding="utf-8"
        )
        units = {
            "thickness": "m",
            "peak_von_mises": "Pa",
            "stress_limit": "Pa",
            "mid_span_deflection": "m",
            "deflection_limit": "m",
            "stack_mass": "kg",
            "press_mass": "kg",
            "press_height": "m",
        }
        with (folder / "comparison.csv").open("w", newline="", encoding="utf-8") as file:
            file.write(result_files.csv_head("comparison-thickness"))
            writer = csv.writer(file)
            writer.writerows(list(map(cells.plain, row)) for row in in_columns(units, data))
        series = [
            pictures.ComparisonRow(
                row.stack,
                row.thickness,
                row.peak_von_mises,
                row.mid_span_deflection,
                row.stack_mass,
                stress_limit=row.stress_limit,
                deflection_limit=row.deflection_limit,
            )
            for row in rows
        ]
        pictures.comparison_picture(series, folder / "comparison.png", title)


def figure_units(keys: Iterable[str], currency: str) -> dict[str, str]:
    """SI units of the figures of a row, by what their names end with."""
    ends = {
        "von_mises": "Pa", "peak_error": "Pa", "mid_span_deflection": "m", "deflection_error": "m",
        "mass": "kg", "height": "m", "heaviest_lift": "kg", "rod_force": "N", "cost": currency,
    }  # fmt: skip
    found = {key: next((u for e, u in ends.items() if key.endswith(e)), "") for key in keys}
    return {key: unit for key, unit in found.items() if unit}


def write_rows(
    rows: Sequence[Row],
    out: Path,
    title: str,
    drawn: Mapping[str, Solution] | None = None,
    currency: str = "",
) -> None:
    """Write rows, the base first, as `write` does.

    `drawn` are full solutions by their label; where there are some, ``stress.png`` shows them on
    one scale.
    """
    with run_directory.directory(out, "comparison.json") as folder:
        data = [row.flat() | {"against_base": gains(rows[0], row)} for row in rows]
        units = figure_units(data[0], currency)
        whole = result_files.head("comparison") | {"options": data}
        text = json.dumps(whole, indent=2) + "\n"
        (folder / "comparison.json").write_text(text, encoding="utf-8")
        with (folder / "comparison.csv").open("w", newline="", encoding="utf-8") as file:
            file.write(result_files.csv_head("comparison"))
            writer = csv.writer(file)
            writer.writerows(list(map(cells.plain, row)) for row in in_columns(units, data))
        points = [
            pictures.TradePoint(
                row.label,
                row.mass,
                row.deflection_utilisation,
                row.stress_utilisation,
                row.state == "verified",
                row.cost,
            )
            for row in rows
            if row.crosshead is not None and row.bed is not None
        ]
        if points:
            pictures.trade_picture(points, folder / "comparison.png", title, currency)
        if drawn:
            pictures.preflight()
            shown = [
                pictures.Shown(
                    label,
                    grids.wrapped(grids.grid(solution)),
                    pictures.scene_info(summarise(solution, label).model_dump()),
                )
                for label, solution in drawn.items()
            ]
            pictures.beside_picture(shown, folder / "stress.png", title)


def varied(texts: Sequence[str]) -> dict[str, str]:
    """Read ``"bed plate 2 = 60 mm, 70 mm"`` as words by the name of a change.

    Raises
    ------
    UsageError
        If one has no "=", or names come twice.
    """
    read: dict[str, str] = {}
    for text in texts:
        name, sign, words = (part.strip() for part in text.partition("="))
        if not sign or not name or name in read:
            raise UsageError(
                f'--vary: given "{text}"; allowed: "NAME = VALUES", each name once, such as '
                '"bed plate 2 = 60..90 mm step 5 mm"'
            )
        read[name] = words
    return read


def numbers(text: str, last: int) -> tuple[int, ...]:
    """Read ``"0, 4"`` as numbers of options up to `last`, as many as a picture holds.

    Raises
    ------
    UsageError
        If they are none.
    """
    entries = [entry.strip() for entry in text.split(",") if entry.strip()]
    good = all(e.isascii() and e.isdigit() and len(e) < 4 and int(e) <= last for e in entries)
    if not good or len(entries) > pictures.beside.MOST or len(set(entries)) < len(entries):
        raise UsageError(
            f'--draw: given "{text}"; allowed: up to {pictures.beside.MOST} different numbers '
            f"from 0 to {last}"
        )
    return tuple(int(entry) for entry in entries)
