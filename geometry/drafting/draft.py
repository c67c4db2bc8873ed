"""What stands on paper: strokes, arcs, arrowheads, words, and to what each belongs. In mm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from platestack.geometry.drafting import lettering
from platestack.geometry.shapes import Point

Ink = Literal["outline", "thin", "centre", "hidden", "hatch", "frame"]
Side = Literal["left", "middle", "right"]
INKS: dict[Ink, tuple[float, tuple[float, ...]]] = {
    "outline": (0.5, ()), "thin": (0.25, ()), "centre": (0.25, (6.0, 0.8, 0.3, 0.8)),
    "hidden": (0.25, (3.0, 0.8)), "hatch": (0.18, ()), "frame": (0.7, ()),
}  # fmt: skip
"""Width of a line, and its dashes and gaps (mm): ISO 128-2 line types 01.2, 01.1, 04.1, 02.1 in the
line group 0.5 (not verified against the standard)."""
ARROW = 2.5
"""Length of an arrowhead, closed and filled, as wide as a third of it."""
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    points: tuple[Point, ...]
    ink: Ink
    owner: int
    filled: bool = False

    def moved(self, by: Point) -> Stroke:
        """The stroke elsewhere."""
        return replace(self, points=tuple((x + by[0], y + by[1]) for x, y in self.points))


@dataclass(frozen=True)
class ArcStroke:
    """An arc of a circle, counter-clockwise from one angle to another (degrees)."""

    centre: Point
    radius: float
    ink: Ink
    owner: int
    start: float = 0.0
    end: float = 360.0

    def moved(self, by: Point) -> ArcStroke:
        """The arc elsewhere."""
        return replace(self, centre=(self.centre[0] + by[0], self.centre[1] + by[1]))

    @property
    def points(self) -> tuple[Point, ...]:
        """Points along it, every few degrees, chords within a fiftieth of a millimetre."""
        step = min(7.5, math.degrees(2 * math.acos(max(0.0, 1 - 0.02 / self.radius))))
        n = max(2, math.ceil((self.end - self.start) / step))
        turns = (math.radians(self.start + (self.end - self.start) * i / n) for i in range(n + 1))
        x, y, r = *self.centre, self.radius
        return tuple((x + r * math.cos(a), y + r * math.sin(a)) for a in turns)


@dataclass(frozen=True)
class Words:
    """A line of text: `at` is the left, middle or right end of its baseline; or read upwards."""

    at: Point
    text: str
    owner: int
    height: float = lettering.TEXT
    side: Side = "middle"
    upright: bool = False

    def moved(self, by: Point) -> Words:
        """The words elsewhere."""
        return replace(self, at=(self.at[0] + by[0], self.at[1] + by[1]))

    @property
    def box(self) -> Box:
        """Left, lower, right and upper end."""
        long = lettering.width(self.text, self.height)
        before = {"left": 0.0, "middle": long / 2, "right": long}[self.side]
        low, high = -lettering.BELOW * self.height, lettering.ABOVE * self.height
        x, y = self.at
        if self.upright:
            return x - high, y - before, x - low, y - before + long
        return x - before, y + low, x - before + long, y + high


Item = Stroke | ArcStroke | Words


@dataclass(frozen=True)
class ShownNumber:
    """A number of the part that a text shows: `role` says which."""

    role: str
    text: str


@dataclass
class Draft:
    """A drawing that grows; `own` begins something new, to which all that follows belongs."""

    items: list[Item] = field(default_factory=list)
    shown: list[ShownNumber] = field(default_factory=list)
    owner: int = 0

    def own(self) -> Draft:
        """Begin something new."""
        self.owner += 1
        return self

    def stroke(self, *points: Point, ink: Ink = "outline", closed: bool = False) -> None:
        """Add a line through points."""
        ends = (*points, points[0]) if closed else points
        self.items.append(Stroke(ends, ink, self.owner))

    def box(self, x0: float, y0: float, x1: float, y1: float, ink: Ink = "outline") -> None:
        """Add a rectangle."""
        self.stroke((x0, y0), (x1, y0), (x1, y1), (x0, y1), ink=ink, closed=True)

    def circle(
        self, at: Point, radius: float, ink: Ink = "outline", start: float = 0.0, end: float = 360.0
    ) -> None:
        """Add a circle, or an arc of it."""
        self.items.append(ArcStroke(at, radius, ink, self.owner, start, end))

    def words(
        self, at: Point, text: str, height: float = lettering.TEXT, side: Side = "middle",
        *, upright: bool = False,
    ) -> None:  # fmt: skip
        """Add a line of text."""
        if text:
            self.items.append(Words(at, text, self.owner, height, side, upright))

    def arrow(self, tip: Point, towards: Point) -> None:
        """Add an arrowhead whose tip points away from `towards`."""
        long = math.dist(tip, towards) or 1.0
        ux, uy = ((towards[i] - tip[i]) / long * ARROW for i in (0, 1))
        a, b = ((tip[0] + ux - s * uy / 6, tip[1] + uy + s * ux / 6) for s in (1, -1))
        self.items.append(Stroke((tip, a, b, tip), "thin", self.owner, filled=True))

    def show(self, role: str, text: str) -> None:
        """Say which number of the part a text shows that was added."""
        self.shown.append(ShownNumber(role, text))

    def add(self, other: Draft, at: Point = (0.0, 0.0)) -> None:
        """Add another drawing, moved by `at`; what belongs together there does so here."""
        self.items += [
            replace(item, owner=item.owner + self.owner + 1).moved(at) for item in other.items
        ]
        self.shown += other.shown
        self.owner += other.owner + 1

    @property
    def extent(self) -> Box:
        """Left, lower, right and upper end of all."""
        boxes = [bounds(item) for item in self.items]
        x0, y0, x1, y1 = zip(*boxes, strict=True)
        return min(x0), min(y0), max(x1), max(y1)

    @property
    def texts(self) -> Iterator[Words]:
        """All words."""
        return (item for item in self.items if isinstance(item, Words))


def bounds(item: Item) -> Box:
    """Left, lower, right and upper end of an item."""
    if isinstance(item, Words):
        return item.box
    if isinstance(item, ArcStroke) and item.end - item.start >= 360:
        (x, y), r = item.centre, item.radius
        return x - r, y - r, x + r, y + r
    return around(item.points)


def around(points: Sequence[Point] | Iterable[Point]) -> Box:
    """Left, lower, right and upper end of points."""
    x, y = zip(*points, strict=True)
    return min(x), min(y), max(x), max(y)
