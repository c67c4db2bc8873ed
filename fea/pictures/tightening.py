"""Tightening drawn: the order on the plan, and the force of every rod step by step."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.units import shown_in

SIZE = (1500, 720)
_DPI = 100
_COLOURS = ("#0a6c86", "#b0752f", "#6a7a2c", "#8a3b4a", "#4a5a8f", "#7f8a93", "#2f7d5b", "#94632e")
_DASHES = ("-", "--", "-.", ":")


@dataclass(frozen=True)
class TighteningChart:
    """What is drawn, SI.

    `steps` holds for each step the pass, what is set in it, and the forces of all `names` after
    it; `places` are those of the rods, as many names in a row stand for one round of them.
    """

    title: str
    names: tuple[str, ...]
    places: tuple[tuple[float, float], ...]
    nut: float
    outline: tuple[float, float, float, float]
    steps: tuple[tuple[int, tuple[str, ...], tuple[float, ...]], ...]
    start: tuple[float, ...] | None
    target: float
    limit: float


def tightening_picture(chart: TighteningChart, path: Path) -> Path:
    """Write order and forces as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(SIZE[0] / _DPI, SIZE[1] / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    figure.text(0.03, 0.945, f"Tightening the rods: {chart.title}"[:90], fontsize=18,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    _plan(figure.add_axes((0.03, 0.1, 0.36, 0.76)), chart)
    _forces(figure.add_axes((0.47, 0.23, 0.36, 0.63)), chart)
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _plan(axes: Any, chart: TighteningChart) -> None:
    """Rods from above, numbered in the order of the first pass, an arrow from each to the next."""
    from matplotlib.patches import Circle, FancyArrowPatch, Rectangle

    x0, y0, x1, y1 = chart.outline
    axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, fc="#eef1f3", ec=INK, lw=1.2))
    count = len(chart.places)
    groups = [
        [chart.names.index(name) % count for name in names]
        for number, names, _ in chart.steps
        if number == 1
    ]
    groups = groups[: -(-count // len(groups[0]))]
    for one, other in pairwise(groups):
        axes.add_patch(
            FancyArrowPatch(
                chart.places[one[0]], chart.places[other[0]], arrowstyle="-|>", mutation_scale=22,
                shrinkA=24, shrinkB=24, color=ACCENT, lw=1.6, connectionstyle="arc3,rad=0.12",
            )
        )  # fmt: skip
    for turn, group in enumerate(groups, 1):
        for rod in group:
            x, y = chart.places[rod]
            axes.add_patch(Circle((x, y), chart.nut / 2, fc="white", ec=INK, lw=1.4, zorder=3))
            axes.text(x, y, str(turn), ha="center", va="center", fontsize=15, color=ACCENT,
                      fontweight="bold", zorder=4)  # fmt: skip
            axes.annotate(f"rod {rod + 1}", (x, y - chart.nut / 2), (0, -5),
                          textcoords="offset points", ha="center", va="top", fontsize=11,
                          color=INK, zorder=4,
                          bbox={"fc": "#eef1f3", "ec": "none", "pad": 1})  # fmt: skip
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.margins(0.05)
    axes.set_axis_off()
    words = "Order in each pass, from above (x to the right)"
    if len(chart.names) > count:
        words += ";\nat the crosshead first, then at the bed"
    axes.set_title(words, fontsize=13, color=INK, loc="left")


def _forces(axes: Any, chart: TighteningChart) -> None:
    """Force of each rod after each step, with target and limit."""
    size = len(chart.names)
    begin = chart.start or (0.0,) * size
    forces = np.array([begin, *(step[2] for step in chart.steps)])
    unit = shown_in("N", max(chart.limit, chart.target))
    forces /= unit.scale
    x = np.arange(len(forces))
    for index, name in enumerate(chart.names):
        axes.plot(x, forces[:, index], color=_COLOURS[index % 8], lw=2, marker="o", ms=5,
                  ls=_DASHES[index % 4], label=name)  # fmt: skip
    for value, words in ((chart.target, "target"), (chart.limit, "limit on the way")):
        axes.axhline(value / unit.scale, color=INK, lw=1.1, ls=(0, (7, 3, 1.5, 3)))
        axes.annotate(words, (1.0, value / unit.scale), (6, 0), xycoords=("axes fraction", "data"),
                      textcoords="offset points", va="center", fontsize=11, color=INK)  # fmt: skip
    last = 0
    for place, (number, _, _) in enumerate(chart.steps):
        if number != last:
            axes.axvline(place, color="#c9d0d6", lw=1)
            axes.annotate(f"pass {number}", (place, 1.0), (5, -4), va="top", fontsize=11,
                          xycoords=("data", "axes fraction"), textcoords="offset points",
                          color="#5c666e")  # fmt: skip
            last = number
    first = "as read" if chart.start else "loose"
    labels = [first, *(" + ".join(names) for _, names, _ in chart.steps)]
    axes.set_xticks(x, labels, rotation=60, ha="right", rotation_mode="anchor", fontsize=10)
    highest = max(chart.limit, chart.target) / unit.scale
    axes.set_ylim(0, 1.1 * max(highest, forces.max()))
    axes.set_title(
        f"Force in each rod after each step ({unit.name})", fontsize=13, color=INK, loc="left"
    )
    axes.grid(axis="y", color="#e3e8ec")
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.legend(fontsize=10, frameon=False, loc="lower left", bbox_to_anchor=(1.02, 0.0))
