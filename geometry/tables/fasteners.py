"""Threads and hexagon nuts: metric ones, and inch ones by their designation or diameter."""

from __future__ import annotations

import bisect
import functools
import re
from typing import Any

from platestack.geometry.tables.errors import OutOfTable, UnknownName
from platestack.geometry.tables.source import Table, certainty, in_mm, read
from platestack.geometry.tables.thread import Nut, Thread
from platestack.geometry.tables.unified import (
    heavy_nut,
    looks_unified,
    unified_on,
    unified_tables,
    unified_thread,
)

THREAD_FILE = "metric_thread.toml"
NUT_FILE = "hex_nut.toml"

_NUMBER = r"[0-9]{1,4}(?:[.,][0-9]{1,4})?"
_DESIGNATION = re.compile(rf"\s*M\s*({_NUMBER})\s*(?:[x×*]\s*({_NUMBER})\s*)?", re.IGNORECASE)


def thread(designation: str) -> Thread:
    """Return a thread: "M64", "M80x6", "m 80 × 4", or in inches "2-8 UN", "3-4 UNC".

    Without a pitch the coarse thread is meant. Above 68 mm, where ISO 261 has no coarse pitch,
    the largest listed pitch is taken (6 mm), as the trade does.

    Raises
    ------
    UnknownName
        If it is not a designation, or the diameter or pitch is not listed.
    """
    if looks_unified(designation):
        return unified_thread(designation)
    match = _DESIGNATION.fullmatch(designation)
    if match is None:
        raise UnknownName("metric thread", designation, thread_names())
    diameter = _number(match[1])
    pitch = _number(match[2]) if match[2] else None
    pitches = _pitches()
    if diameter not in pitches:
        near = sorted(pitches, key=lambda size: abs(size - diameter))[:2]
        suggestions = (_designation(size, pitches[size][0]) for size in near)
        raise UnknownName("metric thread", designation, thread_names(), suggestions)
    listed = pitches[diameter]
    chosen = listed[0] if pitch is None else pitch
    if chosen not in listed:
        near = sorted(listed, key=lambda size: abs(size - chosen))[:2]
        raise UnknownName(
            "metric thread",
            designation,
            (_designation(diameter, size) for size in listed),
            (_designation(diameter, size) for size in near),
        )
    return Thread(diameter / 1e3, chosen / 1e3, _designation(diameter, chosen))


def thread_names() -> tuple[str, ...]:
    """Return the designations of the largest pitch of every listed diameter."""
    return tuple(_designation(d, listed[0]) for d, listed in _pitches().items())


def largest_thread(diameter: float) -> Thread:
    """Return the largest thread, at its coarsest pitch, that a bar of `diameter` (m) can carry.

    An inch thread on a bar of a listed inch size.

    Raises
    ------
    OutOfTable
        If the bar is thinner than the smallest listed thread.
    """
    if (inch := unified_on(diameter)) is not None:
        return inch
    fitting = [d for d in _pitches() if d <= in_mm(diameter)]
    if not fitting:
        smallest = min(_pitches())
        raise OutOfTable(f"no listed thread on {in_mm(diameter):g} mm; smallest: M{smallest:g}")
    return thread(_designation(max(fitting), _pitches()[max(fitting)][0]))


