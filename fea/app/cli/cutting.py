"""Command `cut`."""

from __future__ import annotations

from platestack.fea.app.cli.app import CaseFile, Out, app, place, progress, say


@app.command()
def cut(case: CaseFile, out: Out = None) -> None:
    """Write the cut files: a DXF of each plate, list, sheets, STEP."""
    from platestack.fea.app.console import cutting
    from platestack.fea.jobs import cutfiles

    folder = place(out, case, "-cut")
    with progress(10) as report:
        made = cutfiles.write(case, folder, report)
    cutting.print_cut_list(made)
    say(f"results in {folder}")
