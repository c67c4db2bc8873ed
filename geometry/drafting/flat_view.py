"""A flat part seen from above, with its edge beside it. On paper, mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from platestack.geometry.drafting.dimensions import (
    FIRST,
    LeaderLabel,
    Ordinate,
    Span,
    labels,
    ordinates,
    rising,
    tiers,
)
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.solids import FlatPart, Opening, Slot, Vertex
from platestack.geometry.units import dimension

BY_FILE = "as in the cut file"
"""Of a contour that no few dimensions describe: the file gives each of its points."""
CROSS = 2.5
"""How far centre lines reach beyond what they are of."""
APART = 28.0
"""From the view from above to the edge beside it: its width is dimensioned between them."""


def flat_view(part: FlatPart, scale: float, *, first_angle: bool = True) -> Draft:
    """Draw a flat part with its dimensions: coordinates of openings from its middle.

    The edge stands on the right, seen from the left in first-angle projection, from the right in
    third-angle; the face towards the eye is then its right or its left line.
    """
    draft, k = Draft(), 1e3 * scale
    x0, y0, x1, y1 = (k * v for v in part.box)
    draft.own()
    _contour(draft, part.contour, k)
    for slot in part.slots:
        _slot(draft, slot, (x0, y0, x1, y1), k)
    for opening in part.openings:
        _opening(draft, opening, k)
    draft.own().stroke((x0 - CROSS, 0.0), (x1 + CROSS, 0.0), ink="centre")
    draft.stroke((0.0, y0 - CROSS), (0.0, y1 + CROSS), ink="centre")
    found = _labelled(part, k, y1)
    if not part.form:
        text = dimension(part.box[2] - part.box[0])
        span = Span(x0, x1, (y1, y1), text, (("length", text),))
        tiers(draft, "above", [span], y1 - 1.0, blocked=rising(found))
    text = dimension(part.box[3] - part.box[1])
    words, role = {"hexagon": (f"across flats {text}", "across flats"),
                   "round": (f"⌀ {text}", "diameter")}.get(part.form, (text, "width"))  # fmt: skip
    start = 0.0 if part.form else x1
    tiers(draft, "right", [Span(y0, y1, (start, start), words, ((role, text),))], x1 - 1.0)
    labels(draft, found, draft.extent[3] + 3.0)  # words of dimensions may reach above the view
    _coordinates(draft, part, k)
    edge = _edge(part, k, first_angle=first_angle)
    draft.add(edge, (x1 + APART, 0.0))
    return draft


def _contour(
    draft: Draft, contour: Sequence[Vertex], k: float, at: tuple[float, float] = (0.0, 0.0)
) -> None:
    placed = [(at[0] + x, at[1] + y, bulge) for x, y, bulge in contour]
    for (ax, ay, bulge), (bx, by, _) in pairwise([*placed, placed[0]]):
        if not bulge:
            draft.stroke((k * ax, k * ay), (k * bx, k * by))
            continue
        angle, chord = 4 * math.atan(bulge), math.dist((ax, ay), (bx, by))
        radius = chord / 2 / math.sin(angle / 2)
        away = radius * math.cos(angle / 2) / chord
        cx, cy = (ax + bx) / 2 - (by - ay) * away, (ay + by) / 2 + (bx - ax) * away
        start = math.degrees(math.atan2(ay - cy, ax - cx))
        ends = sorted((start, start + math.degrees(angle)))
        draft.circle((k * cx, k * cy), k * abs(radius), start=ends[0], end=ends[1])


def _opening(draft: Draft, opening: Opening, k: float) -> None:
    (x, y) = (k * v for v in opening.at)
    draft.own()
    if opening.diameter:
        a = b = k * opening.diameter / 2
        if opening.thread:  # crests wide, roots narrow and a quarter open
            draft.circle((x, y), 0.92 * a)
            draft.circle((x, y), a, ink="thin", start=100.0, end=350.0)
        else:
            draft.circle((x, y), a)
    else:
        a, b, r = k * opening.length / 2, k * opening.width / 2, k * opening.radius
        if opening.contour:
            _contour(draft, opening.contour, k, opening.at)
        for sx, sy, start in (
            () if opening.contour else ((1, 1, 0.0), (-1, 1, 90.0), (-1, -1, 180.0), (1, -1, 270.0))
        ):
            if r:
                draft.circle((x + sx * (a - r), y + sy * (b - r)), r, start=start, end=start + 90)
        for s in () if opening.contour else (1, -1):
            draft.stroke((x - a + r, y + s * b), (x + a - r, y + s * b))
            draft.stroke((x + s * a, y - b + r), (x + s * a, y + b - r))
    draft.stroke((x - a - CROSS, y), (x + a + CROSS, y), ink="centre")
    draft.stroke((x, y - b - CROSS), (x, y + b + CROSS), ink="centre")


def _slot(draft: Draft, slot: Slot, box: tuple[float, float, float, float], k: float) -> None:
    x0, y0, x1, y1 = box
    draft.own()
    for width, ink in ((slot.width, "outline"), (slot.head_width, "hidden")):
        for at in (k * (slot.at - width / 2), k * (slot.at + width / 2)) if width else ():
            ends = ((x0, at), (x1, at)) if slot.along == "x" else ((at, y0), (at, y1))
            draft.stroke(*ends, ink=ink)  # type: ignore[arg-type]


def _labelled(part: FlatPart, k: float, top: float) -> list[LeaderLabel]:
    """Labels of openings that are alike, of slots, of corners."""
    made: list[LeaderLabel] = []
    groups: dict[tuple[object, ...], list[Opening]] = {}
    for one in part.openings:
        alike = one.diameter, one.length, one.width, one.radius, one.thread, one.words, one.contour
        groups.setdefault(alike, []).append(one)
    for group in groups.values():
        one = max(group, key=lambda o: (o.at[1], o.at[0]))
        times = f"{len(group)} × " if len(group) > 1 else ""
        x, y = one.at
        if one.contour:
            shown = tuple(("cut contour", BY_FILE) for _ in group)
            anchor = (k * (x + one.contour[0][0]), k * (y + one.contour[0][1]))
            lines = (f"{times}opening, {BY_FILE}", *((one.words,) if one.words else ()))
        elif one.diameter:
            text = one.thread or f"⌀ {dimension(one.diameter)}"
            shown = tuple(("opening", text) for _ in group)
            anchor = (k * (x + 0.26 * one.diameter), k * (y + 0.427 * one.diameter))
            lines = (times + text, *(one.words.split("; ") if one.words else ()))
        else:
            sizes = tuple(map(dimension, (one.length, one.width, one.radius)))
            shown = tuple(("rectangle", f"{sizes[0]} × {sizes[1]}") for _ in group)
            shown += tuple(("rectangle corner", f"R {sizes[2]}") for _ in group)
            anchor = (k * (x + one.length / 4), k * (y + one.width / 2))
            lines = (f"{times}{sizes[0]} × {sizes[1]}", f"corners R {sizes[2]}",
                     *((one.words,) if one.words else ()))  # fmt: skip
        made.append(LeaderLabel(anchor, lines, shown))
    for number, slot in enumerate(part.slots):
        made.append(_slot_label(slot, k, part, top, (1.6 - 0.3 * number) % 1.6 - 0.8))
    if part.corner == "free":
        x, y, _ = max(part.contour, key=lambda vertex: vertex[1] + 1e-3 * vertex[0])
        made.append(
            LeaderLabel((k * x, k * y), (f"outline {BY_FILE}",), (("cut contour", BY_FILE),))
        )
    if part.corner_size:
        text = dimension(part.corner_size)
        words = f"R {text}" if part.corner == "rounded" else f"{text} × 45°"
        half = k * part.corner_size * (0.293 if part.corner == "rounded" else 0.5)
        x1, y1 = k * part.box[2], k * part.box[3]
        made.append(LeaderLabel((x1 - half, y1 - half), (f"4 × {words}",), ((part.corner, text),)))
    return made


def _slot_label(slot: Slot, k: float, part: FlatPart, top: float, where: float) -> LeaderLabel:
    """Label of a slot; one along x is pointed at where a part `where` of half its length says."""
    sizes = [dimension(v) for v in (slot.width, slot.depth, slot.head_width, slot.head_depth)]
    lines = [f"{'T-slot' if slot.head_width else 'slot'} {sizes[0]} × {sizes[1]} deep"]
    shown = [(f"slot {slot.along}", f"{sizes[0]} × {sizes[1]}")]
    if slot.head_width:
        lines.append(f"head {sizes[2]} × {sizes[3]}")
        shown.append((f"head {slot.along}", f"{sizes[2]} × {sizes[3]}"))
    anchor = where * k * part.box[2], k * slot.at
    if slot.along == "y":
        anchor = k * (slot.at + slot.width / 2), top
    return LeaderLabel(anchor, tuple(lines), tuple(shown))


def _coordinates(draft: Draft, part: FlatPart, k: float) -> None:
    """Coordinates of openings and slots, along x below and along y on the left."""
    for axis, side, edge in ((0, "below", -part.box[1]), (1, "left", -part.box[0])):
        marks: dict[float, float] = {}
        for one in part.openings:
            u, v = round(one.at[axis], 7), -one.at[1 - axis]
            half = (one.diameter or (one.width if axis == 0 else one.length)) / 2
            marks[u] = max(marks.get(u, -1e9), k * (v + half) + CROSS + 0.5)
        for slot in part.slots:
            if slot.along == ("y" if axis == 0 else "x"):
                marks.setdefault(round(slot.at, 7), k * edge + CROSS)
        if not marks:
            continue
        marks.setdefault(0.0, k * edge + CROSS + 0.5)
        ordinates(draft, side, [  # type: ignore[arg-type]
            Ordinate(k * u, min(start, k * edge + CROSS + 0.5), dimension(u).replace("-", "−"),
                     f"{'xy'[axis]} coordinate") for u, start in marks.items()
        ], k * edge)  # fmt: skip


def _edge(part: FlatPart, k: float, *, first_angle: bool) -> Draft:
    """The edge of the part seen from the side, with slots along x, its thickness below it."""
    draft, t = Draft(), k * part.thickness
    y0, y1 = k * part.box[1], k * part.box[3]
    draft.own()
    face, sense = (t, -1) if first_angle else (0.0, 1)
    points = [(face, y0)]
    for slot in sorted((s for s in part.slots if s.along == "x"), key=lambda s: s.at):
        half, deep = k * slot.width / 2, k * (slot.depth - slot.head_depth)
        head, whole, y = k * slot.head_width / 2, k * slot.depth, k * slot.at
        if slot.head_width:
            points += [(face, y - half), (face + sense * deep, y - half),
                       (face + sense * deep, y - head), (face + sense * whole, y - head),
                       (face + sense * whole, y + head), (face + sense * deep, y + head),
                       (face + sense * deep, y + half), (face, y + half)]  # fmt: skip
        else:
            points += [(face, y - half), (face + sense * whole, y - half),
                       (face + sense * whole, y + half), (face, y + half)]  # fmt: skip
    points += [(face, y1), (t - face, y1), (t - face, y0)]
    draft.stroke(*points, closed=True)
    c = k * part.corner_size
    for y in (y0 + c, y1 - c) if c else (0.0,) if part.form == "hexagon" else ():
        draft.stroke((0.0, y), (t, y))
    text = dimension(part.thickness)
    tiers(draft, "below", [Span(0.0, t, (-y0, -y0), text, (("thickness", text),))],
          -y0 - FIRST + 8.0)  # fmt: skip
    return draft
