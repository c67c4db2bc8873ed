"""What matters most: a bar for each thing changed, the longest on top."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK

_DPI = 100
_GREY = "#5c666e"
_LOW = "#c3d3df"


@dataclass(frozen=True)
class TornadoBar:
    """A thing changed, in words with both ends, and what it does to a number (parts of it)."""

    name: str
    low: str
    high: str
    at_low: float
    at_high: float


def tornado_picture(
    panels: Sequence[tuple[str, Sequence[TornadoBar]]], path: Path, title: str
) -> Path:
    """Write one panel for each number: changes in per cent, from the lower and the upper end.

    Raises
    ------
    ValueError
        If there is nothing to draw.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if not panels or not panels[0][1]:
        raise ValueError("nothing to draw")
    rows, deep = (len(panels) + 1) // 2, max(len(bars) for _, bars in panels)
    height = 130 + rows * (110 + 46 * deep)
    figure = Figure(figsize=(16, height / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    figure.text(0.025, 1 - 38 / height, textwrap.shorten(title, 88, placeholder=" …"), fontsize=21,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    figure.text(0.025, 1 - 74 / height, "Pale: from the lower end. Dark: from the upper end. One "
                "thing changed at a time, full solves on coarse meshes.", fontsize=13, color=_GREY,
                va="center")  # fmt: skip
    for index, (words, bars) in enumerate(panels):
        row, column = divmod(index, 2)
        bottom = height - 130 - (row + 1) * (110 + 46 * deep) + 62
        axes = figure.add_axes((0.165 + 0.5 * column, bottom / height, 0.315, 46 * deep / height))
        ordered = sorted(bars, key=lambda bar: abs(bar.at_high - bar.at_low))
        names = [f"{bar.name}\n{bar.low} to {bar.high}" for bar in ordered]
        places = range(len(ordered))
        axes.barh(places, [100 * b.at_low for b in ordered], 0.62, color=_LOW, edgecolor=INK,
                  linewidth=0.8)  # fmt: skip
        axes.barh(places, [100 * b.at_high for b in ordered], 0.62, color=ACCENT, edgecolor=INK,
                  linewidth=0.8)  # fmt: skip
        axes.axvline(0.0, color=INK, linewidth=1.2)
        reach = 1.15 * max(0.1, *(100 * abs(v) for b in bars for v in (b.at_low, b.at_high)))
        axes.set_xlim(-reach, reach)
        axes.set_ylim(-0.6, deep - 0.4)
        axes.locator_params(axis="x", nbins=7)
        axes.set_yticks(list(places), names, fontsize=11.5, color=INK)
        axes.set_title(f"{words} (change in %)", loc="left", fontsize=15, color=INK, pad=8)
        axes.tick_params(axis="x", labelsize=12, labelcolor=INK, color=_GREY)
        axes.tick_params(axis="y", length=0)
        axes.set_facecolor(BACKGROUND)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path
