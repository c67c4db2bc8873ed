"""Command `new`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from platestack.fea.app.cli.app import app, say
from platestack.geometry.errors import UsageError


def _asked(words: str, example: str) -> Any:
    """Return an option that prompts for its value where it is left out."""

    def ask(option: typer.CallbackParam, given: str) -> str:
        if given:
            return given
        try:
            return str(typer.prompt(f'{words}, such as "{example}"'))
        except (typer.Abort, OSError, RuntimeError):  # nobody there; no standard input at all
            typer.echo()
            raise UsageError(
                f'--{option.name} is missing; for example --{option.name} "{example}"'
            ) from None

    return typer.Option(
        callback=ask, metavar="TEXT", help=f'{words}, such as "{example}"; or asked for.'
    )


@app.command()
def new(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file to write.")],
    capacity: Annotated[str, _asked("Capacity", "250 tf")] = "",
    pressure: Annotated[str, _asked("Working pressure", "32 MPa")] = "",
    length: Annotated[str, _asked("Bed length along x", "1000 mm")] = "",
    width: Annotated[str, _asked("Bed width along y", "600 mm")] = "",
    daylight: Annotated[str, _asked("Daylight", "450 mm")] = "",
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write a commented starter case that runs as it is."""
    from platestack.fea.app import starter

    answers = {
        "capacity": capacity,
        "pressure": pressure,
        "length": length,
        "width": width,
        "daylight": daylight,
    }
    words = starter.write(case, answers, replace=force)
    say(words)
