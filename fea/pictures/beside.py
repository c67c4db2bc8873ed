"""Stresses of several presses side by side, on one scale."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.fea.pictures import sheet
from platestack.fea.pictures.fields import find_field
from platestack.fea.pictures.press import FROM_FRONT, bodies, common_scale, draw_field, headline
from platestack.fea.pictures.render import BACKGROUND, INK, RenderWindow
from platestack.fea.pictures.scene import SceneInfo
from platestack.geometry import units

_DPI = 100
_VIEW = (520, 620)


@dataclass(frozen=True)
class DrawnOption:
    """One press: words, its grid for pyvista, and what is in it."""

    label: str
    grid: Any
    scene: SceneInfo


def beside_picture(shown: Sequence[DrawnOption], path: Path, title: str) -> Path:
    """Write the von Mises stress of a few presses (up to four are legible) on one scale as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    fields = [find_field("von_mises", one.grid.point_data) for one in shown]
    seen = [
        bodies(one.grid, one.scene, [field.source])
        for one, field in zip(shown, fields, strict=True)
    ]
    scale = common_scale([body for group in seen for body in group], fields[0])
    width, height = len(shown) * _VIEW[0] + 170, _VIEW[1] + 170
    figure = Figure(figsize=(width / _DPI, height / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    words = textwrap.shorten(f"{title}: {headline(fields[0])}", 38 * len(shown), placeholder=" …")
    figure.text(20 / width, 1 - 34 / height, words, fontsize=19, fontweight="bold", color=INK,
                va="center")  # fmt: skip
    for index, (one, group, field) in enumerate(zip(shown, seen, fields, strict=True)):
        drawing = draw_field(RenderWindow(_VIEW), group, one.scene, field, FROM_FRONT, scale=scale)
        left = index * _VIEW[0]
        axes = figure.add_axes((left / width, 56 / height, _VIEW[0] / width, _VIEW[1] / height))
        axes.imshow(drawing.stage.shoot(), aspect="equal")
        axes.axis("off")
        figure.text((left + 20) / width, 1 - 82 / height, textwrap.shorten(one.label, 44),
                    fontsize=14, color=INK, va="center")  # fmt: skip
        peaks = [
            f"{body.info.name}: peak {units.show(body.info.peak.value, units.PRESSURE, 3)}"
            for body in group
            if body.info.peak is not None
        ]
        figure.text((left + 20) / width, 36 / height, ", ".join(peaks), fontsize=12.5, color=INK,
                    va="center")  # fmt: skip
    bar = figure.add_axes(((width - 140) / width, 110 / height, 26 / width, 500 / height))
    mappable = ScalarMappable(Normalize(scale.low, scale.high), sheet.colours(scale))
    colours = figure.colorbar(mappable, cax=bar)
    colours.set_label(f"{fields[0].label} ({fields[0].unit})", fontsize=13, color=INK)
    colours.ax.tick_params(labelsize=12, labelcolor=INK)
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path