def nut(d: float) -> Nut:
    """Return the hexagon nut of a thread diameter `d` (m): the heavy one of an inch thread.

    Listed diameters as in ISO 4032 and DIN 934; others over 64 mm by plain proportions
    (height 0.8 d, across flats about 1.44 d), marked as common practice.

    Raises
    ------
    OutOfTable
        If the diameter is neither listed nor within the rule's range.
    """
    if (heavy := heavy_nut(d)) is not None:
        return heavy
    d_mm = in_mm(d)
    rows = _nuts()
    if d_mm in rows:
        return rows[d_mm]
    rule = read(NUT_FILE)["rule"]
    if not rule["over"] < d_mm <= rule["up_to"]:
        listed = list(rows)
        place = bisect.bisect_left(listed, d_mm)
        near = " and ".join(f"M{size:g}" for size in listed[max(place - 1, 0) : place + 1])
        raise OutOfTable(
            f"no hexagon nut for d = {d_mm:g} mm; nearest listed: {near}. "
            f"Listed from M{listed[0]:g} to M{listed[-1]:g}; by proportion any d over "
            f"{rule['over']:g} up to {rule['up_to']:g} mm"
        )
    flats = rule["flats_step"] * round(rule["flats_ratio"] * d_mm / rule["flats_step"])
    return Nut(
        across_flats=flats / 1e3,
        height=rule["height_ratio"] * d_mm / 1e3,
        bearing_diameter=rule["bearing_ratio"] * flats / 1e3,
        source=rule["source"],
        certainty=certainty(rule),
    )


def fastener_tables() -> tuple[Table, ...]:
    """Return threads and nuts, for printing."""
    nuts = (_nut_table(block) for block in read(NUT_FILE)["series"])
    return (_thread_table(), *nuts, _rule_table(), *unified_tables())


@functools.cache
def _pitches() -> dict[float, tuple[float, ...]]:
    """Nominal diameter -> pitches, coarsest first (mm)."""
    return {float(d): tuple(map(float, row)) for d, row in read(THREAD_FILE)["pitches"]}


@functools.cache
def _nuts() -> dict[float, Nut]:
    """Thread diameter (mm) -> listed nut, by rising diameter."""
    return {
        float(d): Nut(s / 1e3, m / 1e3, dw / 1e3, block["source"], certainty(block))
        for block in read(NUT_FILE)["series"]
        for d, s, m, dw in block["rows"]
    }


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _designation(diameter: float, pitch: float) -> str:
    """Spell as ISO 261 does: the coarse pitch is left out."""
    coarse = pitch == _pitches()[diameter][0] and diameter <= read(THREAD_FILE)["coarse_up_to"]
    return f"M{diameter:g}" if coarse else f"M{diameter:g}x{pitch:g}"


def _thread_table() -> Table:
    rows = []
    for d, listed in _pitches().items():
        for pitch in listed:
            t = thread(f"M{d:g}x{pitch:g}")
            diameters = (f"{value * 1e3:.4f}" for value in (t.d2, t.d1, t.d3))
            rows.append((t.designation, f"{pitch:g}", *diameters, f"{t.stress_area * 1e6:.2f}"))
    block = read(THREAD_FILE)
    return Table(
        title="ISO metric threads for rods",
        columns=("thread", "pitch, mm", "d2, mm", "d1, mm", "d3, mm", "stress area, mm²"),
        rows=tuple(rows),
        source=block["source"],
        certainty=certainty(block),
        note="M72 and above have no coarse pitch; without a pitch the largest listed one is taken",
    )


def _nut_table(block: dict[str, Any]) -> Table:
    return Table(
        title=block["title"],
        columns=("thread", "across flats s, mm", "height m, mm", "bearing face dw, mm"),
        rows=tuple((f"M{d:g}", f"{s:g}", f"{m:g}", f"{dw:g}") for d, s, m, dw in block["rows"]),
        source=block["source"],
        certainty=certainty(block),
    )


def _rule_table() -> Table:
    rule = read(NUT_FILE)["rule"]
    rows = (
        ("height m", f"{rule['height_ratio']:g} d"),
        (
            "across flats s",
            f"{rule['flats_ratio']:g} d, rounded to the nearest {rule['flats_step']:g} mm",
        ),
        ("bearing face dw", f"{rule['bearing_ratio']:g} s"),
    )
    return Table(
        title=f"Hexagon nuts not listed, d over {rule['over']:g} up to {rule['up_to']:g} mm",
        columns=("dimension", "rule"),
        rows=rows,
        source=rule["source"],
        certainty=certainty(rule),
    )
