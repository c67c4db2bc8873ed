"""Allowed offsets drawn on the plan, one closed curve for each limit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.units import shown_in

WIDTH = 1300
HEIGHTS = (320, 1000)
"""Of the plan, least and most: as high as it is at this width (pixels)."""
_ABOVE, _BELOW, _LEFT, _PLAN = 110, 75, 104, 754
_DPI = 100
_LOOKS = ((ACCENT, "-"), ("#b0752f", "--"), ("#6a7a2c", "-."), ("#8a3b4a", ":"))

Place = tuple[float, float]


@dataclass(frozen=True)
class OffsetChart:
    """What is drawn, SI: rods with diameters; patches (shape, length, width, centre); curves.

    Each curve has its limit's name and an offset for each angle (degrees), infinite if not reached.
    """

    title: str
    rods: tuple[tuple[Place, float], ...]
    patches: tuple[tuple[str, float, float, Place], ...]
    angles: tuple[float, ...]
    curves: tuple[tuple[str, tuple[float, ...]], ...]
    marked: tuple[Place, ...]


def offset_picture(chart: OffsetChart, path: Path) -> Path:
    """Write the curves of largest offset as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    unit = shown_in("m")
    times = 1 / unit.scale
    _parts(axes, chart, times)
    turn = np.radians(np.append(chart.angles, chart.angles[0]))
    furthest = 1.15 * max(np.hypot(*at) for at, _ in chart.rods)
    for (name, offsets), (colour, dashes) in zip(chart.curves, _LOOKS, strict=False):
        radius = np.array([*offsets, offsets[0]])
        finite = np.isfinite(radius)
        label = name if finite.all() else f"{name} (open: no limit within the rods)"
        if not finite.any():
            label = f"{name} (not within the rods' reach)"
        shown = np.where(finite, np.minimum(radius, furthest), np.nan)
        x, y = times * shown * np.cos(turn), times * shown * np.sin(turn)
        axes.plot(x, y, color=colour, ls=dashes, lw=2.2, label=label)  # fmt: skip
    if chart.marked:
        x, y = times * np.array(chart.marked).T
        axes.plot(x, y, "x", color=INK, ms=11, mew=2.2, label="looked at")
    axes.plot(0, 0, "+", color=INK, ms=12)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    plan = float(np.clip(_PLAN * (high - low) / (right - left), *HEIGHTS))
    whole = plan + _ABOVE + _BELOW
    figure.set_size_inches(WIDTH / _DPI, whole / _DPI)
    axes.set_position((_LEFT / WIDTH, _BELOW / whole, _PLAN / WIDTH, plan / whole))
    figure.text(0.03, 1 - 40 / whole, f"Capacity off centre: {chart.title}"[:80], fontsize=18,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    axes.set_aspect("equal")
    axes.set(xlabel=f"x in {unit.name}", ylabel=f"y in {unit.name}")
    axes.set_title("Largest offset of the pressing force, by what limits it", loc="left",
                   fontsize=13, color=INK)  # fmt: skip
    axes.grid(color="#e3e8ec")
    axes.set_axisbelow(True)
    axes.legend(fontsize=11, frameon=False, loc="upper left", bbox_to_anchor=(1.02, 1.0))
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _parts(axes: Any, chart: OffsetChart, times: float) -> None:
    """Rods and loaded patches from above, `times` as large as in m."""
    from matplotlib.patches import Circle, Rectangle

    for (x, y), diameter in chart.rods:
        axes.add_patch(Circle((times * x, times * y), times * diameter / 2, fc="#c3c9cf", ec=INK))
    for (shape, length, width, (x, y)), dashes in zip(chart.patches, ("-", "--"), strict=True):
        look: dict[str, Any] = {"fc": "none", "ec": "#8c969e", "lw": 1.2, "ls": dashes}
        if shape == "rectangle":
            corner = times * (x - length / 2), times * (y - width / 2)
            axes.add_patch(Rectangle(corner, times * length, times * width, **look))
        else:
            axes.add_patch(Circle((times * x, times * y), times * length / 2, **look))
    axes.plot([], [], color="#8c969e", lw=1.2, label="patch of the crosshead")
    axes.plot([], [], color="#8c969e", lw=1.2, ls="--", label="patch of the bed")
    axes.autoscale_view()
    axes.margins(0.06)
