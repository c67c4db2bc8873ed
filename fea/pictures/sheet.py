"""The sheet around a rendered view: title, colour scale, labels, caption, axes. All in pixels."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.fields import Scale
from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK, Camera

Array = np.ndarray

SIZE = (1600, 1100)
LEFT, BOTTOM, RIGHT, TOP = 40, 92, 270, 118
VIEW = (SIZE[0] - LEFT - RIGHT, SIZE[1] - BOTTOM - TOP)
"""Size of the rendered view within the sheet."""
_GREY = "#5c666e"
_DPI = 100
_MAGNITUDE = "magma_r"
_SIGNED = "RdBu_r"


def colours(scale: Scale) -> Any:
    """Colour map of a scale: perceptually uniform, told apart with any colour vision.

    Magnitudes run from pale to dark (matplotlib's magma, reversed, without its black end), so they
    can be read in grey too. Signed values run from blue to red over white, told by lightness
    and hue (ColorBrewer's RdBu, without its darkest ends).
    """
    import matplotlib
    from matplotlib.colors import LinearSegmentedColormap

    name, low, high = (_SIGNED, 0.04, 0.96) if scale.signed else (_MAGNITUDE, 0.0, 0.88)
    samples = matplotlib.colormaps[name](np.linspace(low, high, 512))
    return LinearSegmentedColormap.from_list(f"platestack {name}", samples, N=512)


@dataclass(frozen=True)
class Label:
    """Words for a place in the view, in pixels from its lower left corner and in m.

    `hidden` where something is drawn before it.
    """

    at: tuple[float, float]
    words: str
    place: tuple[float, float, float]
    hidden: bool = False


@dataclass
class PictureSheet:
    """Everything printed around a view."""

    title: str
    subtitle: str
    image: Array
    """The view, (height, width, 3) bytes, of size `VIEW`."""
    camera: Camera
    caption: str = ""
    scale: Scale | None = None
    scale_words: str = ""
    scale_unit: str = ""
    legend: Sequence[tuple[str, Any]] = ()
    labels: Sequence[Label] = ()
    names: Sequence[tuple[tuple[float, float], str]] = ()
    """Words centred on a pixel of the view."""
    _figure: Any = field(default=None, init=False, repr=False)

    def write(self, path: Path) -> Path:
        """Write the sheet as PNG."""
        figure = self.compose()
        path.parent.mkdir(parents=True, exist_ok=True)
        figure.savefig(
            path,
            dpi=_DPI,
            facecolor=BACKGROUND,
            metadata={"Software": None},
            pil_kwargs={"compress_level": 4},
        )
        return path

    def compose(self) -> Any:
        """Lay out the sheet as a matplotlib figure of `SIZE` pixels."""
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self._figure = Figure(
            figsize=(SIZE[0] / _DPI, SIZE[1] / _DPI), dpi=_DPI, facecolor=BACKGROUND
        )
        canvas = FigureCanvasAgg(self._figure)
        self._figure.figimage(self.image[::-1], xo=LEFT, yo=BOTTOM, origin="lower", zorder=0)
        self._words()
        if self.scale is not None:
            self._colour_scale(self.scale)
        if self.legend:
            self._legend()
        for (x, y), name in self.names:
            self._text(LEFT + x, BOTTOM + y, name, fontsize=17, ha="center", va="bottom")
        self._axes_cross()
        self._place_labels(canvas.get_renderer())
        return self._figure

    def _text(self, x: float, y: float, words: str, **look: Any) -> Any:
        return self._figure.text(x / SIZE[0], y / SIZE[1], words, **{"color": INK, **look})

    def _words(self) -> None:
        """Title and caption, shortened or broken where they are too long."""
        top = SIZE[1]
        title = textwrap.shorten(self.title, 80, placeholder=" …")
        self._text(LEFT, top - 34, title, fontsize=23, fontweight="bold", va="top")
        self._text(LEFT, top - 80, self.subtitle, fontsize=16, color=_GREY, va="top")
        caption = "\n".join(textwrap.wrap(self.caption, 165)[:2])
        self._text(LEFT, BOTTOM - 14, caption, fontsize=12.5, color=_GREY, va="top",
                   linespacing=1.45)  # fmt: skip

    def _colour_scale(self, scale: Scale) -> None:
        """Vertical bar to the right of the view, label above, ticks to its right."""
        height, width = 560, 26
        left, bottom = SIZE[0] - RIGHT + 42, BOTTOM + (VIEW[1] - height) / 2 - 20
        axes = self._figure.add_axes(
            (left / SIZE[0], bottom / SIZE[1], width / SIZE[0], height / SIZE[1])
        )
        ramp = np.linspace(0, 1, 512)[:, None]
        axes.imshow(
            ramp, aspect="auto", cmap=colours(scale), origin="lower",
            extent=(0, 1, scale.low, scale.high), interpolation="bilinear",
        )  # fmt: skip
        axes.set_xticks([])
        axes.yaxis.tick_right()
        axes.set_yticks(scale.ticks, [scale.text(tick) for tick in scale.ticks])
        axes.tick_params(axis="y", labelsize=15, length=6, color=_GREY, labelcolor=INK, pad=6)
        for spine in axes.spines.values():
            spine.set_color(_GREY)
            spine.set_linewidth(0.8)
        words = "\n".join([*textwrap.wrap(self.scale_words, 19), self.scale_unit])
        self._text(left, bottom + height + 24, words, fontsize=14, linespacing=1.3)

    def _legend(self) -> None:
        """Swatches with names, as many as there is room for; headings have no colour."""
        from matplotlib.patches import Rectangle

        left, top = SIZE[0] - RIGHT + 10, SIZE[1] - TOP - 30
        step = 31 if len(self.legend) <= 24 else max(15.0, 31 * 24 / len(self.legend))
        room = int((VIEW[1] - 60) / step)
        size = min(14.0, step * 0.46)
        shown = self.legend if len(self.legend) <= room else self.legend[: room - 1]
        for i, (words, colour) in enumerate(shown):
            y = top - i * step
            indent = 0 if colour is None else 34
            if colour is not None:
                self._figure.add_artist(
                    Rectangle(
                        (left / SIZE[0], (y - step * 0.3) / SIZE[1]), 24 / SIZE[0],
                        step * 0.6 / SIZE[1], facecolor=colour, edgecolor=_GREY, linewidth=0.6,
                    )
                )  # fmt: skip
            weight = "bold" if colour is None else "normal"
            words = textwrap.shorten(words, 24, placeholder="…")
            self._text(left + indent, y, words, fontsize=size, va="center", fontweight=weight)
        if len(shown) < len(self.legend):
            rest = len(self.legend) - len(shown)
            self._text(
                left, top - len(shown) * step, f"and {rest} more", fontsize=size, va="center"
            )

    def _axes_cross(self) -> None:
        """Three short arrows: where x, y and z point in this view."""
        from matplotlib.patches import FancyArrowPatch

        origin, length = np.array([LEFT + 62.0, BOTTOM + 52.0]), 46.0
        ends: list[Array] = []
        for name, right, up in zip("xyz", self.camera.right, self.camera.up, strict=True):
            along = np.array([right, up])
            size = float(np.linalg.norm(along))
            if size < 0.12:
                continue
            tip = origin + length * along
            arrow = FancyArrowPatch(
                tuple(origin.tolist()), tuple(tip.tolist()), arrowstyle="-|>", mutation_scale=10,
                color=_GREY, linewidth=1.3, shrinkA=0, shrinkB=0, transform=None,
            )  # fmt: skip
            self._figure.add_artist(arrow)
            end = tip + along / size * 11
            if any(np.abs(end - other).max() < 18 for other in ends):
                end = tip + np.array([-13.0, -4.0])
            ends.append(end)
            self._text(end[0], end[1], name, fontsize=13, color=_GREY, ha="center", va="center")

    def _place_labels(self, renderer: Any) -> None:
        """Put each label on free ground near its place, with a line to it.

        Of all orders in which the labels may choose their ground, the one with the shortest
        lines is taken; that also keeps the lines from crossing.
        """
        ground = np.array([int(BACKGROUND[i : i + 2], 16) for i in (1, 3, 5)])
        taken = (np.abs(self.image[::-1].astype(int) - ground).max(axis=2) > 4).astype(np.int64)
        taken[:110, :130] = 1  # the axes cross
        texts, sizes = [], []
        for label in self.labels:
            words = self._text(0, 0, label.words, fontsize=15, linespacing=1.35, va="bottom",
                               ha="left", zorder=6)  # fmt: skip
            box = words.get_window_extent(renderer)
            texts.append(words)
            sizes.append((int(box.width) + 24, int(box.height) + 20))
        places = [label.at for label in self.labels]
        orders = permutations(range(len(places)))
        choices = (_choose(taken, places, sizes, order) for order in orders)
        best = min(choices, key=lambda choice: choice[0])[1]
        for label, words, (width, height), (x, y) in zip(
            self.labels, texts, sizes, best, strict=True
        ):
            words.set_position(((LEFT + x + 12) / SIZE[0], (BOTTOM + y + 10) / SIZE[1]))
            self._frame_label(label, (LEFT + x, BOTTOM + y, width, height))

    def _frame_label(self, label: Label, box: tuple[int, int, int, int]) -> None:
        """Box, line and ring of one label."""
        from matplotlib.lines import Line2D
        from matplotlib.patches import Circle, FancyBboxPatch

        x, y, width, height = box
        place = np.array([LEFT + label.at[0], BOTTOM + label.at[1]])
        nearest = np.clip(place, (x, y), (x + width, y + height))
        away = nearest - place
        start = place + away / max(float(np.linalg.norm(away)), 1.0) * 9
        style: dict[str, Any] = {"transform": None, "zorder": 4}
        dashes = (0, (4, 3)) if label.hidden else "-"
        for colour, wider in (("white", 2.4), (ACCENT, 0.0)):  # the white sets it off the field
            line = Line2D(
                [start[0], nearest[0]], [start[1], nearest[1]], color=colour,
                linewidth=1.6 + wider, linestyle="-" if wider else dashes, **style,
            )  # fmt: skip
            ring = Circle(
                tuple(place), 9, facecolor="none", edgecolor=colour, linewidth=2.2 + wider,
                linestyle="-" if wider else dashes, **style,
            )  # fmt: skip
            self._figure.add_artist(line)
            self._figure.add_artist(ring)
        frame = FancyBboxPatch(
            (x + 4, y + 4), width - 8, height - 8, boxstyle="round,pad=0,rounding_size=5",
            facecolor="white", edgecolor=ACCENT, linewidth=1.4, transform=None, zorder=5,
        )  # fmt: skip
        self._figure.add_artist(frame)


def _choose(
    taken: Array,
    places: Sequence[tuple[float, float]],
    sizes: Sequence[tuple[int, int]],
    order: Sequence[int],
) -> tuple[float, list[tuple[int, int]]]:
    """Let labels choose their ground in an order: total length of lines, corners in label order."""
    taken = taken.copy()
    corners: dict[int, tuple[int, int]] = {}
    total = 0.0
    for index in order:
        width, height = sizes[index]
        x, y = free_place(taken, places[index], (width, height))
        taken[y : y + height, x : x + width] = 1
        corners[index] = (x, y)
        away = np.array([x + width / 2, y + height / 2]) - places[index]
        total += float(np.hypot(*away))
    return total, [corners[index] for index in range(len(places))]


COVERED = 0.1
"""Pixels of distance that a covered pixel of the drawing is worth."""


def free_place(taken: Array, near: tuple[float, float], size: tuple[int, int]) -> tuple[int, int]:
    """Lower left corner of the free box of `size` (width, height) nearest to a place.

    Parameters
    ----------
    taken : (rows, columns) int
        1 where something is drawn, rows from below.

    Notes
    -----
    Covering a little of the drawing is better than a line across all of it (`COVERED`).
    """
    rows, columns = taken.shape
    width, height = min(size[0], columns), min(size[1], rows)
    total = np.zeros((rows + 1, columns + 1), dtype=np.int64)
    total[1:, 1:] = taken.cumsum(axis=0).cumsum(axis=1)
    y = np.arange(0, rows - height + 1, 6)[:, None]
    x = np.arange(0, columns - width + 1, 6)[None, :]
    covered = (
        total[y + height, x + width] - total[y, x + width] - total[y + height, x] + total[y, x]
    )
    dx = np.maximum(np.maximum(x - near[0], near[0] - x - width), 0)
    dy = np.maximum(np.maximum(y - near[1], near[1] - y - height), 0)
    cost = np.hypot(dx, dy) + COVERED * (covered - covered.min())
    row, column = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return int(x[0, column]), int(y[row, 0])
