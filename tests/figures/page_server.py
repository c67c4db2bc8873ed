"""The local page, served for a directory in a process of its own."""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]


@contextlib.contextmanager
def serving(folder: Path, port: int = 0) -> Iterator[str]:
    """Serve `folder`; gives the address that is printed."""
    process = subprocess.Popen(
        [sys.executable, "-P", "-m", "platestack", "page", "--port", str(port)],
        cwd=folder,
        env={**os.environ, "PYTHONUNBUFFERED": "1", "COLUMNS": "200"},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        found = re.search(r"http://127\.0\.0\.1:\d+/[\w-]+/", process.stdout.readline())
        assert found
        yield found[0]
    finally:
        process.terminate()
        process.wait(20)
        process.stdout.close()
