"""Command `sweep`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from platestack.fea.app import console
from platestack.fea.app.cli.app import CaseFile, Out, Stopped, app, place, read, say
from platestack.fea.app.cli.variation_options import (
    Grade,
    Interface,
    Plates,
    RodDiameter,
    Thickness,
    Vary,
    gathered,
)
from platestack.geometry.errors import PlatestackError, UsageError

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.jobs.options.evaluation import Row


@app.command()
def sweep(
    case: CaseFile,
    thickness: Thickness = None,
    plates: Plates = None,
    grade: Grade = None,
    interface: Interface = None,
    rod_diameter: RodDiameter = None,
    vary: Vary = None,
    method: Annotated[
        str, typer.Option(help="full: solve each option; beam: beam theory and hand checks only.")
    ] = "full",
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="A running dask scheduler; without it, this machine."),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(min=1, max=1024, help="Processes on this machine.")
    ] = None,
    retry: Annotated[bool, typer.Option("--retry", help="Compute failed options again.")] = False,
    out: Out = None,
) -> None:
    """Evaluate thousands of options, here or on a cluster.

    It goes on where it was stopped.
    """
    from platestack.fea.jobs.options.variation import FLAGS, METHODS, MOST_SWEPT, combinations

    wishes = gathered(plates, thickness, grade, interface, rod_diameter, vary)
    if not wishes:
        raise UsageError(
            f"nothing to sweep; allowed: one or more of --{', --'.join(FLAGS)}, --vary"
        )
    if method not in METHODS:
        raise UsageError(f'--method: given "{method}"; allowed: {", ".join(METHODS)}')
    if scheduler is not None and workers is not None:
        raise UsageError("--workers: given with --scheduler; allowed: one of the two")
    chosen = combinations(wishes, MOST_SWEPT)
    from platestack.fea.app.console.sweep import print_sweep, progress
    from platestack.fea.jobs import sweep as sweeps
    from platestack.fea.jobs.sweep.cluster import reach
    from platestack.fea.jobs.sweep.store import opened

    base = read(case)
    folder = place(out, case, "-sweep")
    if scheduler is not None:
        reach(scheduler)
    with opened(folder) as store:
        if retry:
            store.forget_failed()
        known = 0
        try:
            with progress() as tell:

                def watched(done: int, total: int, row: Row | None) -> None:
                    nonlocal known
                    known = done
                    if Stopped.wished is not None:
                        raise Stopped(Stopped.wished)
                    tell(done, total, row)

                found = sweeps.sweep(
                    base, chosen, store, watched,
                    method=method, scheduler=scheduler, workers=workers,
                )  # fmt: skip
        except Stopped as stopped:
            console.print_error(
                f"interrupted; {known} of {len(chosen)} rows are kept in {store.path}, the same "
                "command goes on from there"
            )
            raise typer.Exit(128 + stopped.number) from None
        sweeps.export(found, folder / "sweep.csv")
    print_sweep(found)
    say(f"results in {folder}")
    if found.failed == len(found.rows):
        raise PlatestackError("no option could be evaluated; the reasons are in the rows")
