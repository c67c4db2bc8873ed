"""Rules for the tie rods: room for nuts, threads, a load that they can hold."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from platestack.geometry import layout, tables
from platestack.geometry.errors import Problem
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show


def _length(value: float) -> str:
    return show(value, LENGTH)


def rods(case: Case, press: Press) -> Iterator[Problem]:
    """Nuts have room beside each other; rods clear the ram; two rods carry no offset load."""
    rods = press.rods
    corner = rods[0].nut_across_flats * 2 / math.sqrt(3)
    room = max(corner, rods[0].bearing_outer)
    for one, two in combinations(rods, 2):
        distance = math.dist(one.at, two.at)
        if distance < room:
            yield Problem(
                "rods",
                f"{one.name} and {two.name} {_length(distance)} apart",
                f"allowed: at least {_length(room)}, so that their nuts and washers have room",
            )
    thread = tables.rod_thread(rods[0].thread)
    for key, given, least, why in (
        ("rods.nut_height", rods[0].nut_height, thread.pitch, "the pitch of its thread"),
        ("rods.nut_across_flats", rods[0].nut_across_flats, thread.d, "its thread"),
        (
            "rods.projection",
            rods[0].projection,
            rods[0].deviation[1] + thread.pitch - rods[0].nut_height,
            "keeps a pitch of the nut on its thread over the highest stack",
        ),
    ):
        if given <= least:
            yield Problem(key, _length(given), f"allowed: more than {why}, {_length(least)}")
    if rods[0].bearing_outer <= rods[0].hole:
        yield Problem(
            "rods.washer_diameter",
            _length(rods[0].bearing_outer),
            f"allowed: more than the rod hole, {_length(rods[0].hole)}",
        )
    if rods[0].hole < rods[0].diameter:
        yield Problem(
            "rods.hole",
            _length(rods[0].hole),
            f"allowed: at least rods.diameter, {_length(rods[0].diameter)}",
        )
    if layout.span(tuple(rod.at for rod in rods)) <= 0:
        yield Problem("rods.positions", "all rods at the same x", "allowed: rods apart along x")
    for rod in rods:
        need = (press.ram_diameter + rod.diameter) / 2
        if math.hypot(*rod.at) < need:
            yield Problem(
                "rods",
                f"{rod.name} {_length(math.hypot(*rod.at))} from the press axis",
                f"allowed: clear of the ram, at least {_length(need)}",
            )
    across = layout.line_of([rod.at for rod in rods])
    offset = case.workpiece.offset
    if across is not None and abs(across[0] * offset[0] + across[1] * offset[1]) > 1e-9:
        yield Problem(
            "workpiece.offset",
            f"({_length(offset[0])}, {_length(offset[1])})",
            "allowed: a load on the line of the rods, as rods in one line cannot hold "
            "it from tipping",
        )
    xs = [rod.at[0] for rod in rods]
    ysall = [rod.at[1] for rod in rods]
    x, y = case.workpiece.offset
    if not (min(xs) <= x <= max(xs) and min(ysall) - 1e-9 <= y <= max(ysall) + 1e-9):
        yield Problem(
            "workpiece.offset", f"({_length(x)}, {_length(y)})", "allowed: a load between the rods"
        )
    if abs(sum(xs)) > 1e-9 * len(xs) or abs(sum(ysall)) > 1e-9 * len(ysall):
        yield Problem(
            "rods.positions",
            "rods not centred on the press axis",
            "allowed: positions whose mean is (0 mm, 0 mm)",
        )
