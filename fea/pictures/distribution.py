"""How far numbers spread: a histogram of each over random draws."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from platestack.fea.pictures.render import BACKGROUND, INK
from platestack.geometry.units import percent

_DPI = 100
_GREY = "#5c666e"
_BARS = "#c3d3df"
_WIDTH, _HEAD, _ROW = 1600, 120, 330


def distribution_picture(panels: Sequence[tuple[str, np.ndarray]], path: Path, title: str) -> Path:
    """Write a histogram of the changes (parts of the nominal number) of each panel as PNG.

    Lines stand where 5, 50 and 95 per cent of the draws lie below.

    Raises
    ------
    ValueError
        If there is nothing to draw.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if not panels or not all(len(changes) for _, changes in panels):
        raise ValueError("nothing to draw")
    height = _HEAD + _ROW * ((len(panels) + 1) // 2)
    figure = Figure(figsize=(_WIDTH / _DPI, height / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    figure.text(0.025, 1 - 38 / height, textwrap.shorten(title, 88, placeholder=" …"), fontsize=21,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    words = (
        f"Change over {len(panels[0][1]):,} draws within the tolerances. "
        f"Dashed: {percent(0.05)} and {percent(0.95)} of the draws lie below. Solid: half of them."
    )
    figure.text(0.025, 1 - 74 / height, words, fontsize=13, color=_GREY, va="center")
    for index, (name, changes) in enumerate(panels):
        row, column = divmod(index, 2)
        bottom = height - _HEAD - (row + 1) * _ROW + 90
        axes = figure.add_axes((0.05 + 0.5 * column, bottom / height, 0.42, 180 / height))
        values = 100 * np.asarray(changes)
        reach = 1.1 * max(0.05, float(np.abs(values).max()))
        axes.hist(values, list(np.linspace(-reach, reach, 41)), color=_BARS, edgecolor=_GREY,
                  linewidth=0.5)  # fmt: skip
        top = axes.get_ylim()[1]
        for part, style in ((0.05, "--"), (0.5, "-"), (0.95, "--")):
            axes.axvline(
                float(np.quantile(values, part)), color=INK, linewidth=1.6, linestyle=style
            )
        low, high = np.quantile(values, [0.05, 0.95])
        words = f"{name}: {low:+.1f} to {percent(high / 100, 1, signed=True)}"
        axes.set_title(words, loc="left", fontsize=15, color=INK, pad=8)
        axes.set_xlabel("change (%)", fontsize=12.5, color=INK)
        axes.set_ylim(0, top)
        axes.set_yticks([])
        axes.tick_params(axis="x", labelsize=12, labelcolor=INK, color=_GREY)
        axes.set_facecolor(BACKGROUND)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path
