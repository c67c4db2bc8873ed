"""The command line in a process of its own, as a user starts it, and what it leaves."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "cases" / "small" / "small.toml"


def environment(**more: str) -> dict[str, str]:
    """Set the environment of a process that takes the sources from this tree."""
    return {**os.environ, **more}


def process(*words: object, place: Path) -> subprocess.Popen[str]:
    """Start the command line in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "platestack", *map(str, words)],
        cwd=place,
        env=environment(COLUMNS="100"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finished(*words: object, place: Path) -> tuple[int, str, str]:
    """Run the command line in a process of its own to its end."""
    started = process(*words, place=place)
    out, err = started.communicate(timeout=120)
    assert "Traceback" not in out + err
    return started.returncode, out, err


def listing(place: Path) -> list[str]:
    """All files and directories below a place."""
    return sorted(str(entry.relative_to(place)) for entry in place.rglob("*"))
