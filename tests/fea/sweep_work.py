"""What workers do in tests of the cluster: it must be importable in their processes."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path


def square_or_die(job: tuple[int, str]) -> int:
    """Square a number; on 7 leave a mark in the file named and be killed."""
    number, marks = job
    if number == 7:
        with Path(marks).open("a", encoding="utf-8") as file:
            file.write("died\n")
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)
    return number * number


def fault(job: int) -> int:
    """Raise what nobody expects."""
    raise LookupError(f"no {job}")
