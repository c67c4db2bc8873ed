"""How wide a text is, and where it breaks. Heights are those of capitals, in mm (ISO 3098)."""

from __future__ import annotations

import functools
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

FAMILY, FILE = "DejaVu Sans", "DejaVuSans.ttf"
CAPITAL = 0.729
"""Height of a capital over the size of the font."""
TEXT, SMALL, LARGE = 2.5, 1.8, 3.5
"""Heights of letters: of dimensions and notes, of the heads of fields, of titles."""
BELOW, ABOVE = 0.25, 1.05
"""How far letters reach below and above their line, in heights."""
LEADING = 1.7
"""From line to line, in heights."""


def fonts() -> str:
    """Directory of the fonts that come with the plotting library."""
    spec = find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    return str(Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf")


@functools.cache
def _font() -> FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(str(Path(fonts()) / FILE), 1000)


@functools.lru_cache(maxsize=4096)
def width(text: str, height: float = TEXT) -> float:
    """Width of a text (mm)."""
    return float(_font().getlength(text)) / 1000 * height / CAPITAL


def wrapped(text: str, room: float, height: float = TEXT) -> list[str]:
    """Break a text into lines that are not wider than `room` (mm); a long word is broken too."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if width(longer, height) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        while width(word, height) > room and len(word) > 1:
            fits = next(n for n in range(len(word) - 1, 0, -1)
                        if n == 1 or width(word[:n], height) <= room)  # fmt: skip
            lines[-1], word = word[:fits], word[fits:]
            lines.append("")
        lines[-1] = word
    return lines


def fitted(text: str, room: float, height: float = TEXT) -> tuple[str, float]:
    """Return a text and the height at which it fits in `room`: smaller letters, then fewer."""
    while height > SMALL and width(text, height) > room:
        height = max(SMALL, height - 0.1)
    if width(text, height) <= room:
        return text, height
    while len(text) > 1 and width(text + "…", height) > room:
        text = text[:-1].rstrip()
    return text + "…", height
