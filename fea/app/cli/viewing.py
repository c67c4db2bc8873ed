"""Commands `view` and `tables`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import RunDirectory, app, say


@app.command()
def view(
    result: RunDirectory,
    field: Annotated[str, typer.Option(help="Field to show, such as von_mises.")] = "von_mises",
    part: Annotated[
        str | None, typer.Option(help='What to show: crosshead, bed, "bed/plate 2".')
    ] = None,
    cut: Annotated[str | None, typer.Option(help='Cut plane, such as "y = 0 mm".')] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="PNG", help="Write a picture, open no window.")
    ] = None,
) -> None:
    """Show a field of a run, in a window or as a picture.

    With --out, or where there is no display, it writes a picture.
    """
    from platestack.fea.pictures import view as pictures

    written = pictures.view(result, field=field, part=part, cut=cut, out=out)
    if written is not None:
        say(f"picture in {written}")


@app.command()
def tables() -> None:
    """Print the tables of standards, each with its source."""
    from platestack.fea.app.console.tables import print_tables

    print_tables()
