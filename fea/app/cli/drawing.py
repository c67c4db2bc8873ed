"""Command `draw`."""

from __future__ import annotations

from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, say
from platestack.geometry.errors import UsageError


@app.command()
def draw(
    case: CaseFile,
    projection: Annotated[
        str | None,
        typer.Option(metavar="ANGLE", help="first or third; default: as the case says."),
    ] = None,
    out: Out = None,
) -> None:
    """Draw every part that is made, and the press: PDF and DXF."""
    if projection not in (None, "first", "third"):
        raise UsageError(f'--projection: given "{projection:.40}"; allowed: first or third')
    from platestack.fea.app.console import drawing
    from platestack.fea.jobs import drawings

    folder = place(out, case, "-draw")
    with progress(2) as report:
        made = drawings.write(case, folder, report, projection or "")
    drawing.print_sheets(made)
    say(f"results in {folder}")
