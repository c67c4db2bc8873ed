"""Open standard streams and a quiet Ctrl-C, before anything else is loaded.

The handler that must run last is registered here too, since the first one registered runs last.
"""

from __future__ import annotations

import atexit
import os
import signal
import sys
from pathlib import Path

from platestack.fea.support.signals import STOPPING

NAMES = ("-m", "__main__.py", "platestack")
"""What a process that is the command line is called while it loads."""


def open_streams() -> None:
    """Open standard streams that are closed; else the first files opened would stand for them."""
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one
            mode = "w" if number else "r"
            setattr(sys, name, open(number, mode, encoding="utf-8", closefd=False))  # noqa: SIM115


def stop_quietly() -> None:
    """Let Ctrl-C end a program that still loads without a traceback from within its imports."""
    if Path(sys.argv[0]).name in NAMES:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        atexit.register(keep_exit_code)


def keep_exit_code() -> None:
    """Let no signal end an interpreter that tears itself down, where handlers are taken away."""
    for number in STOPPING:
        signal.signal(number, signal.SIG_IGN)


open_streams()
stop_quietly()
