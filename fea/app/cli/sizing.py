"""Command `size`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import app, progress, say
from platestack.geometry import units


@app.command()
def size(
    case: Annotated[
        Path | None,
        typer.Argument(metavar="[CASE]", help="Case file to write; without it, only shown."),
    ] = None,
    duty: Annotated[
        Path | None, typer.Option(help="TOML file with the same keys, and prices.")
    ] = None,
    name: Annotated[str | None, typer.Option(help="Name of the press.")] = None,
    capacity: Annotated[str | None, typer.Option(help='Pressing force, such as "500 tf".')] = None,
    pressure: Annotated[str | None, typer.Option(help="Largest oil pressure at capacity.")] = None,
    pump: Annotated[str | None, typer.Option(help="Pump pressure; replaces --pressure.")] = None,
    daylight: Annotated[str | None, typer.Option(help="Largest clear opening.")] = None,
    stroke: Annotated[str | None, typer.Option(help="Default: 55 % of the daylight.")] = None,
    length: Annotated[str | None, typer.Option(help="Bed along x; default: smallest.")] = None,
    width: Annotated[str | None, typer.Option(help="Bed along y; default: smallest.")] = None,
    rods: Annotated[int | None, typer.Option(help="Number of rods: 2, 4, 6 or 8.")] = None,
    layout: Annotated[str | None, typer.Option(help='Plates "flat" or "on edge".')] = None,
    interface: Annotated[str | None, typer.Option(help='Plates "loose" or "welded".')] = None,
    seat: Annotated[
        str | None,
        typer.Option(
            help='Rods tightened against "sleeve", "shoulder", "inner nuts"; default: lightest.'
        ),
    ] = None,
    grade: Annotated[str | None, typer.Option(help="Steel of the plates.")] = None,
    thickest: Annotated[str | None, typer.Option(help="Thickest plate available.")] = None,
    plates: Annotated[
        str | None, typer.Option(help='Only these thicknesses: "60 mm, 80 mm".')
    ] = None,
    workpiece: Annotated[str | None, typer.Option(help="Smallest workpiece, diameter.")] = None,
    deflection: Annotated[str | None, typer.Option(help='Deflection, such as "1 mm/m".')] = None,
    ceiling: Annotated[str | None, typer.Option(help="Height of the room.")] = None,
    hook: Annotated[str | None, typer.Option(help="Greatest height of the hook.")] = None,
    hoist: Annotated[str | None, typer.Option(help='What the hoist lifts, such as "1 t".')] = None,
    cycles: Annotated[int | None, typer.Option(help="Pressings at capacity in its life.")] = None,
    budget: Annotated[float | None, typer.Option(help="Largest cost of the press.")] = None,
    confirm: Annotated[bool, typer.Option(help="Solve in full, and adjust.")] = True,
    others: Annotated[bool, typer.Option("--alternatives/--no-alternatives")] = True,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Size a press for a duty: write a case within its limits.

    A limit that cannot be held is named, with by how much.
    """
    given = {key: value for key, value in locals().items()
             if key not in ("case", "duty", "confirm", "others", "force")}  # fmt: skip
    from platestack.fea.jobs.duty import read
    from platestack.fea.support import case_files
    from platestack.geometry import case as case_file

    if case is not None:
        case_files.usable(case, force)
    wish = read(duty, given)
    units.choose(wish.units)
    from platestack.fea.app.console.sizing import print_alternatives, print_proposal
    from platestack.fea.jobs import sizing

    with progress(20 if confirm else 2) as report:
        report("sizing by hand")
        made = sizing.propose(wish)
        if confirm:
            made = sizing.confirm(made, report)
        rows = list(sizing.alternatives(made)) if others else []
    case_file.parse(made.text, str(case or "the proposal"))
    if case is not None:
        case_files.save(case, made.text)
    print_proposal(made)
    if rows:
        print_alternatives(made, rows)
    written = f"case written to {case}" if case else "nothing written: name a case file for that"
    say(written)
    raise typer.Exit(1 if made.exceeded else 0)
