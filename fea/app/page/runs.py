"""The results directories that the page shows: their figures and their files, nothing else."""

from __future__ import annotations

import functools
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from platestack.fea.app import case_text as text
from platestack.fea.app.page.jobs import NAME
from platestack.fea.results import run_directory
from platestack.geometry import case as case_file
from platestack.geometry import units
from platestack.geometry.errors import CaseError, PlatestackError

ENDINGS = frozenset(
    (".json", ".vtu", ".msh", ".png", ".csv", ".toml", ".log", ".dxf", ".step", ".html", ".pdf")
)
"""Of the files that are shown."""
MOST_RUNS = 200
LARGEST_CASE = 1_000_000


def directories(place: Path) -> Iterator[Path]:
    """Directories of complete runs, the newest first."""
    try:
        found = [d for d in place.iterdir() if NAME.fullmatch(d.name) and not d.is_symlink()]
        found = [d for d in found if (d / "summary.json").is_file()]
        yield from sorted(found, key=_age, reverse=True)[:MOST_RUNS]
    except OSError:
        return


def _age(run: Path) -> float:
    try:
        return (run / "summary.json").stat().st_mtime
    except OSError:  # deleted meanwhile
        return 0.0


def listing(place: Path) -> list[dict[str, Any]]:
    """Each run with its headline figures; one that cannot be read says why."""
    shown = []
    for run in directories(place):
        try:
            ages = tuple(path.stat().st_ctime_ns for path in (run, run / "summary.json"))
            shown.append(_told(run, ages) | {"age": str(max(ages))})
        except (OSError, RecursionError):  # deleted meanwhile
            continue
    return shown


@functools.lru_cache(MOST_RUNS)
def _told(run: Path, _: tuple[int, ...]) -> dict[str, Any]:
    """What the page shows of a run; kept, since the page asks for it every second."""
    try:
        summary = run_directory.read(run)
    except PlatestackError as error:
        return {"name": run.name, "fault": str(error).replace(str(run.parent), "results")}
    with units.using(summary.units):
        return _shown(run, summary)


def _shown(run: Path, summary: Any) -> dict[str, Any]:
    try:
        case = text.digest(case_file.read(run / "case.toml"))
    except CaseError:
        case = None
    return {
        "name": run.name, "case": case, "press": summary.press,
        "files": [f.name for f in files(run)],
        "exceeded": summary.exceeded, "figures": _figures(summary),
        "changes": [f"{c.check}: {c.sentence()}" for c in summary.changes],
        "ideal": summary.ideal, "cautions": summary.cautions,
        "scene": (run / "fields.vtu").is_file(),
        "plates": {name: [p.thickness for p in stack.plates]
                   for name, stack in summary.stacks.items()},
        "checks": [c.model_dump(include={"name", "utilisation", "limit_name", "sense"})
                   for c in summary.checks],
    }  # fmt: skip


def _figures(summary: Any) -> list[dict[str, Any]]:
    rows = []
    for name, stack in summary.stacks.items():
        for words, figure in (
            ("peak von Mises stress", stack.peak_von_mises),
            ("mid-span deflection", stack.mid_span_deflection),
            ("by beam theory", stack.beam_deflection),
            ("mass", stack.mass),
        ):
            rows.append((f"{name}: {words}", figure))
    rows += [("whole press: mass", summary.mass), ("height over the rods", summary.height)]
    rows += [("cost", summary.cost)]
    return [
        {
            "name": words,
            "value": f.value,
            "unit": f.unit,
            "error": f.error,
            "note": f.note,
            "text": units.figure(f),
        }
        for words, f in rows
    ]


def files(run: Path) -> list[Path]:
    """Files of a run that may be taken: plain files with the endings that platestack writes."""
    return sorted(
        f for f in run.iterdir() if f.is_file() and not f.is_symlink() and f.suffix in ENDINGS
    )


def find(place: Path, name: str, file: str | None = None) -> Path | None:
    """Look a run, or a file of one, up in the listing; names are compared, never joined."""
    try:
        run = next((d for d in directories(place) if d.name == name), None)
        if run is None or file is None:
            return run
        return next((f for f in files(run) if f.name == file), None)
    except OSError:
        return None


def packed(run: Path) -> bytes:
    """All files of a run in one ZIP."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files(run):
            archive.write(file, f"{run.name}/{file.name}")
    return buffer.getvalue()


def cases(folder: Path) -> list[Path]:
    """Case files in the working directory, in its ``cases/`` and in the folders there, by name."""
    found: list[Path] = []
    for place in (folder, folder / "cases", *sorted((folder / "cases").glob("*/"))):
        try:
            found += sorted(
                f for f in place.glob("*.toml")
                if f.is_file() and not f.is_symlink() and f.name != "pyproject.toml"
                and f.stat().st_size <= LARGEST_CASE
            )  # fmt: skip
        except OSError:
            continue
    return found[:MOST_RUNS]
