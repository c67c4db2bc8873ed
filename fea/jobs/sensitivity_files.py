"""The results directory of a sensitivity study."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from platestack.fea import pictures
from platestack.fea.jobs.sensitivity import NUMBERS, Sensitivity, Spread
from platestack.fea.results import run_directory
from platestack.fea.support import result_files


def write(found: Sensitivity, spread: Spread | None, out: Path, title: str) -> None:
    """Write ``sensitivity.json`` (SI, parts), ``sensitivity.png`` and ``tolerance.png``."""
    with run_directory.directory(out, "sensitivity.json") as folder:
        data: dict[str, object] = {
            **result_files.head("sensitivity"),
            "numbers": dict(zip(NUMBERS, found.base, strict=True)),
            "effects": [asdict(effect) for effect in found.effects],
        }
        if spread is not None:
            low, middle, high = spread.quantiles().tolist()
            data["tolerance"] = {
                "drawn": spread.names,
                "draws": len(spread.draws),
                "quantile_05": dict(zip(NUMBERS, low, strict=True)),
                "median": dict(zip(NUMBERS, middle, strict=True)),
                "quantile_95": dict(zip(NUMBERS, high, strict=True)),
            }
        text = json.dumps(data, indent=2) + "\n"
        (folder / "sensitivity.json").write_text(text, encoding="utf-8")
        panels = [
            (
                number.capitalize(),
                [
                    pictures.TornadoBar(e.name, e.low, e.high, e.at_low[index], e.at_high[index])
                    for e in found.effects
                ],
            )
            for index, number in enumerate(NUMBERS)
        ]
        pictures.tornado_picture(panels, folder / "sensitivity.png", title)
        if spread is not None:
            changes = zip(NUMBERS, spread.draws.T - 1, strict=True)
            pictures.distribution_picture(
                [(number.capitalize(), change) for number, change in changes],
                folder / "tolerance.png",
                title,
            )
