"""Command `report`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fea import console
from fea.cli.app import app


@app.command()
def report(
    result: Annotated[Path, typer.Argument(metavar="RESULT", help="Results directory of a run.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where to write; default RESULT.")
    ] = None,
) -> None:
    """Write the dossier of a run: one HTML file and one PDF."""
    from fea import report as dossier

    for file in dossier.write(result, out):
        console.out.print(f"dossier in {file}", markup=False)
