"""Pictures of a dossier: those that a run left, and those that are drawn for it."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from pathlib import Path

from platestack.fea.app.report.blocks import Picture
from platestack.geometry.errors import UsageError


def kept(folder: Path, name: str, caption: str) -> tuple[Picture, ...]:
    """A picture of the run in few colours, or none if the run has left none.

    Raises
    ------
    UsageError
        If it is no PNG.
    """
    file = folder / f"{name}.png"
    if not file.is_file():
        return ()
    try:
        return (Picture(name, lean(file.read_bytes()), caption, caption),)
    except Exception as error:  # a decoder of packed data fails in many ways
        words = " ".join(str(error).split())[:200] or type(error).__name__
        raise UsageError(f"{file}: not a picture of this run ({words})") from None


def drawn(name: str, draw: Callable[[Path], object], caption: str, alt: str = "") -> Picture:
    """A picture that `draw` writes to a file."""
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "one.png"
        draw(file)
        return Picture(name, lean(file.read_bytes()), caption, alt or caption)


def lean(data: bytes) -> bytes:
    """A PNG in 256 colours at most: a third of the size, and no difference that an eye sees."""
    from PIL import Image

    buffer = io.BytesIO()
    # PNG only: some other formats that the library recognises by content can hold programs.
    picture = Image.open(io.BytesIO(data), formats=["PNG"]).convert("RGB")
    picture.quantize(256, dither=Image.Dither.NONE).save(buffer, "PNG", optimize=True)
    return buffer.getvalue()
