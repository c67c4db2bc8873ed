"""The assembly step by step: a small elevation for each, all to one scale."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from platestack.fea.hand.erection import Erection, LiftStep, LiftSupport
from platestack.fea.hand.lifting import CLEAR, Lift
from platestack.fea.pictures.render import ACCENT, BACKGROUND, INK
from platestack.geometry.masses import Piece
from platestack.geometry.units import fixed, quantity

_GREY = "#5c666e"
_STEEL = {"bed": "#d5dbe0", "crosshead": "#d5dbe0", "rods": "#a9b4bd", "nuts": "#8f9ba5",
          "washers": "#bcc5cc", "cylinder": "#e6e1d6"}  # fmt: skip
_NEW = "#9cc3d5"
_WOOD = "#c79a62"
_LIMIT = "#a33b2a"
WIDTH = 2.35
"""Of a panel (inches)."""
WORDS = 0.8
"""Height of the words below a panel (inches)."""
COLUMNS = 7
FEW = 4
"""Panels in a line that is to stand on a page."""
DPI, DPI_LINE = 110, 170
"""Dots per inch of all steps together, and of a line for a page."""


def assembly_lines(made: Erection, columns: int = FEW) -> list[tuple[LiftStep, ...]]:
    """The steps in lines of so many panels."""
    return [made.steps[i : i + columns] for i in range(0, len(made.steps), columns)]


def assembly_picture(made: Erection, path: Path, only: Sequence[LiftStep] = ()) -> Path:
    """Write all steps as PNG, or a single line of them for a page."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    x1 = 1.22 * max(*(abs(p.high[0]) for p in made.steps[-1].standing), made.base[0])
    lines = [tuple(only)] if only else assembly_lines(made, COLUMNS)
    columns = FEW if only else min(COLUMNS, len(made.steps))
    tops = [_top(made, line) for line in lines]
    tall = [WIDTH * (top - made.floor + 0.05) / (2 * x1) for top in tops]
    above, dpi = (0.35, DPI_LINE) if only else (1.0, DPI)
    size = (columns * WIDTH, sum(tall) + WORDS * len(lines) + above)
    figure = Figure(figsize=size, dpi=dpi, facecolor=BACKGROUND)
    FigureCanvasAgg(figure)
    if not only:
        figure.text(0.25 / size[0], 1 - 0.4 / size[1], f"{made.press.name}: assembly", fontsize=17,
                    fontweight="bold", color=INK, va="center")  # fmt: skip
    figure.text(0.15 / size[0], 1 - (above - 0.2) / size[1], _legend(made), fontsize=8.5,
                color=_GREY, va="center")  # fmt: skip
    bottom = size[1] - above
    for line, height, top in zip(lines, tall, tops, strict=True):
        bottom -= height
        for column, step in enumerate(line):
            axes = figure.add_axes(
                (column * WIDTH / size[0], bottom / size[1], WIDTH / size[0], height / size[1])
            )
            axes.set(xlim=(-x1, x1), ylim=(made.floor - 0.05, top), aspect="equal")
            axes.axis("off")
            _panel(axes, made, step, x1)
            at = (column + 0.06) * WIDTH / size[0], (bottom - 0.06) / size[1]
            figure.text(*at, _caption(made, step), fontsize=8.2, color=INK, va="top",
                        linespacing=1.25)  # fmt: skip
        bottom -= WORDS
    figure.savefig(path, dpi=dpi, facecolor=BACKGROUND, metadata={"Software": None})
    return path


def _top(made: Erection, line: Sequence[LiftStep]) -> float:
    """Upper end of a line of panels (m): above what stands and above the hook."""
    highest = [p.high[2] for step in line for p in step.standing]
    hooks = [lift.hook_height(made.floor) + made.floor for step in line for lift in step.lifts]
    top = max(highest + hooks)
    return top + 0.12 * (top - made.floor)


def _legend(made: Erection) -> str:
    text = "Blue: put on in this step. Brown: temporary. From the front, all to one scale."
    if made.hook_limit is not None:
        text += f" Red line: highest place of the hook, {quantity(made.hook_limit, 'run', 3)}."
    return text


def _caption(made: Erection, step: LiftStep) -> str:
    head = f"{step.number}. {step.title}"
    lines = textwrap.wrap(head, 31)[:2]
    if step.lifts:
        count = f"{len(step.lifts)} × " if len(step.lifts) > 1 else ""
        hook = max(lift.hook_height(made.floor) for lift in step.lifts)
        lines.append(f"{count}{fixed(step.mass, 'kg', 0)}, hook {fixed(hook, 'run', 2)}")
    tips = next((c.value for c in step.checks if c.name == "tilt at which it tips"), None)
    if tips is not None:
        lines.append(f"stands, tips at {tips:.0f}°")
    if step.kind == "support":
        loads = (s.force for s in step.supports if s.name == "trestle")
        lines += [f"{fixed(force, 'N', 1)} on each" for force in loads][:1]
    if step.kind == "jack":
        jack = made.jacking[-1]
        lines += [
            f"{fixed(jack.force / 2, 'N', 1)} on each jack",
            f"rise {fixed(jack.rise, 'm', 0)}",
        ]
    return "\n".join(lines[:4])


