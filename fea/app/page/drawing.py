"""The drawing beside the form: elevation of the press with its main dimensions, as SVG."""

from __future__ import annotations

from html import escape

from platestack.geometry.parts import Press, Stack, TieRod
from platestack.geometry.units import LENGTH, show


def elevation(press: Press) -> str:
    """Draw the press from the front (x to the right, z up); lengths in mm, classes for colours."""
    low, high = _ends(press)
    boxes = [plate.bounds for stack in press.stacks for plate in stack.plates]
    half = max(max(-least[0], most[0]) for least, most in boxes)
    size = max(high - low, 2 * half)
    font = 0.042 * size * 1e3
    parts = [part for rod in press.rods for part in _rod(press, rod)]
    for stack in press.stacks:
        parts += _plates(stack)
    parts += _cylinder(press)
    marks = [
        ("daylight", _faces(press)),
        ("crosshead", _span(press.crosshead)),
        ("bed", _span(press.bed)),
    ]
    for words, (bottom, top) in marks:
        parts += _dimension(half + 0.06 * size, bottom, top, words, font, turned=False)
    parts += _dimension(-half - 0.06 * size, low, high, "height over rods", font, turned=True)
    xs = [rod.at[0] for rod in press.rods]
    parts += _across(min(xs), max(xs), low - 0.07 * size, "span", font)
    parts += _across(-half, half, low - 0.15 * size, "length", font)
    left, right = -half - 0.14 * size, half + 0.52 * size
    box = [left, -high - 0.02 * size, right - left, high - low + 0.2 * size]
    view = " ".join(f"{1e3 * v:.1f}" for v in box)
    title = escape(f"Elevation of {press.name}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img" class="drawing" '
        f'aria-label="{title}">{"".join(parts)}</svg>'
    )


def _ends(press: Press) -> tuple[float, float]:
    rod = press.rods[0]
    low = press.bed.nut_face - rod.reach
    return low, low + rod.length


def _span(stack: Stack) -> tuple[float, float]:
    return min(stack.load_face, stack.nut_face), max(stack.load_face, stack.nut_face)


def _faces(press: Press) -> tuple[float, float]:
    """Between what daylight lies: from the face opposite the cylinder to the open ram."""
    if press.crosshead.patch_name == "ram":
        return press.bed.load_face, press.bed.load_face + press.daylight
    return press.crosshead.load_face - press.daylight, press.crosshead.load_face


def _box(x0: float, z0: float, x1: float, z1: float, kind: str) -> str:
    x, y, w, h = (1e3 * v for v in (x0, -z1, x1 - x0, z1 - z0))
    return f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>'


def _plates(stack: Stack) -> list[str]:
    ordered = sorted(stack.plates, key=lambda p: -p.bounds[1][1])  # the near ones last
    return [_box(p.bounds[0][0], p.bounds[0][2], p.bounds[1][0], p.bounds[1][2], f"plate {p.role}")
            for p in ordered]  # fmt: skip


def _rod(press: Press, rod: TieRod) -> list[str]:
    x, r = rod.at[0], rod.diameter / 2
    low, high = _ends(press)
    out, flats, height = rod.projection, rod.nut_across_flats / 2, rod.nut_height
    return [
        _box(x - r, low, x + r, high, "rod"),
        _box(x - flats, low + out, x + flats, low + out + height, "nut"),
        _box(x - flats, high - out - height, x + flats, high - out, "nut"),
    ]


def _cylinder(press: Press) -> list[str]:
    above = press.crosshead.patch_name == "ram"
    stack, sign = (press.crosshead, -1) if above else (press.bed, 1)
    face, end = stack.load_face, stack.load_face + sign * press.closed_length
    wall, ram = stack.patch.length / 2, press.ram_diameter / 2
    body = stack.load_face + sign * 0.85 * press.closed_length
    return [
        _box(-ram, min(face, end), ram, max(face, end), "ram"),
        _box(-wall, min(face, body), wall, max(face, body), "cylinder"),
    ]


def _dimension(
    x: float, z0: float, z1: float, words: str, font: float, *, turned: bool
) -> list[str]:
    x, a, b, tick = 1e3 * x, -1e3 * z0, -1e3 * z1, 0.4 * font
    ends = "".join(f"M{x - tick:.1f} {y:.1f}h{2 * tick:.1f}" for y in (a, b))
    at, middle = x + (-0.5 if turned else 0.7) * font, (a + b) / 2
    if turned:
        way = f'transform="rotate(-90 {at:.1f} {middle:.1f})" text-anchor="middle"'
    else:
        way, middle = "", middle + 0.35 * font
    return [
        f'<path class="dimension" d="M{x:.1f} {a:.1f}V{b:.1f}{ends}"/>',
        _text(at, middle, f"{words} {show(z1 - z0, LENGTH)}", font, way),
    ]


def _across(x0: float, x1: float, z: float, words: str, font: float) -> list[str]:
    a, b, y, tick = 1e3 * x0, 1e3 * x1, -1e3 * z, 0.4 * font
    ends = "".join(f"M{x:.1f} {y - tick:.1f}v{2 * tick:.1f}" for x in (a, b))
    words = f"{words} {show(x1 - x0, LENGTH)}"
    return [
        f'<path class="dimension" d="M{a:.1f} {y:.1f}H{b:.1f}{ends}"/>',
        _text((a + b) / 2, y - 0.4 * font, words, font, 'text-anchor="middle"'),
    ]


def _text(x: float, y: float, words: str, font: float, way: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{font:.1f}" {way}>{escape(words)}</text>'
