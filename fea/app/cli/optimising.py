"""Command `optimise`."""

from __future__ import annotations

from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, app, progress, read
from platestack.geometry.errors import UsageError


@app.command()
def optimise(
    case: CaseFile,
    goal: Annotated[
        str, typer.Option("--for", help="What counts: cost, mass or stiffness.")
    ] = "mass",
    plates: Annotated[
        str | None,
        typer.Option(help='Plates of each stack: "2, 3, 4"; default: near those of the case.'),
    ] = None,
    thickness: Annotated[
        str | None,
        typer.Option(help='Thicknesses: "stock 50..90 mm"; default: near those of the case.'),
    ] = None,
) -> None:
    """Find the cheapest, lightest or stiffest press within limits.

    Uses stock thicknesses.
    """
    from platestack.fea.app.console.optimum import GOALS, print_optimum
    from platestack.fea.jobs.options.variation import values

    if goal not in GOALS:
        raise UsageError(f'--for: given "{goal}"; allowed: {", ".join(GOALS)}')
    counts = None if plates is None else values("plates", plates)
    sizes = None if thickness is None else values("thickness", thickness)
    from platestack.fea.jobs import optimum

    base = read(case)
    with progress(10 * optimum.MOST_SOLVES) as report:
        found = optimum.optimise(base, goal, report, counts, sizes)  # type: ignore[arg-type]
    print_optimum(found, base.prices.currency if base.prices else "")
    raise typer.Exit(0 if found.best is not None or found.base.holds else 1)
