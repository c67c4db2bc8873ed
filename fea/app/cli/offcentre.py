"""Command `offcentre`."""

from __future__ import annotations

from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, say
from platestack.geometry import units
from platestack.geometry.errors import UsageError


@app.command()
def offcentre(
    case: CaseFile,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="X,Y", help='Offset to compute: "30 mm, 10 mm".'),
    ] = None,
    tilt: Annotated[
        str, typer.Option(help="Allowed tilt of the crosshead against the bed.")
    ] = "0.5 mm/m",
    out: Out = None,
) -> None:
    """Press off centre: rods, tilt, ram; the largest offset."""
    try:
        limit = units.parse(tilt, units.SLOPE)
    except units.UnitError as error:
        raise UsageError(f'--tilt: given "{tilt}"; {error}') from None
    offset = None
    if at is not None:
        parts = at.split(",")
        if len(parts) != 2:
            raise UsageError(f'--at: given "{at}"; allowed: two lengths, such as "30 mm, 10 mm"')
        try:
            offset = units.parse(parts[0], units.OFFSET), units.parse(parts[1], units.OFFSET)
        except units.UnitError as error:
            raise UsageError(f'--at: given "{at}"; {error}') from None
    from platestack.fea.app.console.offcentre import print_off_centre
    from platestack.fea.jobs import offcentre as job

    folder = place(out, case, "-offcentre")
    with progress(6) as report:
        result = job.work_out(case, folder, report, offset=offset, tilt_limit=limit)
    print_off_centre(result)
    say(f"results in {folder}")
    raise typer.Exit(1 if result.exceeded else 0)
