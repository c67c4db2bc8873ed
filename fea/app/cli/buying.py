"""Command `buy`."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import CaseFile, Out, app, place, say
from platestack.geometry.errors import UsageError


@app.command()
def buy(
    case: CaseFile,
    prices: Annotated[
        Path | None,
        typer.Option(metavar="FORMS", help="Prices and lead times: the form, filled in."),
    ] = None,
    assembly: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of assembly, such as 2027-03-01.")
    ] = None,
    steel: Annotated[
        float,
        typer.Option(metavar="FACTOR", help="Steel price over that of the case, such as 1.15."),
    ] = 1.0,
    out: Out = None,
) -> None:
    """List all to buy and make, with prices and dates."""
    day = _day(assembly)
    if not 0.2 <= steel <= 5.0:
        raise UsageError(f"--steel: given {steel:g}; allowed: 0.2 to 5")
    from platestack.fea.app.console import buying as sheet
    from platestack.fea.jobs import buying

    folder = place(out, case, "-buy")
    made = buying.write(case, folder, quotes=prices, assembly=day, steel_factor=steel)
    sheet.print_list(made, day)
    say(f"results in {folder}; form for asking prices: {' or '.join(buying.FORMS)}")


def _day(text: str | None) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text) if text else None
    except ValueError:
        raise UsageError(
            f'--assembly: given "{text:.40}"; allowed: a day such as 2027-03-01'
        ) from None
