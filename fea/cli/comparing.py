"""Command `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress
from fea.console.options import print_comparison

if TYPE_CHECKING:
    from fea.model import Solution


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
    vary: Annotated[
        list[str] | None,
        typer.Option(metavar='"NAME = VALUES"', help='"bed plate 2 = 60..90 mm step 5 mm".'),
    ] = None,
    verify: Annotated[
        int | None,
        typer.Option(min=1, max=200, help="Options solved in full; others are predicted."),
    ] = None,
    draw: Annotated[
        str, typer.Option(help='Stress of these side by side, by number: "0, 4"; 0 is the base.')
    ] = "",
    reduced: Annotated[
        bool, typer.Option("--reduced", help="Reduced models of welded stacks: bounds, minutes.")
    ] = False,
    out: Out = None,
) -> None:
    """Compare options, every combination of them: table, CSV, JSON and pictures."""
    from fea import options
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
    wishes |= options.varied(vary or [])
    folder = place(out, case, "-compared")
    if list(wishes) == ["thickness"] and verify is None and not draw and not reduced:
        _thicknesses(case, wishes["thickness"], stack, folder)
        return
    if stack != "both":
        raise UsageError(f'--stack: given "{stack}"; allowed: only with --thickness alone')
    _candidates(case, wishes, verify, draw, reduced, folder)


def _thicknesses(case: Path, words: str, stack: str, folder: Path) -> None:
    """All plates of the chosen stacks alike: each option solved in full."""
    from fea import options, results
    from geometry import case as case_file

    lengths = options.thicknesses(words)
    with progress(10 * len(lengths)) as report:
        base = case_file.read(case)
        results.usable(folder)
        rows = options.compare(base, lengths, stack, report, str(case))  # type: ignore[arg-type]
        options.write(rows, folder, base.press.name)
    console.print_options(rows)
    console.out.print(f"results in {folder}", markup=False)


def _candidates(
    case: Path, wishes: dict[str, str], verify: int | None, draw: str, reduced: bool, folder: Path
) -> None:
    """Candidates predicted, the best of them solved in full."""
    from fea import options, results
    from fea.options.candidates import candidates
    from fea.options.comparing import compared
    from fea.options.models import made, none
    from geometry import case as case_file
    from geometry.errors import UsageError

    base = case_file.read(case)
    wishes = wishes or dict(base.compare.vary)
    if not wishes:
        raise UsageError(
            "nothing to compare; allowed: one or more of --plates, --thickness, --grade, "
            "--interface, --rod-diameter, --vary, or [compare.vary] in the case"
        )
    chosen = candidates(wishes)
    drawn = options.numbers(draw, len(chosen))
    most = min(verify or base.compare.verify, len(chosen))
    kept: dict[int, Solution] = {}

    def keep(number: int, solution: Solution) -> None:
        if number in drawn:
            kept[number] = solution

    results.usable(folder)
    with progress(10 * (most + len(drawn) + 1)) as report:
        models = folder.parent / f"{case.stem}-models"
        estimate = made(base, models, report) if reduced else none
        found = compared(base, chosen, report, str(case), most, estimate, drawn, keep)
        pictured = {f"{n}  {found.rows[n].label}": kept[n] for n in drawn if n in kept}
        options.write_rows(found.rows, folder, base.press.name, pictured)
    print_comparison(found)
    for name, reason in getattr(estimate, "without", {}).items():
        console.out.print(f"{name}: {reason.removeprefix(f'{name}: ')}", markup=False)
    console.out.print(f"results in {folder}", markup=False)
