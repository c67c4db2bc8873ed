"""The sheets of a press: general arrangement first, then each part."""

from __future__ import annotations

import datetime
from functools import partial

import platestack
from platestack.fea.jobs.buying import Materials
from platestack.fea.jobs.drawings.arrangement import general
from platestack.fea.jobs.drawings.parts import PartDrawing, parts
from platestack.geometry.drafting import Draft, DrawingHead, compose, flat_view, turned_view
from platestack.geometry.drafting.frame import SheetDraft
from platestack.geometry.drafting.paper import Paper, paper
from platestack.geometry.drafting.solids import FlatPart
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import quantity, shown_in

USUAL = "ISO 2768-mK (as widely used)"
WIDE = 0.62
"""Share of the sheet's width that a turned part may take; dimensions stand beside it."""


SHORT = 0.125
"""Parts of this length (m) go on the smaller paper."""


def heading(press: Press, case: Case, digest: str, projection: str = "") -> DrawingHead:
    """What all title blocks of a press have in common."""
    own = case.drawings
    unit = shown_in("m").name
    return DrawingHead(
        number="", title="", press=press.name, owner=own.owner or "", creator=own.creator or "",
        approver=own.approver or "", revision=own.revision,
        date=datetime.date.today().isoformat(), tolerances=own.general_tolerances or USUAL,
        projection=projection or own.projection or ("third" if unit == "in" else "first"),
        origin=f"case {digest[:12]}, platestack {platestack.__version__}", unit=unit,
    )  # fmt: skip


def sheets(
    press: Press, case: Case, made: Materials, digest: str, projection: str = ""
) -> tuple[SheetDraft, ...]:
    """All sheets, in the order of their numbers in the list."""
    from dataclasses import replace

    head = heading(press, case, digest, projection)
    drawn = parts(press, case, made.lines)
    first = general(press, case, made, head)
    count = len(first) + len(drawn)
    done = [sheet(f"{number} / {count}") for number, sheet in enumerate(first, 1)]
    for number, part in enumerate(drawn, len(first) + 1):
        own = replace(
            head, number=part.number, title=part.title, material=part.lines[0].material,
            mass=quantity(part.lines[0].mass, "kg"), quantity=f"{part.quantity:g}",
        )  # fmt: skip
        done.append(draw(part, own, f"{number} / {count}"))
    return tuple(done)


def draw(part: PartDrawing, head: DrawingHead, sheet: str = "") -> SheetDraft:
    """One part on its sheet: the smaller paper where it is large enough there."""
    small, large = paper("small"), paper("large")
    solid = part.solid
    if isinstance(solid, FlatPart):
        size = max(solid.box[2] - solid.box[0], solid.box[3] - solid.box[1])
        make = partial(flat_view, solid, first_angle=head.projection == "first")
        papers: tuple[Paper, ...] = (small, large) if size < 0.2 else (large,)
        return compose(head, make, part.notes, papers, sheet)
    short = solid.length <= max(SHORT, 0.8 * max(step.diameter for step in solid.outside))
    on = small if short else large

    def turned(scale: float) -> Draft | None:
        return turned_view(solid, scale, WIDE * on.width)

    return compose(head, turned, part.notes, (on, large), sheet)
