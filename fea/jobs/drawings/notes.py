"""Notes on drawings: what dimensions do not say, each with how sure it is; what has to be asked."""

from __future__ import annotations

from platestack.fea.jobs.buying.line import OrderLine
from platestack.geometry.bodies import thread_words
from platestack.geometry.cutting.drawing import tolerance_notes
from platestack.geometry.cutting.work import PlateWork
from platestack.geometry.cylinder_part import Cylinder
from platestack.geometry.parts import Press, TieRod
from platestack.geometry.schema import Case
from platestack.geometry.schema.fastening import Fastening
from platestack.geometry.tables import rod_thread
from platestack.geometry.units import dimension, fixed, percent, quantity, shown_in

PRACTICE = "common practice, no source"
PRESSURE = (
    "PRESSURE PART: design to be checked by a licensed engineer; hydraulic test before use, by the "
    "local rules for pressure equipment"
)
CERTIFICATE = "material with certificate EN 10204 3.1 or mill test report, number stamped on"
EVENNESS = 0.02
"""Share of a rod's stretch at preload by which sleeves may differ."""
LEAST = 2e-5
"""No length is asked for more finely (m)."""


FINE = {6.3: 250, 3.2: 125, 0.4: 16, 0.2: 8}
"""Roughness Ra in µm, and the usual value in millionths of an inch (ISO 1302, ASME B46.1)."""
EDGES = 3e-4, 1e-3
"""Least and greatest break of an edge that nothing is said of (m)."""


def edges() -> str:
    """Note on edges, for every part."""
    low, high = map(dimension, EDGES)
    return f"edges that nothing is said of: no burr, broken {low} to {high} ({PRACTICE})"


def _rough(micrometres: float) -> str:
    """A roughness: Ra in µm, or in millionths of an inch."""
    if shown_in("m").name == "in":
        return f"Ra {FINE[micrometres]} µin"
    return f"Ra {micrometres:g} µm"


def plate(work: PlateWork, press: Press, case: Case, numbers: list[str]) -> tuple[str, ...]:
    """Notes on a plate: datum, blank, holes, faces, joints that are made at assembly."""
    own = work.plate
    lines = [
        "coordinates are from the middle of the plate; scribe both datum lines on the edges, "
        "stacks are lined up by them",
        f"contour as cut: {', '.join(f'{n}.dxf' for n in numbers)} of platestack cut; "
        f"{case.cutting.process}, blank {dimension(work.blank.length)} × "
        f"{dimension(work.blank.width)} × {dimension(own.bought)}",
    ]
    if work.milled:
        lines.append(f"machine: {', '.join(work.milled)}; {_rough(6.3)} ({PRACTICE})")
    passed = [hole for hole in work.holes if hole.passes]
    if passed:
        lines.append(f"positions within half of the clearance that holes have ({PRACTICE}), to the "
                     "datum lines")  # fmt: skip
    for line in tolerance_notes(work, case.cutting):
        if line.startswith(" "):  # goes on from the one before
            lines[-1] += f" {line.strip()}"
        else:
            lines.append(line)
    stack = press.bed if work.stack == "bed" else press.crosshead
    if stack.connectors is not None and own in stack.main_plates:
        if stack.connectors.kind == "dowels":
            size = dimension(stack.connectors.diameter or 0.0)
            lines.append(f"{stack.connectors.count} holes ⌀ {size} for dowels are drilled and "
                         "reamed through the whole stack when it is put together")  # fmt: skip
        else:
            lines.append(f"weld to its neighbours: {seam(stack.connectors.throat or 0.0)}")
    lines += _fixing(work, press, case)
    return tuple(lines)


def seam(throat: float) -> str:
    """A fillet seam in words and as designated in ISO 2553."""
    return f"fillet a{dimension(throat)} (ISO 2553) along both long edges of each interface"


def _fixing(work: PlateWork, press: Press, case: Case) -> list[str]:
    """Holes for the bolts of the cylinder, in the plate on which it stands."""
    fixing, made = case.ram.fixing, press.cylinder
    if fixing is None or made is None or work.plate.normal != "z":
        return []
    own = work.plate
    face = own.base if made.direction < 0 else own.top
    if work.stack != case.ram.mounted or abs(face - made.face) > 1e-6:
        return []
    return [f"{fixing.count} tapped holes {fixing.thread} for the cylinder's bolts, 1.5 diameters "
            f"of full thread ({PRACTICE}): {_circle(fixing, made, case)}; drill from the finished "
            "cylinder"]  # fmt: skip


def _circle(fixing: Fastening, made: Cylinder, case: Case) -> str:
    """Where bolts stand in a circle."""
    given = getattr(fixing, "circle", None)
    if given is None and case.ram.flange is not None:
        given = (made.outer_diameter + case.ram.flange.outer_diameter) / 2
    return f"on a circle of {dimension(given)}" if given else "their circle is not in the case"


