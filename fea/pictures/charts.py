"""Chart of a thickness comparison: stress, deflection and mass side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.units import shown_in

Array = np.ndarray

SIZE = (1600, 720)
_DPI = 100
_GREY = "#5c666e"
_PALE = "#e4e7e9"
# Series differ by marker, line and lightness, so that they can be told apart in grey.
_LOOKS: tuple[dict[str, Any], ...] = (
    {"color": ACCENT, "marker": "o", "linestyle": "-", "markerfacecolor": ACCENT},
    {"color": INK, "marker": "s", "linestyle": "--", "markerfacecolor": BACKGROUND},
    {"color": "#b0752f", "marker": "^", "linestyle": "-.", "markerfacecolor": "#b0752f"},
    {"color": "#7f8a93", "marker": "D", "linestyle": ":", "markerfacecolor": BACKGROUND},
)


@dataclass(frozen=True)
class ComparisonRow:
    """One option of one series (a stack, or the whole press), all in SI.

    Errors are half widths of the interval around the value; limits are None where there is none.
    """

    series: str
    thickness: float
    stress: float
    deflection: float
    mass: float
    stress_error: float = 0.0
    deflection_error: float = 0.0
    stress_limit: float | None = None
    deflection_limit: float | None = None


@dataclass(frozen=True)
class _Panel:
    """One of the small multiples: what it shows of a row, of which SI unit."""

    title: str
    si: str
    value: Callable[[ComparisonRow], float]
    error: Callable[[ComparisonRow], float] = lambda row: 0.0
    limit: Callable[[ComparisonRow], float | None] = lambda row: None

    @property
    def unit(self) -> str:
        """Unit in which it is shown."""
        return shown_in(self.si).name

    @property
    def factor(self) -> float:
        """Number of that unit to one SI unit."""
        return 1 / shown_in(self.si).scale


_PANELS = (
    _Panel(
        "Peak stress", "Pa", lambda row: row.stress, lambda row: row.stress_error,
        lambda row: row.stress_limit,
    ),
    _Panel(
        "Mid-span deflection", "m", lambda row: abs(row.deflection),
        lambda row: row.deflection_error, lambda row: row.deflection_limit,
    ),
    _Panel("Mass", "heavy", lambda row: row.mass),
)  # fmt: skip


def comparison_picture(
    rows: Sequence[ComparisonRow], path: Path | str, title: str = "Thickness comparison"
) -> Path:
    """Write stress, deflection and mass against plate thickness as PNG.

    Parameters
    ----------
    rows : sequence of ComparisonRow
        In any order; rows of one series are joined by a line. Deflections are drawn as amounts.

    Raises
    ------
    ValueError
        If there are no rows.
    """
    figure = comparison_figure(rows, title)
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(target, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return target


def comparison_figure(rows: Sequence[ComparisonRow], title: str) -> Any:
    """Draw the comparison as a matplotlib figure of `SIZE` pixels."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if not rows:
        raise ValueError("a comparison needs at least one row")
    figure = Figure(figsize=(SIZE[0] / _DPI, SIZE[1] / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    canvas = FigureCanvasAgg(figure)
    title = textwrap.shorten(title, 88, placeholder=" …")
    figure.text(0.025, 0.945, title, fontsize=21, fontweight="bold", color=INK, va="center")
    series = list(dict.fromkeys(row.series for row in rows))
    grouped = [
        sorted((row for row in rows if row.series == name), key=lambda row: row.thickness)
        for name in series
    ]
    for place, panel in enumerate(_PANELS):
        axes = figure.add_axes((0.055 + 0.325 * place, 0.135, 0.196, 0.67))
        _draw(axes, panel, grouped)
        _end_labels(axes, canvas, panel, grouped)
    return figure


def _draw(axes: Any, panel: _Panel, grouped: Sequence[Sequence[ComparisonRow]]) -> None:
    """Lines, error bars, limits and axes of one panel."""
    highest = 0.0
    for group, look in zip(grouped, _cycle(len(grouped)), strict=True):
        x = np.array([row.thickness for row in group]) / shown_in("m").scale
        y = np.array([panel.value(row) for row in group]) * panel.factor
        error = np.array([panel.error(row) for row in group]) * panel.factor
        axes.errorbar(
            x, y, yerr=error if error.any() else None, markersize=8, linewidth=2.0,
            markeredgewidth=1.6, markeredgecolor=look["color"], elinewidth=1.4, capsize=4,
            zorder=3, clip_on=False, **look,
        )  # fmt: skip
        highest = max(highest, float((y + error).max()))
    limits = _limits(panel, grouped)
    for x, y, _, colour in limits:
        # Strength falls by bands "over ... up to and including ...": a step down past each x.
        look = {"color": colour, "linewidth": 1.5, "linestyle": (0, (7, 3, 1.5, 3)), "zorder": 2}
        if len(x) == 1:
            axes.axhline(y[0], **look)
        else:
            axes.plot(x, y, drawstyle="steps-pre", **look)
        highest = max(highest, float(y.max()))
    _axes_look(axes, panel, grouped, highest)


def _limits(
    panel: _Panel, grouped: Sequence[Sequence[ComparisonRow]]
) -> list[tuple[Array, Array, str, str]]:
    """Limit lines of a panel: thicknesses, values, label, colour; equal lines only once."""
    found: list[tuple[Array, Array, str, str]] = []
    for group, look in zip(grouped, _cycle(len(grouped)), strict=True):
        pairs = [(row.thickness / shown_in("m").scale, panel.limit(row)) for row in group]
        known = [(x, y * panel.factor) for x, y in pairs if y is not None]
        if not known:
            continue
        x, y = np.array(known).T
        same = next(
            (i for i, line in enumerate(found)
             if len(line[0]) == len(x) and np.allclose(line[0], x) and np.allclose(line[1], y)),
            None,
        )  # fmt: skip
        if same is None:
            found.append((x, y, f"limit {group[0].series}", look["color"]))
        else:
            found[same] = (x, y, "limit", _GREY)
    if len(found) == 1:
        x, y, _, _ = found[0]
        found = [(x, y, "limit", _GREY)]
    return found


def _axes_look(
    axes: Any, panel: _Panel, grouped: Sequence[Sequence[ComparisonRow]], highest: float
) -> None:
    """Quiet axes from zero, ticks at the thicknesses where there is room for them."""
    from matplotlib.ticker import MaxNLocator

    unit = shown_in("m")
    thicknesses = sorted({round(r.thickness / unit.scale, 6) for group in grouped for r in group})
    low, high = thicknesses[0], thicknesses[-1]
    room = 0.06 * (high - low) or 0.1 * high
    axes.set_xlim(low - room, high + room)
    axes.set_ylim(0.0, 1.12 * highest if highest > 0 else 1.0)
    gaps = np.diff(thicknesses)
    if len(thicknesses) <= 7 and (len(gaps) == 0 or gaps.min() > 0.1 * (high - low)):
        axes.set_xticks(thicknesses, [f"{t:g}" for t in thicknesses])
    axes.yaxis.set_major_locator(MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10]))
    axes.set_title(f"{panel.title} ({panel.unit})", loc="left", fontsize=15.5, color=INK, pad=14)
    axes.set_xlabel(f"Plate thickness ({unit.name})", fontsize=13.5, color=INK, labelpad=9)
    axes.tick_params(labelsize=13, color=_GREY, labelcolor=INK, length=5)
    axes.set_facecolor(BACKGROUND)
    axes.grid(axis="y", color=_PALE, linewidth=1.0)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(_GREY)


