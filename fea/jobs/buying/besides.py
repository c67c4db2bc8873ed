"""Lines that no drawing shows: hydraulics, feet and anchors, and what is usually forgotten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from platestack.fea.checks.cylinder import relief_of
from platestack.fea.checks.hydraulics import plant_of
from platestack.fea.jobs.buying.line import Operation, OrderLine, Size
from platestack.fea.jobs.buying.parts import BARS, CYLINDER
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import quantity

HYDRAULICS, SUNDRIES, SERVICES = "seals and hydraulics", "sundries", "services"
FILLED = 1.15
"""Oil bought over what tank and cylinder hold: hoses, first filter change, spill."""
FOOT = 0.03
"""Thickness of a foot plate (m)."""


def hydraulics(press: Press, case: Case) -> Iterator[OrderLine]:
    """Pump, valves, hoses, gauge, tank and oil, with their ratings."""
    made = press.cylinder
    assert made is not None, "geometry.layout puts one into every press"
    own, wish, prices = plant_of(press, case, made), case.hydraulics, case.prices
    relief = relief_of(press, case)
    stages = " and ".join(
        f"{quantity(stage.flow, 'm³/s', 3)} to {quantity(stage.pressure, 'Pa', 3)}"
        for stage in own.stages
    )
    pump = prices.pump if prices else None
    yield OrderLine(
        "H01", "pump with motor and tank", HYDRAULICS, "assembly", 42,
        standard=f"{stages}; motor {quantity(own.motor, 'W', 3)}; "
        f"tank {quantity(own.tank, 'm³', 3)}; filter",
        operations=(Operation("pump", pump.amount),) if pump else (), guess=1500.0,
    )  # fmt: skip
    rating = f"for {quantity(own.hoses, 'Pa', 3)} at least"
    for number, name, words, count, guess, lead in (
        ("H02", "relief valve", f"set to {quantity(relief, 'Pa', 3)}, sealed; {rating}", 1, 120,
         21),
        ("H03", "directional and check valves", f"{rating}; decompression before return", 1, 350,
         28),
        ("H04", "pressure gauge", f"class 1, {rating}, damped, with an isolating valve", 1, 60, 14),
        ("H05", "hoses and fittings", f"{rating}; whip checks on each end",
         1 if case.cylinder.return_spring else 2, 130, 10),
    ):  # fmt: skip
        yield OrderLine(number, name, HYDRAULICS, "assembly", lead, count, standard=words,
                        guess=float(guess * count))  # fmt: skip
    oil = FILLED * (own.tank + made.oil_volume + wish.dead_volume)
    mass = oil * wish.oil_density
    yield OrderLine(
        "H06", "hydraulic oil", SUNDRIES, "finish", 7,
        standard=f"{quantity(oil, 'm³', 3)}, ISO VG 46 unless the pump's maker says otherwise",
        mass=mass, order_mass=mass, guess=3.0 * mass,
    )  # fmt: skip


def standing(case: Case) -> Iterator[OrderLine]:
    """Foot plates and anchors."""
    feet = case.shop.feet
    side = feet.side if feet else 0.15
    mass = side**2 * FOOT * 7850.0
    yield OrderLine(
        "F01", "foot plate", "plates and cutting", "assembly", 21, 4, "made",
        "levelled and shimmed; the frame between feet and bed is not designed here", "S235JR",
        Size("plate", (FOOT, side, side)), Size("plate", (FOOT, side, side)), mass, mass,
        "F01", guess=2.5 * mass * 4,
    )  # fmt: skip
    yield OrderLine(
        "F02",
        "anchor bolt",
        "nuts and bolts",
        "assembly",
        7,
        4,
        standard="by the floor and the tipping check; not designed here",
        guess=40.0,
    )


def forgotten(lines: Sequence[OrderLine], press: Press, case: Case) -> Iterator[OrderLine]:
    """What is usually forgotten; offcuts, freight and set-ups follow from the other lines."""
    bought = sum(line.order_mass * line.quantity for line in lines)
    finished = sum(line.mass * line.quantity for line in lines)
    made = [x for x in lines if x.way == "made" and (x.cut_file or x.supplier in (BARS, CYLINDER))]
    yield OrderLine(
        "V01",
        "freight",
        SERVICES,
        "assembly",
        7,
        guess=0.12 * bought,
        standard=f"of {quantity(bought, 'kg')} as bought",
    )
    yield OrderLine(
        "V02", "machining set-ups", SERVICES, "assembly", 0, len(made), guess=55.0 * len(made),
        standard="one for each part that is machined, besides time on the machine",
    )  # fmt: skip
    yield OrderLine(
        "V03", "cutting waste", SERVICES, "assembly", 0,
        standard=f"in the lines above: {quantity(max(bought - finished, 0.0), 'kg')} of "
        f"{quantity(bought, 'kg')} becomes chips and offcuts; rests of sheets come on top",
    )  # fmt: skip
    area = sum(2 * p.outline.area + 2 * (p.outline.length + p.outline.width) * p.thickness
               for stack in press.stacks for p in stack.plates)  # fmt: skip
    yield OrderLine(
        "V04",
        "paint",
        SUNDRIES,
        "finish",
        7,
        guess=15.0 * area,
        standard=f"primer and coat for {quantity(area, 'm²', 3)}; not between plates",
    )
    yield OrderLine(
        "V05",
        "guards",
        SUNDRIES,
        "assembly",
        21,
        guess=400.0,
        standard="screen or cage on all sides that can be reached, by the local rules",
    )
    yield OrderLine(
        "V06",
        "eye bolts and slings",
        SUNDRIES,
        "assembly",
        10,
        guess=150.0,
        standard="rated for the lifts of the plan of assembly; load stamped on",
    )
    yield OrderLine(
        "V07",
        "certificates",
        SERVICES,
        "plates",
        0,
        guess=60.0,
        standard="EN 10204 3.1 (or mill test report) for plates, rods, tube, ram",
    )
    yield OrderLine(
        "V08",
        "instruments for the proof test",
        SUNDRIES,
        "finish",
        14,
        guess=180.0,
        standard="dials, magnetic bases; strain gauges if the sheet asks for them",
    )
    if case.prices is not None:
        for index, (name, amount) in enumerate(case.prices.extra.items(), 1):
            yield OrderLine(f"X{index:02d}", name, SUNDRIES, "assembly", 14,
                            operations=(Operation(name, amount),),
                            standard="as named in the case")  # fmt: skip
