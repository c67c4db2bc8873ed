"""Rules between values: what cannot be built although each value alone is sound."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from platestack.geometry import heights, layout, openings, pads, rod_rules, stacking, stock, tables
from platestack.geometry.errors import Problem
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case, StackSection
from platestack.geometry.symmetry import FORCED, symmetry_of
from platestack.geometry.units import FORCE, LENGTH, STIFFNESS, show


def check(case: Case) -> list[Problem]:
    """All mistakes between values of a case; empty if there are none."""
    parts = [*_grades(case), *_names(case), *_on_edge(case), *_flatness(case)]
    problems = [*_stroke(case), *_spectrum(case), *parts]
    if parts:  # without materials and threads no press can be put together
        return problems
    try:
        press = layout.build(case)
    except tables.TableError as error:  # plates and rods are sound, so it is the cylinder
        return [*problems, Problem("cylinder", "a grade or thickness", str(error))]
    problems += [
        *_cylinder(case, press),
        *pads.mistakes(press),
        *heights.mistakes(press),
        *stock.mistakes(case, press),
    ]
    rules: tuple[Callable[[Case, Press], Iterator[Problem]], ...] = (_ram, rod_rules.rods, _mirrors)
    for rule in rules:
        problems += rule(case, press)
    for stack in press.stacks:
        for plate in stack.plates:
            problems += openings.inside(stack, plate)
        problems += openings.bearing(stack, press)
        problems += openings.bolts(stack, press)
    return problems


def _length(value: float) -> str:
    return show(value, LENGTH)


def _stroke(case: Case) -> Iterator[Problem]:
    """The ram, all out, is still above the face opposite it."""
    press = case.press
    if press.stroke > press.daylight * (1 + 1e-9):
        yield Problem(
            "press.stroke",
            _length(press.stroke),
            f"allowed: up to press.daylight, {_length(press.daylight)}; the ram would run into the "
            "stack opposite it",
        )


def _spectrum(case: Case) -> Iterator[Problem]:
    """What a spectrum asks for lies within the capacity."""
    given = case.spectrum
    if given is not None and given.largest > case.press.capacity * (1 + 1e-9):
        key = "spectrum.blocks" if given.blocks else "spectrum.recorded"
        allowed = f"allowed: forces up to press.capacity, {show(case.press.capacity, FORCE)}"
        yield Problem(key, show(given.largest, FORCE), allowed)


def _grades(case: Case) -> Iterator[Problem]:
    """Every grade is known at the thickness it is used at."""
    wanted = [("rods.grade", case.rods.grade, case.rods.diameter, True)]
    if case.rods.washer_grade:
        thickness = stacking.washer_thickness(case)
        wanted.append(("rods.washer_grade", case.rods.washer_grade, thickness, False))
    for name in ("crosshead", "bed"):
        section = getattr(case, name)
        for index, entry in enumerate(section.plates):
            key = f"{name}.plates[{index + 1}].grade" if entry.grade else f"{name}.grade"
            wanted.append((key, entry.grade or section.grade, entry.thickness, False))
        for part in ("platen", "saddle"):
            own = getattr(section, part)
            if own is not None:
                key = f"{name}.{part}.grade" if own.grade else f"{name}.grade"
                wanted.append((key, own.grade or section.grade, own.thickness, False))
        if section.spacers.grade or any(section.gaps or ()):
            key = f"{name}.spacers.grade" if section.spacers.grade else f"{name}.grade"
            grade = section.spacers.grade or section.grade
            wanted += [(key, grade, gap, False) for gap in section.gaps or () if gap > 0]
    seen = set()
    for key, grade, thickness, rod in wanted:
        try:
            stacking.material(case, grade, thickness, rod=rod)
        except (tables.UnknownName, tables.OutOfTable) as error:
            if (key, str(error)) not in seen:
                seen.add((key, str(error)))
                yield Problem(key, f'"{grade}"', f"{error}; or give it under [materials]")


def _flatness(case: Case) -> Iterator[Problem]:
    """The standard has a flatness for each plate of a stack that asks for it."""
    for name in ("crosshead", "bed"):
        section: StackSection = getattr(case, name)
        wanted = section.interface.flatness
        thicknesses = {plate.thickness for plate in section.plates}
        if section.platen is not None:
            thicknesses.add(section.platen.thickness)
        for thickness in sorted(thicknesses) if wanted else ():
            try:
                tables.flatness_tolerance(thickness)
            except tables.OutOfTable as error:
                key = f"{name}.interface.flatness"
                yield Problem(key, f'"{wanted}"', f"{error}; or give bow instead")


def _names(case: Case) -> Iterator[Problem]:
    """Threads are in the tables."""
    wanted = [("rods.thread", case.rods.thread)]
    if case.ram.fixing is not None:
        wanted.append(("ram.fixing.thread", case.ram.fixing.thread))
    if case.cylinder.gland_bolts is not None:
        wanted.append(("cylinder.gland_bolts.thread", case.cylinder.gland_bolts.thread))
    for name in ("crosshead", "bed"):
        bolts = getattr(case, name).clamp_bolts
        wanted += [
            (f"{name}.clamp_bolts[{i + 1}].thread", bolt.thread) for i, bolt in enumerate(bolts)
        ]
    for key, thread in wanted:
        if thread is None:
            continue
        try:
            found = (tables.rod_thread if key == "rods.thread" else tables.thread)(thread)
        except tables.TableError as error:
            yield Problem(key, f'"{thread}"', str(error))
        else:
            if key == "rods.thread" and found.d > case.rods.diameter * (1 + 1e-9):
                yield Problem(
                    key,
                    f'"{thread}"',
                    "allowed: a thread no larger than rods.diameter, "
                    f"{_length(case.rods.diameter)}",
                )
    try:
        thread = case.rods.thread
        largest = tables.largest_thread
        tables.rod_nut(tables.rod_thread(thread) if thread else largest(case.rods.diameter))
    except tables.OutOfTable as error:
        yield Problem("rods.diameter", _length(case.rods.diameter), str(error))
    except tables.UnknownName:
        pass  # told above


def _on_edge(case: Case) -> Iterator[Problem]:
    """Gaps of an on-edge stack: their number, and room for rods and spacers."""
    positions = layout.rod_positions(case)
    hole = case.rods.hole or layout.rod_hole(case.rods.diameter)
    for name in ("crosshead", "bed"):
        section = getattr(case, name)
        if section.layout != "on edge":
            continue
        entries = [entry for entry in section.plates for _ in range(entry.count)]
        gaps = stacking.edge_gaps(section)
        if len(gaps) != len(entries) - 1:
            yield Problem(
                f"{name}.gaps",
                f"{len(gaps)} gaps",
                f"allowed: {len(entries) - 1}, one between each two of {len(entries)} "
                "plates (0 mm where they touch)",
            )
            continue
        for opening in (o for e in (section, *section.plates) for o in e.openings):
            if opening.shape == "groove":
                yield Problem(
                    f"{name}.openings",
                    "a groove in a plate on edge",
                    "allowed: round or rectangle; grooves go into the platen",
                )
        free = _free_strips(entries, gaps)
        for index, (_, y) in enumerate(positions):
            if not any(low <= y - hole / 2 and y + hole / 2 <= high for low, high in free):
                strips = " or ".join(f"{_length(a)} to {_length(b)}" for a, b in free) or "none"
                yield Problem(
                    f"rods, rod {index + 1}",
                    f"y = {_length(y)}, hole {_length(hole)}",
                    f"allowed: the whole hole inside a gap of the {name}: {strips}",
                )
        places = stacking.spacer_places(section, positions)
        half = section.spacers.length / 2
        for x in places if any(gaps) else ():
            if abs(x) + half > section.length / 2:
                yield Problem(f"{name}.spacers.at", _length(x), "allowed: inside the plates")
            for rx, _ in positions:
                if abs(x - rx) < half + hole / 2 + openings.LEAST_BRIDGE:
                    yield Problem(
                        f"{name}.spacers.at",
                        _length(x),
                        f"allowed: clear of the rods at x = {_length(rx)}",
                    )
                    break


def _free_strips(entries: list, gaps: tuple[float, ...]) -> list[tuple[float, float]]:
    """Where along y an on-edge stack is open (m)."""
    y = -(sum(e.thickness for e in entries) + sum(gaps)) / 2
    strips = []
    for entry, gap in zip(entries, gaps, strict=False):
        y += entry.thickness
        if gap > 0:
            strips.append((y, y + gap))
        y += gap
    return strips


def _mirrors(case: Case, press: Press) -> Iterator[Problem]:
    """A forced mirror is one that the stacks have."""
    for stack in press.stacks if case.mesh.symmetry != "auto" else ():
        lacking = FORCED[case.mesh.symmetry] - symmetry_of(stack, press.rods)
        if lacking:
            planes = " and ".join(f"{plane} = 0" for plane in sorted(lacking))
            yield Problem(
                "mesh.symmetry",
                f'"{case.mesh.symmetry}"',
                f'the {stack.name} is not symmetric at {planes}; allowed: "auto", or planes '
                "that it has",
            )


def _ram(case: Case, press: Press) -> Iterator[Problem]:
    """Ram area against capacity; annulus and flange sound."""
    needed = layout.least_bore(case)
    if press.ram_diameter < needed * (1 - 1e-3):
        area = math.pi / 4 * press.ram_diameter**2
        force = show(case.press.working_pressure * area, FORCE)
        yield Problem(
            "ram.diameter",
            _length(press.ram_diameter),
            f"it gives {force} at working pressure; allowed: at least "
            f"{_length(needed)} for the capacity, {show(press.capacity, FORCE)}",
        )
    stack = press.crosshead if case.ram.mounted == "crosshead" else press.bed
    patch = stack.patch
    if patch.inner >= patch.length:
        yield Problem(
            "ram.inner_diameter",
            _length(patch.inner),
            f"allowed: less than ram.outer_diameter, {_length(patch.length)}",
        )
    flange = case.ram.flange
    if flange is not None and patch.length > flange.outer_diameter * (1 + 1e-9):
        yield Problem(
            "ram.outer_diameter",
            _length(patch.length),
            f"allowed: up to ram.flange.outer_diameter, {_length(flange.outer_diameter)}",
        )


def _cylinder(case: Case, press: Press) -> Iterator[Problem]:
    """Wall and annulus of the cylinder are there."""
    made = press.cylinder
    assert made is not None
    if made.thread_diameter >= made.outer_diameter:
        yield Problem(
            "cylinder.outer_diameter",
            _length(made.outer_diameter),
            f"allowed: more than bore and gland thread, {_length(made.thread_diameter)}",
        )
    yield from _held_by_bolts(case, press)
    yield from _grooves(case, press)
    if made.thread_pitch >= made.bore / 8:
        yield Problem(
            "cylinder.thread_pitch",
            _length(made.thread_pitch),
            f"allowed: under an eighth of the bore, {_length(made.bore / 8)}",
        )
    if case.hydraulics.bulk_modulus <= 10 * press.working_pressure:
        yield Problem(
            "hydraulics.bulk_modulus",
            show(case.hydraulics.bulk_modulus, STIFFNESS),
            "allowed: over 10 times the working pressure; beyond, oil is not linear",
        )
    if made.ram >= made.bore:
        yield Problem(
            "cylinder.ram_diameter",
            _length(made.ram),
            f"allowed: less than the bore (ram.diameter), {_length(made.bore)}",
        )


LAND = 1e-3
"""Least steel beside a groove (m), common practice."""


def _grooves(case: Case, press: Press) -> Iterator[Problem]:
    """Grooves of seals lie within their part, apart from each other, and leave half of its wall."""
    made = press.cylinder
    assert made is not None
    spigot = made.gland - (0.0 if case.cylinder.gland_bolts else made.thread_length)
    ring = (made.bore - made.ram) / 4
    rooms = {"piston": (made.piston, made.piston_diameter / 4), "gland bore": (made.gland, ring),
             "gland outside": (spigot, ring)}  # fmt: skip
    for part, (length, deepest) in rooms.items():
        end = 0.0
        for groove in made.grooved(part):
            key = f"cylinder.grooves, {groove.holds}"
            if groove.at < end + LAND - 1e-9 or groove.at + groove.width > length - LAND + 1e-9:
                yield Problem(
                    f"{key}, at",
                    _length(groove.at),
                    f"allowed: within {_length(end + LAND)} and "
                    f"{_length(length - LAND - groove.width)}, clear of ends, thread, neighbours",
                )
            if groove.depth >= deepest:
                yield Problem(
                    f"{key}, depth",
                    _length(groove.depth),
                    f"allowed: less than half of the wall of the {part.split()[0]}, "
                    f"{_length(deepest)}",
                )
            end = groove.at + groove.width


def _held_by_bolts(case: Case, press: Press) -> Iterator[Problem]:
    """Bolts of flange and gland stand in them; springs can be made."""
    made, own = press.cylinder, case.cylinder
    assert made is not None
    flange, fixing, gland = case.ram.flange, case.ram.fixing, own.gland_bolts
    if flange is not None and flange.outer_diameter <= made.outer_diameter:
        yield Problem(
            "ram.flange.outer_diameter",
            _length(flange.outer_diameter),
            f"allowed: more than the cylinder's wall, {_length(made.outer_diameter)}",
        )
    if flange is not None and fixing is not None and fixing.circle is not None:
        low, high = made.outer_diameter, flange.outer_diameter
        if not low < fixing.circle < high:
            yield Problem(
                "ram.fixing.circle",
                _length(fixing.circle),
                f"allowed: between wall and rim of the flange, {_length(low)} to {_length(high)}",
            )
    circle = gland.circle if gland else None
    if circle is not None and not made.bore < circle < made.outer_diameter:
        yield Problem(
            "cylinder.gland_bolts.circle",
            _length(circle),
            f"allowed: in the wall, {_length(made.bore)} to {_length(made.outer_diameter)}",
        )
    spring = own.return_spring
    if spring is not None and spring.fitted_length - made.stroke <= 0:
        yield Problem(
            "cylinder.return_spring.fitted_length",
            _length(spring.fitted_length),
            f"allowed: more than the stroke, {_length(made.stroke)}",
        )
