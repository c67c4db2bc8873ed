"""Processes that compute for the page, and end with it whatever ends it.

A child reads requests, a line of JSON each, and writes lines of a word and what belongs to it. Its
input is a pipe that the server holds: when the server is gone, even killed, the pipe closes.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from typing import Any

PATIENCE = 5.0
"""Seconds that a child has to tidy up before it is killed."""


def start(module: str) -> subprocess.Popen[str]:
    """Start a module as a child, in a process group of its own. Raises `OSError`."""
    return subprocess.Popen(
        [sys.executable, "-P", "-m", module],  # -P: nothing is code in the working directory
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
        errors="replace",
        start_new_session=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8",
             "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )  # fmt: skip


def send(process: subprocess.Popen[str], request: dict[str, Any]) -> None:
    """Give a child a request; one that has ended does not mind."""
    assert process.stdin is not None
    with suppress(OSError, ValueError):
        process.stdin.write(json.dumps(request) + "\n")
        process.stdin.flush()


def end(process: subprocess.Popen[str]) -> None:
    """Ask a child's process group to end; kill it if it does not."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)


def release(process: subprocess.Popen[str]) -> None:
    """Close the pipes of a child that has ended."""
    for pipe in (process.stdin, process.stdout):
        with suppress(OSError):
            if pipe is not None:
                pipe.close()


def say(word: str, *lines: str) -> None:
    """In a child: tell the server."""
    for line in lines:
        print(word, line.replace("\n", " "), flush=True)


def requests() -> queue.SimpleQueue[dict[str, Any]]:
    """In a child: what the server asks; from now on the child ends when the server does."""
    asked: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    signal.signal(signal.SIGTERM, _unwind)

    def listen() -> None:
        for line in sys.stdin:
            asked.put(json.loads(line))
        _leave()

    threading.Thread(target=listen, daemon=True).start()
    return asked


def _unwind(*_: object) -> None:
    sys.exit(143)  # unwinds, so that nothing half-written stays


def _leave() -> None:
    """Unwind the main thread; after `PATIENCE` end the group, main thread or not."""
    os.kill(os.getpid(), signal.SIGTERM)
    timer = threading.Event()
    timer.wait(PATIENCE)
    if os.getpgrp() == os.getpid():
        os.killpg(0, signal.SIGKILL)
    os._exit(143)
