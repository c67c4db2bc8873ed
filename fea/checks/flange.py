"""The cylinder's flange, bent by what presses on it and by the bolts that hold it."""

from __future__ import annotations

from collections.abc import Iterator

from platestack.fea.checks.cylinder import relief
from platestack.fea.checks.fixing import grip, pull, stub
from platestack.fea.checks.joining import TORQUE, bearing, preload, turned
from platestack.fea.hand import bolts
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.hand.rings import overhang_stress, ring_stress
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Cylinder, Material
from platestack.geometry.schema import Fixing, Flange
from platestack.geometry.units import quantity

RING = "6/t²·F/(2·π)·((1 + ν)·ln(r_2/r_1) + (1 − ν)·(r_2² − r_1²)/(2·a²)) / (1 − b²/a²) ≤ R_e / S"
"""A flat ring between two circles of force, `fea.hand.rings.ring_stress`."""
_STEEL = "taken as of the steel of the cylinder's bottom; its weld is not checked"


def ring_inputs(
    force: float,
    thickness: float,
    radii: tuple[float, float],
    circles: tuple[float, float],
    steel: Material,
    factor: float,
) -> tuple[Input, ...]:
    """What goes into `RING`: force (N), thickness, bore and rim, circles (m), steel, factor S."""
    (b, a), (inner, outer) = radii, sorted(circles)
    return (
        Input("t", thickness, "m"), Input("F", force, "N"), Input("ν", steel.poisson, "1"),
        Input("r_1", inner, "m"), Input("r_2", outer, "m"), Input("a", a, "m"), Input("b", b, "m"),
        Input("R_e", steel.yield_strength, "Pa"), Input("S", factor, "1"),
    )  # fmt: skip


def flange(solution: Solution) -> list[Check]:
    """Bending where it bears and where its bolts pull, with what leverage gives the bolts."""
    made, own = solution.press.cylinder, solution.case.ram.flange
    if made is None or own is None:
        return []
    given = solution.case.ram.fixing
    checks = list(_pressed(solution, made, own))
    return checks if given is None else [*checks, *_pulled(solution, made, own, given)]


def _pressed(solution: Solution, made: Cylinder, own: Flange) -> Iterator[Check]:
    press = solution.press
    patch = next(stack.patch for stack in press.stacks if stack.patch_name == "ram")
    overhang = (patch.length - made.outer_diameter) / 2
    if overhang <= 0:
        return
    steel, force = made.bottom_material, relief(solution) * made.piston_area
    yield Check(
        "cylinder flange", "bending where it stands out of the wall",
        overhang_stress(force / patch.area, own.thickness, overhang),
        steel.yield_strength / press.yield_safety_factor, "Pa",
        f"yield of {steel.grade} / {press.yield_safety_factor:g}", "3·p·(c/t)² ≤ R_e / S",
        "cantilever strip, statics: an upper bound",
        f"at relief pressure; {_STEEL}",
        (Input("p", force / patch.area, "Pa"), Input("c", overhang, "m"),
         Input("t", own.thickness, "m"), Input("R_e", steel.yield_strength, "Pa"),
         Input("S", press.yield_safety_factor, "1")),
    )  # fmt: skip


def _pulled(solution: Solution, made: Cylinder, own: Flange, given: Fixing) -> Iterator[Check]:
    steel, factor = made.bottom_material, solution.press.yield_safety_factor
    force, one = pull(solution, given), stub(solution, given)
    assert one is not None, "a flange with bolts is a T-stub"
    circles = (made.bore + made.outer_diameter) / 4, made.outer_diameter / 2 + one.lever
    radii = made.bore / 2, own.outer_diameter / 2
    yield Check(
        "cylinder flange", "bending of the ring by its bolts",
        ring_stress(force, own.thickness, radii, circles, steel.poisson),
        steel.yield_strength / factor, "Pa", f"yield of {steel.grade} / {factor:g}",
        RING,
        "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 17",
        f"a loose ring: the wall, which holds it, is left out; {_STEEL}",
        ring_inputs(force, own.thickness, radii, circles, steel, factor),
    )  # fmt: skip
    yield Check(
        "cylinder flange", "pull on a bolt with its leverage",
        force / given.count, one.resistance / factor, "N",
        f"least of three modes of a T-stub / {factor:g}",
        "F ≤ min(l·t²·f_y/(2·m), (l·t²·f_y/4 + n·B) / (m + n), B) / S",
        "EN 1993-1-8 6.2.4 (draft read)", "",
        (Input("F", force / given.count, "N"), Input("l", one.share, "m"),
         Input("t", one.thickness, "m"), Input("f_y", one.yield_strength, "Pa"),
         Input("m", one.lever, "m"), Input("n", one.reach, "m"), Input("B", one.bolt, "N"),
         Input("S", factor, "1")),
        method="B = 0.9 f_ub A_s / 1.25",
    )  # fmt: skip


def fixing_facts(solution: Solution) -> list[Fact]:
    """How to tighten the bolts that fix the cylinder; their wrench and mass."""
    given = solution.case.ram.fixing
    if given is None:
        return []
    thread, force, (outer, hole) = tables.thread(given.thread), preload(given), bearing(given)
    nut, density = tables.nut(thread.d), tables.steel_constants().density
    name = f"cylinder fixing bolts {given.thread}"
    facts = [
        Fact("bolts", name, "tightening torque",
             bolts.torque(thread, force, given.thread_friction, outer, hole), "N m",
             TORQUE, "VDI 2230-1:2015, not verified against the standard",
             f"class {given.property_class}; wrench size {quantity(nut.across_flats, 'm', 6)}",
             turned(given),
             ("A bolt that breaks while it is tightened flies off. Stand beside it.",)),
        Fact("bolts", name, "mass of one with head and nut",
             bolts.mass(thread, grip(solution, given), nut.across_flats, nut.height, density),
             "kg", "", "geometry", "washers not included", method="volume × density"),
    ]  # fmt: skip
    one = stub(solution, given)
    if one is not None:
        facts.append(
            Fact("bolts", name, "largest prying factor", one.pried, "1",
                 "1 + m/(2·n)",
                 "statics of a T-stub, its moment at the bolt at most that at the wall",
                 "counted in their tension and parting",
                 (Input("m", one.lever, "m"), Input("n", one.reach, "m")))
        )  # fmt: skip
    return facts
