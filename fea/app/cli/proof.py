"""Command `proof`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import RunDirectory, app, progress, say


@app.command()
def proof(
    result: RunDirectory,
    factor: Annotated[
        float | None, typer.Option(help="Proof force over capacity; default: limits.proof_factor.")
    ] = None,
    measured: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Readings taken: proof-readings.csv, filled in."),
    ] = None,
) -> None:
    """Plan a proof test, or compare its readings with the run."""
    from platestack.fea.app.console import proof as sheet
    from platestack.fea.jobs import proof as test

    if measured is None:
        with progress(2) as step:
            plan = test.write(result, factor, step)
        sheet.print_plan(plan)
        say(f"sheet, and the file to fill in, in {result}")
        return
    with progress(2) as step:
        _, comparison = test.compare(result, measured, factor, step)
    sheet.print_comparison(comparison)
    say(f"record in {result / 'proof-record.json'}")
    raise typer.Exit(1 if comparison.deviates else 0)
