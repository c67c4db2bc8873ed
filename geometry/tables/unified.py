"""Unified inch threads (UNC, UNEF, 8UN) and heavy hex nuts; sizes in m."""

from __future__ import annotations

import functools
import re
from fractions import Fraction

from platestack.geometry.tables.errors import UnknownName
from platestack.geometry.tables.source import Table, certainty, read
from platestack.geometry.tables.thread import Nut, UnifiedThread

FILE = "unified_thread.toml"
INCH = 0.0254
NEAR = 1e-6
"""Diameters (m) nearer than this are one."""
_DESIGNATION = re.compile(
    r"\s*(\d+(?:[ -]\d+/\d+)?|\d+/\d+)\s*(?:\"|in)?\s*-\s*(?:(\d+(?:\.5)?)\s*-?\s*)?"
    r"(UN|UNC|UNEF|UNR|8UN)\s*",
    re.IGNORECASE,
)


def inches(text: str) -> float:
    """Length in m of a number of inches as tables have it: ``"1 3/4"``, ``"2"``."""
    return float(sum(map(Fraction, text.replace("-", " ").split()))) * INCH


def looks_unified(designation: str) -> bool:
    """Whether a designation is one of an inch thread, known or not."""
    return _DESIGNATION.fullmatch(designation) is not None


def unified_thread(designation: str) -> UnifiedThread:
    """Return an inch thread: ``"1 3/4-8 UN"``, ``"3-4 UNC"``, ``"2 1/2-8UN"``.

    Raises
    ------
    UnknownName
        If the table does not list it.
    """
    match = _DESIGNATION.fullmatch(designation)
    size = match and match[1].replace("-", " ")
    listed = _pitches().get(size or "")
    if not match or size is None or listed is None:
        raise UnknownName("metric thread", designation, unified_names())
    series, wanted = match[3].upper(), match[2]
    if wanted is None:
        coarse = _coarse().get(size)
        wanted = {"8UN": 8.0, "UNC": coarse, "UNEF": max(listed)}.get(series, listed[0])
    if wanted is None or float(wanted) not in listed:
        raise UnknownName(
            "metric thread", designation, tuple(_designation(size, tpi) for tpi in listed)
        )
    return _made(size, float(wanted))


@functools.cache
def unified_names() -> tuple[str, ...]:
    """Return the designation of the first pitch of every listed diameter."""
    return tuple(_designation(size, listed[0]) for size, listed in _pitches().items())


def unified_on(diameter: float) -> UnifiedThread | None:
    """Return the usual inch thread on a bar of exactly a listed diameter (m); None on others."""
    for size, listed in _pitches().items():
        if abs(inches(size) - diameter) < NEAR:
            return _made(size, listed[0])
    return None


def heavy_nut(d: float) -> Nut | None:
    """Return the heavy hex nut of an inch thread (m); None where `d` is no size of such a thread.

    Above 4 in, where none is listed, by the series' proportions.
    """
    block, rule = read(FILE)["nut"], read(FILE)["rule"]
    for size, flats, height in block["rows"]:
        if abs(inches(size) - d) < NEAR:
            s = inches(flats)
            return Nut(s, inches(height), block["bearing_ratio"] * s, block["source"],
                       certainty(block))  # fmt: skip
    if unified_on(d) is None:
        return None
    s = 1.5 * d + INCH / 8
    return Nut(s, d, block["bearing_ratio"] * s, rule["source"], certainty(rule))


def unified_tables() -> tuple[Table, ...]:
    """Return inch threads and heavy nuts, for printing, in inches."""
    block = read(FILE)
    threads = Table(
        "Unified inch threads for rods",
        ("thread", "pitch, in", "pitch diameter, in", "stress area, in²"),
        tuple(
            (t.designation, f"{t.pitch / INCH:.4f}", f"{t.d2 / INCH:.4f}",
             f"{t.stress_area / INCH**2:.4f}")
            for size, listed in _pitches().items() for tpi in listed
            for t in (_made(size, tpi),)
        ),
        block["source"],
        certainty(block),
        "8 threads per inch above 1 in where the designation names none",
    )  # fmt: skip
    nut = block["nut"]
    nuts = Table(
        nut["title"],
        ("thread", "across flats F, in", "height H, in"),
        tuple(tuple(row) for row in nut["rows"]),
        nut["source"],
        certainty(nut),
        "bearing face taken as 0.95 F; above 4 in F = 1.5 d + 1/8 in, H = d (common practice)",
    )
    return threads, nuts


@functools.cache
def _pitches() -> dict[str, tuple[float, ...]]:
    """Diameter, as inches are written -> threads per inch."""
    return {size: tuple(map(float, row)) for size, row in read(FILE)["pitches"]}


@functools.cache
def _coarse() -> dict[str, float]:
    return {size: float(tpi) for size, tpi in read(FILE)["coarse"]}


def _made(size: str, tpi: float) -> UnifiedThread:
    return UnifiedThread(inches(size), INCH / tpi, _designation(size, tpi))


def _designation(size: str, tpi: float) -> str:
    """Spell with the series: coarse, extra fine, or of constant pitch."""
    listed = _pitches()[size]
    fine = len(listed) > 1 and tpi == max(listed) and tpi > 8
    series = "UNC" if _coarse().get(size) == tpi else "UNEF" if fine else "UN"
    return f"{size}-{tpi:g} {series}"
