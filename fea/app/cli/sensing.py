"""Command `sensitivity`."""

from __future__ import annotations

from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, read, say


@app.command()
def sensitivity(
    case: CaseFile,
    draws: Annotated[
        int | None,
        typer.Option(min=16, max=100_000, help="Random draws within tolerances."),
    ] = None,
    out: Out = None,
) -> None:
    """Find what matters most: thickness, friction, gap, load."""
    from platestack.fea.app.console.sensitivity import print_sensitivity, print_spread
    from platestack.fea.jobs import sensitivity as study
    from platestack.fea.jobs import sensitivity_files
    from platestack.fea.support import result_files

    folder = place(out, case, "-sensitivity")
    base = read(case)
    result_files.usable(folder, "sensitivity.json")
    with progress(60) as report:
        found = study.sensitivity(base, report)
        spread = None if draws is None else study.tolerance(base, found, draws)
        sensitivity_files.write(found, spread, folder, base.press.name)
    print_sensitivity(found)
    if spread is not None:
        print_spread(spread, found)
    say(f"results in {folder}")
