"""A turned part seen from the side, in section where it has a bore. On paper, mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from platestack.geometry.drafting.dimensions import LeaderLabel, Span, labels, tiers
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.lettering import width
from platestack.geometry.drafting.solids import Step, Turned, stations
from platestack.geometry.shapes import Point
from platestack.geometry.units import dimension

HATCH = 3.0
"""Distance of the lines of a section."""
LEFT = 16.0
"""Least length (mm) of each half of a part that is broken off."""


def turned_view(part: Turned, scale: float, room: float) -> Draft | None:
    """Draw a turned part with its dimensions; a long one is broken to be `room` long at most.

    `scale` is drawn over real size. None where breaking does not make it short enough.
    """
    along = _mapping(part, 1e3 * scale, room)
    if along is None:
        return None
    draft, r = Draft(), 500 * scale
    silhouette(draft, part, along, r)
    ends = along(0.0), along(part.length)
    draft.own().stroke((ends[0] - 3, 0.0), (ends[1] + 3, 0.0), ink="centre")
    others = _beside(draft, part, along, r)
    _lengths(draft, part, along, r)
    top = max(step.diameter for step in part.outside) * r
    labels(draft, _labels(part, along, r, others), top + 3.0)
    return draft


def _mapping(part: Turned, scale: float, room: float) -> Callable[[float], float] | None:
    """Place on paper of each length from the left face; a stretch in the middle may be left out."""
    long = part.length * scale
    if long <= room:
        return lambda x: x * scale
    cuts = sorted({round(x, 9) for steps in (part.outside, part.inside) for x in stations(steps)})
    a, b = max(pairwise(cuts), key=lambda ends: ends[1] - ends[0])
    left_out = long - room
    if (b - a) * scale - left_out < 2 * LEFT:
        return None
    middle = (a + b) / 2
    return lambda x: x * scale - left_out * (0.0 if x < middle else 0.5 if x == middle else 1.0)


def broken_at(along: Callable[[float], float], part: Turned, scale: float) -> float | None:
    """Place on paper where a part is broken off."""
    if along(part.length) > part.length * scale - 1e-6:
        return None
    cuts = sorted({round(x, 9) for steps in (part.outside, part.inside) for x in stations(steps)})
    a, b = max(pairwise(cuts), key=lambda ends: ends[1] - ends[0])
    return along((a + b) / 2)


def assembled(draft: Draft, part: Turned, at: float, scale: float, lean: int = 1) -> None:
    """Draw a part in the section of an assembly, its left face at a length (m).

    A solid one is cut too where `lean` is 1 or -1, the way in which its section leans; 0 leaves
    it whole, as rods are.
    """
    k = 1e3 * scale
    silhouette(draft, part, lambda x: k * (at + x), k / 2, lean, within=True)


def silhouette(
    draft: Draft, part: Turned, along: Callable[[float], float], r: float, lean: int = 1,
    *, within: bool = False,
) -> None:  # fmt: skip
    """Draw edges, threads and section of a part; `r` is mm on paper for each metre of radius.

    `within` an assembly nothing is seen through its bore.
    """
    broken = broken_at(along, part, 2 * r)
    upper = _upper(part, along, r)
    draft.own()
    for sign in (1, -1):
        for one, two in pairwise([(x, sign * y) for x, y in upper]):
            _unbroken(draft, one, two, broken)
    for x, y in upper:  # edges of steps and chamfers, seen as lines across
        if not part.inside:
            draft.stroke((x, -y), (x, y))
    if within and not part.inside and lean:
        for sign in (1, -1):
            axis = [(upper[0][0], 0.0), (upper[-1][0], 0.0)]
            _hatch(draft, [(x, sign * y) for x, y in upper], axis, broken, lean)
    _threads(draft, part.outside, along, r, broken, inside=False)
    if part.inside:
        for sign in (1, -1):
            inner = [(x, sign * y) for x, y in _inner(part.inside, along, r)]
            for one, two in pairwise(inner):
                _unbroken(draft, one, two, broken)
            for (x, y), steps in zip((inner[0], inner[-1]), (upper[0], upper[-1]), strict=True):
                draft.stroke((x, y), (x, sign * steps[1]))
            _hatch(draft, [(x, sign * y) for x, y in upper], inner, broken, lean)
        if not within:
            _faces(draft, part.inside, along, r)
        _threads(draft, part.inside, along, r, broken, inside=True)
    if broken is not None:
        top = max(step.diameter for step in part.outside) * r + 2
        for x in (broken - 1, broken + 1):
            draft.own().stroke((x, -top), (x, -2), (x - 1.2, -0.8), (x + 1.2, 0.8), (x, 2),
                               (x, top), ink="thin")  # fmt: skip


def _upper(part: Turned, along: Callable[[float], float], r: float) -> list[Point]:
    """Upper edge of the outside, its ends broken by chamfers."""
    points: list[Point] = []
    for (a, b), step in zip(pairwise(stations(part.outside)), part.outside, strict=True):
        points += [(along(a), step.diameter * r), (along(b), step.diameter * r)]
    left, right = (leg * 2 * r for leg in part.chamfers)
    if left:
        (x, y), *rest = points
        points = [(x, y - left), (x + left, y), *rest]
    if right:
        *rest, (x, y) = points
        points = [*rest, (x - right, y), (x, y - right)]
    return points


def _inner(steps: Sequence[Step], along: Callable[[float], float], r: float) -> list[Point]:
    points: list[Point] = []
    for (a, b), step in zip(pairwise(stations(tuple(steps))), steps, strict=True):
        y = minor(step) * r
        points += [(along(a), y), (along(b), y)]
    return points


def minor(step: Step) -> float:
    """Diameter to which an inside step is bored (m): of a thread, that of its crests."""
    return step.diameter - 1.0825 * step.pitch if step.thread else step.diameter


def _unbroken(draft: Draft, one: Point, two: Point, broken: float | None, ink: str = "") -> None:
    """A line of the part; where the part is broken off, a gap."""
    look = ink or "outline"
    if broken is None or not one[0] < broken < two[0]:
        draft.stroke(one, two, ink=look)  # type: ignore[arg-type]
        return
    draft.stroke(one, (broken - 1, one[1]), ink=look)  # type: ignore[arg-type]
    draft.stroke((broken + 1, two[1]), two, ink=look)  # type: ignore[arg-type]


def _threads(
    draft: Draft, steps: Sequence[Step], along: Callable[[float], float], r: float,
    broken: float | None, *, inside: bool,
) -> None:  # fmt: skip
    """Roots of threads as narrow lines (ISO 6410-1), and their ends as wide ones."""
    for (a, b), step in zip(pairwise(stations(tuple(steps))), steps, strict=True):
        if not step.thread:
            continue
        root = (step.diameter if inside else step.diameter - 1.2269 * step.pitch) * r
        for sign in (1, -1):
            _unbroken(draft, (along(a), sign * root), (along(b), sign * root), broken, "thin")


def _faces(
    draft: Draft, steps: Sequence[Step], along: Callable[[float], float], r: float
) -> None:  # fmt: skip
    """Edges of the bore that are seen beyond the section: across, where its diameter changes."""
    places = stations(tuple(steps))
    for x in {places[0], places[-1]} | set(places[1:-1]):
        near = [minor(s) for (a, b), s in zip(pairwise(places), steps, strict=True)
                if abs(a - x) < 1e-9 or abs(b - x) < 1e-9]  # fmt: skip
        draft.stroke((along(x), -max(near) * r), (along(x), max(near) * r))


def _hatch(
    draft: Draft, outer: list[Point], inner: list[Point], broken: float | None, lean: int
) -> None:
    """Lines at 45° over the section between two edges."""
    from shapely import LineString, Polygon, box

    shape = Polygon([*outer, *reversed(inner)]).buffer(0)
    if broken is not None:
        shape = shape.difference(box(broken - 1, -1e4, broken + 1, 1e4))
    if shape.is_empty:
        return
    x0, y0, x1, y1 = shape.bounds
    high = y1 - y0
    first, last = x0 - high, x1 + high
    step = HATCH * 2**0.5
    for n in range(int((last - first) / step) + 1):
        x = first + n * step
        ends = [(x, y0), (x + high, y1)] if lean > 0 else [(x, y1), (x + high, y0)]
        cut = LineString(ends).intersection(shape)
        for piece in getattr(cut, "geoms", [cut]):
            if piece.length > 0.3 and piece.geom_type == "LineString":
                draft.stroke(*piece.coords, ink="hatch")


def _places(part: Turned) -> list[float]:
    """All faces that bound a diameter or a length, from the left (m)."""
    found = {round(x, 9) for steps in (part.outside, part.inside) for x in stations(steps)}
    return sorted(found | {round(x, 9) for pair in part.dimensioned for x in pair})


def _number(part: Turned, x: float) -> int:
    places = _places(part)
    return min(range(len(places)), key=lambda i: abs(places[i] - x))


def _role(part: Turned, kind: str, a: float, b: float) -> str:
    """What a number is: ``"outside 0-1"`` is the diameter between the faces 0 and 1."""
    return f"{kind} {_number(part, a)}-{_number(part, b)}"


def _lengths(draft: Draft, part: Turned, along: Callable[[float], float], r: float) -> None:
    def start(x: float) -> float:
        near = [s.diameter for (a, b), s in zip(pairwise(stations(part.outside)), part.outside,
                strict=True) if a - 1e-9 <= x <= b + 1e-9]  # fmt: skip
        return min(near) * r

    spans = [Span(along(a), along(b), (start(a), start(b)), dimension(b - a),
                  ((_role(part, "length", a, b), dimension(b - a)),))
             for a, b in dict.fromkeys(part.dimensioned)]  # fmt: skip
    tiers(draft, "below", spans, max(step.diameter for step in part.outside) * r)


def _text(step: Step) -> str:
    return step.thread or f"⌀ {dimension(step.diameter)} {step.fit}".rstrip()


Found = tuple[str, float, float, Step]
"""Outside or inside, from where, to where (m), and the step."""


def _groups(part: Turned) -> list[list[Found]]:
    """Diameters that are alike in all but their place."""
    groups: dict[tuple[object, ...], list[Found]] = {}
    for kind, steps in (("outside", part.outside), ("inside", part.inside)):
        for (a, b), step in zip(pairwise(stations(steps)), steps, strict=True):
            if step.diameter:
                key = kind, step.diameter, step.thread, step.fit, step.words
                groups.setdefault(key, []).append((kind, a, b, step))
    return list(groups.values())


def _shown(part: Turned, group: list[Found]) -> tuple[tuple[str, str], ...]:
    text = _text(group[0][3])
    return tuple((_role(part, kind, a, b), text) for kind, a, b, _ in group)


def _times(group: list[Found]) -> str:
    return f"{len(group)} × " if len(group) > 1 else ""


def _seen_from(part: Turned, found: Found, sign: int) -> bool:
    """Whether a diameter can be followed to the left end (1) or the right one (-1)."""
    kind, a, b, step = found
    steps = part.outside if kind == "outside" else part.inside
    for (x0, x1), other in zip(pairwise(stations(steps)), steps, strict=True):
        before = x1 <= a + 1e-9 if sign == 1 else x0 >= b - 1e-9
        if before and (other.diameter > step.diameter) != (kind == "inside"):
            return False
    return True


def _beside(
    draft: Draft, part: Turned, along: Callable[[float], float], r: float
) -> list[list[Found]]:
    """Add diameters that are seen from an end beside it; return the others."""
    ends: dict[int, list[Span]] = {1: [], -1: []}
    others = []
    for group in _groups(part):
        step, text = group[0][3], _times(group) + _text(group[0][3])
        long = 2 * step.diameter * r
        places = [(sign, found) for sign, found in ((1, group[0]), (-1, group[-1]))
                  if _seen_from(part, found, sign)]  # fmt: skip
        if not places or step.thread or step.words or width(text) + 4 > long:
            others.append(group)
            continue
        sign, (_, a, b, _) = min(places, key=lambda place: len(ends[place[0]]))
        start = -along(a) if sign == 1 else along(b)
        ends[sign].append(Span(-long / 2, long / 2, (start, start), text, _shown(part, group)))
    for side, sign in (("left", 1), ("right", -1)):
        edge = 0.0 if sign == 1 else along(part.length)
        tiers(draft, side, ends[sign], edge + 2.0)  # type: ignore[arg-type]
    return others


def _labels(
    part: Turned, along: Callable[[float], float], r: float, groups: list[list[Found]]
) -> list[LeaderLabel]:
    """What is named above the view: threads, diameters in between, surfaces, broken edges."""
    made = []
    for group in groups:
        kind, a, b, step = group[0]
        at = along(a) + (along(b) - along(a)) * 0.4
        y = (step.diameter if kind == "outside" else minor(step)) * r
        lines = (_times(group) + _text(step), *(step.words.split("; ") if step.words else ()))
        made.append(LeaderLabel((at, y), lines, _shown(part, group)))
    left, right = part.chamfers
    ends = ((left, 0.0, part.outside[0]), (right, along(part.length), part.outside[-1]))
    for number, (leg, x, step) in enumerate(ends):
        if not leg or (number and leg == left):
            continue
        both = " both ends" if left == right else ""
        half = leg * r * (-1 if number else 1)
        anchor, text = (x + half, step.diameter * r - abs(half)), dimension(leg)
        made.append(LeaderLabel(anchor, (f"{text} × 45°{both}",), (("chamfer", text),)))
    return made