def _panel(axes: Any, made: Erection, step: LiftStep, x1: float) -> None:
    """One step: what stands, what comes, and the way it comes."""
    axes.plot([-x1, x1], [made.floor] * 2, color=INK, lw=1.6)
    if made.hook_limit is not None:
        axes.plot(
            [-x1, x1], [made.floor + made.hook_limit] * 2, color=_LIMIT, lw=0.8, ls=(0, (4, 3))
        )
    _feet(axes, made)
    drawn = sorted(step.standing, key=_depth)
    hung = {id(piece) for lift in step.lifts for piece in lift.pieces}
    for piece in drawn:
        if id(piece) not in hung:
            new = any(piece is one for one in step.added)
            _rectangle(axes, piece, 0.0, _NEW if new else _colour(piece))
    for support in step.supports:
        _support(axes, support)
    for index, lift in enumerate(step.lifts):
        final = index < len(step.lifts) - 1  # of several alike, the last one hangs
        if final:
            for piece in lift.pieces:
                _rectangle(axes, piece, 0.0, _NEW)
        else:
            _hanging(axes, lift, made.floor)
    if step.kind == "jack":
        _jacks(axes, made)


def _depth(piece: Piece) -> int:
    """Order of drawing: rods stand in their holes, behind the front of the plates."""
    return 0 if piece.name.startswith("rod") else 2 if piece.group == "cylinder" else 1


def _colour(piece: Piece) -> str:
    name = next((key for key in _STEEL if piece.group.startswith(key)), "bed")
    return _STEEL["rods" if piece.name.startswith("rod") else name]


def _rectangle(axes: Any, piece: Piece, up: float, fill: str, **look: Any) -> None:
    from matplotlib.patches import Rectangle

    (x0, _, z0), (x1, _, z1) = piece.low, piece.high
    style: dict[str, Any] = {"fc": fill, "ec": INK, "lw": 0.6} | look
    axes.add_patch(Rectangle((x0, z0 + up), x1 - x0, z1 - z0, **style))


def _support(axes: Any, support: LiftSupport) -> None:
    from matplotlib.patches import Rectangle

    x = support.at[0] - support.width / 2
    axes.add_patch(Rectangle((x, support.low), support.width, support.high - support.low,
                             fc=_WOOD, ec=INK, lw=0.6, hatch="xx", alpha=0.9))  # fmt: skip


def _feet(axes: Any, made: Erection) -> None:
    from matplotlib.patches import Polygon

    low = min(p.bounds[0][2] for p in made.press.bed.plates)
    for side in (-1, 1):
        x = side * made.base[0]
        foot = [(x, made.floor), (x - side * 0.12, made.floor), (x - side * 0.1, low), (x, low)]
        axes.add_patch(Polygon(foot, fc="#b8bec3", ec=INK, lw=0.6))


def _hanging(axes: Any, lift: Lift, floor: float) -> None:
    """The load where it passes what is in its way, its slings and hook, and its place to be."""
    load = lift.load
    up = lift.over + CLEAR - load.low[2]
    top, hook, x = load.high[2] + up, lift.hook_height(floor) + floor, load.centre[0]
    for piece in lift.pieces:
        _rectangle(axes, piece, 0.0, "none", ec=ACCENT, ls=(0, (3, 2)), lw=0.9)
    for piece in lift.pieces:
        _rectangle(axes, piece, up, _NEW)
    half = 0.0 if lift.upright else (load.high[0] - load.low[0]) / 2
    for side in (-1, 1):
        axes.plot([x + side * half, x], [top, hook], color=INK, lw=0.9)
    axes.plot([x], [hook], marker="o", ms=4.5, mfc=BACKGROUND, mec=INK, mew=1.2)
    if load.low[2] + up > load.high[2] + CLEAR:
        way = {"arrowstyle": "->", "color": ACCENT, "lw": 1.0}
        axes.annotate("", (x, load.high[2]), (x, load.low[2] + up), arrowprops=way)


def _jacks(axes: Any, made: Erection) -> None:
    x = made.jacking[-1].at[0]
    low = min(p.bounds[0][2] for p in made.press.bed.plates)
    for side in (-1, 1):
        axes.annotate("", (side * x, low), (side * x, made.floor),
                      arrowprops={"arrowstyle": "-|>", "color": _LIMIT, "lw": 2.0})  # fmt: skip
