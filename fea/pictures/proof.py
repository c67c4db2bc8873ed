"""The sheet of a proof test: where instruments stand, and what they should show."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geometry.parts import Press

INK, LINE, BAND, READ = "#1c2733", "#1f5d8c", "#c9dbe8", "#b3261e"


@dataclass(frozen=True)
class ProofCurve:
    """One instrument: place (m), its band as (pressure in MPa, least, value, largest), readings."""

    name: str
    unit: str
    at: tuple[float, float, float]
    band: tuple[tuple[float, float, float, float], ...]
    points: tuple[tuple[float, float], ...] = ()


def proof_picture(press: Press, curves: list[ProofCurve], path: Path) -> Path:
    """Draw the press with numbered instruments, and a chart of each."""
    from matplotlib.figure import Figure

    rows = -(-len(curves) // 3)
    sheet = Figure((16, max(8.0, 2.5 * rows)))
    halves: Any = sheet.subfigures(1, 2, width_ratios=(1, 2))
    left, right = halves
    _places(left.subplots(), press, curves)
    left.subplots_adjust(0.16, 0.07, 0.98, 0.94)
    right.subplots_adjust(0.05, 0.07, 0.99, 0.95, 0.25, 0.5)
    charts = right.subplots(rows, 3, squeeze=False).ravel()
    for number, (chart, curve) in enumerate(zip(charts, curves, strict=False), 1):
        _chart(chart, number, curve)
    for chart in charts[len(curves) :]:
        chart.set_axis_off()
    sheet.savefig(path, dpi=100)
    return path


def _places(axes: Any, press: Press, curves: list[ProofCurve]) -> None:
    from matplotlib.patches import Rectangle

    for rod in press.rods:
        low = press.bed.nut_face - rod.washer_thickness - rod.nut_height
        corner = 1e3 * (rod.at[0] - rod.diameter / 2), 1e3 * low
        axes.add_patch(
            Rectangle(corner, 1e3 * rod.diameter, 1e3 * rod.length, fc="#b9c4cd", ec=INK)
        )
    for plate in (p for s in press.stacks for p in s.plates):
        (x0, _, z0), (x1, _, z1) = plate.bounds
        axes.add_patch(
            Rectangle((1e3 * x0, 1e3 * z0), 1e3 * (x1 - x0), 1e3 * (z1 - z0), fc="#dfe5ea", ec=INK)
        )
    groups: dict[tuple[float, float, float], list[str]] = {}
    for number, curve in enumerate(curves, 1):
        groups.setdefault((curve.at[0], curve.at[1], round(curve.at[2], 6)), []).append(str(number))
    seen: dict[tuple[float, float], int] = {}
    for (x, y, z), numbers in groups.items():
        place = round(x, 4), round(z, 4)
        shift = seen.get(place, 0)  # rods one behind the other
        seen[place] = shift + 1
        axes.plot(1e3 * x, 1e3 * z, "o", color=READ, ms=5)
        axes.annotate(f"{', '.join(numbers)} (y = {1e3 * y:.0f})", (1e3 * x, 1e3 * z),
                      (8, 8 - 14 * shift), textcoords="offset points", fontsize=9,
                      bbox={"fc": "white", "ec": "none", "pad": 1})  # fmt: skip
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.margins(0.08)
    axes.set(xlabel="x in mm", ylabel="z in mm", title="Instruments, seen from the front")


def _chart(axes: Any, number: int, curve: ProofCurve) -> None:
    """Expected line and band, and what was read."""
    pressure, least, value, largest = zip(*curve.band, strict=True)
    axes.fill_between(pressure, least, largest, color=BAND)
    axes.plot(pressure, value, color=LINE, label="expected, with band")
    if curve.points:
        axes.plot(*zip(*curve.points, strict=True), "x", color=READ, label="measured")
    axes.set_title(f"{number} {curve.name}", fontsize=10, loc="left")
    axes.set_xlabel("pressure in MPa", fontsize=8)
    axes.set_ylabel(curve.unit, fontsize=8)
    axes.tick_params(labelsize=8)
    axes.grid(color="#e3e8ec")
    axes.legend(fontsize=7, frameon=False)
