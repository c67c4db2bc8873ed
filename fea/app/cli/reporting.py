"""Command `report`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import RunDirectory, app, progress, say


@app.command()
def report(
    result: RunDirectory,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Directory to write to; default RESULT."),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Leave out the sheets that need further solutions.")
    ] = False,
) -> None:
    """Write the dossier of a run: one HTML file and one PDF."""
    from platestack.fea.app import report as dossier

    with progress(7) as step:
        files = dossier.write(result, out, step, quick=quick)
    for file in files:
        say(f"dossier in {file}")
