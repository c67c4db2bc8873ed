"""Whether the press fits the shop: ceiling, hook, hoist, floor, door and transport."""

from __future__ import annotations

import math

from platestack.fea.hand import lifting
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import heights, masses
from platestack.geometry.masses import Piece
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import quantity

STATICS = "statics"


def room(solution: Solution) -> list[Check]:
    """Every limit that the case sets on height, mass, floor and ways."""
    return room_checks(solution.press, solution.case)


def room_facts(solution: Solution) -> list[Fact]:
    """Masses, heights and lifts without a limit of their own."""
    return room_facts_of(solution.press, solution.case)


def room_checks(press: Press, case: Case) -> list[Check]:
    """The same without a solution: all of it follows from the geometry."""
    return [*_heights(press, case), *_loads(press, case), *_floor(press, case)]


def _heights(press: Press, case: Case) -> list[Check]:
    """Standing under the ceiling, and lifted under the hook."""
    ceiling, checks = case.limits.ceiling, []
    feet = masses.feet_height(press, case.shop.feet_height)
    if ceiling is not None:
        inputs = (
            Input("h_feet", feet, "m"),
            Input("h_top", _top(press), "m"),
            Input("e", _thicker(press), "m"),
        )
        checks.append(
            Check("press", "height standing on its feet",
                  feet + _top(press) + _thicker(press), ceiling, "m",
                  "limits.ceiling", "h_feet + h_top + e",
                  "geometry", "ram in or out: it moves within the frame", inputs,
                  method="feet, top of the rods above the bed's underside, sum of the upper "
                  "deviations of the bed's plates")
        )  # fmt: skip
    return [*checks, *lifting.room_above(lifting.lifts(press, case), case, -feet)]


def _loads(press: Press, case: Case) -> list[Check]:
    """Hoist, door and transport."""
    checks, shop = [], case.shop
    loads = [lift.load for lift in lifting.lifts(press, case)]
    heaviest = max(loads, key=lambda load: load.mass)
    if case.limits.hoist is not None:
        slings = lifting.sling_mass(heaviest.mass, shop.sling_mass)
        inputs = (Input("m_load", heaviest.mass, "kg"), Input("m_slings", slings, "kg"))
        checks.append(
            Check("press", "heaviest lift with its slings", heaviest.mass + slings,
                  case.limits.hoist, "kg", "limits.hoist", "m_load + m_slings",
                  "geometry", _named(heaviest), inputs, lifting.HEAVY, method="volume × density")
        )  # fmt: skip
    if shop.transport is not None:
        checks.append(
            Check("press", "heaviest piece on one trip", heaviest.mass, shop.transport, "kg",
                  "shop.transport", "", "geometry", _named(heaviest),
                  method="volume × density")
        )  # fmt: skip
    if shop.door is not None:
        for side, given in zip(("width", "height"), sorted(shop.door), strict=True):
            index = 0 if side == "width" else 1
            worst = max(loads, key=lambda load: _sizes(load)[index])
            checks.append(
                Check("press",
                      f"largest load through the door, {'smaller' if index == 0 else 'larger'} "
                      "side", _sizes(worst)[index], given, "m", "shop.door",
                      "", "geometry", worst.name, method="two smallest sides of the load "
                      "against the opening, carried endways")
            )  # fmt: skip
    return checks


def _floor(press: Press, case: Case) -> list[Check]:
    """Pressure under the feet, and tipping, where the feet are given."""
    feet, limit = case.shop.feet, case.shop.floor_pressure
    if feet is None:
        return []
    whole = masses.together("press", masses.pieces(press))
    base = min(feet.length, feet.width) / 2 - max(abs(whole.centre[0]), abs(whole.centre[1]))
    height = whole.centre[2] + masses.feet_height(press, case.shop.feet_height)
    inputs = (Input("b", base, "m"), Input("h", height, "m"))
    checks = [
        Check("press", "tilt at which the press tips",
              math.degrees(lifting.tipping_angle(base, height)),
              10.0, "°", "minimum tilt 10°", "atan(b/h)·180/π",
              "statics; 10° not verified against the standard of the tilt test "
              "of IEC 60335-1, as a yardstick", "anchor the press in any case", inputs,
              method="half of the base, less how far the centre of mass is aside, over its height",
              sense="at least")
    ]  # fmt: skip
    if limit is not None:
        load = whole.mass * lifting.G / 4
        checks.append(
            Check("press", "pressure under a foot", load / feet.side**2, limit, "Pa",
                  "shop.floor_pressure", "m·g / (4·a²)", STATICS,
                  "even share of four feet; workpiece and shocks not included",
                  (Input("m", whole.mass, "kg"), Input("g", lifting.G, "m/s²"),
                   Input("a", feet.side, "m")))
        )  # fmt: skip
    return checks


