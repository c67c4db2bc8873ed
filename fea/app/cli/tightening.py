"""Command `tighten`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, say
from platestack.geometry.errors import UsageError


@app.command()
def tighten(
    case: CaseFile,
    scatter: Annotated[str, typer.Option(help="Allowed departure from the preload: 5%.")] = "5%",
    passes: Annotated[
        int | None, typer.Option(min=1, max=10, help="Passes; default: as few as possible.")
    ] = None,
    jacks: Annotated[int, typer.Option(min=1, max=8, help="Rods tightened at once.")] = 1,
    measured: Annotated[
        Path | None,
        typer.Option(
            metavar="CSV",
            help="Stretches read so far: rod,stretch and a line such as rod 1,0.93 mm for each; "
            "the remaining passes are worked out.",
        ),
    ] = None,
    out: Out = None,
) -> None:
    """Tighten the rods evenly in few passes.

    The usual way, round after round, and a schedule with fewer: forces, stretches, nut angles.
    """
    number = scatter.strip().removesuffix("%")
    try:
        wanted = float(number) / 100 if scatter.strip().endswith("%") else 0.0
    except ValueError:
        wanted = 0.0
    if not 0.001 <= wanted <= 0.5:
        raise UsageError(f'--scatter: given "{scatter}"; allowed: 0.1% to 50%, such as 5%')
    from platestack.fea.app.console.tightening import print_sheet
    from platestack.fea.jobs.tightening import sheet as job

    folder = place(out, case, "-tightening")
    with progress(5) as report:
        sheet = job.tighten(
            case, folder, report, wanted=wanted, passes=passes, jacks=jacks, measured=measured
        )
    print_sheet(sheet)
    say(f"results in {folder}")
