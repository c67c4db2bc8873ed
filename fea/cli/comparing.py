"""Command `compare`."""

from __future__ import annotations

from typing import Annotated

import typer

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress
from fea.console.options import print_rows


@app.command()
def compare(
    case: CaseFile,
    thickness: Annotated[
        str | None,
        typer.Option(
            help='Plate thicknesses: "60 mm, 70 mm", "50..90 mm step 5 mm", "stock 50..90 mm".'
        ),
    ] = None,
    stack: Annotated[str, typer.Option(help="both, crosshead or bed.")] = "both",
    plates: Annotated[str | None, typer.Option(help='Plates of each stack: "2, 3, 4".')] = None,
    grade: Annotated[str | None, typer.Option(help='Grades: "S235JR, S355J2".')] = None,
    interface: Annotated[str | None, typer.Option(help='Interfaces: "welded, loose".')] = None,
    rod_diameter: Annotated[str | None, typer.Option(help='Rods: "80 mm, 90 mm".')] = None,
    out: Out = None,
) -> None:
    """Compare options, every combination of them: table, CSV, JSON and picture."""
    from fea import options, results
    from fea.options.candidates import candidates
    from geometry import case as case_file
    from geometry.errors import UsageError

    if stack not in ("both", "crosshead", "bed"):
        raise UsageError(f'--stack: given "{stack}"; allowed: both, crosshead or bed')
    given = {
        "plates": plates,
        "thickness": thickness,
        "grade": grade,
        "interface": interface,
        "rod-diameter": rod_diameter,
    }
    wishes = {name: text for name, text in given.items() if text is not None}
    if not wishes:
        raise UsageError(f"nothing to compare; allowed: one or more of --{', --'.join(given)}")
    folder = place(out, case, "-compared")
    if list(wishes) == ["thickness"]:
        lengths = options.thicknesses(wishes["thickness"])
        with progress(10 * len(lengths)) as report:
            base = case_file.read(case)
            results.usable(folder)
            rows = options.compare(base, lengths, stack, report, str(case))  # type: ignore[arg-type]
            options.write(rows, folder, base.press.name)
        console.print_options(rows)
    else:
        if stack != "both":
            raise UsageError(f'--stack: given "{stack}"; allowed: only with --thickness alone')
        chosen = candidates(wishes)
        with progress(10 * (len(chosen) + 1)) as report:
            base = case_file.read(case)
            results.usable(folder)
            found = options.rows_of(base, chosen, report, str(case))
            options.write_rows(found, folder, base.press.name)
        print_rows(found)
    console.out.print(f"results in {folder}", markup=False)
