"""Summaries on coarse meshes: the numbers that the pages of the gallery state."""

from __future__ import annotations

from typing import Any

from platestack.fea.results.summary import summarise
from platestack.fea.solid.model import Solution
from platestack.geometry import layout
from platestack.geometry.schema import Case


def coarse_numbers(case: Case, solve_coarse: Any) -> dict[str, Any]:
    """Numbers of a case on coarse meshes, as ``summary.json`` would have them."""
    solution = Solution(case, layout.build(case), solve_coarse(case), 0.0)
    return summarise(solution, "case.toml").model_dump(mode="json")


def number_at(data: Any, key: str) -> float:
    """A number by its key path; of lists of named records the one of that name or identity."""
    here = data
    for step in key.split("/"):
        if isinstance(here, list):
            here = next(one for one in here if step in (one.get("id"), one.get("name")))
        else:
            here = here[step]
    return float(here["value"] if isinstance(here, dict) else here)
