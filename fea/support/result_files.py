"""What in a results directory is platestack's own, and may be replaced."""

from __future__ import annotations

import os
import re
from pathlib import Path

import platestack
from platestack.geometry.errors import UsageError

MARKS = (
    "summary.json", "mesh.json", "comparison.json", "cut_list.csv", "tightening.json",
    "off_centre.json", "assembly.json", "sensitivity.json", "parts.json",
    "drawings.json",
)  # fmt: skip
"""The file that each kind of results has; the first that is there tells the kind."""
OURS = re.compile(
    r"(summary|mesh|comparison|tightening|off_centre|assembly|sensitivity|proof|proof-path|parts|"
    r"drawings)\.json|drawings\.pdf|drawing-[A-Z]\d{2,}\.dxf|"
    r"(comparison|cut_list|tightening|off_centre|assembly|sensitivity|proof|parts|prices-to-fill-in)\.csv|"
    r"(parts|prices-to-fill-in)\.xlsx|"
    r"(stress|deflection|mesh|view|comparison|sheets|tightening|off_centre|assembly|sensitivity|"
    r"tolerance|proof|proof-measured|(crosshead|bed)_(face|interfaces))\.png|"
    r"(fields|interfaces|mesh)\.vtu|(crosshead|bed)\.(msh|step)|[BC]\d{2,}\.dxf|"
    r"case\.toml|run\.log|dossier\.(html|pdf)|proof-readings\.csv|proof-record\.json"
)
"""Names of all files that platestack writes; what is called otherwise is somebody's work."""
MEASURED = ("proof-readings.csv", "proof-record.json")
"""Files with what was measured on the press: they outlive the run that they stand beside."""


UNITS = "SI: m, N, Pa, kg, s; angles in degrees; parts and utilisations are ratios"


def head(kind: str) -> dict[str, str]:
    """First entries of a JSON file of results: layout and its version, program, units."""
    return {
        "schema": f"urn:platestack:{kind}:1",
        "program_version": platestack.__version__,
        "units": UNITS,
    }


def csv_head(kind: str) -> str:
    """First line of a CSV file of results, a comment: layout and its version, program, units."""
    return (
        f"# urn:platestack:{kind}:1; platestack {platestack.__version__}; units as in the names of "
        "columns, else SI\n"
    )


def usable(path: Path, mark: str = MARKS[0]) -> None:
    """Refuse a results directory that may not be replaced: it must be new, empty or of the kind.

    Raises
    ------
    UsageError
        If `path` is something else, cannot be looked at, or is where the program was started.
    """
    try:
        place = Path(os.path.realpath(path))
        if Path.cwd().is_relative_to(place):
            raise UsageError(
                f"{path}: given as the results directory, but it is the working directory or holds "
                "it; allowed: a directory of its own"
            )
        if not os.path.lexists(place):
            return
        entries = sorted(place.iterdir()) if place.is_dir() else [place]
        foreign = [e.name for e in entries if not e.is_file() or not OURS.fullmatch(e.name)]
        kind = next((name for name in MARKS if (place / name).is_file()), None)
    except OSError as error:
        raise unmakable(path, error) from None
    if foreign or (entries and kind != mark):
        what = foreign[0] if foreign else kind or entries[0].name
        raise UsageError(
            f"{path}: given as the results directory, but it holds something else ({what}); "
            "allowed: a new directory, or one that the same command wrote"
        )


def unmakable(path: Path, error: OSError) -> UsageError:
    """What to say of a results directory that the system does not let be."""
    return UsageError(
        f"{path}: the results directory cannot be made: {error.strerror or error}; "
        "allowed: a place that can be written to"
    )
