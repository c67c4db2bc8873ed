"""Lines of all parts of a press: plates, rods with nuts and sleeves, cylinder, bolts, dowels."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace

from platestack.fea.hand import bolts as hand_bolts
from platestack.fea.hand.cost import Item
from platestack.fea.jobs.buying.line import Operation, OrderLine, Size
from platestack.fea.jobs.buying.stock_sizes import bar, tube, volume
from platestack.geometry import bodies, masses, tables
from platestack.geometry.cutting.work import PlateWork, alike, plan
from platestack.geometry.parts import ClampBolt, Press, Stack, TieRod
from platestack.geometry.schema import Case
from platestack.geometry.schema.fastening import Fastening

PLATES, BARS, NUTS = "plates and cutting", "bars and machining", "nuts and bolts"
CYLINDER, WORKSHOP = "cylinder", "own workshop"
Costs = Mapping[str, list[Item]]
"""Items of the price table by the name of a piece."""


def operations(names: tuple[str, ...], costs: Costs, share: float = 1.0) -> tuple[Operation, ...]:
    """What the price table has for some pieces, by operation; a share of it."""
    found: dict[str, float] = defaultdict(float)
    for name in names:
        for item in costs.get(name, ()):
            found[item.name] += share * item.amount
    return tuple(Operation(name, amount) for name, amount in found.items())


def plates(press: Press, case: Case, costs: Costs) -> Iterator[OrderLine]:
    """Every plate, under the number of its cut file; those that are alike share a drawing."""
    works = plan(press, case.cutting)
    drawn = {work.number: group[0].number for group in alike(works) for work in group}
    for work in works:
        yield _plate(work, drawn[work.number], costs)


def _plate(work: PlateWork, drawn: str, costs: Costs) -> OrderLine:
    plate, name = work.plate, f"{work.stack} {work.plate.name}"
    size = plate.bought, work.blank.length, work.blank.width
    outline = plate.outline
    return OrderLine(
        work.number, name, PLATES, "plates", 21, way="made",
        standard=_rolled(plate.material.grade),
        material=plate.material.grade,
        finished=Size("plate", (plate.thickness, outline.length, outline.width)),
        order=Size("plate", size), mass=plate.mass, order_mass=work.stock_mass,
        drawing=drawn, cut_file=f"{work.number}.dxf", pieces=(name,),
        operations=operations((name,), costs), guess=1.8 * work.stock_mass,
        note="; ".join(("cut", *({f"{h.way} holes" for h in work.holes if h.way != "cut"}),
                        *(f"machine {w}" for w in work.milled))),
    )  # fmt: skip


def _rolled(grade: str) -> str:
    """Standard of the plate's sizes: by the market that its grade is of."""
    try:
        american = tables.structural_grade(grade).system == "US"
    except tables.TableError:  # a material of the case
        return "tolerances to be agreed"
    return "ASTM A6" if american else "EN 10029 class A"


def rods(press: Press, costs: Costs) -> Iterator[OrderLine]:
    """Rods, nuts, washers and sleeves; what is alike is one line."""
    rod, count = press.rods[0], len(press.rods)
    found = masses.pieces(press)
    named = {g: tuple(p.name for p in found if p.group == g)
             for g in ("rods", "nuts", "washers", "sleeves")}  # fmt: skip
    thick = rod.seat_outer if rod.seat == "shoulder" else rod.diameter
    order = bar(thick, rod.length, turned=rod.seat == "shoulder")
    yield OrderLine(
        "R01", "tie rod", BARS, "rods", 28, count, "made", f"thread {rod.thread}, "
        f"{Size('bar', (rod.diameter, rod.thread_length)).words()} at each end",
        rod.material.grade, Size("bar", (rod.diameter, rod.length)), order, rod.mass,
        volume(order) * rod.material.density, "R01", named["rods"],
        operations(named["rods"], costs), 3.0 * rod.mass * count,
        "turned all over, thicker between the seats" if rod.seat == "shoulder" else
        "bar to size; thread both ends, face, centre holes",
    )  # fmt: skip
    words, listed = _nut_words(rod)
    yield OrderLine(
        "N01", "nut", NUTS, "rods", 28, rod.nuts * count, "bought", words, rod.material.grade,
        Size("plate", (rod.nut_height, rod.nut_across_flats, rod.nut_across_flats)),
        drawing="" if listed else "N01",
        mass=rod.nut_mass, order_mass=rod.nut_mass, pieces=named["nuts"],
        operations=operations(named["nuts"], costs), guess=6.0 * rod.nut_mass * rod.nuts * count,
    )  # fmt: skip
    if named["washers"]:
        material = rod.washer_material or rod.material
        order = tube(rod.bearing_outer, rod.hole, rod.washer_thickness)
        yield OrderLine(
            "W01", "washer", BARS, "rods", 21, 2 * count, "made", "flat and parallel",
            material.grade, Size("tube", (rod.bearing_outer, rod.hole, rod.washer_thickness)),
            order, rod.washer_mass, volume(order) * material.density, "W01", named["washers"],
            operations(named["washers"], costs), 5.0 * rod.washer_mass * 2 * count,
        )  # fmt: skip
    if named["sleeves"]:
        order = tube(rod.seat_outer, rod.sleeve_inner, rod.between)
        yield OrderLine(
            "S01", "sleeve", BARS, "rods", 28, count, "made",
            "all of one length, ends square and parallel", rod.material.grade,
            Size("tube", (rod.seat_outer, rod.sleeve_inner, rod.between)), order, rod.sleeve_mass,
            volume(order) * rod.material.density, "S01", named["sleeves"],
            operations(named["sleeves"], costs), 4.0 * rod.sleeve_mass * count,
        )  # fmt: skip


