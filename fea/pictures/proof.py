"""The sheet of a proof test: where instruments stand, and what they should show."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.geometry import masses
from platestack.geometry.parts import Press
from platestack.geometry.units import shown_in

COLUMNS = 3
"""Charts beside each other."""
STACKS = ("bed", "crosshead")
INK, LINE, BAND, READ = "#1c2733", "#1f5d8c", "#c9dbe8", "#b3261e"


@dataclass(frozen=True)
class ProofCurve:
    """One instrument: place (m), its band as (pressure, least, value, largest), readings.

    Pressures are in the unit of the chart, values in `unit`.
    """

    name: str
    unit: str
    at: tuple[float, float, float]
    band: tuple[tuple[float, float, float, float], ...]
    points: tuple[tuple[float, float], ...] = ()


def proof_picture(press: Press, curves: list[ProofCurve], path: Path, pressure_unit: str) -> Path:
    """Draw the press with numbered instruments, and a chart of each."""
    from matplotlib.figure import Figure

    rows = -(-len(curves) // COLUMNS)
    sheet = Figure((9.0, max(4.5, 1.45 * rows + 0.5)))
    halves: Any = sheet.subfigures(1, 2, width_ratios=(1, 1.9))
    left, right = halves
    _places(left.subplots(), press, curves)
    left.subplots_adjust(0.17, 0.09, 0.98, 0.94)
    right.subplots_adjust(0.07, 0.09, 0.97, 0.95, 0.34, 0.55)
    charts = right.subplots(rows, COLUMNS, squeeze=False).ravel()
    for number, (chart, curve) in enumerate(zip(charts, curves, strict=False), 1):
        _chart(chart, number, curve)
    for chart in charts[len(curves) :]:
        chart.set_axis_off()
    for chart in charts[max(0, len(curves) - COLUMNS) : len(curves)]:
        chart.set_xlabel(f"pressure in {pressure_unit}", fontsize=7)
    told = {word: line for chart in charts
            for line, word in zip(*chart.get_legend_handles_labels(), strict=True)}  # fmt: skip
    right.legend(
        list(told.values()), list(told), loc="lower right", ncols=3, fontsize=7, frameon=False
    )
    sheet.savefig(path, dpi=170)
    return path


def _places(axes: Any, press: Press, curves: list[ProofCurve]) -> None:
    from matplotlib.patches import Rectangle

    unit = shown_in("m")
    times = 1 / unit.scale
    order = sorted(masses.pieces(press), key=lambda p: (p.group in STACKS, -p.centre[1]))
    for piece in order:
        (x0, _, z0), (x1, _, z1) = piece.low, piece.high
        axes.add_patch(
            Rectangle((times * x0, times * z0), times * (x1 - x0), times * (z1 - z0), ec=INK,
                      lw=0.7, fc="#dfe5ea" if piece.group in STACKS else "#b9c4cd")
        )  # fmt: skip
    groups: dict[tuple[float, float, float], list[str]] = {}
    for number, curve in enumerate(curves, 1):
        groups.setdefault((curve.at[0], curve.at[1], round(curve.at[2], 6)), []).append(str(number))
    seen: dict[tuple[float, float], int] = {}
    for (x, y, z), numbers in groups.items():
        place = round(x, 4), round(z, 4)
        shift = seen.get(place, 0)  # rods one behind the other
        seen[place] = shift + 1
        axes.plot(times * x, times * z, "o", color=READ, ms=5)
        side = " front" if y < 0 else " behind" if y > 0 else ""
        axes.annotate(", ".join(numbers) + side, (times * x, times * z),
                      (-8 if x > 0 else 8, 6 - 11 * shift), textcoords="offset points",
                      ha="right" if x > 0 else "left", fontsize=7,
                      bbox={"fc": "white", "ec": "none", "pad": 1})  # fmt: skip
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.margins(0.08)
    axes.set_title("Instruments, from the front", fontsize=8, loc="left")
    axes.set_xlabel(f"x in {unit.name}", fontsize=7)
    axes.set_ylabel(f"z in {unit.name}", fontsize=7)
    axes.tick_params(labelsize=6.5, length=2)


def _chart(axes: Any, number: int, curve: ProofCurve) -> None:
    """Expected line and band, and what was read."""
    pressure, least, value, largest = zip(*curve.band, strict=True)
    axes.fill_between(pressure, least, largest, color=BAND)
    axes.plot(pressure, value, color=LINE, lw=1.2, label="expected, with band")
    if curve.points:
        axes.plot(*zip(*curve.points, strict=True), "x", color=READ, ms=4, label="measured")
    axes.set_title(f"{number} {curve.name}, {curve.unit}", fontsize=6, loc="left", pad=3)
    axes.tick_params(labelsize=6.5, length=2)
    axes.margins(x=0.02)
    axes.grid(color="#e3e8ec")
