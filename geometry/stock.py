"""The plates that can be had: of the tables, or of the user's own ``[[stock]]``. Lengths in m."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from platestack.geometry import tables
from platestack.geometry.errors import Problem
from platestack.geometry.parts import Plate, Press
from platestack.geometry.schema import Case, PlateEntry, StockPlate
from platestack.geometry.shapes import Outline
from platestack.geometry.stacking import hole_of
from platestack.geometry.units import LENGTH, show

NEAR = 1e-6


def thicknesses(stock: Sequence[StockPlate]) -> tuple[float, ...]:
    """Thicknesses that can be had, rising: of the user's own stock, or those usually kept."""
    if not stock:
        return tables.stock_thicknesses()
    return tuple(sorted({plate.thickness for plate in stock}))


def of_thickness(stock: Sequence[StockPlate], thickness: float) -> list[StockPlate]:
    """Entries of the user's own stock with a thickness."""
    return [plate for plate in stock if abs(plate.thickness - thickness) < NEAR]


def available(stock: Sequence[StockPlate], thickness: float) -> float:
    """How many plates of a thickness there are; infinite where nobody counted."""
    found = of_thickness(stock, thickness)
    return sum(math.inf if plate.count is None else plate.count for plate in found)


def stacked(
    like: PlateEntry, count: int, bought: float, face: float, stock: Sequence[StockPlate] = ()
) -> tuple[PlateEntry, ...]:
    """Entries of a flat stack of equal plates as bought, `face` machined off its two outer faces.

    Holes that the plates have already come with them.
    """
    holes = [hole for plate in of_thickness(stock, bought)[:1] for hole in plate.openings]
    own = tuple(hole for hole in holes if hole not in like.openings)
    update = {"openings": (*like.openings, *own)}
    outer = like.model_copy(
        update=update | {"thickness": bought - face, "blank": bought, "count": min(count, 2)}
    )
    if count == 1:
        return (outer.model_copy(update={"thickness": bought - 2 * face}),)
    if count == 2:
        return (outer,)
    outer = outer.model_copy(update={"count": 1})
    inner = like.model_copy(
        update=update | {"thickness": bought, "blank": None, "count": count - 2}
    )
    return outer, inner, outer


def mistakes(case: Case, press: Press) -> Iterator[Problem]:
    """Plates that the user's own stock does not give."""
    if not case.stock:
        return
    needed: Counter[float] = Counter()
    for stack in press.stacks:
        for plate in stack.plates:
            if plate.role == "spacer":
                continue
            where = f"{stack.name}, {plate.name}"
            found = of_thickness(case.stock, plate.bought)
            if not found:
                sold = ", ".join(show(t, LENGTH) for t in thicknesses(case.stock))
                given = f"{show(plate.bought, LENGTH)} as bought"
                yield Problem(where, given, f"allowed: a thickness of the stock, {sold}")
                continue
            if plate.role != "saddle":
                needed[round(plate.bought, 6)] += 1
            yield from _size(where, plate, found)
    for thickness, count in needed.items():
        if count > available(case.stock, thickness):
            yield Problem(
                f"stock of {show(thickness, LENGTH)}",
                f"{available(case.stock, thickness):.0f} plates",
                f"the press needs {count}; allowed: fewer plates, or more in stock",
            )


def _size(where: str, plate: Plate, found: Sequence[StockPlate]) -> Iterator[Problem]:
    """A plate fits into one of the stock's, and has the holes that are in that already."""
    outline: Outline = plate.outline
    sides = sorted((outline.length, outline.width))

    def holds(one: StockPlate) -> bool:
        if one.length is None or one.width is None:
            return True
        return all(
            a <= b + NEAR for a, b in zip(sides, sorted((one.length, one.width)), strict=True)
        )

    fitting = [one for one in found if holds(one)]
    if not fitting:
        sizes = " or ".join(
            f"{show(o.length or 0, LENGTH)} x {show(o.width or 0, LENGTH)}" for o in found
        )
        given = f"{show(outline.length, LENGTH)} x {show(outline.width, LENGTH)}"
        yield Problem(where, given, f"allowed: within a plate of the stock, {sizes}")
        return
    missing = [
        hole for hole in map(hole_of, fitting[0].openings)
        if plate.role == "plate" and hole not in plate.holes
    ]  # fmt: skip
    if missing:
        yield Problem(
            where,
            f"{len(plate.holes)} holes",
            f"allowed: all {len(fitting[0].openings)} that the plates of the stock have already: "
            "list them under openings",
        )
