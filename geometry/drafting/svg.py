"""A drawing as SVG: one unit of its user space is a millimetre of paper."""

from __future__ import annotations

from html import escape

from platestack.geometry.drafting.draft import INKS, ArcStroke, Draft, Words
from platestack.geometry.drafting.lettering import CAPITAL, FAMILY


def svg(draft: Draft, box: tuple[float, float, float, float], title: str) -> str:
    """Write what lies in a box (left, lower, right, upper end); `title` is read out."""
    x0, y0, x1, y1 = box
    parts = [_item(item) for item in draft.items]
    name = escape(title, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{name}" '
        f'viewBox="{x0:g} {-y1:g} {x1 - x0:g} {y1 - y0:g}" '
        f'width="{x1 - x0:g}mm" height="{y1 - y0:g}mm" fill="none" stroke="black" '
        f'stroke-linecap="round" font-family="{FAMILY}, sans-serif"><title>{name}</title>'
        f"{''.join(parts)}</svg>"
    )


def _item(item: object) -> str:
    if isinstance(item, Words):
        x, y = item.at[0], -item.at[1]
        anchor = {"left": "start", "middle": "middle", "right": "end"}[item.side]
        turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"' if item.upright else ""
        return (
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{item.height / CAPITAL:.3f}" '
            f'text-anchor="{anchor}" fill="black" stroke="none"{turn}>{escape(item.text)}</text>'
        )
    ink = item.ink  # type: ignore[attr-defined]
    wide, dashes = INKS[ink]
    look = f'stroke-width="{wide:g}"'
    if dashes:
        look += f' stroke-dasharray="{" ".join(f"{d:g}" for d in dashes)}" stroke-linecap="butt"'
    if isinstance(item, ArcStroke) and item.end - item.start >= 360:
        (x, y), r = item.centre, item.radius
        return f'<circle cx="{x:.3f}" cy="{-y:.3f}" r="{r:.3f}" {look}/>'
    places = " ".join(f"{x:.3f},{-y:.3f}" for x, y in item.points)  # type: ignore[attr-defined]
    if getattr(item, "filled", False):
        return f'<polygon points="{places}" fill="black" stroke="none"/>'
    return f'<polyline points="{places}" {look}/>'
