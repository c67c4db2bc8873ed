"""Signals that wait while something runs that must not be broken off."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")
STOPPING: list[signal.Signals] = [getattr(signal, n) for n in _NAMES if hasattr(signal, n)]
"""Signals by which a user or a system asks a program to end; Windows has no SIGHUP."""


@contextmanager
def waiting() -> Iterator[None]:
    """Let the stopping signals that a handler hears wait to the end of the block.

    In other threads than the main one nothing changes, as Python runs handlers in that one only.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        came.append(number)

    heard = {n: h for n in STOPPING if callable(h := signal.getsignal(n))}
    try:
        for number in heard:
            signal.signal(number, note)
        yield
    finally:
        for number, handler in heard.items():
            signal.signal(number, handler)
        if came:
            signal.raise_signal(came[0])


def load_pyvista() -> Any:
    """Import pyvista with all of VTK that it draws with; raises ImportError as an import does.

    VTK's modules import one another from C++ and go on with what they did not get: an exception
    that a signal's handler raises there crashes the process.
    """
    with waiting():
        import pyvista
        import pyvista.plotting  # else at the first use of it
    return pyvista