def _nut_words(rod: TieRod) -> tuple[str, bool]:
    """Designation of the nut, and whether its standard has its sizes, so that it needs no drawing.

    Of a trapezoidal thread no standard has nuts.
    """
    thread = tables.rod_thread(rod.thread)
    usual, listed = tables.rod_nut(thread), tables.nut(thread.d)
    standard = listed.source.split(",")[0]
    same = abs(usual.across_flats - rod.nut_across_flats) + abs(listed.height - rod.nut_height)
    if same < 1e-6 and standard.split()[0] in ("ISO", "DIN", "ASME") and rod.thread[:2] != "Tr":
        return f"hexagon nut {rod.thread}, {standard}", True
    more = "higher than" if rod.nut_height > listed.height else "not of the sizes of"
    return f"hexagon nut {rod.thread}, to the sizes given: {more} {standard}", False


def cylinder(press: Press, case: Case, costs: Costs) -> Iterator[OrderLine]:
    """The cylinder's parts; what the price table has for the whole is shared by mass."""
    made = press.cylinder
    assert made is not None, "geometry.layout puts one into every press"
    screwed = case.cylinder.gland_bolts is None
    outer = made.thread_diameter if screwed else made.bore
    turned = bodies.cylinder_parts(made, threaded=screwed)
    parts = (
        ("Z01", "cylinder tube", "honed H8, ports to be agreed", made.material,
         ("tube", (made.outer_diameter, made.bore, turned["Z01"].length)), True, 42),
        ("Z02", "cylinder bottom", "joined to the tube as its maker's procedure says",
         made.bottom_material, ("bar", (made.outer_diameter, made.bottom)), False, 28),
        ("Z03", "gland", f"thread {_pitch(made.thread_diameter, made.thread_pitch)}" if screwed
         else "bolted", made.material, ("tube", (outer, made.ram, made.gland)), False, 28),
        ("Z04", "piston", "clearance "
         + Size("plate", (made.clearance,)).words() + " on the radius", made.ram_material,
         ("bar", (made.piston_diameter, made.piston)), False, 28),
        ("Z05", "ram", "chromed and ground f7", made.ram_material,
         ("bar", (made.ram, turned["Z05"].length)), False, 42),
    )  # fmt: skip
    for number, name, standard, steel, (form, sizes), honed, lead in parts:
        size = Size(form, sizes)  # type: ignore[arg-type]
        order = tube(*sizes, honed=honed) if form == "tube" else bar(*sizes, turned=name != "ram")
        mass = turned[number].volume * steel.density
        yield OrderLine(
            number, name, CYLINDER, "cylinder", lead, 1, "made", standard, steel.grade, size, order,
            mass, volume(order) * steel.density, number, ("cylinder",),
            operations(("cylinder",), costs, mass / made.mass), 7.0 * mass,
        )  # fmt: skip
    if case.ram.flange is not None:
        ring = case.ram.flange
        size = Size("tube", (ring.outer_diameter, made.outer_diameter, ring.thickness))
        solid = bodies.flange(made, ring.outer_diameter, ring.thickness, case.ram.fixing)
        mass = solid.volume * made.bottom_material.density
        order = tube(*size.sizes)
        yield OrderLine(
            "Z06", "cylinder flange", CYLINDER, "cylinder", 28, 1, "made", "",
            made.bottom_material.grade, size, order, mass,
            volume(order) * made.bottom_material.density, "Z06", guess=5.0 * mass,
        )  # fmt: skip
    yield OrderLine(
        "Z10", "seals, guide and back-up rings, wiper", "seals and hydraulics", "cylinder", 21,
        standard="for bore and ram, by the seal maker; groove sizes are his",
        finished=Size("tube", (made.bore, made.ram, made.gland)), guess=150.0 + 600.0 * made.bore,
    )  # fmt: skip
    spring = case.cylinder.return_spring
    if spring is not None:
        wire = math.pi * spring.coil * (spring.coils + 2) * math.pi / 4 * spring.wire**2
        yield OrderLine(
            "Z11", "return spring", NUTS, "cylinder", 28, spring.count,
            standard=f"compression spring, wire and mean coil "
            f"{Size('bar', (spring.wire, spring.coil)).words()}, {spring.coils:g} working coils, "
            f"free length {Size('plate', (spring.free_length,)).words()}",
            material="spring steel wire EN 10270-1 SH", mass=wire * masses.STEEL,
            order_mass=wire * masses.STEEL, guess=10.0 * wire * masses.STEEL * spring.count,
        )  # fmt: skip


