"""Whether a drawing can be read: no words over words, nor over lines of something else."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from platestack.geometry.drafting.draft import Draft, Stroke, Words

CLEAR = 0.15
"""Boxes of words are taken smaller by it on each side (mm): letters do not fill them."""


def conflicts(draft: Draft) -> list[str]:
    """Say which words lie over others, or over a line that does not belong to them."""
    from shapely import STRtree, box, linestrings, polygons

    texts = list(draft.texts)
    boxes = [box(x0 + CLEAR, y0 + CLEAR, x1 - CLEAR, y1 - CLEAR)
             for x0, y0, x1, y1 in (text.box for text in texts)]  # fmt: skip
    if not boxes:
        return []
    tree = STRtree(boxes)
    found = []
    for i, j in zip(*tree.query(boxes, predicate="intersects"), strict=True):
        if i < j:
            found.append(f"{texts[i].text!r} over {texts[j].text!r}")
    lines, owners = [], []
    for owner, shape in _lines(draft):
        lines.append(shape)
        owners.append(owner)
    shapes = [polygons(s) if len(s) > 3 and s[0] == s[-1] else linestrings(s) for s in lines]
    for i, j in zip(*tree.query(shapes, predicate="intersects"), strict=True):
        if owners[i] != texts[j].owner:
            found.append(f"{texts[j].text!r} over a line")
    return found


def _lines(draft: Draft) -> Iterator[tuple[int, tuple[tuple[float, float], ...]]]:
    for item in draft.items:
        if isinstance(item, Words):
            continue
        if isinstance(item, Stroke) and item.filled:
            yield item.owner, item.points
            continue
        for ends in pairwise(item.points):
            yield item.owner, ends
