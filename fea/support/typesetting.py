"""Pages set by typst, with the fonts that come with the plotting library embedded."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

from platestack.geometry.drafting.lettering import fonts


def pdf(template: str, files: Mapping[str, bytes]) -> bytes:
    """Set a template as a PDF; `files` are what it reads, by the names that it gives them."""
    import typst

    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for name, data in files.items():
            (folder / name).write_bytes(data)
        (folder / "pages.typ").write_text(template, encoding="utf-8")
        done: bytes = typst.compile(str(folder / "pages.typ"), root=made, font_paths=[fonts()])
        return done
