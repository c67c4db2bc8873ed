"""Parts of a press as solids, from which drawings take dimensions and lists take masses. In m."""

from __future__ import annotations

import math
from dataclasses import replace

from platestack.geometry import tables
from platestack.geometry.cutting.drawing import vertices
from platestack.geometry.cutting.work import HoleWork, PlateWork
from platestack.geometry.cylinder_part import Cylinder
from platestack.geometry.drafting.solids import FlatPart, Opening, Slot, Step, Turned
from platestack.geometry.parts import Press, TieRod
from platestack.geometry.schema.fastening import Fixing
from platestack.geometry.shapes import ContourHole, Outline, RoundHole
from platestack.geometry.stacking import bolt_hole
from platestack.geometry.units import dimension, shown_in

MADE = {"cut": "as cut", "bored": "bored", "drilled": "drilled"}


def thread_words(rod: TieRod, *, nut: bool = False) -> str:
    """Designation of a rod's thread with its tolerance class, the usual medium one.

    6g and 6H (ISO 965-1), 7e and 7H (ISO 2904), 2A and 2B (ASME B1.1): common practice.
    """
    if rod.thread.startswith("Tr"):
        return f"{rod.thread} - {'7H' if nut else '7e'}"
    if rod.thread.startswith("M"):
        return f"{rod.thread} - {'6H' if nut else '6g'}"
    return f"{rod.thread} - {'2B' if nut else '2A'}"


def rod(press: Press, one: TieRod) -> Turned:
    """A rod: threads at both ends, and between them shank or shoulder; left is its lower end."""
    thread = tables.rod_thread(one.thread)
    end, length = one.thread_length, one.length
    cut = Step(thread.d, end, thread=thread_words(one), pitch=thread.pitch)
    chamfers = (thread.pitch, thread.pitch)
    if 2 * end >= length - 1e-9:
        return Turned((Step(thread.d, length, thread=cut.thread, pitch=cut.pitch),),
                      chamfers=chamfers)  # fmt: skip
    if one.seat != "shoulder":
        return Turned((cut, Step(one.diameter, length - 2 * end), cut), chamfers=chamfers)
    low = press.bed.nut_face - one.reach
    assert one.seat_annulus is not None
    seat = press.bed.seat_face(one.seat_annulus)
    below = (press.bed.load_face if seat is None else seat) - low
    above = length - below - one.between
    steps = (
        cut, Step(one.diameter, below - end), Step(one.seat_outer, one.between),
        Step(one.diameter, above - end), cut,
    )  # fmt: skip
    lengths = ((0.0, end), (0.0, below), (below, length - above), (length - end, length))
    return Turned(tuple(s for s in steps if s.length > 1e-9), (), lengths, chamfers)


def nut(one: TieRod) -> FlatPart:
    """A hexagon nut."""
    thread = tables.rod_thread(one.thread)
    corner = one.nut_across_flats / math.sqrt(3)
    turns = (math.radians(60 * i) for i in range(6))
    contour = tuple((corner * math.cos(a), corner * math.sin(a), 0.0) for a in turns)
    hole = Opening((0.0, 0.0), thread.d, thread=thread_words(one, nut=True))
    return FlatPart(contour, one.nut_height, (hole,), form="hexagon")


def ring(outer: float, inner: float, length: float, inner_words: str = "") -> Turned:
    """A washer, a sleeve, a flange."""
    return Turned((Step(outer, length),), (Step(inner, length, words=inner_words),))


def flange(made: Cylinder, outer: float, thickness: float, fixing: Fixing | None) -> FlatPart:
    """The cylinder's flange: a ring with holes for the bolts that fix it, from the x axis on."""
    quarter, r = math.tan(math.pi / 8), outer / 2
    contour = ((r, 0.0, quarter), (0.0, r, quarter), (-r, 0.0, quarter), (0.0, -r, quarter))
    openings = [Opening((0.0, 0.0), made.outer_diameter, words="for the tube")]
    if fixing is not None:
        circle = fixing.circle or (made.outer_diameter + outer) / 2
        turns = [2 * math.pi * i / fixing.count for i in range(fixing.count)]
        words = f"on a circle ⌀ {dimension(circle)}"
        openings += [
            Opening((circle / 2 * math.cos(a), circle / 2 * math.sin(a)), bolt_hole(fixing),
                    words=words) for a in turns
        ]  # fmt: skip
    return FlatPart(contour, thickness, tuple(openings), form="round")


def plain(diameter: float, length: float, chamfer: float = 0.0) -> Turned:
    """A dowel or a disc."""
    return Turned((Step(diameter, length),), chamfers=(chamfer, chamfer))


def block(length: float, width: float, thickness: float) -> FlatPart:
    """A rectangular block."""
    corners = vertices(Outline(length, width))
    return FlatPart(tuple(corners), thickness)


