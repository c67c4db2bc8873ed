"""The sheet around a drawing: frame, title block with the fields of ISO 7200, notes, projection."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.lettering import LARGE, LEADING, SMALL, TEXT, fitted, wrapped
from platestack.geometry.drafting.paper import SCALES, Paper, scale_words

BLOCK, ROW = 180.0, 8.5
"""Width of the title block (ISO 7200), height of a row of its fields (mm)."""
APART, INDENT = 5.0, 6.0


@dataclass(frozen=True)
class DrawingHead:
    """What the title block says; an empty field stays empty, to be filled in by hand."""

    number: str
    title: str
    press: str
    owner: str = ""
    creator: str = ""
    approver: str = ""
    revision: str = ""
    date: str = ""
    kind: str = "part drawing"
    material: str = ""
    mass: str = ""
    quantity: str = ""
    tolerances: str = ""
    projection: str = "first"
    origin: str = ""
    """Program and its version, digest of the case."""
    unit: str = "mm"


@dataclass(frozen=True)
class SheetDraft:
    """A finished sheet."""

    head: DrawingHead
    paper: Paper
    scale: float
    draft: Draft = field(compare=False)


def compose(
    head: DrawingHead, make: Callable[[float], Draft | None], notes: Sequence[str],
    papers: Sequence[Paper], sheet: str = "", scales: Sequence[float] = SCALES,
) -> SheetDraft:  # fmt: skip
    """Put a drawing on the first of some papers on which it fits, at the largest scale.

    `make` draws at a scale, or returns None where it cannot. On the last paper the smallest scale
    is taken even if the drawing is larger than its room.
    """
    for paper in papers:
        bottom = _bottom(notes, paper)
        x0, y0, x1, y1 = paper.frame
        room = x1 - x0 - 2 * APART, y1 - y0 - bottom - 2 * APART
        for scale in scales:
            drawn = make(scale)
            if drawn is None:
                continue
            a, b, c, d = drawn.extent
            last = paper is papers[-1] and scale == scales[-1]
            if (c - a <= room[0] and d - b <= room[1]) or last:
                whole = _framed(head, paper, notes, scale, sheet)
                middle = (x0 + x1) / 2, (y0 + bottom + y1) / 2
                whole.add(drawn, (middle[0] - (a + c) / 2, middle[1] - (b + d) / 2))
                return SheetDraft(head, paper, scale, whole)
    raise AssertionError("the last scale of the last paper is always taken")


def _beside(paper: Paper) -> bool:
    """Whether notes stand beside the title block, instead of above it."""
    x0, _, x1, _ = paper.frame
    return x1 - x0 > 1.5 * BLOCK


def _note_lines(notes: Sequence[str], paper: Paper) -> list[tuple[str, str]]:
    """Lines of the notes, the first of each with its number."""
    x0, _, x1, _ = paper.frame
    room = (x1 - x0 - BLOCK if _beside(paper) else x1 - x0) - 2 * APART
    return [(f"{number}" if index == 0 else "", line) for number, note in enumerate(notes, 1)
            for index, line in enumerate(wrapped(note, room - INDENT))]  # fmt: skip


def _bottom(notes: Sequence[str], paper: Paper) -> float:
    """Height of what stands below the drawing (mm)."""
    block = 5 * ROW
    text = len(_note_lines(notes, paper)) * TEXT * LEADING + APART
    return max(block, text) if _beside(paper) else block + text


def _framed(
    head: DrawingHead, paper: Paper, notes: Sequence[str], scale: float, sheet: str
) -> Draft:
    """A sheet with its frame, title block and notes."""
    draft = Draft()
    x0, y0, x1, y1 = paper.frame
    draft.own().box(x0, y0, x1, y1, ink="frame")
    wide = BLOCK if _beside(paper) else x1 - x0
    _block(draft, head, (x1 - wide, y0), wide, paper, scale_words(scale), sheet)
    lines = _note_lines(notes, paper)
    top = y0 + _bottom(notes, paper) - APART / 2 - TEXT
    for index, (number, line) in enumerate(lines):
        y = top - index * TEXT * LEADING
        draft.own().words((x0 + APART, y), number, side="left")
        draft.words((x0 + APART + INDENT, y), line, side="left")
    return draft


def _block(
    draft: Draft, head: DrawingHead, at: tuple[float, float], wide: float, paper: Paper,
    scale: str, sheet: str,
) -> None:  # fmt: skip
    """The title block, its lower left corner at a place."""
    rows = (
        (("case and program", head.origin, 86), ("drawing number", head.number, 44),
         ("revision", head.revision, 22), ("sheet", sheet, 28)),
        (("general tolerances", head.tolerances, 100), ("document", head.kind, 46),
         ("date of issue", head.date, 34)),
        (("creator", head.creator, 40), ("approver", head.approver, 40),
         ("units", head.unit, 16), ("size", paper.name, 20), ("scale", scale, 24),
         ("projection", "", 40)),
        (("material", head.material, 70), ("quantity", head.quantity, 40),
         ("mass of one", head.mass, 70)),
        (("legal owner", head.owner, 60), ("title", head.title, 70), ("press", head.press, 50)),
    )  # fmt: skip
    x0, y0 = at
    draft.own().box(x0, y0, x0 + wide, y0 + len(rows) * ROW)
    for number, row in enumerate(rows):
        y, x = y0 + number * ROW, x0
        stretch = wide / sum(room for *_, room in row)
        if number:
            draft.own().stroke((x0, y), (x0 + wide, y), ink="thin")
        for name, text, room in row:
            long = room * stretch
            if x > x0:
                draft.own().stroke((x, y), (x, y + ROW), ink="thin")
            draft.own().words((x + 1.2, y + ROW - SMALL - 0.6), name, SMALL, "left")
            large = LARGE if name in ("title", "drawing number") else TEXT
            for line, height, up in _in_field(text, long - 2.4, large):
                draft.words((x + 1.2, y + up), line, height, "left")
            if name == "projection":
                _projection(draft, head.projection, (x + long / 2 + 6.0, y + ROW / 2))
            x += long


def _in_field(text: str, room: float, height: float) -> list[tuple[str, float, float]]:
    """Lines of a field with their height and place: one as large as fits, or two small ones."""
    first, *rest = wrapped(text, room, SMALL)
    if not rest:
        return [(*fitted(text, room, height), 1.3)]
    return [(first, SMALL, 3.2), (*fitted(" ".join(rest), room, SMALL), 0.6)]


def _projection(draft: Draft, angle: str, at: tuple[float, float]) -> None:
    """Symbol of the method of projection, ISO 5456-2: a cone, and its view from the left."""
    x, y = at
    cone, rings = (x - 6.0, x + 5.0) if angle == "first" else (x + 6.0, x - 5.0)
    small, large, long = 1.3, 2.6, 5.0
    draft.own()
    draft.circle((rings, y), small)
    draft.circle((rings, y), large)
    left, right = cone - long / 2, cone + long / 2
    draft.stroke((left, y - small), (right, y - large), (right, y + large), (left, y + small),
                 closed=True)  # fmt: skip
    draft.stroke((rings - 3.4, y), (rings + 3.4, y), ink="centre")
    draft.stroke((rings, y - 3.4), (rings, y + 3.4), ink="centre")
    draft.stroke((cone - 3.5, y), (cone + 3.5, y), ink="centre")
