"""How quickly the command line answers against importing numpy: python -m tests.bench.start."""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.measure import alternate, table

SMALL = Path(__file__).parents[2] / "cases" / "small" / "small.toml"
MISTAKES: dict[str, tuple[str, ...]] = {
    "--help": ("--help",),
    "a command misspelled": ("rum", "small.toml"),
    "an option misspelled": ("run", "small.toml", "--vebose"),
    "a case that is not there": ("run", "nowhere.toml"),
    "a key misspelled": ("run", "misspelled.toml"),
    "a unit that does not fit": ("run", "unfit.toml"),
    "a unit that is unknown": ("run", "unknown.toml"),
}


def main() -> None:
    """Print the table; the ratio is to ``python -c "import numpy"``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        text = SMALL.read_text(encoding="utf-8")
        (place / "small.toml").write_text(text)
        (place / "misspelled.toml").write_text(text.replace("daylight", "dailight"))
        (place / "unfit.toml").write_text(text.replace('"250 mm"', '"250 MPa"'))
        (place / "unknown.toml").write_text(text.replace('"250 mm"', '"250 mn"'))

        def started(*words: str) -> Callable[[], Any]:
            command = [sys.executable, *words]
            return lambda: subprocess.run(command, cwd=place, capture_output=True, check=False)

        ways = {"import numpy": started("-c", "import numpy")}
        ways["import platestack"] = started("-c", "import platestack")
        for name, words in MISTAKES.items():
            ways[name] = started("-m", "platestack", *words)
        print(table(alternate(ways, args.repeats), "import numpy"))


if __name__ == "__main__":
    main()
