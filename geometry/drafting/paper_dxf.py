"""A drawing as DXF, in millimetres of paper: a layer for each kind of line, with its width."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from platestack.geometry import dxf
from platestack.geometry.drafting.draft import INKS, ArcStroke, Draft, Words
from platestack.geometry.drafting.lettering import FILE

COLOURS = {"outline": 7, "thin": 3, "centre": 1, "hidden": 2, "hatch": 8, "frame": 7, "text": 7}
"""Colour numbers of the layers."""
CODES = str.maketrans({"⌀": "%%c", "°": "%%d", "±": "%%p"})
"""Signs for which the format has codes of its own, as not every font holds them."""


def write(draft: Draft, path: Path) -> None:
    """Write a drawing; words are texts, arrowheads solids, all else lines, arcs and circles."""
    document = dxf.begin(COLOURS, inches=False)
    document.header["$LTSCALE"] = 1.0
    document.styles.add("drawing", font=FILE)
    for name, (width, dashes) in INKS.items():
        layer = document.layers.get(name)
        layer.dxf.lineweight = round(100 * width)
        if dashes:
            signed = [d if i % 2 == 0 else -d for i, d in enumerate(dashes)]
            document.linetypes.add(name, [sum(dashes), *signed], description=f"{name} line")
            layer.dxf.linetype = name
    space = document.modelspace()
    for item in draft.items:
        if isinstance(item, Words):
            shown = dxf.escaped(item.text).translate(CODES)
            look = {"layer": "text", "style": "drawing"}
            dxf.add_text(space, shown, item.at, item.height, look, item.side, upright=item.upright)
            continue
        look = {"layer": item.ink}
        if isinstance(item, ArcStroke):
            if item.end - item.start >= 360:
                space.add_circle(item.centre, item.radius, look)
            else:
                space.add_arc(item.centre, item.radius, item.start, item.end, dxfattribs=look)
        elif item.filled:
            space.add_solid(item.points[:3], look)
        else:
            for a, b in pairwise(item.points):
                space.add_line(a, b, look)
    document.saveas(path)
