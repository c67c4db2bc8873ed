"""The trade-off of a comparison: cost or mass against what it buys, limits drawn."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.units import shown_in

SIZE = (1600, 720)
_DPI = 100
_GREY = "#5c666e"
_PALE = "#e4e7e9"
_STEEP = 400.0
"""Per cent of a limit beyond which the scale is logarithmic."""
_LISTED = 20
"""Options whose words fit beside the panels."""


@dataclass(frozen=True)
class TradePoint:
    """An option: words, mass (kg), deflection and peak stress over their limits, cost.

    `verified` by a full solve, or only predicted: then it is drawn hollow.
    """

    label: str
    mass: float
    deflection: float
    stress: float
    verified: bool = True
    cost: float | None = None


def front(points: Sequence[tuple[float, float]]) -> list[int]:
    """Indices of the points that no other beats in both coordinates, by the first."""
    order = sorted(range(len(points)), key=lambda i: points[i])
    kept: list[int] = []
    for index in order:
        if not kept or points[index][1] < points[kept[-1]][1]:
            kept.append(index)
    return kept


def trade_picture(points: Sequence[TradePoint], path: Path, title: str, currency: str = "") -> Path:
    """Write cost (mass, unless all have one) against deflection and stress as PNG; base first.

    Options are numbered and listed at the side. Those that no other beats are joined.

    Raises
    ------
    ValueError
        If there are no points.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if not points:
        raise ValueError("a trade-off needs at least one point")
    costs = [p.cost for p in points if p.cost is not None]
    masses = len(costs) < len(points)
    unit = shown_in("heavy")
    along = [p.mass / unit.scale for p in points] if masses else costs
    axis = f"Mass without cylinder ({unit.name})" if masses else f"Cost ({currency or 'as priced'})"
    figure = Figure(figsize=(SIZE[0] / _DPI, SIZE[1] / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    title = textwrap.shorten(title, 88, placeholder=" …")
    figure.text(0.025, 0.945, title, fontsize=21, fontweight="bold", color=INK, va="center")
    for place, (words, field) in enumerate(
        (
            ("Mid-span deflection over its limit", "deflection"),
            ("Peak stress over its limit", "stress"),
        )
    ):
        axes = figure.add_axes((0.06 + 0.36 * place, 0.135, 0.29, 0.67))
        places = [(x, 100 * getattr(p, field)) for x, p in zip(along, points, strict=True)]
        _panel(axes, (words, axis), places, [p.verified for p in points])
    if not all(p.verified for p in points):
        figure.text(0.06, 0.89, "Filled: solved in full. Hollow: predicted.", fontsize=13,
                    color=_GREY, va="center")  # fmt: skip
    named = list(enumerate(points))
    if len(points) > _LISTED:  # what was solved in full matters most
        named = sorted(sorted(named, key=lambda n: not n[1].verified)[:_LISTED], key=lambda n: n[0])
    shown = [f"{i}  {textwrap.shorten(p.label, 36)}" for i, p in named]
    if len(points) > _LISTED:
        shown.append("further ones in comparison.csv")
    figure.text(0.765, 0.83, "\n".join(shown), fontsize=12, color=INK, va="top", linespacing=1.6)
    figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _panel(
    axes: Any, words: tuple[str, str], points: Sequence[tuple[float, float]], solid: Sequence[bool]
) -> None:
    """One trade-off: points, those that none beats joined, the limit, the base as a square."""
    from matplotlib.ticker import LogLocator, NullFormatter

    best = [points[i] for i in front(points)]
    axes.plot(*zip(*best, strict=True), color=ACCENT, linewidth=1.8, zorder=2)
    faces = [ACCENT if full else BACKGROUND for full in solid]
    axes.scatter(*zip(*points, strict=True), s=42, c=faces, edgecolors=ACCENT, linewidths=1.5,
                 zorder=3)  # fmt: skip
    axes.scatter(*points[0], s=130, marker="s", facecolor=BACKGROUND, edgecolor=INK,
                 linewidth=2.0, zorder=4)  # fmt: skip
    axes.axhline(100.0, color=_GREY, linewidth=1.5, linestyle=(0, (7, 3, 1.5, 3)), zorder=1)
    width = max(x for x, _ in points) - min(x for x, _ in points) or 0.1 * points[0][0]
    low, high = min(y for _, y in points), max(y for _, y in points)
    axes.set_xlim(
        min(x for x, _ in points) - 0.12 * width, max(x for x, _ in points) + 0.12 * width
    )
    if high > _STEEP and low > 0:  # or the limit and what lies within would be a line at the foot
        axes.set_yscale("log")
        axes.set_ylim(0.7 * min(low, 100.0), 1.5 * high)
        axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axes.yaxis.set_major_formatter("{x:g}")
        axes.yaxis.set_minor_formatter(NullFormatter())
    else:
        axes.set_ylim(0.0, 1.15 * max(110.0, high))
    axes.annotate("limit", (1.0, 100.0), xycoords=("axes fraction", "data"), xytext=(5, 0),
                  textcoords="offset points", va="center", fontsize=12, color=_GREY)  # fmt: skip
    if max(x for x, _ in points) >= 1000:
        axes.xaxis.set_major_formatter("{x:,.0f}")
    _number(axes, points)
    axes.set_title(f"{words[0]} (%)", loc="left", fontsize=15.5, color=INK, pad=14)
    axes.set_xlabel(f"{words[1]}; the square is the base", fontsize=13.5, color=INK)
    axes.tick_params(labelsize=13, color=_GREY, labelcolor=INK, length=5)
    axes.set_facecolor(BACKGROUND)
    axes.grid(axis="y", color=_PALE, linewidth=1.0)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _number(axes: Any, points: Sequence[tuple[float, float]]) -> None:
    """Number the points where the numbers do not meet earlier ones, a point or the axes."""
    places = axes.transData.transform(points)
    (left, foot), (right, top) = axes.transAxes.transform([(0, 0), (1, 1)])
    taken: list[tuple[float, float]] = []
    for index, (x, y) in enumerate(places):
        for dx, dy in ((13, 13), (-13, 13), (13, -13), (-13, -13), (0, 24), (0, -24)):
            spot = (x + dx, y + dy)
            near = [*taken, *(tuple(p) for i, p in enumerate(places) if i != index)]
            inside = left + 10 < spot[0] < right - 10 and foot + 10 < spot[1] < top - 8
            if inside and all(abs(spot[0] - a) > 17 or abs(spot[1] - b) > 15 for a, b in near):
                taken.append(spot)
                axes.annotate(
                    str(index), points[index], xytext=(dx, dy), textcoords="offset pixels",
                    ha="center", va="center", fontsize=11.5, color=INK, zorder=5,
                )  # fmt: skip
                break
