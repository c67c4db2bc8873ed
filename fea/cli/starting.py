"""Command `new`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fea import console
from fea.cli.app import app


@app.command()
def new(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file to write.")],
    capacity: Annotated[str, typer.Option(prompt='Capacity, such as "250 tf"')],
    pressure: Annotated[str, typer.Option(prompt='Working pressure, such as "32 MPa"')],
    length: Annotated[str, typer.Option(prompt='Bed length along x, such as "1000 mm"')],
    width: Annotated[str, typer.Option(prompt='Bed width along y, such as "600 mm"')],
    daylight: Annotated[str, typer.Option(prompt='Daylight, such as "450 mm"')],
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write a commented starter case that runs as it is."""
    from fea import starter

    answers = {
        "capacity": capacity,
        "pressure": pressure,
        "length": length,
        "width": width,
        "daylight": daylight,
    }
    words = starter.write(case, answers, replace=force)
    console.out.print(words, markup=False)