def _pitch(diameter: float, pitch: float) -> str:
    return Size("plate", (diameter, pitch)).words()


def bolts(press: Press, case: Case) -> Iterator[OrderLine]:
    """Bolts that clamp the plates, fix the cylinder and hold its gland; dowels and seams."""
    number = 0
    for stack in press.stacks:
        groups: dict[object, list[ClampBolt]] = defaultdict(list)
        for bolt in stack.bolts:
            groups[replace(bolt, name="", at=(0.0, 0.0))].append(bolt)
        for group in groups.values():
            number += 1
            one = group[0]
            yield _bolt(f"K{number:02d}", f"{stack.name} clamp bolt with nut and washers",
                        one.thread, one.property_class, one.high - one.low, len(group),
                        tuple(bolt.name for bolt in group), nut=True)  # fmt: skip
    made, fixing, gland = press.cylinder, case.ram.fixing, case.cylinder.gland_bolts
    if fixing is not None and made is not None:
        grip = fixing.grip or (case.ram.flange.thickness if case.ram.flange else made.bottom)
        yield _given("K20", "cylinder fixing bolt", fixing, grip, fixing.count)
    if gland is not None and made is not None:
        yield _given("K21", "gland bolt", gland, made.gland, gland.count)
    for index, stack in enumerate(press.stacks):
        yield from _joined(f"D{index + 1:02d}", stack)


def _given(number: str, name: str, given: Fastening, grip: float, count: int) -> OrderLine:
    return _bolt(number, name, given.thread, given.property_class, grip, count, (), nut=False)


def _bolt(
    number: str, name: str, thread: str, strength: str, grip: float, count: int,
    pieces: tuple[str, ...], *, nut: bool,
) -> OrderLine:  # fmt: skip
    """A bolt: as long as grip, nut and thread beyond it, or screwed in by 1.5 diameters."""
    own = tables.thread(thread)
    hexagon = tables.nut(own.d)
    under = hexagon.height + 2 * own.pitch + 2 * 0.15 * own.d if nut else 1.5 * own.d
    mass = hand_bolts.mass(own, grip + (0.0 if nut else 1.5 * own.d), hexagon.across_flats,
                           hexagon.height if nut else 0.0, masses.STEEL)  # fmt: skip
    length = math.ceil((grip + under) / 5e-3 - 1e-6) * 5e-3
    return OrderLine(
        number, name, NUTS, "assembly", 10, count,
        standard=f"hexagon bolt ISO 4014 {own.designation}, class {strength}"
        + (", nut ISO 4032, two washers ISO 7089" if nut else ", washer ISO 7089"),
        material=f"class {strength}", finished=Size("bar", (own.d, length)), mass=mass,
        order_mass=mass, pieces=pieces, guess=8.0 * mass * count + 0.5 * count,
    )  # fmt: skip


def _joined(number: str, stack: Stack) -> Iterator[OrderLine]:
    """Dowels or seams that join the plates of a stack."""
    own = stack.connectors
    if own is None:
        return
    if own.kind == "dowels":
        assert own.diameter is not None
        assert own.count is not None
        size = Size("bar", (own.diameter, stack.depth))
        order, steel = bar(own.diameter, stack.depth, turned=False), masses.STEEL
        yield OrderLine(
            number, f"{stack.name} dowel", BARS, "plates", 14, own.count, "made",
            f"strength as class {own.property_class}; fit by agreement with the machinist",
            f"class {own.property_class}", size, order, volume(size) * steel,
            volume(order) * steel, number, guess=6.0 * volume(size) * steel * own.count,
        )  # fmt: skip
        return
    assert own.throat is not None
    run = 2 * (len(stack.plates) - 1) * max(plate.outline.length for plate in stack.main_plates)
    metal = own.throat**2 * run * masses.STEEL
    yield OrderLine(
        number, f"{stack.name} weld seams", WORKSHOP, "plates", 7, 1, "made",
        f"fillet, throat {Size('plate', (own.throat,)).words()}, along both long edges of each "
        f"interface, {Size('plate', (run,)).words()} in all", "filler metal", mass=metal,
        order_mass=metal, drawing="A01", guess=25.0 * metal,
    )  # fmt: skip
