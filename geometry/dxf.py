"""Files in the DXF format, by ezdxf: begun, audited, and text that they show as it is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from platestack.geometry.errors import PlatestackError

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts import Modelspace


def begin(layers: Mapping[str, int], *, inches: bool) -> Drawing:
    """A document with layers of these colour numbers, in inches or millimetres."""
    import ezdxf

    document = ezdxf.new("R2010", setup=False, units=1 if inches else 4)
    document.header["$MEASUREMENT"] = 0 if inches else 1
    for name, colour in layers.items():
        document.layers.add(name, color=colour)
    return document


def read(path: Path) -> tuple[Drawing, list[str]]:
    """Read a document back, with the errors that ezdxf's audit finds.

    Raises
    ------
    PlatestackError
        If the file is no DXF.
    """
    import ezdxf

    try:
        document = ezdxf.readfile(path)
    except (OSError, ezdxf.DXFError) as error:
        raise PlatestackError(f"{path}: cannot be read back: {error}") from error
    return document, [entry.message for entry in document.audit().errors]


def escaped(text: str) -> str:
    """A text that DXF shows as it is: no codes of its own (%%, ^), no line breaks.

    Readers differ in what they make of a caret; a look-alike stands for it.
    """
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    return shown.replace("^", "\N{MODIFIER LETTER CIRCUMFLEX ACCENT}").replace("%%", "%%%" * 2)


def contour(entity: Any, tolerance: float) -> list[tuple[float, float]]:
    """Points along a closed line, circle or polyline; none where it is open."""
    from ezdxf.path import make_path

    path = make_path(entity)
    return [(p.x, p.y) for p in path.flattening(tolerance)] if path.is_closed else []


def add_text(
    space: Modelspace, text: str, at: tuple[float, float], height: float, look: dict[str, str],
    side: Literal["left", "middle", "right"] = "left", *, upright: bool = False,
) -> None:  # fmt: skip
    """Add a text as it stands, `at` being the left, middle or right end of its baseline."""
    from ezdxf.enums import TextEntityAlignment as Align

    ends = {"left": Align.LEFT, "middle": Align.CENTER, "right": Align.RIGHT}
    turn = 90.0 if upright else 0.0
    added = space.add_text(text, height=height, rotation=turn, dxfattribs=look)
    added.set_placement(at, align=ends[side])
