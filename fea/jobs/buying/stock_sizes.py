"""What is added to a part for the saw and for machining, and how much of it is then bought (m)."""

from __future__ import annotations

import math

from platestack.fea.jobs.buying.line import Size

SAW = 3e-3
"""Width of a saw cut."""
ENDS = 3e-3
"""Left on each end that is faced."""
TURNED = 5e-3
"""Left on a diameter that is turned or bored; hot-rolled bar and tube."""
STEP = 1e-3
"""Order sizes are rounded up to it."""


def up(length: float) -> float:
    """Round up to whole `STEP`."""
    return round(math.ceil(length / STEP - 1e-6) * STEP, 6)


def bar(diameter: float, length: float, *, turned: bool = True) -> Size:
    """Round bar for a part: on its diameter, sawn and faced; turned all over, or ends only."""
    thick = diameter + TURNED if turned else diameter
    return Size("bar", (up(thick) if turned else thick, up(length + 2 * ENDS + SAW)))


def tube(outer: float, inner: float, length: float, *, honed: bool = False) -> Size:
    """Tube for a ring or a sleeve; a honed one has its bore, and its skin stays as it is."""
    if honed:
        return Size("tube", (outer, inner, up(length + 2 * ENDS + SAW)))
    return Size("tube", (up(outer + TURNED), max(inner - TURNED, 0.0), up(length + 2 * ENDS + SAW)))


def volume(size: Size) -> float:
    """Volume of what is bought (m³)."""
    if size.form == "plate":
        return math.prod(size.sizes)
    if size.form == "bar":
        return math.pi / 4 * size.sizes[0] ** 2 * size.sizes[1]
    if size.form == "tube":
        return math.pi / 4 * (size.sizes[0] ** 2 - size.sizes[1] ** 2) * size.sizes[2]
    return 0.0
