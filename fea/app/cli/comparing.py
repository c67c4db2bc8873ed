"""Command `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from platestack.fea.app import console
from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, read
from platestack.fea.app.cli.variation_options import (
    Grade,
    Interface,
    Plates,
    RodDiameter,
    Thickness,
    Vary,
    gathered,
)

if TYPE_CHECKING:
    from platestack.fea.solid.model import Solution


@app.command()
def compare(
    case: CaseFile,
    thickness: Thickness = None,
    stack: Annotated[str, typer.Option(help="both, crosshead or bed.")] = "both",
    plates: Plates = None,
    grade: Grade = None,
    interface: Interface = None,
    rod_diameter: RodDiameter = None,
    vary: Vary = None,
    against: Annotated[
        list[Path] | None,
        typer.Option(metavar="CASE", help="Another case, such as the other layout, as an option."),
    ] = None,
    verify: Annotated[
        int | None,
        typer.Option(min=1, max=200, help="Options solved in full; others are predicted."),
    ] = None,
    draw: Annotated[
        str,
        typer.Option(help='Draw the stress of these options side by side: "0, 4"; 0 is the base.'),
    ] = "",
    reduced: Annotated[
        bool, typer.Option("--reduced", help="Reduced models of welded stacks: bounds, minutes.")
    ] = False,
    out: Out = None,
) -> None:
    """Compare options, every combination of them.

    Written as a table, CSV, JSON and pictures.
    """
    from platestack.geometry.errors import UsageError

    if stack not in ("both", "crosshead", "bed"):
        raise UsageError(f'--stack: given "{stack}"; allowed: both, crosshead or bed')
    wishes = gathered(plates, thickness, grade, interface, rod_diameter, vary)
    folder = place(out, case, "-compared")
    plain = verify is None and not draw and not reduced and not against
    if list(wishes) == ["thickness"] and plain:
        _thicknesses(case, wishes["thickness"], stack, folder)
        return
    if stack != "both":
        raise UsageError(f'--stack: given "{stack}"; allowed: only with --thickness alone')
    _candidates(case, wishes, against or [], verify, draw, reduced, folder)


def _thicknesses(case: Path, words: str, stack: str, folder: Path) -> None:
    """All plates of the chosen stacks alike: each option solved in full."""
    from platestack.fea.app.console.options import print_options
    from platestack.fea.jobs import options
    from platestack.fea.support import result_files

    lengths = options.thicknesses(words)
    with progress(10 * len(lengths)) as report:
        base = read(case)
        result_files.usable(folder, "comparison.json")
        rows = options.compare(base, lengths, stack, report, str(case))  # type: ignore[arg-type]
        options.write(rows, folder, base.press.name)
    print_options(rows)
    console.out.print(f"results in {folder}", markup=False)


def _candidates(
    case: Path,
    wishes: dict[str, str],
    against: list[Path],
    verify: int | None,
    draw: str,
    reduced: bool,
    folder: Path,
) -> None:
    """Candidates predicted, the best of them solved in full."""
    from platestack.fea.app.console.options import print_comparison
    from platestack.fea.jobs import options
    from platestack.fea.jobs.options.candidates import FLAGS, Candidate, Other, candidates
    from platestack.fea.jobs.options.comparing import compared
    from platestack.fea.jobs.options.models import made, none
    from platestack.fea.support import result_files
    from platestack.geometry import case as case_file
    from platestack.geometry.errors import UsageError

    base = read(case)
    if not against:
        wishes = wishes or dict(base.compare.vary)
    if not wishes and not against:
        raise UsageError(
            f"nothing to compare; allowed: one or more of --{', --'.join(FLAGS)}, --vary, "
            "--against, or [compare.vary] in the case"
        )
    chosen: tuple[Candidate, ...] = candidates(wishes) if wishes else ()
    chosen += tuple(Other(file=path.stem, case=case_file.read(path)) for path in against)
    drawn = options.numbers(draw, len(chosen))
    most = min(verify or base.compare.verify, len(chosen))
    kept: dict[int, Solution] = {}

    def keep(number: int, solution: Solution) -> None:
        if number in drawn:
            kept[number] = solution

    result_files.usable(folder, "comparison.json")
    with progress(10 * (most + len(drawn) + 1)) as report:
        models = folder.parent / f"{case.stem}-models"
        estimate = made(base, models, report) if reduced else none
        found = compared(base, chosen, report, str(case), most, estimate, drawn, keep)
        pictured = {f"{n}  {found.rows[n].label}": kept[n] for n in drawn if n in kept}
        currency = base.prices.currency if base.prices else ""
        options.write_rows(found.rows, folder, base.press.name, pictured, currency)
    print_comparison(found)
    for name, reason in getattr(estimate, "without", {}).items():
        console.out.print(f"{name}: {reason.removeprefix(f'{name}: ')}", markup=False)
    console.out.print(f"results in {folder}", markup=False)