def plate(work: PlateWork) -> FlatPart:
    """A finished plate about its own middle, with its openings and slots."""
    own = work.plate
    x, y = own.outline.centre
    contour = tuple((u - x, v - y, bulge) for u, v, bulge in vertices(own.outline))
    slots = tuple(
        Slot(s.along, s.at - (y if s.along == "x" else x), s.width, s.depth, s.head_width,
             s.head_depth) for s in work.slots
    )  # fmt: skip
    shaped = own.outline.corners != "straight" and own.outline.corner > 0
    corners = "free" if own.outline.contour is not None else own.outline.corners if shaped else ""
    return FlatPart(
        contour, own.thickness, tuple(_opening(hole, (x, y)) for hole in work.holes), slots,
        corners, own.outline.corner if shaped else 0.0,
    )  # fmt: skip


def _opening(hole: HoleWork, middle: tuple[float, float]) -> Opening:
    shape = hole.finished
    at = shape.at[0] - middle[0], shape.at[1] - middle[1]
    if isinstance(shape, RoundHole):
        words = MADE[hole.way]
        if hole.passes:
            words += f"; position ⌀ {dimension((shape.diameter - hole.passes) / 2)}"
        return Opening(at, shape.diameter, words=words)
    if isinstance(shape, ContourHole):
        around = tuple((u - shape.at[0], v - shape.at[1], bulge) for u, v, bulge in vertices(shape))
        return Opening(at, 0.0, shape.length, shape.width, words=MADE[hole.way], contour=around)
    return Opening(at, 0.0, shape.length, shape.width, shape.radius, words=MADE[hole.way])


def _gland_thread(made: Cylinder, suffix: str) -> str:
    """Designation of the gland's thread; in inches its sizes, as no inch series has it."""
    sizes = dimension(made.thread_diameter), dimension(made.thread_pitch)
    if shown_in("m").name == "mm":
        return f"M{sizes[0]}x{sizes[1]} - {suffix}"
    return f"60° thread {sizes[0]} × {sizes[1]} - {suffix}"


def tube(made: Cylinder, *, threaded: bool) -> Turned:
    """The cylinder's tube: honed, its gland's thread at the right end."""
    length = made.piston + made.stroke + made.gland
    cut = made.thread_length if threaded else 0.0
    bore = Step(made.bore, length - cut, "H8", words="honed")
    inside: tuple[Step, ...] = (bore,)
    if threaded:
        inside = (bore, Step(made.thread_diameter, cut, thread=_gland_thread(made, "6H"),
                             pitch=made.thread_pitch))  # fmt: skip
    return Turned((Step(made.outer_diameter, length),), inside)


def gland(made: Cylinder, *, threaded: bool) -> Turned:
    """The gland: a spigot in the bore, and its thread at the outer end."""
    cut = made.thread_length if threaded else 0.0
    spigot = Step(made.bore, made.gland - cut, "f7")
    outside = _grooved(spigot, made, "gland outside")
    if threaded:
        outside = (*outside, Step(made.thread_diameter, cut, thread=_gland_thread(made, "6g"),
                                  pitch=made.thread_pitch))  # fmt: skip
    inside = _grooved(Step(made.ram, made.gland), made, "gland bore")
    lengths = [*_groove_lengths(made, "gland outside"), *_groove_lengths(made, "gland bore")]
    if threaded:
        lengths.append((made.gland - cut, made.gland))
    return Turned(tuple(s for s in outside if s.length > 1e-9), inside, tuple(lengths))


def _grooved(step: Step, made: Cylinder, part: str) -> tuple[Step, ...]:
    """A step from the inner face on, cut up by its grooves."""
    steps, x = [], 0.0
    for groove in made.grooved(part):
        steps.append(replace(step, length=groove.at - x))
        ground = made.groove_diameter(groove)
        steps.append(Step(ground, groove.width, words=groove.holds))
        x = groove.at + groove.width
    steps.append(replace(step, length=step.length - x))
    return tuple(s for s in steps if s.length > 1e-9)


def _groove_lengths(made: Cylinder, part: str) -> list[tuple[float, float]]:
    """Place and width of each groove of a part."""
    found = made.grooved(part)
    return [span for g in found for span in ((0.0, g.at), (g.at, g.at + g.width)) if span[1] > 0]


def piston(made: Cylinder) -> Turned:
    """The piston, with its clearance in the bore."""
    outside = _grooved(Step(made.piston_diameter, made.piston), made, "piston")
    return Turned(outside, lengths=tuple(_groove_lengths(made, "piston")))


def ram(made: Cylinder) -> Turned:
    """The ram, from the piston to its outer end."""
    length = made.stroke + made.gland + made.protrusion
    return Turned((Step(made.ram, length, "f7", words="hard chromed; ground"),))


def cylinder_parts(made: Cylinder, *, threaded: bool) -> dict[str, Turned]:
    """Tube, bottom, gland, piston and ram by part number; `threaded`: the gland is screwed in."""
    return {
        "Z01": tube(made, threaded=threaded), "Z02": plain(made.outer_diameter, made.bottom),
        "Z03": gland(made, threaded=threaded), "Z04": piston(made), "Z05": ram(made),
    }  # fmt: skip
