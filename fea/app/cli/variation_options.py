"""What may be varied, as options of the command line: `compare` and `sweep` share them."""

from __future__ import annotations

from typing import Annotated

import typer

Thickness = Annotated[
    str | None,
    typer.Option(
        help='Plate thicknesses: "60 mm, 70 mm", "50..90 mm step 5 mm", "stock 50..90 mm".'
    ),
]
Plates = Annotated[str | None, typer.Option(help='Plates of each stack: "2, 3, 4".')]
Grade = Annotated[str | None, typer.Option(help='Grades: "S235JR, S355J2".')]
Interface = Annotated[str | None, typer.Option(help='Interfaces: "welded, loose".')]
RodDiameter = Annotated[str | None, typer.Option(help='Rods: "80 mm, 90 mm".')]
Vary = Annotated[
    list[str] | None,
    typer.Option(metavar='"NAME = VALUES"', help='"bed plate 2 = 60..90 mm step 5 mm".'),
]


def gathered(
    plates: str | None,
    thickness: str | None,
    grade: str | None,
    interface: str | None,
    rod_diameter: str | None,
    vary: list[str] | None,
) -> dict[str, str]:
    """Words by the name of what they vary, for `fea.jobs.options.variation`.

    Raises
    ------
    UsageError
        If `vary` cannot be read.
    """
    from platestack.fea.jobs.options.variation import varied

    given = {
        "plates": plates, "thickness": thickness, "grade": grade, "interface": interface,
        "rod-diameter": rod_diameter,
    }  # fmt: skip
    return {n: text for n, text in given.items() if text is not None} | varied(vary or [])