def room_facts_of(press: Press, case: Case) -> list[Fact]:
    """Masses, centre of mass, heights, jacks and trips, from the geometry alone."""
    parts = masses.pieces(press)
    whole = masses.together("press", parts)
    feet = masses.feet_height(press, case.shop.feet_height)
    facts = [
        Fact("mass", "press", f"mass of {group}", sum(p.mass for p in found), "kg", "",
             "geometry", "estimated: sizes of the cylinder are derived where not given"
             if any(p.estimated for p in found) else f"{len(found)} pieces",
             method="sum of volume × density")
        for group in dict.fromkeys(p.group for p in parts)
        for found in [[p for p in parts if p.group == group]]
    ]  # fmt: skip
    facts += [
        Fact("mass", "press", f"centre of mass, {axis}", value, "m", "", "geometry",
             "from the press axis; z above the bed's underside",
             method="mean of the pieces' centres, weighted by their masses")
        for axis, value in zip("xyz", whole.centre, strict=True)
    ]  # fmt: skip
    hung = press.crosshead.patch_name == "ram"
    moves = "lowest" if hung else "highest"
    facts += [
        Fact("height", "press", "height standing on its feet, as drawn", feet + _top(press), "m",
             "h_feet + h_top", "geometry", "",
             (Input("h_feet", feet, "m"), Input("h_top", _top(press), "m"))),
        Fact("height", "press", "daylight, ram in", press.daylight, "m", "", "the case",
             method="the daylight"),
        Fact("height", "press", "daylight, ram out", press.daylight - press.stroke, "m",
             "H − s", "the case", f"ram at its {moves}",
             (Input("H", press.daylight, "m"), Input("s", press.stroke, "m"))),
    ]  # fmt: skip
    facts += [
        Fact("lifting", f"lift {i + 1}", f"{lift.load.name}, hook height", lift.hook_height(-feet),
             "m", lifting.HOOK, "geometry; slings at 45°", quantity(lift.load.mass, "kg"),
             lifting.hook_inputs(lift, -feet), method=lifting.HOOK_METHOD)
        for i, lift in enumerate(lifting.lifts(press, case))
    ]  # fmt: skip
    bed = masses.together(
        "bed with rods", [p for p in parts if p.group in ("bed", "rods", "sleeves")]
    )
    facts.append(
        Fact("lifting", "press", "jack force under one long side of the bed with rods",
             lifting.jack_force(bed.mass, 0.5, 1.0), "N", "m·g·a/b", STATICS,
             "two jacks share it; pack as you go, to reach the lower nuts",
             (Input("m", bed.mass, "kg"), Input("g", lifting.G, "m/s²"), Input("a", 0.5, "1"),
              Input("b", 1.0, "1")), lifting.HEAVY)
    )  # fmt: skip
    if case.shop.transport is not None:
        made = lifting.trips([lift.load for lift in lifting.lifts(press, case)],
                             case.shop.transport)  # fmt: skip
        facts += [
            Fact("transport", "press", f"trip {i + 1}", sum(p.mass for p in trip), "kg",
                 "", "geometry", ", ".join(p.name for p in trip),
                 method="heaviest first, where it fits")
            for i, trip in enumerate(made)
        ]  # fmt: skip
    return facts


def _top(press: Press) -> float:
    """Upper end of the rods above the bed's underside (m)."""
    rod = press.rods[0]
    return press.bed.nut_face - rod.reach + rod.length


def _thicker(press: Press) -> float:
    """How much higher than drawn the bed, on which the rods stand, may be (m)."""
    return heights.stack_deviation(press.bed)[1]


def _named(load: Piece) -> str:
    return f"{load.name}{', an estimate' if load.estimated else ''}"


def _sizes(load: Piece) -> list[float]:
    """Sides of the surrounding box, rising (m)."""
    return sorted(b - a for a, b in zip(load.low, load.high, strict=True))
