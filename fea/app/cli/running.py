"""Commands `run`, `solve` and `mesh`."""

from __future__ import annotations

from pathlib import Path

import typer

from platestack.fea.app.cli.app import CaseFile, Out, Verbose, app, place, progress, say


def _run(case: Path, out: Path, drawn: bool) -> None:
    from platestack.fea.app.console import terminal
    from platestack.fea.app.console.summary import print_summary
    from platestack.fea.jobs import run as job
    from platestack.fea.support import logbook

    with (
        progress(job.STEPS) as report,
        logbook.heard("platestack.fea.solid.forecast", terminal.note),
    ):
        summary = job.run(case, out, report, drawn=drawn)
    print_summary(summary)
    say(f"results in {out}")
    raise typer.Exit(1 if summary.exceeded else 0)


@app.command()
def run(case: CaseFile, out: Out = None, verbose: Verbose = False) -> None:
    """Do the whole job: mesh, solve, check, draw."""
    _run(case, place(out, case), drawn=True)


@app.command()
def solve(case: CaseFile, out: Out = None, verbose: Verbose = False) -> None:
    """Mesh, solve and check, without pictures."""
    _run(case, place(out, case), drawn=False)


@app.command()
def mesh(case: CaseFile, out: Out = None, verbose: Verbose = False) -> None:
    """Mesh both stacks: .msh, .vtu and a picture."""
    from platestack.fea.jobs import run as job

    folder = place(out, case, "-mesh")
    with progress(3) as report:
        words = job.mesh(case, folder, report)
    for name, text in words.items():
        say(f"{name}: {text}")
    say(f"results in {folder}")
