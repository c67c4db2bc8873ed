"""Part numbers in circles beside a view."""

from __future__ import annotations

from collections.abc import Mapping

from platestack.geometry.drafting.dimensions import spread
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.lettering import TEXT, fitted
from platestack.geometry.shapes import Point

RADIUS, COLUMN = 4.6, 16.0
"""Of a circle; from a view to their column (mm)."""


def balloons(draft: Draft, places: Mapping[str, Point], sense: int) -> None:
    """Add part numbers in a column left (-1) or right (1) of a view, each with a line to its part.

    In the order of their places' heights, so that no line reaches another's circle.
    """
    if not places:
        return
    x0, _, x1, _ = draft.extent
    x = x0 - COLUMN if sense < 0 else x1 + COLUMN
    order = sorted(places.items(), key=lambda item: (item[1][1], item[0]))
    heights = spread([at[1] for _, at in order], [2 * RADIUS + 1.5] * len(order))
    for (number, at), y in zip(order, heights, strict=True):
        draft.own().circle((x, y), RADIUS, ink="thin")
        draft.stroke((x - sense * RADIUS, y), at, ink="thin")
        draft.circle(at, 0.5, ink="outline")
        shown, height = fitted(number, 2 * RADIUS - 2, TEXT)
        draft.words((x, y - height / 2), shown, height)
