"""Command `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, read, say
from platestack.fea.app.cli.variation_options import (
    Grade,
    Interface,
    Plates,
    RodDiameter,
    Thickness,
    Vary,
    gathered,
)
from platestack.geometry.errors import UsageError

if TYPE_CHECKING:
    from platestack.fea.jobs.options.variation import Option
    from platestack.fea.solid.model import Solution
    from platestack.geometry.schema import Case


@app.command()
def compare(
    case: CaseFile,
    thickness: Thickness = None,
    stack: Annotated[
        str, typer.Option(help="Stack of --thickness: both, crosshead or bed.")
    ] = "both",
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
        typer.Option(
            min=1, max=200, help="Number of options to solve in full; the others are predicted."
        ),
    ] = None,
    draw: Annotated[
        str,
        typer.Option(help='Draw the stress of these options side by side: "0, 4"; 0 is the base.'),
    ] = "",
    reduced: Annotated[
        bool,
        typer.Option(
            "--reduced",
            help="Use reduced models of welded stacks: bounds of the error; takes minutes.",
        ),
    ] = False,
    out: Out = None,
) -> None:
    """Compare options, every combination of them.

    Written as a table, CSV, JSON and pictures.
    """
    from platestack.fea.jobs.options.variation import numbers
    from platestack.geometry import case as case_file

    wishes = gathered(plates, thickness, grade, interface, rod_diameter, vary)
    if stack not in ("both", "crosshead", "bed"):
        raise UsageError(f'--stack: given "{stack}"; allowed: both, crosshead or bed')
    if stack != "both":
        if thickness is None:
            raise UsageError(f'--stack: given "{stack}"; allowed: only with --thickness')
        wishes[f"{stack} thickness"] = wishes.pop("thickness")
    folder = place(out, case, "-compared")
    chosen = _chosen(case, case_file.read(case), wishes, against or [])
    drawn = numbers(draw, len(chosen))
    from platestack.fea.app.console.options import print_comparison
    from platestack.fea.jobs.options import writing
    from platestack.fea.jobs.options.comparing import compared
    from platestack.fea.jobs.options.models import made, none
    from platestack.fea.support import result_files

    base = read(case)
    # Thicknesses alone are few, and each is solved.
    few = len(wishes) == 1 and thickness is not None and not reduced and not against
    most = min(verify or (len(chosen) if few else base.compare.verify), len(chosen))
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
        writing.write(found.rows, folder, base.press.name, pictured, currency)
    print_comparison(found)
    for name, reason in getattr(estimate, "without", {}).items():
        say(f"{name}: {reason.removeprefix(f'{name}: ')}")
    say(f"results in {folder}")


def _chosen(
    case: Path, base: Case, wishes: dict[str, str], against: list[Path]
) -> tuple[Option, ...]:
    """Every combination of what is varied, but the case itself, and the other cases."""
    from platestack.fea.jobs.options.variation import FLAGS, Other, combinations, distinct
    from platestack.geometry import case as case_file

    if not against:
        wishes = wishes or dict(base.compare.vary)
    if not wishes and not against:
        raise UsageError(
            f"nothing to compare; allowed: one or more of --{', --'.join(FLAGS)}, --vary, "
            "--against, or [compare.vary] in the case"
        )
    varied = distinct(base, combinations(wishes), str(case)) if wishes else ()
    return (*varied, *(Other(file=path.stem, case=case_file.read(path)) for path in against))
