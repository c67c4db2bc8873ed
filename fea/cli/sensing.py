"""Command `sensitivity`."""

from __future__ import annotations

from typing import Annotated

import typer

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress


@app.command()
def sensitivity(
    case: CaseFile,
    tolerance: Annotated[
        int | None,
        typer.Option(min=16, max=100_000, help="Draws over tolerances of thickness, friction."),
    ] = None,
    out: Out = None,
) -> None:
    """Say which input matters most: thickness, friction, gap, load."""
    from fea import owned, sensed
    from fea import sensitivity as study
    from fea.console.sensitivity import print_sensitivity, print_spread
    from geometry import case as case_file

    folder = place(out, case, "-sensitivity")
    base = case_file.read(case)
    owned.usable(folder, "sensitivity.json")
    with progress(60) as report:
        found = study.sensitivity(base, report)
        spread = None if tolerance is None else study.tolerance(base, found, tolerance)
        sensed.write(found, spread, folder, base.press.name)
    print_sensitivity(found)
    if spread is not None:
        print_spread(spread, found)
    console.out.print(f"results in {folder}", markup=False)
