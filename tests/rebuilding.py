"""A part made again from nothing but the numbers on its drawing, and what they are said to be.

Faces of a turned part are found from the lengths between them, its volume from diameters between
faces; a flat part from length, width, thickness, corners and openings. A number that is missing on
the drawing makes this fail.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from platestack.geometry import tables
from platestack.geometry.drafting.draft import Draft, ShownNumber
from platestack.geometry.units import shown_in

SIZE = r"([\d.]+)"


def metres(text: str) -> float:
    """A length that a drawing shows (m)."""
    return float(text) * shown_in("m").scale


def diameter(text: str) -> float:
    """Diameter that a drawing shows (m): with its sign, or the nominal one of a thread."""
    if match := re.match(rf"⌀ {SIZE}", text):
        return metres(match[1])
    if match := re.match(rf"60° thread {SIZE} ×", text):
        return metres(match[1])
    if match := re.fullmatch(rf"M{SIZE}x{SIZE} - 6[gH]", text):  # also such as no table has
        return float(match[1]) * 1e-3
    return tables.rod_thread(text.rpartition(" - ")[0]).d


def both(text: str) -> tuple[float, float]:
    """Two lengths that a drawing shows, ``"40 × 20"`` (m)."""
    first, second = re.match(rf"{SIZE} × {SIZE}", text).groups()
    return metres(first), metres(second)


def faces(shown: Iterable[ShownNumber]) -> dict[int, float]:
    """Place of each face of a turned part (m), from the lengths between faces."""
    known = {0: 0.0}
    spans = [(*map(int, re.match(r"length (\d+)-(\d+)", s.role).groups()), metres(s.text))
             for s in shown if s.role.startswith("length ")]  # fmt: skip
    for _ in spans:
        for a, b, long in spans:
            if a in known:
                known.setdefault(b, known[a] + long)
            elif b in known:
                known[a] = known[b] - long
    return known


def turned(draft: Draft) -> float:
    """Volume of a turned part (m³)."""
    at, volume = faces(draft.shown), 0.0
    for one in draft.shown:
        if match := re.match(r"(outside|inside) (\d+)-(\d+)", one.role):
            long = at[int(match[3])] - at[int(match[2])]
            assert long > 0
            sign = 1 if match[1] == "outside" else -1
            volume += sign * math.pi / 4 * diameter(one.text) ** 2 * long
    return volume


def flat(draft: Draft) -> float:
    """Volume of a flat part (m³)."""
    by = {one.role: one.text for one in draft.shown}
    thickness, length, width = metres(by["thickness"]), 0.0, 0.0
    if "across flats" in by:
        area = math.sqrt(3) / 2 * metres(by["across flats"]) ** 2
    elif "diameter" in by:
        area = math.pi / 4 * metres(by["diameter"]) ** 2
    else:
        length, width = metres(by["length"]), metres(by["width"])
        area = length * width
    for kind, lost in (("chamfered", 2.0), ("rounded", 4 - math.pi)):
        if kind in by:
            area -= lost * metres(by[kind]) ** 2
    milled, pending = 0.0, 0.0
    for one in draft.shown:
        if one.role == "opening":
            area -= math.pi / 4 * diameter(one.text) ** 2
        elif one.role == "rectangle":
            area -= math.prod(both(one.text))
        elif one.role == "rectangle corner":
            area += (4 - math.pi) * metres(one.text.removeprefix("R ")) ** 2
        elif one.role.startswith("slot "):
            (wide, deep), run = both(one.text), length if one.role.endswith("x") else width
            milled, pending = milled + wide * deep * run, wide * run
        elif one.role.startswith("head "):
            (wide, deep), run = both(one.text), length if one.role.endswith("x") else width
            milled += wide * deep * run - pending * deep
    return area * thickness - milled


def volume(draft: Draft) -> float:
    """Volume of a part (m³)."""
    return flat(draft) if any(one.role == "thickness" for one in draft.shown) else turned(draft)
