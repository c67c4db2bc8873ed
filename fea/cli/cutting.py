"""Command `cut`."""

from __future__ import annotations

from fea import console
from fea.cli.app import CaseFile, Out, app, place, progress


@app.command()
def cut(case: CaseFile, out: Out = None) -> None:
    """Write the cut files: a DXF of each plate, list, sheets, STEP."""
    from fea import cutfiles
    from fea.console import cutting

    folder = place(out, case, "-cut")
    with progress(10) as report:
        made = cutfiles.write(case, folder, report)
    cutting.print_cut_list(made)
    console.out.print(f"results in {folder}", markup=False)
