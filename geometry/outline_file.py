"""Contours taken from a drawing (DXF): found on a layer, joined end to end, put into the case.

A drawing is hostile input: it is read within bounds, and each mistake names the entity and place.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import ParseError

from platestack.geometry import units
from platestack.geometry.contour import Contour, checked
from platestack.geometry.curves import Arc, Line, Point, at_place, through
from platestack.geometry.errors import CaseError, Problem
from platestack.geometry.smooth import BEZIER, Segment, SmoothCurve

LARGEST = 20_000_000
"""Bytes of a drawing."""
MOST = 5_000
"""Entities of a layer, parts of blocks and of polylines counted one by one."""
DEEPEST = 5
"""Blocks within blocks."""
JOINED = 5e-5
"""Ends nearer to each other (m) are one point."""
UNITS = {1: 0.0254, 4: 1e-3, 5: 1e-2, 6: 1.0}
"""Metres in each unit that a drawing's header may name by number."""
NAMED = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}
BESIDE = {
    "TEXT",
    "MTEXT",
    "DIMENSION",
    "POINT",
    "LEADER",
    "MULTILEADER",
    "HATCH",
    "ATTDEF",
    "XLINE",
}
"""Entities that are no edges, and are passed over."""


class Unusable(ValueError):
    """Why no contour can be taken from a drawing."""


def contours(path: Path, layer: str | None, unit: str | None) -> list[Contour]:
    """Closed contours on a layer, the outermost first, in m.

    Raises
    ------
    Unusable
        If the file cannot be read, its unit or layer is not known, or a contour is not closed.
    """
    space, units_of_file, names = _read(path)
    scale = NAMED[unit] if unit else UNITS.get(units_of_file)
    if scale is None:
        raise Unusable('the drawing names no unit that is known; allowed: the key unit, as "mm"')
    on_layer: dict[str, list[tuple[str, Segment]]] = {}
    for entity, name in _entities(space, 0):
        if layer is None or name.casefold() == layer.casefold():
            found = on_layer.setdefault(name, [])
            found += [(_told(entity), segment) for segment in _segments(entity, scale)]
            if len(found) > MOST:
                raise Unusable(f"layer {name!r} has over {MOST} edges; allowed: a simpler contour")
    on_layer = {name: found for name, found in on_layer.items() if found}
    if not on_layer:
        where = f"layer {layer!r}" if layer else "the drawing"
        raise Unusable(f"{where} has no edges; layers of the drawing: {', '.join(names[:12])}")
    if len(on_layer) > 1:
        raise Unusable(
            f"edges on layers {', '.join(sorted(on_layer)[:12])}; allowed: the key layer"
        )
    closed = [checked(Contour(tuple(loop))) for loop in _loops(next(iter(on_layer.values())))]
    closed.sort(key=lambda one: -one.area)
    for hole in closed[1:]:
        if not closed[0].polygon.contains(hole.polygon):
            raise Unusable(f"two contours, neither within the other; one at {_middle(hole)}")
    return closed


def _read(path: Path) -> tuple[Any, int, list[str]]:
    """Model space, number of the unit and names of layers, whatever it takes to be refused."""
    import ezdxf

    try:
        if not path.is_file():
            raise Unusable("there is no such file beside the case")
        if path.stat().st_size > LARGEST:
            raise Unusable(f"allowed: up to {LARGEST / 1e6:.0f} MB")
        document = ezdxf.readfile(path)
        names = sorted(str(layer.dxf.name) for layer in document.layers)
        return document.modelspace(), int(document.units), names
    except Unusable:
        raise
    except Exception as error:  # a damaged file can make the library raise anything
        reason = (str(error).splitlines() or [""])[0][:120]
        raise Unusable(f"it cannot be read as DXF: {reason or type(error).__name__}") from None


def _entities(space: Any, depth: int) -> Iterator[tuple[Any, str]]:
    """Entities with their layers; those of blocks in their places."""
    if depth > DEEPEST:
        raise Unusable(f"blocks stand in blocks more than {DEEPEST} deep")
    for count, entity in enumerate(space):
        if count > 20 * MOST:
            raise Unusable(f"over {20 * MOST} entities; allowed: a simpler drawing")
        kind = entity.dxftype()
        if kind == "INSERT":
            try:
                inner = list(entity.virtual_entities())
            except Exception:  # of a block that is damaged or not there
                raise Unusable(f"{_told(entity)} cannot be taken apart") from None
            for one, name in _entities(inner, depth + 1):
                yield one, entity.dxf.layer if name == "0" else name
        elif kind not in BESIDE:
            yield entity, str(entity.dxf.layer)


