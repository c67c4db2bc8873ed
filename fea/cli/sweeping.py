"""Command `sweep`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fea import console
from fea.cli.app import CaseFile, Out, Stopped, app, place

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from fea.options.evaluation import Row


@app.command()
def sweep(
    case: CaseFile,
    thickness: Annotated[
        str | None,
        typer.Option(
            help='Plate thicknesses: "60 mm, 70 mm", "50..90 mm step 5 mm", "stock 50..90 mm".'
        ),
    ] = None,
    plates: Annotated[str | None, typer.Option(help='Plates of each stack: "2, 3, 4".')] = None,
    grade: Annotated[str | None, typer.Option(help='Grades: "S235JR, S355J2".')] = None,
    interface: Annotated[str | None, typer.Option(help='Interfaces: "welded, loose".')] = None,
    rod_diameter: Annotated[str | None, typer.Option(help='Rods: "80 mm, 90 mm".')] = None,
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
    """Evaluate thousands of options, here or on a cluster; goes on where it was stopped."""
    from fea import sweep as sweeps
    from fea.console.sweep import print_sweep, progress
    from fea.options.candidates import candidates
    from fea.sweep.cluster import reach
    from fea.sweep.store import opened
    from geometry import case as case_file
    from geometry.errors import PlatestackError, UsageError

    given = {
        "plates": plates, "thickness": thickness, "grade": grade, "interface": interface,
        "rod-diameter": rod_diameter,
    }  # fmt: skip
    wishes = {name: text for name, text in given.items() if text is not None}
    if not wishes:
        raise UsageError(f"nothing to sweep; allowed: one or more of --{', --'.join(given)}")
    if method not in sweeps.METHODS:
        raise UsageError(f'--method: given "{method}"; allowed: {", ".join(sweeps.METHODS)}')
    if scheduler is not None and workers is not None:
        raise UsageError("--workers: given with --scheduler; allowed: one of the two")
    chosen = candidates(wishes, sweeps.MOST)
    base = case_file.read(case)
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
    console.out.print(f"results in {folder}", markup=False)
    if found.failed == len(found.rows):
        raise PlatestackError("no option could be evaluated; the reasons are in the rows")
