"""Command `assemble`."""

from __future__ import annotations

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, say


@app.command()
def assemble(case: CaseFile, out: Out = None) -> None:
    """Plan the assembly: lifts, hook, supports, jacks, tipping.

    The lifts come in order, and drawn.
    """
    from platestack.fea.app.console.assembling import print_plan
    from platestack.fea.jobs import assembling

    folder = place(out, case, "-assembly")
    with progress(2) as report:
        made = assembling.write(case, folder, report)
    print_plan(made)
    say(f"results in {folder}")
    raise typer.Exit(1 if made.exceeded else 0)
