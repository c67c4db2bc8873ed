"""The dossier of a run: one HTML file and one PDF, both from one content."""

from __future__ import annotations

from pathlib import Path

from fea.report import content, html, pdf
from fea.report.scene import scene
from geometry.errors import PlatestackError, UsageError

NAMES = ("dossier.html", "dossier.pdf")


def write(folder: Path, out: Path | None = None) -> list[Path]:
    """Write the dossier of the run in `folder` to `out`, by default to the same place.

    Raises
    ------
    UsageError
        If there is no whole run, or `out` is not a directory.
    PlatestackError
        If the files cannot be written.
    """
    dossier = content.read(folder)
    texts = html.render(dossier, scene(folder)).encode("utf-8"), pdf.render(dossier)
    place = out or folder
    if place.exists() and not place.is_dir():
        raise UsageError(f"--out: given {place}, which is a file; allowed: a directory")
    try:
        place.mkdir(parents=True, exist_ok=True)
        files = [place / name for name in NAMES]
        for file, text in zip(files, texts, strict=True):
            fresh = file.with_name(f".{file.name}")
            fresh.write_bytes(text)
            fresh.replace(file)
    except OSError as error:
        raise PlatestackError(f"{place}: cannot be written: {error.strerror or error}") from None
    return files