def rod(press: Press, one: TieRod) -> tuple[str, ...]:
    """Notes on a tie rod."""
    thread = rod_thread(one.thread)
    lines = [
        f"thread {thread_words(one)}, full over the length given; run-out beyond it up to "
        f"{dimension(2.5 * thread.pitch)} (2.5 pitches, ISO 3508, not verified against the "
        "standard); roots rounded, rolled or ground where it can be had",
        f"of each end {dimension(one.projection)} stands out of the nut, the stacks as high as "
        "drawn",
        "centre holes ISO 6411 at both ends are allowed on the finished rod; size by the machinist",
        "mass with threads full to their nominal diameter, before edges are broken",
        f"heat treatment as delivered, no welding; {CERTIFICATE}",
    ]
    if one.seat == "shoulder":
        lines.append(
            f"length between the shoulders alike on all {len(press.rods)} rods within "
            f"{quantity(evenness(one), 'm', 2)} ({percent(EVENNESS)} of the stretch at preload, "
            f"{PRACTICE}); shoulders square to the axis within the same; fillets R "
            f"{dimension(0.002)} at least"
        )
    return tuple(lines)


def evenness(one: TieRod) -> float:
    """How much rods or sleeves of one press may differ (m), so that preload is shared evenly."""
    return max(LEAST, EVENNESS * one.preload / one.stiffness)


def nut(one: TieRod) -> tuple[str, ...]:
    """Notes on a nut that no standard has."""
    return (
        f"thread {thread_words(one, nut=True)}; bearing faces square to the thread within 0.5° "
        f"({PRACTICE}), {_rough(3.2)}",
        f"chamfer the thread at both faces to {dimension(1.05 * rod_thread(one.thread).d)}, "
        "corners of the hexagon at 30°",
        f"hexagon as forged or milled, h14 ({PRACTICE}); mass with the thread full to its nominal "
        "diameter",
    )


def washer() -> tuple[str, ...]:
    """Notes on a washer."""
    return (
        f"faces flat and parallel within {fixed(5e-5, 'm', 2)}, {_rough(3.2)} ({PRACTICE})",
        f"break edges {dimension(0.0005)} to {dimension(0.001)}; hardness not below that of the "
        "plate under it",
    )


def sleeve(one: TieRod) -> tuple[str, ...]:
    """Notes on a sleeve."""
    return (
        f"all of one length within {quantity(evenness(one), 'm', 2)}, ends parallel and square to "
        f"the axis within the same ({percent(EVENNESS)} of the stretch of a rod at preload, "
        f"{PRACTICE}): face all in one setting",
        f"ends {_rough(3.2)} ({PRACTICE}); skin may stay as rolled",
        CERTIFICATE,
    )


def dowel(line: OrderLine) -> tuple[str, ...]:
    """Notes on a dowel."""
    return (
        f"{line.standard}; usual: pin m6, hole H7 ({PRACTICE})",
        "holes are reamed through the stack when it is put together",
    )


def foot(line: OrderLine) -> tuple[str, ...]:
    """Notes on a foot plate."""
    return (line.standard, "holes for anchors by the floor: not designed here")


def _seals(made: Cylinder, part: str) -> str:
    """Note on the grooves of the piston or the gland."""
    given = [groove.holds for groove in made.grooves if groove.part.startswith(part)]
    if given:
        return (f"grooves for {', '.join(dict.fromkeys(given))}: sizes as the case gives them; "
                "tolerances, surface and edges by the seal maker")  # fmt: skip
    return (
        "grooves of seals, guide rings and wiper are not in the case: ask the seal maker for their "
        "sizes, tolerances and edges, and give them as cylinder.grooves before this part is made"
    )


def cylinder(number: str, made: Cylinder, press: Press, case: Case) -> tuple[str, ...]:
    """Notes on a part of the cylinder."""
    pressure = (f"working pressure {quantity(press.working_pressure, 'Pa', 3)}, test "
                f"{quantity(made.proof_factor * press.working_pressure, 'Pa', 3)}")  # fmt: skip
    mine = {
        "Z01": _tube(made, case), "Z02": _bottom(case),
        "Z03": _gland(made, case), "Z04": _piston(made), "Z05": _ram(made),
        "Z06": _flange(made, case),
    }  # fmt: skip
    return (PRESSURE, f"{pressure}; {CERTIFICATE}", *mine[number])


