"""Look at a run: a window where there is a screen, a picture where there is none."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from platestack.fea.pictures import sheet
from platestack.fea.pictures.cut import KEPT_SIDE, cut_open
from platestack.fea.pictures.fields import Field, find_field
from platestack.fea.pictures.press import FROM_FRONT, Drawing, DrawnStack, draw_field, headline
from platestack.fea.pictures.render import ACCENT, INK, RenderWindow, has_display
from platestack.fea.pictures.scene import (
    AXES,
    Bar,
    Cut,
    SceneInfo,
    Selection,
    find_part,
    parse_cut,
    scene_info,
)
from platestack.fea.pictures.surface import take_skin, whole
from platestack.fea.results import grids, run_directory, summary_file
from platestack.fea.support import scratch
from platestack.geometry import units
from platestack.geometry.errors import UsageError

Array = np.ndarray

_AT_CUT = ((-1.0, -0.5, 0.35), (0.45, -1.0, 0.35), (0.35, -0.8, 0.9))


@dataclass(frozen=True)
class Request:
    """What to look at: field, part and plane as read from the words of the user."""

    field: Field
    part: Selection
    cut: Cut | None


def read_run(folder: Path) -> tuple[Any, SceneInfo]:
    """Read the fields and the summary of a run.

    Raises
    ------
    UsageError
        If the directory holds no run, or one without fields.
    """
    data = summary_file.load(folder)
    try:
        info = TypeAdapter(SceneInfo).validate_python(asdict(scene_info(data)))
    except (ValueError, LookupError, TypeError, AttributeError) as error:
        raise summary_file.not_a_summary(folder, f"{type(error).__name__}: {error}") from None
    return grids.wrapped(run_directory.read_fields(folder, len(info.parts))), info


def view(
    run_dir: Path | str, field: str = "von_mises", part: str | None = None,
    cut: str | None = None, out: Path | str | None = None,
) -> Path | None:  # fmt: skip
    """Show a run.

    Parameters
    ----------
    run_dir : path
        Directory with ``fields.vtu`` and ``summary.json``.
    field : str
        ``von_mises``, ``deflection``, ``displacement``, ``principal 1`` to ``3``, ``stress xx``
        and so on, ``utilisation``.
    part : str, optional
        ``"crosshead"``, ``"bed"``, or a plate as ``"crosshead/plate 2"``; all by default.
    cut : str, optional
        Plane to cut at, such as ``"x=0 mm"`` or ``"z=1.2 m"``.
    out : path, optional
        PNG to write. Without it a window opens where there is a screen; elsewhere the picture
        goes to ``view.png`` in the run directory.

    Returns
    -------
    Path or None
        The picture, or None after a window was closed.

    Raises
    ------
    UsageError
        For a run, field, part or plane that there is not.
    RenderingError
        Where this machine cannot draw.
    """
    folder = Path(run_dir)
    grid, info = read_run(folder)
    request = Request(
        find_field(field, grid.point_data), find_part(info, part), parse_cut(cut) if cut else None
    )
    window = out is None and has_display()
    stage = RenderWindow(sheet.VIEW, window)
    drawing = draw(stage, grid, info, request)
    words = headline(request.field) + (f", {part}" if part else "")
    if window:
        dress_window(drawing, f"{info.title}\n{words}")
        stage.plotter.show(title=info.title)
        return None
    target = Path(out) if out is not None else folder / "view.png"
    made = drawing.sheet(info.title, words)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with scratch.file(target) as file:
            made.write(file)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise UsageError(f"{target}: the picture cannot be written: {reason}") from None
    return target


def draw(stage: RenderWindow, grid: Any, info: SceneInfo, request: Request) -> Drawing:
    """Put the requested part of a run on a stage."""
    cut = request.cut
    seen = _bodies(grid, info, request)
    shown, note, direction = info, "", FROM_FRONT
    if cut is not None:
        direction = _AT_CUT[cut.axis]
        note = f"Cut at {cut.words()}."
        shown = replace(info, rods=_cut_bars(info.rods, cut), nuts=_cut_bars(info.nuts, cut))
    whole_press = request.part.stack is None
    return draw_field(stage, seen, shown, request.field, direction, whole_press, note)


def _bodies(grid: Any, info: SceneInfo, request: Request) -> list[DrawnStack]:
    """Surfaces of the requested stacks or plate, cut where asked for.

    Raises
    ------
    UsageError
        If the plane does not meet what is to be shown.
    """
    owner, plates = (np.asarray(grid.cell_data[name]) for name in ("stack", "plate"))
    names = tuple(dict.fromkeys(("displacement", request.field.source)))
    part, cut = request.part, request.cut
    chosen = {}
    for index, stack in enumerate(info.stacks):
        mask = owner == index
        if part.plate is not None:
            mask &= plates == part.plate
        if part.stack in (None, index) and mask.any():
            cells = np.flatnonzero(mask)
            chosen[index] = cells, take_skin(grid, cells, stack.symmetry, names)
    if not chosen:
        raise UsageError("the run's fields hold no cell of this part")
    if cut is None:
        return [
            DrawnStack(whole(skin, info.stacks[i].symmetry), info.stacks[i])
            for i, (_, skin) in chosen.items()
        ]
    _check_plane(cut, [skin.points[:, cut.axis] for _, skin in chosen.values()],
                 any(AXES[cut.axis] in info.stacks[i].symmetry for i in chosen))  # fmt: skip
    size = float(np.ptp(np.asarray(grid.points), axis=0).max())
    found = []
    for index, (cells, skin) in chosen.items():
        stack = info.stacks[index]
        opened = cut_open(grid, cells, skin, stack.symmetry, cut, size)
        if opened is not None:
            found.append(DrawnStack(opened, stack))
    return found


def _check_plane(cut: Cut, places: Sequence[Array], mirrored: bool) -> None:
    """Raise where a plane passes by all that is shown."""
    low, high = min(p.min() for p in places), max(p.max() for p in places)
    if mirrored:
        low, high = -max(abs(low), abs(high)), max(abs(low), abs(high))
    reach = high - low
    inside = (cut.at - low, high - cut.at)[KEPT_SIDE[cut.axis] > 0]
    if not low - 1e-9 * reach <= cut.at <= high + 1e-9 * reach or inside <= 1e-6 * reach:
        ends = " to ".join(units.show(end, units.OFFSET) for end in (low, high))
        raise UsageError(
            f"the plane {cut.words()} does not cut what is to be shown; "
            f"it reaches from {AXES[cut.axis]} = {ends}"
        )


def _cut_bars(bars: Sequence[Bar], cut: Cut) -> tuple[Bar, ...]:
    """Rods or nuts that stand on the side that is kept; shortened by a level plane."""
    if cut.axis == 2:
        return tuple(replace(bar, z1=min(bar.z1, cut.at)) for bar in bars if bar.z0 < cut.at)
    return tuple(bar for bar in bars if (bar.x, bar.y)[cut.axis] > cut.at)


def dress_window(drawing: Drawing, words: str) -> None:
    """Add to a window what a sheet has around its picture: words, scale, labels, axes."""
    plotter, scale = drawing.stage.plotter, drawing.scale
    plotter.add_text(words, position=(0.02, 0.91), viewport=True, font_size=13, color=INK)
    plotter.add_text(
        "\n".join(textwrap.wrap(drawing.caption, 150)), position=(0.02, 0.02), viewport=True,
        font_size=8, color=INK,
    )  # fmt: skip
    unit = f" ({drawing.field.unit})" if drawing.field.unit else ""
    plotter.add_text(
        "\n".join(textwrap.wrap(drawing.field.label + unit, 20)), position=(0.84, 0.75),
        viewport=True, font_size=10, color=INK,
    )  # fmt: skip
    plotter.add_scalar_bar(
        title="", mapper=drawing.mapper, vertical=True, position_x=0.86, position_y=0.2,
        width=0.06, height=0.52, n_labels=min(len(scale.ticks), 11), fmt="{:.4g}",
        label_font_size=18, color=INK, title_font_size=1,
    )  # fmt: skip
    for label in drawing.labels:
        plotter.add_point_labels(
            np.array([label.place]), [label.words], font_size=18, text_color=INK,
            point_color=ACCENT, point_size=14, shape_color="white", shape_opacity=0.9,
            render_points_as_spheres=True, always_visible=True, margin=6,
        )  # fmt: skip
    plotter.add_axes(color=INK, line_width=2, viewport=(0.0, 0.06, 0.12, 0.24))
