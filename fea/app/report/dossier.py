"""The dossier of a run: one HTML file and one PDF, both from one content."""

from __future__ import annotations

from pathlib import Path

from platestack.fea.app.report import content, html, pdf
from platestack.fea.app.report.scene import scene
from platestack.fea.jobs import proof
from platestack.fea.jobs.tightening import sheet as tightening
from platestack.fea.results import run_directory, summary_file
from platestack.fea.solid.stack import Report
from platestack.fea.support import scratch
from platestack.geometry import units
from platestack.geometry.errors import PlatestackError, UsageError

NAMES = ("dossier.html", "dossier.pdf")


def write(
    folder: Path,
    out: Path | None = None,
    report: Report = lambda step: None,
    *,
    quick: bool = False,
) -> list[Path]:
    """Write the dossier of the run in `folder` to `out`, by default to the same place.

    The tightening sheet and the path of a proof test may take solutions of their own: they are
    kept with the run once they are made, and `quick` does without where they are not there yet.

    Raises
    ------
    UsageError
        If there is no whole run, or `out` is not a directory.
    PlatestackError
        If the files cannot be written.
    """
    with units.using(summary_file.units_of(folder)):
        return _write(folder, out or folder, report, quick)


def _write(folder: Path, place: Path, report: Report, quick: bool) -> list[Path]:
    run = run_directory.reopen(folder)
    if place.exists() and not place.is_dir():
        raise UsageError(f"--out: given {place}, which is a file; allowed: a directory")
    sheet = tightening.kept(run) if quick else tightening.of_run(run, report)
    test = proof.make(run, report=None if quick else report)
    report("dossier: draw")
    dossier = content.make(run, sheet, test)
    report("dossier: set")
    texts = html.render(dossier, scene(folder)).encode("utf-8"), pdf.render(dossier)
    try:
        place.mkdir(parents=True, exist_ok=True)
        files = [place / name for name in NAMES]
        for file, text in zip(files, texts, strict=True):
            with scratch.file(file) as fresh:
                fresh.write_bytes(text)
    except OSError as error:
        raise PlatestackError(f"{place}: cannot be written: {error.strerror or error}") from None
    return files
