"""The cut list in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import fixed, percent, plain, quantity, stock

if TYPE_CHECKING:
    from platestack.fea.jobs.cutfiles import CutFiles

CAUTION = (
    "Contours are the plates of the case, no more: have hole places and allowances checked before "
    "cutting."
)


def print_cut_list(made: CutFiles) -> None:
    """Print the cut list and the use of the sheets."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for column in ("part", "plate", "blank", "finished"):
        table.add_column(column, no_wrap=True)
    for column in ("mass", "cut", "pierces", "bored", "drilled", "machined", "cost"):
        table.add_column(column, no_wrap=True, justify="right")
    for row in made.rows:
        work = row.work
        table.add_row(
            work.number,
            escape(f"{work.stack} {work.plate.name}"),
            stock(work.plate.bought),
            quantity(work.plate.thickness, "m"),
            quantity(work.plate.mass, "kg"),
            quantity(work.cut_length, "run", 3),
            str(work.pierces),
            str(row.count("bored")),
            str(row.count("drilled")),
            fixed(work.machined_area, "m²", 2),
            "" if row.cost is None else f"{plain(row.cost)} {escape(made.currency)}",
        )
    out.print(table)
    for sheet in made.sheets:
        out.print(
            f"sheet {stock(sheet.thickness)} {escape(sheet.grade)}: "
            f"{len(sheet.placed)} blanks, {percent(sheet.utilisation())} of "
            f"{quantity(sheet.used_length, 'm')} used"
        )
    for line in remarks(made):
        out.print(line, markup=False)
    out.print(f"[yellow]Caution:[/] {CAUTION}")


def remarks(made: CutFiles) -> list[str]:
    """What tolerances ask for: holes that must be bored, allowance, flatness of faces."""
    lines, works = [], [row.work for row in made.rows]
    tight = [
        work.number
        for work in works
        for hole in work.holes
        if hole.way == "bored" and hole.passage is not None and hole.passage < hole.passes
    ]
    if tight:
        lines.append(
            "bored, as a rod might not pass the holes as cut (EN ISO 9013 class 1, secondary "
            f"copy): {', '.join(dict.fromkeys(tight))}"
        )
    short = [w for w in works if w.fit.allowance and w.fit.allowance > made.allowance + 1e-9]
    if short:
        most = max(w.fit.allowance or 0.0 for w in short)
        lines.append(
            f"cutting.allowance {quantity(made.allowance, 'm')} may leave traces of the "
            f"cut; {quantity(most, 'm', 2)} does not: "
            f"{', '.join(w.number for w in short)}"
        )
    rough = [w for w in works if w.fit.flat and w.fit.delivered and w.fit.delivered > w.fit.flat]
    if rough:
        need = min(w.fit.flat or 0.0 for w in rough)
        have = max(w.fit.delivered or 0.0 for w in rough)
        lines.append(
            f"faces to neighbours must be flat within {quantity(need, 'm', 2)}; "
            f"plates may come with {quantity(have, 'm', 2)} (EN 10029 "
            "class N, not verified): check each with a straight-edge before it is stacked"
        )
    return lines
