"""Drawing of the stock sheets with the blanks on them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fea.pictures.render import ACCENT, BACKGROUND, INK
from geometry.cutting.nesting import Sheet

_GREY = "#5c666e"


def nesting_picture(sheets: Sequence[Sheet], path: Path, title: str) -> Path:
    """Write all sheets, one below the other, as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    columns = 1 if len(sheets) == 1 else 2
    lines = -(-len(sheets) // columns)
    width = 8.0
    height = width * sheets[0].width / sheets[0].length + 0.8
    size = (columns * width, lines * height + 0.8)
    figure = Figure(figsize=size, dpi=100, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    figure.text(0.02, 1 - 0.35 / size[1], f"{title}: stock sheets", fontsize=17,
                fontweight="bold", color=INK, va="center")  # fmt: skip
    for index, sheet in enumerate(sheets):
        line, column = divmod(index, columns)
        axes = figure.add_axes((
            (column + 0.04) / columns,
            (size[1] - 0.8 - (line + 1) * height + 0.15) / size[1],
            0.92 / columns,
            (height - 0.75) / size[1],
        ))  # fmt: skip
        _sheet(axes, sheet)
    figure.savefig(path, dpi=100, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _sheet(axes: Any, sheet: Sheet) -> None:
    from matplotlib.patches import Polygon, Rectangle

    axes.add_patch(Rectangle((0, 0), sheet.length, sheet.width, fc="#f1f3f4", ec=INK, lw=1.2))
    axes.plot([sheet.used_length] * 2, [0, sheet.width], color=_GREY, ls="--", lw=1.0)
    for one in sheet.placed:
        axes.add_patch(Polygon(one.contour, fc="#c9dbe2", ec=ACCENT, lw=1.2))
        xs, ys = zip(*one.contour, strict=True)
        at = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
        tall = max(ys) - min(ys) > max(xs) - min(xs)
        axes.text(*at, one.work.number, ha="center", va="center", fontsize=9, color=INK,
                  rotation=90 if tall else 0)  # fmt: skip
    axes.set_title(
        f"{sheet.thickness * 1e3:g} mm {sheet.grade}, {sheet.length * 1e3:g} x "
        f"{sheet.width * 1e3:g} mm: {sheet.utilisation():.0%} of {sheet.used_length * 1e3:.0f} mm "
        f"used, {sheet.utilisation(whole=True):.0%} of the sheet",
        fontsize=9.5, color=INK, loc="left",
    )  # fmt: skip
    axes.set(xlim=(-0.01, sheet.length + 0.01), ylim=(-0.01, sheet.width + 0.01), aspect="equal")
    axes.axis("off")