def _end_labels(
    axes: Any, canvas: Any, panel: _Panel, grouped: Sequence[Sequence[ComparisonRow]]
) -> None:
    """Name each line at its right end, moved apart where the ends are close."""
    entries = [
        (group[-1].thickness / shown_in("m").scale, panel.value(group[-1]) * panel.factor,
         group[0].series,
         look["color"])
        for group, look in zip(grouped, _cycle(len(grouped)), strict=True)
    ]  # fmt: skip
    entries += [(x[-1], y[-1], words, colour) for x, y, words, colour in _limits(panel, grouped)]
    box = axes.get_window_extent(canvas.get_renderer())
    ends = axes.transData.transform([(x, y) for x, y, _, _ in entries])
    heights = spread(ends[:, 1], 24.0, box.y0 + 8, box.y1 + 12)
    for (_, _, words, colour), end, height in zip(entries, ends, heights, strict=True):
        axes.annotate(
            words, xy=(end[0] + 9, end[1]), xycoords="figure pixels",
            xytext=(box.x1 + 14, height), textcoords="figure pixels", fontsize=13, color=colour,
            va="center", ha="left", annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.8, "shrinkA": 2,
                        "shrinkB": 0, "relpos": (0.0, 0.5)},
        )  # fmt: skip


def _cycle(count: int) -> list[dict[str, Any]]:
    return [_LOOKS[i % len(_LOOKS)] for i in range(count)]


def spread(wanted: Array, gap: float, low: float, high: float) -> Array:
    """Move positions apart as little as needed: at least `gap` between any two, within bounds.

    Where there is no room for that, they are evenly spaced from `low` to `high`.
    """
    wanted = np.asarray(wanted, dtype=float)
    count = len(wanted)
    if gap * (count - 1) > high - low:
        gap = (high - low) / (count - 1)
    order = np.argsort(wanted, kind="stable")
    steps = gap * np.arange(count)
    # With the steps taken off, the order must not fall: a least-squares fit that never decreases
    # (pool adjacent violators).
    blocks: list[tuple[float, int]] = []
    for value in wanted[order] - steps:
        mean, size = float(value), 1
        while blocks and blocks[-1][0] > mean:
            other, number = blocks.pop()
            mean, size = (mean * size + other * number) / (size + number), size + number
        blocks.append((mean, size))
    fitted = np.repeat([mean for mean, _ in blocks], [size for _, size in blocks])
    placed = np.empty(count)
    placed[order] = np.clip(fitted, low, high - steps[-1]) + steps
    return placed