def assembled_cylinder(made: Cylinder, press: Press, case: Case) -> tuple[str, ...]:
    """Notes on the cylinder put together."""
    factor, spring = made.proof_factor, case.cylinder.return_spring
    back = f"{spring.count} springs" if spring else "oil in the annulus"
    lines = [
        PRESSURE,
        f"working pressure {quantity(press.working_pressure, 'Pa', 3)}; hydraulic test at "
        f"{quantity(factor * press.working_pressure, 'Pa', 3)} on the bench, bled, behind a guard",
        f"ram drawn in; stroke {dimension(made.stroke)}; {quantity(made.oil_volume, 'm³', 3)} of "
        f"oil a stroke; drawn back by {back}",
        f"seals, guide rings and wiper (Z10) by the seal maker: largest gap that the seal bridges "
        f"{dimension(made.seal_gap)} on the radius"
        + ("" if made.grooves else "; grooves are not in the case, and not drawn"),
        "ports, bleed and the joints of bottom and piston are not in the case: agree them",
    ]
    fixing = case.ram.fixing
    lines.append(f"held by {fixing.count} bolts {fixing.thread}, {_circle(fixing, made, case)}"
                 if fixing else "how it is held to its stack is not in the case")  # fmt: skip
    return tuple(lines)


def _tube(made: Cylinder, case: Case) -> tuple[str, ...]:
    lines = [
        f"bore H8, honed {_rough(0.4)} at most over the piston's way ({PRACTICE}; the seal "
        "maker's figure counts)",
        "lead-in chamfer of 15° to 20° where the seals enter, as long as the seal maker asks; no "
        "sharp edge",
        "ports and bleed are not in the case: agree size (ISO 6149 or ISO 1179 G thread) and "
        f"place; below the thread a wall of {dimension(made.wall / 2)}, half of it, is to stay "
        f"({PRACTICE}); bleed at the highest place; no port where a seal passes",
    ]
    joint = case.cylinder.bottom_joint
    if joint and joint != "not welded":
        lines.append(f"bottom on the left end: {joint} weld; procedure and test by the maker, hone "
                     "after welding")  # fmt: skip
    else:
        lines.append("the joint with the bottom, on the left end, is not in the case: agree it")
    if case.cylinder.gland_bolts is not None:
        lines.append(_gland_bolts(made, case))
    return tuple(lines)


def _bottom(case: Case) -> tuple[str, ...]:
    joint = case.cylinder.bottom_joint
    return (
        f"ultrasonic test of the plate before use; face towards the oil {_rough(3.2)} ({PRACTICE})",
        f"joint with the tube: {joint}" if joint else
        "the joint with the tube is not in the case: agree weld or thread, and its fatigue",
        "no port through the bottom unless a licensed engineer has checked it",
    )  # fmt: skip


def _gland_bolts(made: Cylinder, case: Case) -> str:
    given = case.cylinder.gland_bolts
    assert given is not None
    circle = given.circle or (made.bore + made.outer_diameter) / 2
    deep = given.engaged or 1.5 * rod_thread(given.thread).d
    return (
        f"{given.count} tapped holes {given.thread} in the right end, on a circle of "
        f"{dimension(circle)}, {dimension(deep)} of full thread, for the gland's bolts"
    )


def _gland(made: Cylinder, case: Case) -> tuple[str, ...]:
    lines = [
        f"the passage is the ram's nominal diameter {dimension(made.ram)}: its clearance follows "
        "from the guide rings",
        _seals(made, "gland"),
        "two holes or slots for a wrench, and a lock against turning: by the maker",
    ]
    if case.cylinder.gland_bolts is not None:
        given = case.cylinder.gland_bolts
        lines[2] = (
            f"the flange through which {given.count} bolts {given.thread} hold it on the tube is "
            "not in the case: agree its thickness"
        )
    return tuple(lines)


def _piston(made: Cylinder) -> tuple[str, ...]:
    return (
        f"radial clearance in the bore {dimension(made.clearance)}, as made",
        _seals(made, "piston"),
        "one piece with the ram, or joined to it: the joint carries the return stroke and is not "
        "in the case; agree it",
    )


def _ram(made: Cylinder) -> tuple[str, ...]:
    return (
        f"hard chromed {'0.8 to 1.2 mil' if shown_in('m').name == 'in' else '20 to 30 µm'}, ground "
        f"and polished, {_rough(0.2)} at most where the seal runs ({PRACTICE}; the seal maker's "
        "figure counts)",
        "left end joins the piston; lead-in chamfer of 15° to 20° at the other end, as long as the "
        "seal maker asks",
        "holes in the outer end, for tools and for lifting, are not in the case",
        f"straight within {quantity(2e-4, 'm')} over the length ({PRACTICE})",
    )


def _flange(made: Cylinder, case: Case) -> tuple[str, ...]:
    lines = ["its joint with the tube or the bottom is not in the case: agree weld or thread"]
    if case.ram.fixing is not None:
        lines.append(f"holes for {case.ram.fixing.count} bolts {case.ram.fixing.thread}, evenly "
                     "around; drill the stack from the finished flange")  # fmt: skip
    return tuple(lines)
