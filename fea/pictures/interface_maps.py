"""Maps of the interfaces of a stack, drawn flat: pressure, gap and sliding, seen from above."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures.fields import Scale, scale_for
from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK, OUTLINE
from platestack.fea.pictures.scene import AXES, InterfaceInfo, PatchInfo, SceneInfo, StackInfo
from platestack.fea.pictures.sheet import colours
from platestack.fea.pictures.surface import SIX_AS_FOUR
from platestack.geometry.units import percent, shown_in

Array = np.ndarray

MOST = 10
"""Interfaces on one sheet; of more, those with the largest area."""

_WIDTH, _DPI = 1600, 100
_LEFT, _RIGHT, _TOP, _BOTTOM, _BETWEEN, _APART = 200, 50, 150, 170, 26, 60
_GREY, _OPEN = "#5c666e", "#d3d8db"
_MAPS = ("pressure", "gap", "sliding")


@dataclass(frozen=True)
class Flat:
    """An interface laid flat and completed by its mirror images.

    Attributes
    ----------
    info : its name and how much of it is open, sticks and slides.
    across : the axis it lies across; along : the two axes of the drawing.
    at : (n, 2) places in the drawing (m). triangles : (m, 3).
    apart : (n,) a number that is positive where nothing presses and negative where something does.
    data : values (n,) by the name of the map (Pa or m).
    border : (b, 2, 2) ends of the border's edges (m).
    """

    info: InterfaceInfo
    across: int
    along: tuple[int, int]
    at: Array
    triangles: Array
    apart: Array
    data: dict[str, Array]
    border: Array

    @property
    def areas(self) -> Array:
        """Areas of the triangles (m²)."""
        a, b, c = np.swapaxes(self.at[self.triangles], 0, 1)
        (x, y), (u, v) = (b - a).T, (c - a).T
        return np.asarray(np.abs(x * v - y * u) / 2)


def interface_maps(grid: Any, info: SceneInfo, folder: Path) -> dict[str, Path]:
    """Write one sheet for each stack whose plates may part, such as ``crosshead_interfaces.png``.

    Parameters
    ----------
    grid : meshio.Mesh
        Quadratic triangles with the data that a run leaves in ``interfaces.vtu``.
    info : what else there is to know: rods, loaded patches, mirrors.

    Returns
    -------
    dict
        Paths by the name of the file, without its ending.
    """
    made = {}
    for index, stack in enumerate(info.stacks):
        flats = laid_flat(grid, index, stack)
        if flats:
            name = f"{stack.name}_interfaces"
            path = Path(folder) / f"{name}.png"
            figure = interface_figure(flats, info, stack)
            figure.savefig(path, dpi=_DPI, facecolor=BACKGROUND, metadata={"Software": None})
            made[name] = path
    return made


def laid_flat(grid: Any, index: int, stack: StackInfo) -> list[Flat]:
    """The interfaces of the stack with this index, in their order."""
    cells = np.asarray(grid.cells_dict["triangle6"])
    data = {name: np.asarray(values[0]) for name, values in grid.cell_data.items()}
    own = data["stack"] == index
    numbers = np.unique(data["interface"][own]).tolist()
    return [
        _flat(grid, cells[own & (data["interface"] == number)], stack, stack.interfaces[number])
        for number in numbers
    ]


def _flat(grid: Any, cells: Array, stack: StackInfo, info: InterfaceInfo) -> Flat:
    used, local = np.unique(cells, return_inverse=True)
    local = local.reshape(-1, 6)
    points = np.asarray(grid.points)[used]
    across = int(np.ptp(points, axis=0).argmin())
    first, second = (axis for axis in range(3) if axis != across)
    at = points[:, [first, second]]
    edges = local[:, [[0, 3, 1], [1, 4, 2], [2, 5, 0]]].reshape(-1, 3)
    _, at_first, count = np.unique(
        np.sort(edges[:, [0, 2]], axis=1), axis=0, return_index=True, return_counts=True
    )
    rim = edges[at_first[count == 1]][:, [[0, 1], [1, 2]]].reshape(-1, 2)
    mirrors = [axis for axis in (0, 1) if AXES[axis] in stack.symmetry and axis != across]
    for axis in mirrors:
        on_plane = np.abs(points[rim][..., axis]).max(axis=1) < 1e-9
        rim = rim[~on_plane]
    triangles = local[:, SIX_AS_FOUR].reshape(-1, 3)
    values = {name: np.asarray(grid.point_data[name])[used] for name in _MAPS}
    border = at[rim]
    for axis in mirrors:
        flip = np.where(np.array([first, second]) == axis, -1.0, 1.0)
        triangles = np.concatenate([triangles, triangles + len(at)])
        at, border = np.concatenate([at, flip * at]), np.concatenate([border, flip * border])
        values = {name: np.tile(value, 2) for name, value in values.items()}
    # Both parts are zero where the other is not: what lies between two nodes is interpolated.
    gap, pressure = values["gap"], values["pressure"]
    apart = gap / (gap.mean() or 1.0) - pressure / (pressure.mean() or 1.0)
    return Flat(info, across, (first, second), at, triangles, apart, values, border)


def interface_figure(flats: list[Flat], info: SceneInfo, stack: StackInfo) -> Any:
    """Draw the maps of a stack: a row for each interface, a column for each quantity."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    largest = sorted(flats, key=lambda flat: flat.areas.sum(), reverse=True)[:MOST]
    shown = [flat for flat in flats if any(flat is one for one in largest)]
    wide = (_WIDTH - _LEFT - _RIGHT - 2 * _APART) / 3
    # One scale of length for all rows, and room for its words in each.
    sizes = np.array([_extent(flat, info, stack) for flat in shown])
    rows: list[float] = np.maximum(90.0, wide * sizes[:, 1] / sizes[:, 0].max()).tolist()
    height = _TOP + _BOTTOM + sum(rows) + _BETWEEN * len(rows)
    figure = Figure(figsize=(_WIDTH / _DPI, height / _DPI), dpi=_DPI, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)

    def text(x: float, y: float, words: str, **look: Any) -> None:
        look = {"color": INK, "va": "top"} | look
        figure.text(x / _WIDTH, 1 - y / height, words, **look)

    title = textwrap.shorten(info.title, 80, placeholder=" …")
    text(40, 30, title, fontsize=23, fontweight="bold")
    text(40, 72, f"{stack.name.capitalize()}: its interfaces at capacity", fontsize=16,
         color=_GREY)  # fmt: skip
    for column, name in enumerate(_MAPS):
        left = _LEFT + column * (wide + _APART)
        unit, factor = _unit(shown, name)
        scale = _scale(shown, name, factor)
        text(left, 118, f"{name.capitalize()} ({unit})", fontsize=15)
        top = float(_TOP)
        for flat, row in zip(shown, rows, strict=True):
            box = (left / _WIDTH, 1 - (top + row) / height, wide / _WIDTH, row / height)
            axes = figure.add_axes(box)
            _paint(axes, flat, name, factor, scale)
            _outline(axes, flat, info, stack)
            if not column:
                text(40, top + row / 2, _row_words(flat), fontsize=12.5, va="center",
                     linespacing=1.4)  # fmt: skip
            top += row + _BETWEEN
        bar = (left / _WIDTH, (_BOTTOM - 35) / height, wide / _WIDTH, 18 / height)
        _colour_bar(figure.add_axes(bar), scale)
    caption = textwrap.wrap(_caption(shown, flats, stack), 165)
    text(40, height - 84, "\n".join(caption[:3]), fontsize=12.5, color=_GREY, linespacing=1.45)
    return figure


