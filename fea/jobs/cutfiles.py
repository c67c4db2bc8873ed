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
from platestack.geometry.units import bare, dimension, fixed, quantity, shown_in

AREA_TOLERANCE = 0.005
"""Largest relative difference of mass between a drawing read back and the part."""


def edges() -> str:
    """Dressing of every cut plate (common practice); it also lifts the fatigue category."""
    rim = quantity(2e-3, "m", 1)
    return f"slag and burr ground off both rims; rims of rod holes rounded {rim}"


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
        errors.append(
            f"a mass of {fixed(mass, 'kg', 2)}, but the part has {fixed(plate.mass, 'kg', 2)}"
        )
    if audit.cut_contours != work.pierces:
        errors.append(f"{audit.cut_contours} contours to cut, but {work.pierces} pierces")
    if errors:
        raise PlatestackError(f"{file.name}: the drawing does not pass: {'; '.join(errors)}")


def _write_list(made: CutFiles, path: Path) -> None:
    size, kilos, run, area = map(shown_in, ("m", "kg", "run", "m²"))
    mm, kg = size.name, kilos.name
    head = ["part", "stack", "plate", "grade", f"blank thickness [{mm}]",
            f"finished thickness [{mm}]", f"length [{mm}]", f"width [{mm}]",
            f"finished mass [{kg}]", f"stock mass [{kg}]", f"cut length [{run.name}]", "pierces",
            "bored holes", "drilled holes", f"machined area [{area.name.replace('²', '2')}]",
            "to machine", f"square within [{mm}]", f"passage left in cut holes [{mm}]",
            f"must pass [{mm}]", f"allowance needed [{mm}]", f"flat to neighbours [{mm}]",
            f"flat as delivered [{mm}]", "edges",
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
                *map(dimension, sizes), f"{plate.mass / kilos.scale:.2f}",
                f"{work.stock_mass / kilos.scale:.2f}", f"{work.cut_length / run.scale:.3f}",
                work.pierces,
                row.count("bored"), row.count("drilled"), f"{work.machined_area / area.scale:.4f}",
                "; ".join(work.milled), *_tolerances(work), edges(),
                "" if row.cost is None else f"{row.cost:.2f}",
            ])  # fmt: skip


def _tolerances(work: PlateWork) -> list[str]:
    """Cells of the cut list; empty where nothing is known or asked."""
    fit = work.fit
    passed = [h for h in work.holes if h.way == "cut" and h.passage is not None]
    worst = min(passed, key=lambda h: (h.passage or 0.0) - h.passes, default=None)
    sizes = (
        fit.squareness, worst.passage if worst else None, worst.passes if worst else None,
        fit.allowance, fit.flat, fit.delivered,
    )  # fmt: skip
    return ["" if size is None else bare(size, "m") for size in sizes]
