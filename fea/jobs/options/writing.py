"""A comparison as files: its table, its pictures."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from platestack.fea import pictures
from platestack.fea.jobs.options.evaluation import Row, gains
from platestack.fea.results import grids, run_directory
from platestack.fea.results.summary import summarise
from platestack.fea.solid.model import Solution
from platestack.fea.support import result_files
from platestack.geometry import cells
from platestack.geometry.units import in_columns


def write(
    rows: Sequence[Row],
    out: Path,
    title: str,
    drawn: Mapping[str, Solution] | None = None,
    currency: str = "",
) -> None:
    """Write rows, the base first: ``comparison.csv`` (units in its head), ``.json`` and ``.png``.

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
                row.state == "solved in full",
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
                pictures.DrawnOption(
                    label,
                    grids.wrapped(grids.grid(solution)),
                    pictures.scene_info(summarise(solution, label).model_dump()),
                )
                for label, solution in drawn.items()
            ]
            pictures.beside_picture(shown, folder / "stress.png", title)


def figure_units(keys: Iterable[str], currency: str) -> dict[str, str]:
    """SI units of the figures of a row, by what their names end with."""
    ends = {
        "von_mises": "Pa", "peak_error": "Pa", "mid_span_deflection": "m", "deflection_error": "m",
        "mass": "kg", "height": "m", "heaviest_lift": "kg", "rod_force": "N", "cost": currency,
    }  # fmt: skip
    found = {key: next((u for e, u in ends.items() if key.endswith(e)), "") for key in keys}
    return {key: unit for key, unit in found.items() if unit}
