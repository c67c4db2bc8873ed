"""Reduced models of one case at a time: made in a child process, which then answers the sliders.

What is known is asked with the whole case, so that a model is never taken for a stack that it was
not made for: the child compares. Models are kept in `results/.instant` and found again.
"""

from __future__ import annotations

import json
import queue
import subprocess
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fea.page import child

WAIT = 3.0
"""Seconds that an answer may take; then the sliders do without."""
FOLDER = ".instant"

Told = dict[str, tuple[float, float]]
"""By stack: deflection and its bound (m)."""


@dataclass
class _State:
    state: str = "none"
    """``none``, ``making``, ``ready``, ``failed`` or ``cancelled``."""
    step: str = ""
    stacks: tuple[str, ...] = ()
    began: float = 0.0
    ended: float = 0.0


class Instant:
    """At most one child; a new one takes the place of the old."""

    def __init__(self, results: Path) -> None:
        self._folder = results / FOLDER
        self._process: subprocess.Popen[str] | None = None
        self._now = _State()
        self._answers: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self._asking, self._changing = threading.Lock(), threading.Lock()
        self._numbers = 0

    def shown(self) -> dict[str, Any]:
        """How far it is, for the page."""
        now = self._now
        seconds = (now.ended or time.monotonic()) - now.began if now.began else 0.0
        return {"state": now.state, "step": now.step, "stacks": now.stacks, "seconds": int(seconds)}

    def make(self, text: str) -> None:
        """Begin to make, or find again, the models of a case."""
        with self._changing:
            self._end("cancelled")
            now = self._now = _State("making", "start", began=time.monotonic())
            try:
                self._process = process = child.start("fea.page.answering")
            except OSError as error:
                now.state, now.step = "failed", f"could not be started: {error.strerror}"
                return
            child.send(process, {"text": text, "folder": str(self._folder)})
            threading.Thread(target=self._listen, args=(process, now), daemon=True).start()

    def cancel(self) -> None:
        """End what is being made, or forget what was."""
        with self._changing:
            self._end("cancelled")

    def ask(self, text: str, thicknesses: Mapping[str, list[float]]) -> Told:
        """What the models tell of a case with other thicknesses (m); nothing of what they do not know."""
        with self._asking:
            process = self._process
            if process is None or self._now.state != "ready":
                return {}
            self._numbers += 1
            child.send(
                process, {"number": self._numbers, "text": text, "thicknesses": dict(thicknesses)}
            )
            end = time.monotonic() + WAIT
            while (left := end - time.monotonic()) > 0:
                try:
                    answer = self._answers.get(timeout=left)
                except queue.Empty:
                    break
                if answer["number"] == self._numbers:
                    return {name: (told[0], told[1]) for name, told in answer["told"].items()}
            return {}

    def _end(self, state: str) -> None:
        process, self._process = self._process, None
        if process is not None:
            self._now.state, self._now.ended = state, time.monotonic()
            child.end(process)

    def _listen(self, process: subprocess.Popen[str], now: _State) -> None:
        for line in process.stdout or ():
            word, _, words = line.rstrip("\n").partition(" ")
            if word == "step":
                now.step = words
            elif word == "ready" and now.state == "making":
                now.stacks = tuple(json.loads(words))
                now.state, now.ended = "ready", time.monotonic()
            elif word == "answer":
                self._answers.put(json.loads(words))
            elif word == "end":
                now.state, now.step = "failed", words
        process.wait()
        child.release(process)
        if now.state in ("making", "ready"):
            now.state, now.step = "failed", "the process ended before it was complete"