def _segments(entity: Any, scale: float) -> Iterator[Segment]:
    """Edges that an entity is, in m."""
    kind = entity.dxftype()
    try:
        if kind in ("LWPOLYLINE", "POLYLINE"):
            for part in entity.virtual_entities():
                yield from _segments(part, scale)
            return
        if kind == "LINE":
            ends = [_scaled(entity, p, scale) for p in (entity.dxf.start, entity.dxf.end)]
            if math.dist(*ends) > 0:
                yield Line(*ends)
        elif kind in ("ARC", "CIRCLE"):
            yield from _round(entity, scale)
        elif kind in ("SPLINE", "ELLIPSE"):
            for curve in _curves(entity):
                a, b, c, d = (_scaled(entity, point, scale) for point in curve.control_points)
                if max(math.dist(a, p) for p in (b, c, d)) > 0:
                    yield SmoothCurve((a, b, c, d), BEZIER)
        else:
            raise Unusable(
                f"{_told(entity)} is no edge; allowed: lines, arcs, circles, polylines, splines "
                "and ellipses, also in blocks"
            )
    except Unusable:
        raise
    except Exception as error:
        raise Unusable(f"{_told(entity)} is damaged: {str(error)[:80]}") from None


def _round(entity: Any, scale: float) -> Iterator[Segment]:
    """An arc or a circle, in parts of less than half a turn."""
    full = entity.dxftype() == "CIRCLE"
    start = 0.0 if full else float(entity.dxf.start_angle)
    turn = 360.0 if full else (float(entity.dxf.end_angle) - start) % 360.0 or 360.0
    count = math.ceil(turn / 120.0)
    centre, radius, to_world = entity.dxf.center, float(entity.dxf.radius), entity.ocs().to_wcs
    at = []
    for k in range(2 * count + 1):
        angle = math.radians(start + turn * k / (2 * count))
        x, y = centre.x + radius * math.cos(angle), centre.y + radius * math.sin(angle)
        at.append(_scaled(entity, to_world((x, y, centre.z)), scale))
    if full:
        at[-1] = at[0]
    for k in range(count):
        if math.dist(at[2 * k], at[2 * k + 2]) > 0:
            yield from through(*at[2 * k : 2 * k + 3])


def _curves(entity: Any) -> Iterator[Any]:
    """A spline or ellipse as cubics of Bézier's: exact for plain cubics, else within 1e-4 of it."""
    from ezdxf.math import cubic_bezier_from_ellipse

    tool = entity.construction_tool()
    if entity.dxftype() == "ELLIPSE":
        yield from cubic_bezier_from_ellipse(tool, segments=8)
    elif tool.degree == 3 and not tool.is_rational and tool.is_clamped:
        from ezdxf.math import Bezier4P

        yield from (Bezier4P(points) for points in tool.bezier_decomposition())
    else:
        yield from tool.cubic_bezier_approximation(level=8)


def _scaled(entity: Any, point: Any, scale: float) -> Point:
    """A point in m, to the nanometre; finite and of a size that a plate may have."""
    x, y = float(point[0]) * scale, float(point[1]) * scale
    if not (abs(x) < 100 and abs(y) < 100):
        raise Unusable(f"{_told(entity)} reaches {x:.3g}, {y:.3g} m; allowed: up to 100 m, a unit?")
    return round(x, 9), round(y, 9)


def _told(entity: Any) -> str:
    handle = entity.dxf.get("handle") or "of a block"
    return f"{entity.dxftype()} {handle} on layer {entity.dxf.layer!r}"


class _Ends:
    """Edges by where they end, each taken out once."""

    def __init__(self, pieces: list[tuple[str, Segment]]) -> None:
        self._left = dict(enumerate(pieces))
        self._at: dict[tuple[int, int], set[int]] = {}
        for number, (_, segment) in self._left.items():
            for end in (segment.start, segment.end):
                self._at.setdefault(self._cell(end), set()).add(number)

    def any(self) -> tuple[str, Segment] | None:
        """One that is left."""
        return self._left.pop(next(iter(self._left))) if self._left else None

    def after(self, end: Point, told: str) -> tuple[str, Segment]:
        """The only one left that goes on from a point."""
        i, j = self._cell(end)
        near = {
            n for di in (-1, 0, 1) for dj in (-1, 0, 1) for n in self._at.get((i + di, j + dj), ())
        }
        following = [
            (number, segment)
            for number in sorted(near & self._left.keys())
            for segment in (self._left[number][1], self._left[number][1].reversed())
            if math.dist(segment.start, end) <= JOINED
        ]
        if not following:
            others = [p for _, one in self._left.values() for p in (one.start, one.end)]
            away = min((math.dist(end, p) for p in others), default=math.inf)
            near_by = f"; the nearest other end is {1e3 * away:.3g} mm away" if others else ""
            raise Unusable(f"the contour is open at {at_place(end)}, where {told} ends{near_by}")
        if len(following) > 1:
            names = ", ".join(self._left[number][0] for number, _ in following[:3])
            raise Unusable(f"the contour branches at {at_place(end)}: {names}")
        number, segment = following[0]
        return self._left.pop(number)[0], segment

    def _cell(self, at: Point) -> tuple[int, int]:
        return math.floor(at[0] / JOINED), math.floor(at[1] / JOINED)


