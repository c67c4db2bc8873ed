"""What a run decided and why, as log records: to standard error when asked, and into `run.log`.

Modules write to the logger of their own name. `INFO` explains a run, `DEBUG` adds each step of
contact. Nothing is shown unless `show` has been called.
"""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

from platestack.fea.support import machine

OWN = (logging.getLogger("platestack"),)
"""The logger of this project; those of libraries are left alone."""


class LogFormatter(logging.Formatter):
    """Seconds since the start, memory occupied, which module, what it says."""

    def __init__(self) -> None:
        super().__init__()
        self._start = time.time()

    def format(self, record: logging.LogRecord) -> str:
        """One line."""
        since, memory = record.created - self._start, machine.resident() / machine.MB
        module = record.name.rpartition(".")[2]
        return f"{since:8.2f} s {memory:6.0f} MB  {module:<12} {record.getMessage()}"


class _Listener(logging.Handler):
    """Hands each message on."""

    def __init__(self, hear: Callable[[str], None]) -> None:
        super().__init__(logging.INFO)
        self._hear = hear

    def emit(self, record: logging.LogRecord) -> None:
        self._hear(self.format(record))


@contextmanager
def heard(name: str, hear: Callable[[str], None]) -> Iterator[None]:
    """Let `hear` be called with each message of a logger and those below it meanwhile."""
    with _listening(logging.getLogger(name), _Listener(hear)):
        yield


@contextmanager
def kept() -> Iterator[list[str]]:
    """Gather what is logged meanwhile, as lines."""
    lines: list[str] = []
    keeper = _Listener(lines.append)
    keeper.setFormatter(LogFormatter())
    with ExitStack() as stack:
        for logger in OWN:
            stack.enter_context(_listening(logger, keeper))
        yield lines


@contextmanager
def _listening(logger: logging.Logger, handler: logging.Handler) -> Iterator[None]:
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(min(level or logging.INFO, logging.INFO))
    try:
        yield
    finally:
        logger.removeHandler(handler)
        logger.setLevel(level)


def show() -> None:
    """Write all that is logged to standard error from now on."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(LogFormatter())
    for logger in OWN:
        logger.addHandler(handler)
        logger.setLevel(logging.DEBUG)
