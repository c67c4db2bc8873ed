"""Plates laid out on stock sheets: rectangles by rectpack, checked as polygons by shapely."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from platestack.geometry.cutting.drawing import vertices
from platestack.geometry.cutting.work import PlateWork
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Cutting
from platestack.geometry.units import dimension, fixed

STEP = 1e-4
"""Grid of the layout (m)."""


@dataclass(frozen=True)
class Placed:
    """A blank on a sheet: lower left corner of its box (m), turned by a quarter or not."""

    work: PlateWork
    x: float
    y: float
    turned: bool

    @property
    def contour(self) -> list[tuple[float, float]]:
        """The blank's corners on the sheet (m); roundings as their chords' outer box."""
        x0, y0, _, y1 = self.work.blank.box
        flat = [(x - x0, y - y0) for x, y, _ in _square(self.work)]
        if self.turned:
            flat = [((y1 - y0) - y, x) for x, y in flat]
        return [(self.x + x, self.y + y) for x, y in flat]


@dataclass(frozen=True)
class StockSheet:
    """One stock sheet of a grade and thickness with what is cut from it (m)."""

    grade: str
    thickness: float
    length: float
    width: float
    placed: tuple[Placed, ...]

    @property
    def used_length(self) -> float:
        """Up to the far end of the last blank (m): the rest stays whole."""
        return max(x for one in self.placed for x, _ in one.contour)

    def utilisation(self, *, whole: bool = False) -> float:
        """Area of the blanks over that of the used length, or of the whole sheet."""
        area = sum(one.work.blank.area for one in self.placed)
        return area / (self.width * (self.length if whole else self.used_length))


def nest(works: tuple[PlateWork, ...], cutting: Cutting) -> tuple[StockSheet, ...]:
    """Lay blanks of equal grade and thickness out on as few sheets as the heuristic finds.

    Raises
    ------
    PlatestackError
        If a blank is larger than the sheet within its margins.
    """
    groups: dict[tuple[str, float], list[PlateWork]] = defaultdict(list)
    for work in works:
        plate = work.plate
        groups[plate.material.grade, round(plate.bought, 6)].append(work)
    return tuple(
        sheet
        for (grade, thickness), members in sorted(groups.items(), key=lambda g: g[0])
        for sheet in _group(grade, thickness, members, cutting)
    )


def _group(
    grade: str, thickness: float, works: list[PlateWork], cutting: Cutting
) -> list[StockSheet]:
    import rectpack

    room = [math.floor((s - 2 * cutting.margin + cutting.spacing) / STEP) for s in cutting.sheet]
    packer = rectpack.newPacker(rotation=True, pack_algo=rectpack.MaxRectsBl)
    for index, work in enumerate(works):
        sides = [
            math.ceil(round((s + cutting.spacing) / STEP, 3))
            for s in (work.blank.length, work.blank.width)
        ]
        if sorted(sides)[0] > min(room) or sorted(sides)[1] > max(room):
            raise PlatestackError(
                f"{work.number}: a blank of {dimension(work.blank.length)} x "
                f"{fixed(work.blank.width, 'm', 0)} is larger than cutting.sheet within its margins"
            )
        packer.add_rect(*sides[::-1], rid=index)
    # The sheet stands upright for the packer: lowest first then means least of the sheet's length.
    packer.add_bin(*room[::-1], count=len(works))
    packer.pack()
    sheets: dict[int, list[Placed]] = defaultdict(list)
    for number, y, x, _, w, index in packer.rect_list():
        work = works[index]
        turned = abs(w * STEP - work.blank.length - cutting.spacing) > 2 * STEP
        at = (cutting.margin + x * STEP, cutting.margin + y * STEP)
        sheets[number].append(Placed(work, *at, turned))
    return [
        StockSheet(grade, thickness, *cutting.sheet, tuple(one))
        for _, one in sorted(sheets.items())
    ]


def _square(work: PlateWork) -> list[tuple[float, float, float]]:
    """The blank as a polygon that holds it: true chamfers, rounded corners as square ones."""
    if work.blank.corners == "chamfered":
        return vertices(work.blank)
    x0, y0, x1, y1 = work.blank.box
    return [(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)]


def overlaps(sheet: StockSheet) -> list[str]:
    """Pairs of blanks that overlap, and blanks that leave the sheet; empty if all is well."""
    from shapely import Polygon, box

    shapes = [(one.work.number, Polygon(one.contour)) for one in sheet.placed]
    whole = box(0, 0, sheet.length, sheet.width)
    faults = [f"{name} leaves the sheet" for name, shape in shapes if not whole.contains(shape)]
    for i, (name, shape) in enumerate(shapes):
        faults += [
            f"{name} overlaps {other}"
            for other, second in shapes[i + 1 :]
            if shape.intersection(second).area > 1e-12
        ]
    return faults