def _extent(flat: Flat, info: SceneInfo, stack: StackInfo) -> Array:
    """Width and height (m) of what is drawn of an interface: rods and the patch, too."""
    drawn = [flat.at]
    if flat.across == 2:
        for rod in info.rods:
            drawn.append(np.add([rod.x, rod.y], np.outer([-1, 1], [rod.diameter / 2] * 2)))
        if stack.patch is not None:
            sides = np.outer([-0.5, 0.5], [stack.patch.length, stack.patch.width])
            drawn.append(np.add(stack.patch.at, sides))
    return np.asarray(np.ptp(np.concatenate(drawn), axis=0))


def _unit(shown: list[Flat], name: str) -> tuple[str, float]:
    """Unit of a map and its number to one SI unit: µm or mil where all is below a tenth of a mm."""
    largest = max(float(flat.data[name].max()) for flat in shown)
    unit = shown_in("Pa" if name == "pressure" else "m", largest)
    if unit.name == "mm" and largest < 1e-4:
        return "µm", 1e6
    if unit.name == "in" and largest < 1e-4:
        return "mil", 1e3 / unit.scale
    return unit.name, 1 / unit.scale


def _scale(shown: list[Flat], name: str, factor: float) -> Scale:
    """One scale for all interfaces, so that they can be compared."""
    values = np.concatenate([flat.data[name][flat.triangles].mean(axis=1) for flat in shown])
    return scale_for(factor * values, np.concatenate([flat.areas for flat in shown]), signed=False)


