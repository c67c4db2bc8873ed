"""Command `cut`: drawings, cut list, sheets and solids of a case in one directory."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from platestack.fea import pictures
from platestack.fea.hand.cost import plate_cost
from platestack.fea.results import run_directory
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import cells, layout
from platestack.geometry.cutting.drawing import draw, read_back
from platestack.geometry.cutting.nesting import StockSheet, nest, overlaps
from platestack.geometry.cutting.work import PlateWork, plan
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import plain

EDGES = "slag and burr ground off both rims; rims of rod holes rounded 2 mm"
"""Dressing of every cut plate (common practice); it also lifts the fatigue category of the edge."""
AREA_TOLERANCE = 0.005
"""Largest relative difference of mass between a drawing read back and the part."""


@dataclass(frozen=True)
class CutRow:
    """One line of the cut list: SI, money in the currency of the case."""

    work: PlateWork
    cost: float | None

    def count(self, way: str) -> int:
        """How many holes are made this way."""
        return sum(hole.way == way for hole in self.work.holes)


@dataclass(frozen=True)
class CutFiles:
    """What was written."""

    rows: tuple[CutRow, ...]
    sheets: tuple[StockSheet, ...]
    currency: str
    allowance: float
    """As the case says (m)."""


def write(path: Path, out: Path, report: Callable[[str], None]) -> CutFiles:
    """Write all cut files of a case; every drawing is read back and audited.

    Raises
    ------
    PlatestackError
        If the case is bad, a blank fits no sheet, or a drawing does not pass its audit.
    """
    case = case_file.read(path)
    with run_directory.directory(out, "cut_list.csv") as folder:
        press = layout.build(case)
        report("sheets: lay out")
        made = lay_out(press, case)
        for row in made.rows:
            work = row.work
            report(f"{work.number}: draw")
            file = folder / f"{work.number}.dxf"
            draw(work, case.cutting).saveas(file)
            audited(work, file)
        report("solids: write")
        from platestack.geometry.mesher import step

        for stack in press.stacks:
            step.write(stack, folder / f"{stack.name}.step")
        _write_list(made, folder / "cut_list.csv")
        pictures.nesting_picture(made.sheets, folder / "sheets.png", press.name)
    return made


def lay_out(press: Press, case: Case) -> CutFiles:
    """The cut list, and the blanks on their sheets.

    Raises
    ------
    PlatestackError
        If a blank fits no sheet.
    """
    works = plan(press, case.cutting)
    sheets = nest(works, case.cutting)
    for sheet in sheets:
        if faults := overlaps(sheet):
            raise PlatestackError(f"the layout of the sheets is wrong: {'; '.join(faults)}")
    prices = case.prices
    rows = tuple(
        CutRow(work, plate_cost(work, prices, case.stock) if prices else None) for work in works
    )
    return CutFiles(rows, sheets, prices.currency if prices else "", case.cutting.allowance)


def audited(work: PlateWork, file: Path) -> None:
    """Refuse a drawing with errors, or whose area is not that of the plate.

    Slots lie within the plate and are taken off its mass by their own volume.
    """
    audit = read_back(file)
    plate = work.plate
    slots = plate.mass - (plate.volume_of_outline * plate.material.density)
    mass = audit.area * plate.thickness * plate.material.density + slots
    errors = list(audit.errors)
    if abs(mass / plate.mass - 1) > AREA_TOLERANCE:
        errors.append(f"a mass of {mass:.2f} kg, but the part has {plate.mass:.2f} kg")
    if audit.cut_contours != work.pierces:
        errors.append(f"{audit.cut_contours} contours to cut, but {work.pierces} pierces")
    if errors:
        raise PlatestackError(f"{file.name}: the drawing does not pass: {'; '.join(errors)}")


def _write_list(made: CutFiles, path: Path) -> None:
    head = ["part", "stack", "plate", "grade", "blank thickness [mm]",
            "finished thickness [mm]", "length [mm]", "width [mm]", "finished mass [kg]",
            "stock mass [kg]", "cut length [m]", "pierces", "bored holes", "drilled holes",
            "machined area [m2]", "to machine", "square within [mm]",
            "passage left in cut holes [mm]", "must pass [mm]", "allowance needed [mm]",
            "flat to neighbours [mm]", "flat as delivered [mm]", "edges",
            f"cost [{made.currency}]" if made.currency else "cost"]  # fmt: skip
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(result_files.csv_head("cut-list"))
        table = csv.writer(file)
        table.writerow(head)
        for row in made.rows:
            work, plate = row.work, row.work.plate
            sizes = (plate.bought, plate.thickness, work.blank.length, work.blank.width)
            table.writerow([
                work.number, work.stack, plate.name, cells.plain(plate.material.grade),
                *(f"{1e3 * size:g}" for size in sizes), f"{plate.mass:.2f}",
                f"{work.stock_mass:.2f}", f"{work.cut_length:.3f}", work.pierces,
                row.count("bored"), row.count("drilled"), f"{work.machined_area:.4f}",
                "; ".join(work.milled), *_tolerances(work), EDGES,
                "" if row.cost is None else f"{row.cost:.2f}",
            ])  # fmt: skip


def _tolerances(work: PlateWork) -> list[str]:
    """Cells of the cut list in mm; empty where nothing is known or asked."""
    fit = work.fit
    passed = [h for h in work.holes if h.way == "cut" and h.passage is not None]
    worst = min(passed, key=lambda h: (h.passage or 0.0) - h.passes, default=None)
    sizes = (
        fit.squareness, worst.passage if worst else None, worst.passes if worst else None,
        fit.allowance, fit.flat, fit.delivered,
    )  # fmt: skip
    return ["" if size is None else plain(1e3 * size) for size in sizes]
