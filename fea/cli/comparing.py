"""Command `compare`."""

from __future__ import annotations

from typing import Annotated

import typer

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress


@app.command()
def compare(
    case: CaseFile,
    thickness: Annotated[str, typer.Option(help='Plate thicknesses: "60 mm, 70 mm, 80 mm".')],
    stack: Annotated[str, typer.Option(help="both, crosshead or bed.")] = "both",
    out: Out = None,
) -> None:
    """Compare plate thicknesses: table, CSV and picture."""
    from fea import options, results
    from geometry import case as case_file
    from geometry.errors import UsageError

    if stack not in ("both", "crosshead", "bed"):
        raise UsageError(f'--stack: given "{stack}"; allowed: both, crosshead or bed')
    values = options.thicknesses(thickness)
    folder = place(out, case, "-compared")
    with progress(10 * len(values)) as report:
        base = case_file.read(case)
        results.usable(folder)
        rows = options.compare(base, values, stack, report, str(case))  # type: ignore[arg-type]
        options.write(rows, folder, base.press.name)
    console.print_options(rows)
    console.out.print(f"results in {folder}", markup=False)