def _paint(axes: Any, flat: Flat, name: str, factor: float, scale: Scale) -> None:
    """Colour one map; the open part is grey but where its gap is shown."""
    axes.tripcolor(
        *flat.at.T, flat.triangles, factor * flat.data[name], shading="gouraud",
        cmap=colours(scale), vmin=scale.low, vmax=scale.high,
    )  # fmt: skip
    if name != "gap" and flat.apart.max() > 0:
        most = float(flat.apart.max())
        axes.tricontourf(*flat.at.T, flat.triangles, flat.apart, levels=[0, most], colors=[_OPEN])


def _outline(axes: Any, flat: Flat, info: SceneInfo, stack: StackInfo) -> None:
    """Draw the border of an interface, rods and the loaded patch."""
    from matplotlib.collections import LineCollection

    axes.add_collection(LineCollection(list(flat.border), colors=OUTLINE, linewidths=0.9))
    if flat.across == 2:
        for outline in (*_rods(info), *_patch(stack.patch)):
            axes.add_patch(outline)
    if _bolted(flat, stack):
        for outline in _bolts(stack):
            axes.add_patch(outline)
    axes.set_aspect("equal")
    axes.margins(0.01)
    axes.axis("off")


def _rods(info: SceneInfo) -> Iterator[Any]:
    from matplotlib.patches import Circle

    for rod in info.rods:
        yield Circle((rod.x, rod.y), rod.diameter / 2, fill=False, edgecolor=INK, linewidth=1.6)


def _bolted(flat: Flat, stack: StackInfo) -> bool:
    """Whether the clamp bolts of a stack stand across an interface."""
    return bool(stack.bolts) and flat.across == (1 if stack.on_edge else 2)


def _bolts(stack: StackInfo) -> Iterator[Any]:
    """Clamp bolts as discs in their holes."""
    from matplotlib.patches import Circle

    for bolt in stack.bolts:
        yield Circle(bolt.at, bolt.diameter / 2, facecolor=_GREY, edgecolor=INK, linewidth=0.8)


def _patch(patch: PatchInfo | None) -> Iterator[Any]:
    """Outline of the loaded patch, dashed: it lies on another face."""
    from matplotlib.patches import Circle, Rectangle

    if patch is None:
        return
    look: dict[str, Any] = {"fill": False, "edgecolor": ACCENT, "linewidth": 1.8, "linestyle": "--"}
    if patch.shape == "rectangle":
        corner = patch.at[0] - patch.length / 2, patch.at[1] - patch.width / 2
        yield Rectangle(corner, patch.length, patch.width, **look)
        return
    for diameter in filter(None, (patch.length, patch.inner)):
        yield Circle(patch.at, diameter / 2, **look)


def _colour_bar(axes: Any, scale: Scale) -> None:
    axes.imshow(
        np.linspace(0, 1, 512)[None], aspect="auto", cmap=colours(scale),
        extent=(scale.low, scale.high, 0, 1), interpolation="bilinear",
    )  # fmt: skip
    axes.set_yticks([])
    axes.set_xticks(scale.ticks, [scale.text(tick) for tick in scale.ticks])
    axes.tick_params(axis="x", labelsize=12.5, length=5, color=_GREY, labelcolor=INK)
    for spine in axes.spines.values():
        spine.set_color(_GREY)
        spine.set_linewidth(0.8)


def _row_words(flat: Flat) -> str:
    """Name of an interface and the parts of its area, each on a line."""
    info = flat.info
    parts = [("open", info.open), ("sticking", info.sticking), ("sliding", info.sliding)]
    if info.kind == "loose":
        parts = [("open", info.open), ("closed", 1 - info.open)]
    lines = [*textwrap.wrap(info.name.replace(" | ", " to "), 18)[:3]]
    return "\n".join([*lines, *(f"{name} {percent(part)}" for name, part in parts)])


def _caption(shown: list[Flat], flats: list[Flat], stack: StackInfo) -> str:
    seen = "Seen from above, x to the right, y upwards"
    if any(flat.across != 2 for flat in shown):
        seen += "; upright interfaces from the side, z upwards"
    words = [f"{seen}.", "Grey: open, nothing presses."]
    if any(flat.across == 2 for flat in shown):
        words.append("Circles: rods. Dashed: the loaded patch.")
    if any(_bolted(flat, stack) for flat in shown):
        words.append("Dark discs: clamp bolts.")
    mirrors = [f"{name} = 0" for name in stack.symmetry]
    if mirrors:
        words.append(f"Mirrored at {' and '.join(mirrors)}.")
    if len(shown) < len(flats):
        words.append(f"The largest {len(shown)} of {len(flats)} interfaces.")
    if any(flat.info.kind == "clamped" for flat in shown):
        words.append("Sliding since the rods were tightened.")
    return " ".join(words)