def _loops(pieces: list[tuple[str, Segment]]) -> Iterator[list[Segment]]:
    """Segments joined end to end, each used once, ends that nearly meet made one."""
    ends = _Ends(_unlike([one for one in pieces if one[1].length > JOINED]))
    while (found := ends.any()) is not None:
        told, first = found
        loop = [first]
        while math.dist(loop[-1].end, loop[0].start) > JOINED:
            told, segment = ends.after(loop[-1].end, told)
            loop.append(segment)
        yield _joined(loop)


def _unlike(pieces: list[tuple[str, Segment]]) -> list[tuple[str, Segment]]:
    """Without edges that lie on one another, drawn twice."""
    seen: dict[tuple[Any, ...], tuple[str, Segment]] = {}
    for told, segment in pieces:
        ends = sorted(tuple(round(v / JOINED) for v in p) for p in (segment.start, segment.end))
        key = (*ends, round(segment.length / JOINED), round(abs(segment.swept) / JOINED))
        seen.setdefault(key, (told, segment))
    return list(seen.values())


def _joined(loop: list[Segment]) -> list[Segment]:
    """A loop in which each segment begins exactly where the one before ends."""
    found: list[Segment] = []
    for index, segment in enumerate(loop):
        start = found[-1].end if found else segment.start
        end = found[0].start if index == len(loop) - 1 and found else segment.end
        if (start, end) == (segment.start, segment.end):
            found.append(segment)
        elif isinstance(segment, Line):
            found.append(Line(start, end))
        elif isinstance(segment, Arc):
            found += through(start, segment.middle, end)
        else:
            found.append(SmoothCurve((start, *segment.controls[1:-1], end), segment.knots))
    return found


def _middle(contour: Contour) -> str:
    x0, y0, x1, y1 = contour.box
    return at_place(((x0 + x1) / 2, (y0 + y1) / 2))


# --- into the case


def points(contour: Contour) -> list[Any]:
    """A contour as the points of a case."""
    found: list[Any] = []
    for segment in contour.segments:
        to = _words(segment.end)
        if isinstance(segment, Line):
            found.append(to)
        elif isinstance(segment, Arc):
            found.append({"to": to, "through": _words(segment.middle)})
        else:
            _, b, c, _ = segment.controls  # as they are read, and as `control` makes them
            found.append({"to": to, "control": [_words(b), _words(c)]})
    return found


def with_points(text: str, folder: Path, file: str) -> str:
    """The text of a case whose outlines stand in it, in place of the drawings that it names.

    Closed contours within an outline become openings beside it. Raises `CaseError`, a line for
    each drawing that cannot be used.
    """
    try:
        document = tomlkit.parse(text)
    except ParseError:  # told with its place by who reads it
        return text
    problems: list[Problem] = []
    for table, key, place in list(_named(document, "")):
        try:
            _replace(table, key, folder)
        except ValueError as error:
            words = "".join(c if c.isprintable() else "?" for c in str(error))
            problems.append(Problem(f"{place}.file", f'"{table[key]["file"]}"', words))
    if problems:
        raise CaseError(file, problems)
    return tomlkit.dumps(document)


def _named(table: Any, place: str) -> Iterator[tuple[Any, Any, str]]:
    """Tables that name a drawing: what they stand in, their key there, and their place."""
    keys = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in keys:
        if isinstance(value, dict | list):
            step = f"[{key + 1}]" if isinstance(key, int) else f".{key}" if place else str(key)
            contour = key == "outline" or (
                isinstance(value, dict) and value.get("shape") == "contour"
            )
            if contour and isinstance(value, dict) and isinstance(value.get("file"), str):
                yield table, key, place + step
            else:
                yield from _named(value, place + step)


def _replace(table: Any, key: Any, folder: Path) -> None:
    """Put points in the place of a drawing's name."""
    given = table[key]
    layer, unit = given.get("layer"), given.get("unit")
    if unit is not None and unit not in NAMED:
        raise Unusable(f"unit {unit!r}; allowed: {', '.join(NAMED)}")
    outer, *holes = contours(folder / given["file"], layer and str(layer), unit)
    x, y = (units.parse(v, units.OFFSET) for v in given.get("axis", ["0 mm", "0 mm"]))
    outer, *holes = (one.moved(-x, -y) for one in (outer, *holes))
    if key == "outline" and outer.clearance((0.0, 0.0)) < 0:
        raise Unusable(
            "the press axis lies outside of the contour; allowed: the key axis, such as the "
            f"middle of its box, {_middle(outer.moved(x, y))}"
        )
    made: dict[str, Any] = {"points": points(outer)}
    if key != "outline":
        if holes:
            raise Unusable(f"{len(holes) + 1} contours; allowed: one")
        table[key] = {"shape": "contour"} | made
        return
    table[key] = made
    if holes:
        table.setdefault("openings", tomlkit.array())
        table["openings"] += [{"shape": "contour", "points": points(hole)} for hole in holes]


def _words(at: Point) -> list[str]:
    return [f"{round(1e3 * v, 6) + 0.0:.12g} mm" for v in at]
