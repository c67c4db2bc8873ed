"""Command `draw`: all sheets of a case in one directory, as one PDF and a DXF of each."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from platestack.fea.jobs import buying
from platestack.fea.jobs.drawings.sheets import sheets
from platestack.fea.results import run_directory
from platestack.fea.support import result_files, typesetting
from platestack.geometry import case as case_file
from platestack.geometry import dxf, layout
from platestack.geometry.drafting import conflicts, paper_dxf, svg
from platestack.geometry.drafting.frame import SheetDraft
from platestack.geometry.drafting.paper import scale_words
from platestack.geometry.errors import PlatestackError
from platestack.geometry.units import using

MARK, PDF = "drawings.json", "drawings.pdf"
PAGE = '#page(width: {w}mm, height: {h}mm, margin: 0mm, image("{file}", width: 100%))\n'


@dataclass(frozen=True)
class DrawingSet:
    """What was drawn."""

    sheets: tuple[SheetDraft, ...]
    unreadable: tuple[str, ...]
    """Words that lie over others, by sheet."""


def write(path: Path, out: Path, report: Callable[[str], None], projection: str = "") -> DrawingSet:
    """Draw all parts of a case file; every DXF is read back and audited.

    Raises
    ------
    PlatestackError
        If the case is bad, or a drawing does not pass its audit.
    """
    case = case_file.read(path)
    press = layout.build(case)
    with using(case.units), run_directory.directory(out, MARK) as folder:
        report("sheets: draw")
        made = sheets(press, case, buying.make(press, case), case_file.digest(path), projection)
        for sheet in made:
            _write_dxf(sheet, folder / name_of(sheet))
        report("PDF: set")
        (folder / PDF).write_bytes(pdf(made))
        (folder / MARK).write_text(_index(made), encoding="utf-8")
    faults = tuple(f"{s.head.number}: {fault}" for s in made for fault in conflicts(s.draft))
    return DrawingSet(made, faults)


def name_of(sheet: SheetDraft) -> str:
    """Name of the file of a sheet."""
    return f"drawing-{sheet.head.number}.dxf"


def _write_dxf(sheet: SheetDraft, file: Path) -> None:
    paper_dxf.write(sheet.draft, file)
    _, errors = dxf.read(file)
    if errors:
        raise PlatestackError(f"{file.name}: the drawing does not pass: {'; '.join(errors)}")


def pdf(made: tuple[SheetDraft, ...]) -> bytes:
    """All sheets as one PDF, each on paper of its own size."""
    files = {f"{number}.svg": picture(sheet).encode() for number, sheet in enumerate(made)}
    pages = [PAGE.format(w=f"{sheet.paper.width:g}", h=f"{sheet.paper.height:g}", file=name)
             for sheet, name in zip(made, files, strict=True)]  # fmt: skip
    return typesetting.pdf("".join(pages), files)


def picture(sheet: SheetDraft) -> str:
    """A sheet as SVG."""
    box = 0.0, 0.0, sheet.paper.width, sheet.paper.height
    return svg(sheet.draft, box, f"{sheet.head.number} {sheet.head.title}")


def _index(made: tuple[SheetDraft, ...]) -> str:
    data = result_files.head("drawings") | {
        "sheets": [asdict(s.head) | {"paper": s.paper.name, "scale": scale_words(s.scale),
                                     "file": name_of(s)} for s in made],
    }  # fmt: skip
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"
