"""Command `assemble`."""

from __future__ import annotations

import typer

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress


@app.command()
def assemble(case: CaseFile, out: Out = None) -> None:
    """Plan the assembly: lifts, hook, supports, jacks, tipping.

    The lifts come in order, and drawn.
    """
    from fea import assembling
    from fea.console.assembling import print_plan

    folder = place(out, case, "-assembly")
    with progress(2) as report:
        made = assembling.write(case, folder, report)
    print_plan(made)
    console.out.print(f"results in {folder}", markup=False)
    raise typer.Exit(1 if made.exceeded else 0)
