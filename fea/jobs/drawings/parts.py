"""What is drawn of a press: each part with a drawing number, its solid and its notes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from platestack.fea.jobs.buying.line import OrderLine
from platestack.fea.jobs.drawings import notes
from platestack.geometry import bodies
from platestack.geometry.cutting.work import PlateWork, plan
from platestack.geometry.drafting.solids import FlatPart, Turned
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case

GENERAL = "A01"
"""Number of the general arrangement."""


@dataclass(frozen=True)
class PartDrawing:
    """A part that is drawn, and the lines of the bill of materials that it is."""

    lines: tuple[OrderLine, ...]
    solid: FlatPart | Turned
    notes: tuple[str, ...]

    @property
    def number(self) -> str:
        """Of the drawing."""
        return self.lines[0].drawing

    @property
    def title(self) -> str:
        """What it is: of several plates that are alike, all their names."""
        first, *rest = (line.name for line in self.lines)
        if not rest:
            return first
        stem = first.rpartition(" ")[0]
        ends = [name.rpartition(" ")[2] for name in (first, *rest)]
        alike = all(name.rpartition(" ")[0] == stem for name in rest)
        return f"{stem} {', '.join(ends)}" if alike else ", ".join((first, *rest))

    @property
    def quantity(self) -> float:
        """How many the press has."""
        return sum(line.quantity for line in self.lines)


def parts(press: Press, case: Case, lines: Iterable[OrderLine]) -> tuple[PartDrawing, ...]:
    """Every part of a press that has a drawing, in the order of the list."""
    groups: dict[str, list[OrderLine]] = {}
    for line in lines:
        if line.drawing and line.drawing != GENERAL:
            groups.setdefault(line.drawing, []).append(line)
    solids = _solids(press, case, groups)
    return tuple(
        PartDrawing(tuple(group), solid, (*words, notes.edges()))
        for number, group in groups.items() for solid, words in (solids[number],)
    )  # fmt: skip


Described = tuple[FlatPart | Turned, tuple[str, ...]]


def _solids(press: Press, case: Case, lines: dict[str, list[OrderLine]]) -> dict[str, Described]:
    """Solid and notes of each drawing number."""
    works = {work.number: work for work in plan(press, case.cutting)}
    found: dict[str, Described] = {}
    for number, group in lines.items():
        line = group[0]
        if number in works:
            found[number] = _plate(works[number], press, case, group)
        elif line.name.endswith("dowel"):
            d, length = line.finished.sizes
            found[number] = bodies.plain(d, length, 0.02 * d), notes.dowel(line)
        elif line.name == "foot plate":
            t, length, width = line.finished.sizes
            found[number] = bodies.block(length, width, t), notes.foot(line)
    return found | dict(_of_rods(press)) | dict(_of_cylinder(press, case))


def _plate(work: PlateWork, press: Press, case: Case, group: list[OrderLine]) -> Described:
    return bodies.plate(work), notes.plate(work, press, case, [line.number for line in group])


def _of_rods(press: Press) -> Iterator[tuple[str, Described]]:
    one = press.rods[0]
    yield "R01", (bodies.rod(press, one), notes.rod(press, one))
    yield "N01", (bodies.nut(one), notes.nut(one))
    yield "W01", (bodies.ring(one.bearing_outer, one.hole, one.washer_thickness), notes.washer())
    sleeve = bodies.ring(one.seat_outer, one.sleeve_inner, one.between)
    yield "S01", (sleeve, notes.sleeve(one))


def _of_cylinder(press: Press, case: Case) -> Iterator[tuple[str, Described]]:
    made = press.cylinder
    assert made is not None, "geometry.layout puts one into every press"
    screwed = case.cylinder.gland_bolts is None
    for number, solid in bodies.cylinder_parts(made, threaded=screwed).items():
        yield number, (solid, notes.cylinder(number, made, press, case))
    flange = case.ram.flange
    if flange is not None:
        ring = bodies.flange(made, flange.outer_diameter, flange.thickness, case.ram.fixing)
        yield "Z06", (ring, notes.cylinder("Z06", made, press, case))
