"""Drawing of the stock sheets with the blanks on them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.cutting.nesting import StockSheet
from platestack.geometry.units import dimension, fixed, percent, quantity, stock

_GREY = "#5c666e"
WIDTH, MARGIN, TITLE, HEAD, TALLEST = 8.0, 0.15, 0.55, 0.5, 3.2
"""Of the picture, its edge, the title, the words over a sheet, the tallest sheet (inches)."""
REST = 0.25
"""How much of what stays whole is drawn, over the width of the sheet."""
DPI = 160


def nesting_picture(sheets: Sequence[StockSheet], path: Path, title: str) -> Path:
    """Write all sheets, one below the other, as PNG; what stays whole of a sheet is cut short."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    # All to one scale, so that a part looks as large as it is.
    scale = (WIDTH - 2 * MARGIN) / max(_shown(sheet) for sheet in sheets)
    scale = min(scale, TALLEST / max(sheet.width for sheet in sheets))
    heights = [HEAD + scale * sheet.width for sheet in sheets]
    size = (WIDTH, TITLE + sum(heights) + MARGIN)
    figure = Figure(figsize=size, dpi=DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    figure.text(MARGIN / size[0], 1 - 0.3 / size[1], f"{title}: stock sheets", fontsize=13,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    top = size[1] - TITLE
    for sheet, height in zip(sheets, heights, strict=True):
        figure.text(MARGIN / size[0], (top - 0.22) / size[1], _words(sheet), fontsize=8.5,
                    color=INK, va="center")  # fmt: skip
        wide, tall = scale * _shown(sheet), scale * sheet.width
        axes = figure.add_axes(
            (MARGIN / size[0], (top - HEAD - tall + 0.1) / size[1], wide / size[0], tall / size[1])
        )
        _sheet(axes, sheet, scale)
        top -= height
    figure.savefig(path, dpi=DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _shown(sheet: StockSheet) -> float:
    """Length of a sheet that is drawn (m): its used part and a piece of the rest."""
    return min(sheet.length, sheet.used_length + REST * sheet.width)


def _words(sheet: StockSheet) -> str:
    return (
        f"{stock(sheet.thickness)} {sheet.grade}, {dimension(sheet.length)} × "
        f"{quantity(sheet.width, 'm', 6)}: {percent(sheet.utilisation())} of "
        f"{fixed(sheet.used_length, 'm', 0)} used, {percent(sheet.utilisation(whole=True))} of "
        "the sheet"
    )


def _sheet(axes: Any, sheet: StockSheet, scale: float) -> None:
    from matplotlib.patches import Polygon

    end = _shown(sheet)
    whole = end < sheet.length
    axes.fill([0, end, end, 0], [0, 0, sheet.width, sheet.width], fc="#f1f3f4", ec="none")
    rim = [(end, 0), (0, 0), (0, sheet.width), (end, sheet.width)]
    axes.plot(*zip(*(rim if whole else [*rim, rim[0]]), strict=True), color=INK, lw=1.2)
    axes.plot([sheet.used_length] * 2, [0, sheet.width], color=_GREY, ls="--", lw=1.0)
    rest = sheet.length - sheet.used_length
    if rest > 0.02:
        axes.text((sheet.used_length + end) / 2, sheet.width / 2,
                  f"{fixed(rest, 'm', 0)} stay whole", rotation=90,
                  ha="center", va="center", fontsize=8, color=_GREY)  # fmt: skip
    for one in sheet.placed:
        axes.add_patch(Polygon(one.contour, fc="#c9dbe2", ec=ACCENT, lw=0.8))
        xs, ys = zip(*one.contour, strict=True)
        wide, tall = max(xs) - min(xs), max(ys) - min(ys)
        # The number fits into its blank: it fills four fifths of the short side at most.
        short, long = (72 * scale * side for side in sorted((wide, tall)))
        points = min(9.0, 0.8 * short, long / (0.7 * len(one.work.number)))
        axes.text((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, one.work.number, ha="center",
                  va="center", fontsize=points, color=INK,
                  rotation=90 if tall > wide else 0)  # fmt: skip
    axes.set(xlim=(0, end), ylim=(0, sheet.width), aspect="equal")
    axes.axis("off")
    for line in axes.lines:
        line.set_clip_on(False)
