"""Command `proof`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fea import console
from fea.cli.app import app


@app.command()
def proof(
    result: Annotated[Path, typer.Argument(metavar="RESULT", help="Results directory of a run.")],
    factor: Annotated[float, typer.Option(help="Proof pressure over working pressure.")] = 1.25,
    measured: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Readings taken: proof-readings.csv, filled in."),
    ] = None,
) -> None:
    """Plan a proof test, or compare its readings with what was computed."""
    from fea import proof as test
    from fea.console import proof as sheet

    if measured is None:
        sheet.print_plan(test.write(result, factor))
        console.out.print(f"sheet, and the file to fill in, in {result}", markup=False)
        return
    _, outcome = test.compare(result, measured, factor)
    sheet.print_comparison(outcome)
    console.out.print(f"record in {result / 'proof-record.json'}", markup=False)
    raise typer.Exit(1 if any(f.deviates for f in outcome.fits) else 0)
