"""Bolts: property classes, wrench sizes; and trapezoidal threads."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass, replace

from platestack.geometry.tables.errors import (
    OutOfTable,
    UnknownName,
)
from platestack.geometry.tables.fasteners import nut, thread_names
from platestack.geometry.tables.fasteners import thread as metric_thread
from platestack.geometry.tables.source import Table, certainty, in_mm, read
from platestack.geometry.tables.thread import Nut, Thread

CLASS_FILE = "property_class.toml"
WRENCH_FILE = "wrench_size.toml"
TRAPEZOIDAL_FILE = "trapezoidal_thread.toml"

_TRAPEZOIDAL = re.compile(r"\s*Tr\s*([0-9]{1,4})\s*(?:[x×*]\s*([0-9]{1,2}))?\s*", re.IGNORECASE)


@dataclass(frozen=True)
class PropertyClass:
    """Strength of a bolt (Pa): tensile, yield (ReL or Rp0.2) and stress under proof load."""

    name: str
    tensile_strength: float
    yield_strength: float
    proof_stress: float
    listed: bool
    """Whether the standard covers the diameter; beyond, its last values are taken."""
    source: str


@dataclass(frozen=True)
class TrapezoidalThread:
    """An ISO metric trapezoidal thread (m): nominal diameter, pitch, crest clearance."""

    d: float
    pitch: float
    clearance: float
    flank = math.radians(15)
    """Angle between flank and normal of the axis."""

    @property
    def d2(self) -> float:
        """Pitch diameter, d − P/2 (m)."""
        return self.d - self.pitch / 2

    @property
    def d3(self) -> float:
        """Root diameter of the rod thread, d − 2 (P/2 + a_c) (m)."""
        return self.d - 2 * (self.pitch / 2 + self.clearance)

    @property
    def d1(self) -> float:
        """Minor diameter of the nut thread, d − P (m)."""
        return self.d - self.pitch

    @property
    def d4(self) -> float:
        """Major diameter of the nut thread, d + 2 a_c (m)."""
        return self.d + 2 * self.clearance

    @property
    def designation(self) -> str:
        """As ISO 2902 spells it."""
        return f"Tr{in_mm(self.d):g}x{in_mm(self.pitch):g}"

    @property
    def stress_area(self) -> float:
        """π/4 ((d2 + d3)/2)² (m²), as for metric threads."""
        return math.pi / 4 * ((self.d2 + self.d3) / 2) ** 2


def property_class(name: str, d: float) -> PropertyClass:
    """Return the strengths of a property class for a thread diameter `d` (m).

    Raises
    ------
    UnknownName
        If it is not listed.
    OutOfTable
        If the diameter is not positive.
    """
    block = read(CLASS_FILE)
    wanted = "".join(name.split())
    size = in_mm(d)
    if wanted not in property_class_names():
        raise UnknownName("property class", name, property_class_names())
    if not 0 < size < math.inf:
        raise OutOfTable(f"bolt diameter {size:g} mm; allowed: more than 0")
    rm, re_, sp = next(
        row[2:] for row in block["rows"] if row[0] == wanted and (size <= row[1] or not row[1])
    )
    return PropertyClass(
        wanted, rm * 1e6, re_ * 1e6, sp * 1e6, size <= block["up_to"], block["source"]
    )


@functools.cache
def property_class_names() -> tuple[str, ...]:
    """Return the listed property classes, weakest first."""
    return tuple(dict.fromkeys(row[0] for row in read(CLASS_FILE)["rows"]))


def wrench_size(d: float, *, structural: bool = False) -> float:
    """Return the width across flats (m) of a bolt of thread diameter `d` (m).

    `structural` asks for the larger hexagon of high-strength structural bolts.

    Raises
    ------
    OutOfTable
        If there is no such bolt.
    """
    if not structural:
        return nut(d).across_flats
    rows = {float(size): flats for size, flats in read(WRENCH_FILE)["rows"]}
    if in_mm(d) not in rows:
        listed = ", ".join(f"M{size:g}" for size in rows)
        raise OutOfTable(f"no structural bolt with d = {in_mm(d):g} mm; listed: {listed}")
    return rows[in_mm(d)] / 1e3


def trapezoidal_thread(designation: str) -> TrapezoidalThread:
    """Return a trapezoidal thread of the medium series: "Tr80x10", "tr 80".

    Raises
    ------
    UnknownName
        If it is not a designation, or diameter and pitch are not listed.
    """
    match = _TRAPEZOIDAL.fullmatch(designation)
    pitches = dict(read(TRAPEZOIDAL_FILE)["pitches"])
    d = int(match[1]) if match else 0
    if match is None or d not in pitches or (match[2] and int(match[2]) != pitches[d]):
        raise UnknownName("trapezoidal thread", designation, trapezoidal_thread_names())
    pitch = pitches[d]
    clearance = next(a for end, a in read(TRAPEZOIDAL_FILE)["clearances"] if pitch <= end)
    return TrapezoidalThread(d / 1e3, pitch / 1e3, clearance / 1e3)


def rod_thread(designation: str) -> Thread | TrapezoidalThread:
    """Return the thread of a rod: metric ("M80x6") or trapezoidal ("Tr80x10").

    Raises
    ------
    UnknownName
        If it is not listed.
    """
    if designation.strip()[:2].lower() == "tr":
        return trapezoidal_thread(designation)
    return metric_thread(designation)


def rod_nut(thread: Thread | TrapezoidalThread) -> Nut:
    """Return the hexagon nut of a rod's thread.

    Metric: `nut`, but at least as high as its thread is thick. Trapezoidal: 1.5 diameters high,
    across flats as the metric nut of that or the next larger thread (common practice, no source).

    Raises
    ------
    OutOfTable
        If there is no nut of that diameter.
    """
    if isinstance(thread, Thread):
        found = nut(thread.d)
        return replace(found, height=max(found.height, thread.d))
    listed = (metric_thread(name).d for name in thread_names())
    size = min((d for d in listed if d >= thread.d), default=thread.d)
    return replace(nut(size), height=1.5 * thread.d)


@functools.cache
def trapezoidal_thread_names() -> tuple[str, ...]:
    """Return the designations, by rising diameter."""
    return tuple(f"Tr{d}x{pitch}" for d, pitch in read(TRAPEZOIDAL_FILE)["pitches"])


def bolt_tables() -> tuple[Table, ...]:
    """Return property classes, wrench sizes and trapezoidal threads, for printing."""
    return (_class_table(), _wrench_table(), _trapezoidal_table())


def _class_table() -> Table:
    block = read(CLASS_FILE)
    rows = []
    for name, end, *strengths in block["rows"]:
        others = [row[1] for row in block["rows"] if row[0] == name and row[1]]
        over = f"over M{others[0]}" if others else "all"
        rows.append((name, f"up to M{end}" if end else over, *(f"{s:g}" for s in strengths)))
    return Table(
        "Property classes of bolts",
        ("class", "sizes", "Rm min, MPa", "ReL or Rp0.2 min, MPa", "proof stress Sp, MPa"),
        tuple(rows),
        block["source"],
        certainty(block),
        f"the standard ends at M{block['up_to']}; larger bolts: ask for a certificate",
    )


def _wrench_table() -> Table:
    block = read(WRENCH_FILE)
    rows = tuple(
        (f"M{d}", f"{1e3 * wrench_size(d / 1e3):g}", f"{flats:g}") for d, flats in block["rows"]
    )
    columns = ("thread", "normal series, mm", "structural, mm")
    note = "other threads: s of the hexagon nuts"
    return Table(block["title"], columns, rows, block["source"], certainty(block), note)


def _trapezoidal_table() -> Table:
    block = read(TRAPEZOIDAL_FILE)
    threads = [trapezoidal_thread(name) for name in trapezoidal_thread_names()]
    return Table(
        "ISO metric trapezoidal threads, medium series",
        ("thread", "d2, mm", "d3, mm", "D1, mm", "D4, mm", "stress area, mm²"),
        tuple(
            (
                t.designation,
                *(f"{1e3 * size:g}" for size in (t.d2, t.d3, t.d1, t.d4)),
                f"{1e6 * t.stress_area:.1f}",
            )
            for t in threads
        ),
        block["source"],
        certainty(block),
        "stress area from the mean of d2 and d3, as for metric threads",
    )
