"""Toughness of plate steels: how thick a sub-grade may be in the cold, and its transition."""

from __future__ import annotations

import bisect
import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from platestack.geometry.tables.source import Table, certainty, read
from platestack.geometry.tables.steel import structural_grade

FILE = "subgrade.toml"


@dataclass(frozen=True)
class Subgrade:
    """A sub-grade of plate steel.

    Attributes
    ----------
    name : such as "S355J2".
    series : its strength class, "S355".
    test : temperature of the impact test (°C); energy : least energy there (J).
    transition : temperature at which the impact energy is 27 J (°C).
    thicknesses : allowed (m), a row for each ratio of stress to yield.
    source : where the thicknesses stand, and how sure they are.
    """

    name: str
    series: str
    test: float
    energy: float
    transition: float
    thicknesses: tuple[tuple[float, ...], ...]
    source: str

    def allowed(self, temperature: float, ratio: float) -> float:
        """Return the largest thickness (m) at a temperature (°C) and a stress over yield.

        Linear between the table's values. Above +10 °C and below 0.25 the values there; above 0.75,
        where the standard has none, on along the last line, and at least 1 mm.

        Raises
        ------
        ValueError
            Below -50 °C, or for a ratio that is negative or not finite.
        """
        cold, ratios = _edges()
        if not (cold[-1] <= temperature < math.inf and 0 <= ratio < math.inf):
            raise ValueError(
                f"{temperature:g} °C, stress over yield {ratio:g}; allowed: from {cold[-1]:g} °C "
                "on, at least 0"
            )
        high, middle, low = (
            _interpolated(temperature, cold[::-1], row[::-1]) for row in self.thicknesses
        )
        if ratio > ratios[0]:
            slope = (high - middle) / (ratios[0] - ratios[1])
            return max(high + slope * (ratio - ratios[0]), 1e-3)
        return _interpolated(ratio, ratios[::-1], (low, middle, high))


def subgrade(grade: str, yield_strength: float) -> tuple[Subgrade, bool]:
    """Return the sub-grade of a listed grade, and True; or one to take in its place, and False.

    In place of a grade that is not listed stands the least tough one of the weakest strength class
    that reaches `yield_strength` (Pa), or of the strongest class.
    """
    listed = _subgrades()
    try:
        found = listed.get(structural_grade(grade).name)
    except ValueError:
        found = None
    if found:
        return found, True
    first = {one.series: one for one in reversed(listed.values())}
    classes = sorted(first.values(), key=lambda one: _strength(one.series))
    reached = (one for one in classes if _strength(one.series) >= yield_strength)
    return next(reached, classes[-1]), False


def tougher(than: Subgrade) -> tuple[Subgrade, ...]:
    """Return the sub-grades of the same strength class that are tougher, least first."""
    found = [one for one in _subgrades().values() if one.series == than.series]
    return tuple(one for one in found if one.transition < than.transition)


def toughness_tables() -> tuple[Table, ...]:
    """Return the allowed thicknesses, for printing."""
    block = read(FILE)
    return (
        Table(
            "Largest thickness against brittle fracture, mm",
            ("sub-grade", "impact test", "stress / yield",
             *(f"{t:+d} °C" if t else "0 °C" for t in block["temperatures"])),
            tuple(
                (series + kind, f"{energy:g} J at {test:g} °C", f"{ratio:g}",
                 *(f"{t:g}" for t in row))
                for series, kind, test, energy, _, *rows in block["rows"]
                for ratio, row in zip(block["ratios"], rows, strict=True)
            ),
            block["source"],
            certainty(block),
            "linear between the values; stress: largest nominal tension at the lowest temperature",
        ),
    )  # fmt: skip


def _interpolated(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Linear between points that rise in x, constant beyond; numpy would load for as long again."""
    i = min(max(bisect.bisect(xs, x), 1), len(xs) - 1)
    part = (x - xs[i - 1]) / (xs[i] - xs[i - 1])
    return ys[i - 1] + min(max(part, 0.0), 1.0) * (ys[i] - ys[i - 1])


def _strength(series: str) -> float:
    return float(series.removeprefix("S")) * 1e6


def _edges() -> tuple[list[float], list[float]]:
    """Temperatures (°C) and ratios of the table, both falling."""
    block = read(FILE)
    return block["temperatures"], block["ratios"]


@functools.cache
def _subgrades() -> dict[str, Subgrade]:
    block = read(FILE)
    words = f"{block['source']}, not verified against the standard"
    return {
        series + kind: Subgrade(
            series + kind, series, test, energy, transition,
            tuple(tuple(t / 1e3 for t in row) for row in rows), words,
        )
        for series, kind, test, energy, transition, *rows in block["rows"]
    }  # fmt: skip
